"""A box has arrived: keep what is said of it, with the lane, season and cargo that its order tells.

For: ``record_arrival``, called by the command line and the web desk. Must not know: terminals, pages. Neighbours:
``learn.arrivals`` (keeps it), ``journey`` (knows the order's lane); ``report`` and ``calibrate`` read it later.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from shipwindow.advisory.journey import Told, find_journey
from shipwindow.errors import ConfigError
from shipwindow.learn.arrivals import Facts, learn_store, opened, record
from shipwindow.settings import Shop, load_shop


@dataclass(frozen=True)
class Recorded:
    """What came of a report: facts that were new, and whether the order's lane is known."""

    new: int
    lane_known: bool


def record_arrival(
    shop: Shop | Path | str,
    order: str,
    facts: Facts,
    now: datetime,
    *,
    ship_day: date | None = None,
    orders: Path | None = None,
) -> Recorded:
    """Keep what a report says of a box; the same said twice changes nothing, what differs is kept as a correction.

    Parameters
    ----------
    shop : Shop, or path        A shop with its folder.
    order : str                 The order's number.
    facts : Facts               Whatever is known: hour, water, corals, days late, packs; lane, season and cargo are
                                found here.
    now : datetime              Aware.
    ship_day : date, optional   The day it went, if the book does not say.
    orders : path, optional     A file that holds the order instead of the book.

    Raises
    ------
    ConfigError, StoreError     Nothing to keep, an order that the file given does not hold, or a store not usable.
    """
    loaded = shop if isinstance(shop, Shop) else load_shop(Path(shop), use_calibration=False)
    if loaded.folder is None:
        raise ConfigError("a shop without a folder", "a shop folder", "make one with: shipwindow init DIR")
    if facts == Facts():
        raise ConfigError(
            "nothing to record", "at least an hour, water, corals, days late, a pack or a note", "add one"
        )
    known = True
    try:
        journey = find_journey(loaded, order, Told(ship_day=ship_day), orders)
    except ConfigError:
        if orders is not None:
            raise
        known = False
    else:
        cargo = journey.order.cargo if facts.corals else None
        facts = replace(facts, lane=journey.lane, peak=journey.peak, cargo=cargo)
    with opened(learn_store(loaded.folder, loaded.settings.desk.book.file)) as database:
        return Recorded(record(database, order, facts, now), known)
