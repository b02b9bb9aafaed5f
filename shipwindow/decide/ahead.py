"""The days of the window: each one's best option as forecast now, and whether it will open.

For: ``list_days`` and ``next_window``. Must not know: how options are found. Neighbours: ``window`` (the outlook),
``search`` (the days), ``choose``.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import partial

import numpy as np

from shipwindow.decide.explain import chance_words, say_option
from shipwindow.decide.judge import GO, GO_IF, Judged
from shipwindow.decide.search import DaySearch, Search, may_go
from shipwindow.decide.verdict import DayChance, NextWindow
from shipwindow.decide.window import Outlook, look_ahead
from shipwindow.trip import Shipment


def list_days(
    search: Search, here: DaySearch | None, later: Sequence[DaySearch], on: date
) -> tuple[tuple[DayChance, ...], float | None]:
    """Give every day that could be judged, and the chance that any later one opens."""
    days: list[DayChance] = []
    if here is not None and here.best is not None:
        days.append(_day(here.best, search, None))
    outlooks: list[Outlook] = []
    for day in later:
        best = day.best
        if best is None:
            continue
        errors = search.ways.table(search.members).forecast_K
        outlook = look_ahead(
            best.assessed, search.ways.usable, errors, (day.day.day - on).days, search.settings,
            partial(search.rules_hold, best.assessed.way),
        )  # fmt: skip
        outlooks.append(outlook)
        days.append(_day(best, search, outlook.opens))
    if not outlooks:
        return tuple(days), None
    return tuple(days), float(np.any([outlook.open for outlook in outlooks], axis=0).mean())


def next_window(
    later: Sequence[DaySearch], shipment: Shipment, listed: tuple[tuple[DayChance, ...], float | None]
) -> NextWindow:
    """Name the first later day that may go, plainly before conditionally, and say how likely any opens."""
    days, opens = listed
    for grade in (GO, GO_IF):
        for day in later:
            best = day.best
            if best is not None and best.grade == grade:
                said = say_option(best.option, shipment.destination.zone)
                said += "" if grade == GO else f" ({'; '.join(best.conditions)})"
                return NextWindow(day.day.day, best.option.commitment, said, opens, days)
    judged = [day.day.day for day in later if day.options]
    unknown = any(way.missing for day in later if not day.options for way in day.lacking)
    said = ""
    if judged:
        said = f"as forecast now, no day until {judged[-1]:%a %d %b} may go"
        if opens is not None:
            said += f"; the chance that one of them opens after all is {chance_words(opens)}"
    if unknown:
        later_days = "; later days cannot" if judged else "no later day can"
        said += f"{later_days} be judged yet: forecasts are missing or do not reach that far"
    return NextWindow(
        None,
        None,
        said or "no later ship day within the shop's window and the order's dates; ask the customer for another",
        opens,
        days,
    )


def _day(best: Judged, search: Search, opens: float | None) -> DayChance:
    return DayChance(
        ship_day=best.option.ship_day,
        combined=best.chance.combined,
        standing=best.chance.standing,
        may_go=may_go(best),
        opens=opens,
        says=say_option(best.option, search.shipment.destination.zone),
    )
