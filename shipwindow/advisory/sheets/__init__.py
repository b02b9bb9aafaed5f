"""What the packer holds: the morning's work list, a pack sheet for each box, labels for bags and cartons.

``build.build_sheets`` makes one ``Sheets`` record from an advisory and its orders; ``as_pdf``, ``labels_pdf``,
``as_html`` and ``as_text`` only write it; ``writing`` puts the files away. Importing this loads nothing.
"""
