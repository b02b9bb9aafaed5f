"""The version, in one place.

For: ``--version``, ``made by`` lines and the package's own number. Must not know anything else.
"""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

try:
    VERSION = version("shipwindow")
except PackageNotFoundError:  # run from a checkout that was never installed
    VERSION = "0.0.0+checkout"
