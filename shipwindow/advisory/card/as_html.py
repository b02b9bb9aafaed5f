"""The bench card as a page of its own: prints on one wide sheet, reads on a telephone by scrolling sideways.

For: ``as_html``. Must not know: how an answer is found. Neighbour: ``templates/card.html``.
"""

from __future__ import annotations

from shipwindow.advisory.card.record import BenchCard
from shipwindow.advisory.pages import page


def as_html(card: BenchCard) -> str:
    """Write the card as a self-contained page."""
    return page("card.html", card=card)
