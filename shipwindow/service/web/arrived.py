"""Keep what a page or a program says of a box that has arrived, read on the clock of its destination.

For: ``keep_arrival``. Must not know: forms, bodies. Neighbour: ``shipwindow.advisory.arriving``.
"""

from __future__ import annotations

from shipwindow.advisory.arrival_said import Said, facts_of
from shipwindow.advisory.arriving import Recorded, record_arrival
from shipwindow.service.web.desk import WebDesk
from shipwindow.service.web.pages_orders import find_entry, zone_of


def keep_arrival(desk: WebDesk, order: str, said: Said) -> Recorded:
    """Keep a report on an order of the book.

    Raises
    ------
    RefusedError    No such order.
    ConfigError     Nothing said, or something that cannot be.
    """
    with desk.book() as book:
        find_entry(book, order)
        zone = zone_of(book, order)
    return record_arrival(desk.shop(), order, facts_of(said, desk.shop().settings, zone), desk.now())
