"""One order, asked in several versions under one set of forecasts: in other boxes, by other commitments, shared out.

For: ``boxes`` and ``costs``, which compare. The chance is decide's own, as in the morning's advisory; nothing is judged
here. Must not know: what is compared, or how it is shown. Neighbours: ``run`` (the steps of a morning).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from shipwindow.advisory.run import TOGETHER, Case, asked_day, check_now, hub_place, origin_of, ship_day
from shipwindow.advisory.weather import Forecasts, Progress, fetch, opened_forecasts
from shipwindow.decide.verdict import Option, Verdict
from shipwindow.desk import Order, Problem, hub_of, to_shipment
from shipwindow.desk.rates import Rates
from shipwindow.errors import DomainError
from shipwindow.places import Place
from shipwindow.settings import Shop
from shipwindow.trip import Shipment


@dataclass(frozen=True)
class Way:
    """The best option of a verdict; ``today`` tells whether it leaves on the day asked for."""

    option: Option
    today: bool


def way_of(verdict: Verdict) -> Way | None:
    """Give today's best option, else the first of a later day."""
    if verdict.best_today is not None:
        return Way(verdict.best_today, today=True)
    later = next(iter(verdict.alternatives), None)
    return Way(later, today=False) if later is not None else None


@dataclass(frozen=True)
class Single:
    """An order with its shop, places and day."""

    shop: Shop
    order: Order
    origin: Place
    hub: Place
    hub_name: str
    now: datetime
    on: date

    @classmethod
    def of(cls, shop: Shop, order: Order, now: datetime, on: date | None, notes: list[str]) -> Single:
        """Find the places and the day of an order; what is odd about the day is added to ``notes``."""
        check_now(now)
        settings = shop.settings
        day = ship_day(settings, now, notes) if on is None else asked_day(settings, now, on, notes)
        name = hub_of(order.destination, settings.lanes)
        return cls(shop, order, origin_of(settings), hub_place(settings, name), name, now, day)

    def shipment(self, order: Order, rates: Rates) -> Shipment | Problem:
        """Build the shipment of one version of the order."""
        return to_shipment(order, self.shop.settings, self.origin, self.hub, self.on, rates)

    def decide(
        self, versions: Sequence[Order], rates: Rates, forecasts: Forecasts, progress: Progress | None
    ) -> list[Verdict | str]:
        """Decide on versions of the order; one that cannot be simulated has a reason instead."""
        settings = self.shop.settings
        shipments = [self.shipment(order, rates) for order in versions]
        able = [one for one in shipments if isinstance(one, Shipment)]
        if not able:
            return [one.read if isinstance(one, Problem) else "" for one in shipments]
        with opened_forecasts(self.shop, forecasts) as source:
            weather = fetch(settings, [self.origin, self.hub, self.order.destination], source, self.now, progress)
        case = Case(self.shop, self.origin, {self.hub_name: self.hub}, weather, self.now, self.on)
        found = iter(_decide(case, able, progress))
        return [one.read if isinstance(one, Problem) else next(found) for one in shipments]


def _decide(case: Case, shipments: Sequence[Shipment], progress: Progress | None) -> list[Verdict | str]:
    """Decide a few at a time, so that progress can be seen; what the model cannot follow costs itself alone."""
    verdicts: list[Verdict | str] = []
    for start in range(0, len(shipments), TOGETHER):
        if progress is not None:
            progress("ways", start, len(shipments))
        verdicts += _together(case, shipments[start : start + TOGETHER])
    if progress is not None:
        progress("ways", len(shipments), len(shipments))
    return verdicts


def _together(case: Case, shipments: Sequence[Shipment]) -> list[Verdict | str]:
    try:
        return list(case.decide(shipments))
    except DomainError as error:
        return [str(error)] if len(shipments) == 1 else [one for each in shipments for one in _together(case, [each])]
