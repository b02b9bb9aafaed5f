"""Decide each morning whether a box of live corals can travel: by which day, commitment and packing.

    import shipwindow as sw
    advisory = sw.advise("my-shop", "orders.csv", "saved-forecasts", now)
    answer = sw.check("my-shop", "80521", now)

Nothing else is public at the top, and nothing is loaded before it is asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from shipwindow.advisory.acceptance import check
    from shipwindow.advisory.run import advise

    __version__: str

__all__ = ["__version__", "advise", "check"]


def __getattr__(name: str) -> Any:  # noqa: ANN401  a door hands out whatever lies behind it
    if name == "advise":
        from shipwindow.advisory.run import advise

        return advise
    if name == "check":
        from shipwindow.advisory.acceptance import check

        return check
    if name == "__version__":
        from shipwindow.version import VERSION

        return VERSION
    raise AttributeError(f"module 'shipwindow' has no attribute {name!r}")
