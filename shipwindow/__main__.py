"""``python -m shipwindow``: the command line without its launcher."""

from __future__ import annotations

from shipwindow.cli.app import main

main()
