"""The advisory as one self-contained page.

For: a page that opens from disk, prints, and reads on a telephone; plots inline, nothing fetched.
Must not know: files, services. Neighbours: ``view`` (the words), ``svg`` (the pictures), ``templates/``.
"""

from __future__ import annotations

from shipwindow.advisory import view
from shipwindow.advisory.document import Advisory, OrderAdvice
from shipwindow.advisory.pages import page
from shipwindow.advisory.picture import NARROW, WIDE
from shipwindow.advisory.svg import plot_svg


def as_html(advisory: Advisory, plots: bool | None = None) -> str:
    """Write the advisory as a page; ``plots`` overrides what the shop asks for."""
    from markupsafe import Markup

    with_plots = advisory.details.plots if plots is None else plots
    pictures: dict[int, tuple[Markup, Markup]] = {}
    if with_plots:
        for number, order in enumerate(advisory.orders):
            if order.details.curve is not None:
                # Our own drawing, whose texts are escaped.
                wide, narrow = (
                    Markup(_named(plot_svg(order, advisory.details.scale, size, f"{name}{number}"), order))  # noqa: S704
                    for name, size in (("w", WIDE), ("n", NARROW))
                )
                pictures[number] = wide, narrow
    return page("advisory.html", advisory=advisory, groups=view.groups(advisory), pictures=pictures)


def _named(svg: str, order: OrderAdvice) -> str:
    """Tell a reader who cannot see the picture what it shows."""
    from markupsafe import escape

    label = escape(f"Water and air temperature along the trip of order {order.order}; the text below says the same")
    return svg.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)
