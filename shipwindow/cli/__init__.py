"""The command line: thin callers of ``shipwindow.advise`` and ``shipwindow.check``. Importing this loads nothing."""
