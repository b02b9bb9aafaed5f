"""The bench card as a page of its own: prints on one wide sheet, reads on a telephone by scrolling sideways.

For: ``as_html``. Must not know: how an answer is found. Neighbour: ``templates/card.html``.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from shipwindow.advisory.card.record import BenchCard


@lru_cache(maxsize=1)
def _template() -> Any:  # noqa: ANN401  Jinja2's own type, imported only when a page is made
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("shipwindow.advisory", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    ).get_template("card.html")


def as_html(card: BenchCard) -> str:
    """Write the card as a self-contained page."""
    page: str = _template().render(card=card)
    return page
