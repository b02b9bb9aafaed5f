"""The day's document.

``run.advise`` makes an ``Advisory``; ``as_*`` and ``writing`` write it; ``acceptance.check`` answers for one
order that is only asked about. Importing this loads nothing.
"""
