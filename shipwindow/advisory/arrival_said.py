"""What somebody says of a box that has arrived, as written words: read into facts, and told back as a plain record.

For: the command line, the pages and the API, which all read a pack, an hour and a state alike. Must not know: forms,
options, JSON bodies. Neighbours: ``arriving`` (keeps the facts), ``moments`` (the hour), ``learn.arrivals``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from shipwindow import units
from shipwindow.advisory.moments import read_moment
from shipwindow.errors import ConfigError
from shipwindow.learn.arrivals import Arrival, CoralState, Facts, PackMass, learn_store, opened
from shipwindow.learn.arrivals import arrivals as every_arrival
from shipwindow.learn.traces import traces
from shipwindow.settings import Shop
from shipwindow.settings.models import Settings

MOST_GAIN = 1.0 / 3.0
"""Of its own mass a warmer cannot gain more: most of it is not iron. Status: engineering choice."""


@dataclass(frozen=True)
class Said:
    """One report in the words of whoever made it; empty and None are not said."""

    opened: str = ""  # ISO; without offset on the clock of the destination
    water: str = ""  # with its unit
    days_late: int | None = None
    corals: Sequence[CoralState] = ()
    pack: str = ""
    before: str = ""
    after: str = ""
    packs: int = 1
    note: str = ""


def facts_of(said: Said, settings: Settings, zone: str | None) -> Facts:
    """Read a report; ``zone`` is that of the destination, None if it is not known.

    Raises
    ------
    ConfigError     A value that cannot be read, or that no box can show.
    """
    return Facts(
        opened_at=read_moment("hour opened", said.opened or None, zone),
        water_C=units.temperature_C(said.water) if said.water else None,
        days_late=said.days_late,
        corals=tuple(replace(coral, name=coral.name.strip()) for coral in said.corals),
        pack=read_pack(settings, said.pack or None, said.before or None, said.after or None, said.packs),
        note=said.note or None,
    )


def read_pack(
    settings: Settings, name: str | None, before: str | None, after: str | None, packs: int = 1
) -> PackMass | None:
    """Read warmers weighed together, before and after; None if none is named.

    Raises
    ------
    ConfigError     A weight without its pack, a pack the shop does not have, a number that cannot be.
    """
    if name is None:
        if before is not None or after is not None:
            raise ConfigError("a weight without its pack", "the pack's name", "name the pack, such as heat-40h")
        return None
    if name not in settings.packs.heat:
        raise ConfigError(f"pack {name!r}", f"one of {', '.join(settings.packs.heat)}", "name it as packs.toml")
    if packs < 1:
        raise ConfigError(f"{packs} packs", "1 or more", "correct how many were weighed")
    before_kg, after_kg = (units.mass_kg(each) if each is not None else None for each in (before, after))
    found = PackMass(name, before_kg, after_kg, packs)
    gain_kg = found.gain_kg
    if gain_kg is not None and before_kg is not None and not 0.0 <= gain_kg <= MOST_GAIN * before_kg:
        raise ConfigError(
            f"a gain of {gain_kg * 1e3:.1f} g", "0 g to a third of the pack", "weigh again, patted dry; check both"
        )
    return found


def recorded(shop: Shop) -> tuple[tuple[Arrival, bool], ...]:
    """Give every arrival of a shop, by order, and whether a logger's file lies beside it."""
    assert shop.folder is not None  # noqa: S101 - a shop that is served or opened has one
    with opened(learn_store(shop.folder, shop.settings.desk.book.file)) as database:
        loggers = {trace.key for trace in traces(database)}
        return tuple((arrival, arrival.order in loggers) for arrival in every_arrival(database))


def find_arrival(shop: Shop, order: str) -> Arrival | None:
    """Give what is known of how one order arrived."""
    assert shop.folder is not None  # noqa: S101 - as above
    with opened(learn_store(shop.folder, shop.settings.desk.book.file)) as database:
        return next((arrival for arrival in every_arrival(database) if arrival.order == order), None)


def as_record(arrival: Arrival, *, logger: bool) -> dict[str, Any]:
    """Give an arrival as plain values, in degC, kilograms and instants with their offset."""
    lost = arrival.lost()
    return {
        "order": arrival.order,
        "opened_at": arrival.opened_at.isoformat() if arrival.opened_at is not None else None,
        "water_C": arrival.water_C,
        "days_late": arrival.days_late,
        "lane": list(arrival.lane) if arrival.lane is not None else None,
        "corals": [dict(vars(state)) for state in arrival.corals],
        "lost": lost[0] if lost is not None else None,
        "seen": lost[1] if lost is not None else None,
        "pack": dict(vars(arrival.pack)) if arrival.pack is not None else None,
        "note": arrival.note,
        "corrections": arrival.corrections,
        "logger": logger,
    }
