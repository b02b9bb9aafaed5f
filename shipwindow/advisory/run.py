"""One run for every open order: places, forecasts, decisions, the record.

For: the body of ``shipwindow.advise``; ``acceptance`` asks the same steps for a single order. Must not know:
terminals, files to write, the clock of this computer (``now`` is handed in). Neighbours: ``desk`` (orders to
shipments), ``forecast.gather``, ``decide``, ``compose``.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from shipwindow.advisory.compose import compose
from shipwindow.advisory.document import (
    CAUTIONS,
    WHAT_IT_IS,
    Advisory,
    AdvisoryDetails,
    OrderAdvice,
    OrderDetails,
    ProblemSaid,
)
from shipwindow.advisory.preflight import check_ranges
from shipwindow.advisory.side_by_side import Helpers, helpers
from shipwindow.advisory.weather import Forecasts, Progress, credits_of, fetch, not_asked, opened_forecasts, unusable
from shipwindow.decide import Verdict, decide_many
from shipwindow.desk import Order, OrderBook, Problem, hub_of, read_orders, to_shipment
from shipwindow.desk.book.parts import boxes_of, siblings_note
from shipwindow.desk.rates import Rates, read_rates
from shipwindow.errors import ConfigError, DomainError, ForecastError
from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place, find_place
from shipwindow.settings import Shop, load_shop
from shipwindow.settings.models import Settings
from shipwindow.trip import Role, Shipment
from shipwindow.version import VERSION

log = logging.getLogger(__name__)

Found = Mapping[Place, Forecast | ForecastError]

TOGETHER = 6  # orders simulated in one batch: a twentieth slower than a dozen, and progress can be seen


def model_of(settings: Settings) -> str:
    """Say which program, model and calibration an answer rests on."""
    calibration = settings.calibration.says if settings.calibration is not None else "no calibration"
    return f"shipwindow {VERSION}, box network and dose model, {calibration}"


@dataclass(frozen=True)
class Case:
    """A shop opened for one run: its places and the weather that was found."""

    shop: Shop
    origin: Place
    hubs: Mapping[str, Place]
    weather: Mapping[Place, Forecast | ForecastError]
    now: datetime
    on: date

    @property
    def settings(self) -> Settings:
        """The shop's settings."""
        return self.shop.settings

    def decide(self, shipments: Sequence[Shipment]) -> list[Verdict]:
        """Decide shipments together under the weather of this run."""
        pairs = [(shipment, self._weather_of(shipment)) for shipment in shipments]
        return decide_many(pairs, self.settings, self.now, self.on)

    def of(self, shipments: Sequence[Shipment]) -> tuple[Case, Sequence[Shipment]]:
        """Give these shipments with the part of the case that concerns them."""
        places = {place for one in shipments for place in (one.origin, one.hub, one.destination)}
        weather = {place: found for place, found in self.weather.items() if place in places}
        return replace(self, weather=weather), shipments

    def _weather_of(self, shipment: Shipment) -> dict[Role, Forecast | ForecastError]:
        places: dict[Role, Place] = {
            "origin": shipment.origin,
            "hub": shipment.hub,
            "destination": shipment.destination,
        }
        return {role: self.weather.get(place) or not_asked(place) for role, place in places.items()}


def advise(
    shop: Shop | Path | str,
    orders: OrderBook | Path | str | Sequence[Order],
    forecasts: Forecasts,
    now: datetime,
    on: date | None = None,
    *,
    progress: Progress | None = None,
    completed: Callable[[Found], Found] | None = None,
    cores: int = 1,
) -> Advisory:
    """Advise on every open order of a shop for one day.

    Parameters
    ----------
    shop : Shop, or path         A shop read by ``load_shop``, or its folder.
    orders : OrderBook, path, or orders
        Orders read before, or their CSV file.
    forecasts : source, folder, mapping of places, or None
        Where forecasts come from; None takes the source the shop has chosen.
    now : datetime               Aware; the age of forecasts is counted from it, and it is ``made_at``.
    on : date, optional          The ship day; None means today at the shop, or tomorrow after its cut-off.
    progress : callable, optional    Called as ``progress(what, done, total)``.
    completed : callable, optional   Given the weather that was found, gives it back with what the caller can add.
    cores : int                  Processes that may decide side by side when there are many orders; the advisory is the
                                 same. For a program of its own, such as the command line: processes are copied.

    Raises
    ------
    ConfigError, PlaceError      Settings or an orders file that cannot be used at all. A missing forecast never raises.
    """
    check_now(now)
    opened = open_shop(shop, now)
    origin = origin_of(opened.settings)
    notes: list[str] = list(opened.warnings)
    day = ship_day(opened.settings, now, notes) if on is None else asked_day(opened.settings, now, on, notes)
    book = _book(orders, opened.settings, day)
    hubs = {name: hub_place(opened.settings, name) for name in _hubs(opened.settings, book.orders)}
    places = [origin, *hubs.values(), *(order.destination for order in book.orders)]
    with helpers(len(book.orders), cores) as some:
        with opened_forecasts(opened, forecasts) as source:
            weather: Found = fetch(opened.settings, places, source, now, progress) if book.orders else {}
            notes += [f"saved forecast not used: {problem}" for problem in unusable(source)]
        if completed is not None:
            weather = completed(weather)
        case = Case(opened, origin, hubs, weather, now, day)
        rates = read_rates(opened.folder, opened.settings)
        notes += rate_notes(rates)
        found, unpacked = _serve(case, book.orders, rates, some, progress)
    problems = [*book.problems, *unpacked]
    problems.sort(key=lambda problem: problem.line)
    show = opened.settings.shop.show
    return Advisory(
        shop=opened.settings.shop.shop.name,
        day=day,
        made_at=now.astimezone(ZoneInfo(origin.zone)),
        model=model_of(opened.settings),
        orders=tuple(found),
        problems=tuple(_said(problem) for problem in problems),
        details=AdvisoryDetails(
            scale=show.temperature,
            plots=show.plots,
            zone=origin.zone,
            what_it_is=WHAT_IT_IS,
            cautions=CAUTIONS,
            notes=(*notes, *book.notes, *credits_of(weather.values())),
        ),
    )


def open_shop(shop: Shop | Path | str, now: datetime) -> Shop:
    """Read a shop's folder, if it is not read yet, and see whether the model can work with it."""
    opened = shop if isinstance(shop, Shop) else load_shop(Path(shop))
    check_ranges(opened.settings, now.year)
    return opened


def check_now(now: datetime) -> None:
    """Refuse an instant without a zone."""
    if now.tzinfo is None:
        raise ConfigError(
            f"{now.isoformat()} without a zone", "an instant with its zone", f"write {now.isoformat()}Z or add +00:00"
        )


def ship_day(settings: Settings, now: datetime, notes: list[str]) -> date:
    """Give today at the shop, or tomorrow once today's cut-off is past."""
    here = now.astimezone(ZoneInfo(origin_of(settings).zone))
    cut_off = settings.shop.drop_off.cut_off
    if here.time() < cut_off:
        return here.date()
    notes.append(f"made after today's cut-off ({cut_off:%H:%M}), so this is for tomorrow")
    return here.date() + timedelta(days=1)


def asked_day(settings: Settings, now: datetime, on: date, notes: list[str]) -> date:
    """Check the ship day asked for: never past, and said if today's cut-off is."""
    here = now.astimezone(ZoneInfo(origin_of(settings).zone))
    if on < here.date():
        raise ConfigError(
            f"ship day {on}, which is past",
            f"{here.date()} or later: now is {here:%Y-%m-%d %H:%M} at the shop",
            "give a day to come, or leave it out for today; for recorded forecasts set now too",
        )
    cut_off = settings.shop.drop_off.cut_off
    if on == here.date() and here.time() >= cut_off:
        notes.append(f"made after today's cut-off ({cut_off:%H:%M}): ask whether the drop-off still takes the boxes")
    return on


def origin_of(settings: Settings) -> Place:
    """Give the place where trips start: the drop-off if the shop names one, else the shop."""
    facts, drop_off = settings.shop.shop, settings.shop.drop_off
    return find_place(drop_off.place or facts.place, facts.zone)


def hub_place(settings: Settings, name: str) -> Place:
    """Give the place of a hub of lanes.toml."""
    hub = settings.lanes.hub[name]
    return find_place(hub.place, hub.zone)


def _hubs(settings: Settings, orders: Sequence[Order]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(hub_of(order.destination, settings.lanes) for order in orders))


def _book(orders: OrderBook | Path | str | Sequence[Order], settings: Settings, day: date) -> OrderBook:
    if isinstance(orders, OrderBook):
        return orders
    if isinstance(orders, str | Path):
        return read_orders(Path(orders), settings, day)
    return OrderBook(tuple(orders))


def rate_notes(rates: Rates) -> list[str]:
    """Say what was odd about the table of prices; its faults never stop a morning."""
    name = rates.settings.desk.money.rates
    return [*(f"{name} {problem}: not used" for problem in rates.problems), *rates.notes]


def _serve(
    case: Case, orders: Sequence[Order], rates: Rates, some: Helpers, progress: Progress | None
) -> tuple[list[OrderAdvice], list[Problem]]:
    """Decide the orders a handful at a time, so that a batch is worth its while and progress can be shown."""
    scale = case.settings.shop.show.temperature
    found: list[OrderAdvice] = []
    problems: list[Problem] = []
    shipments: list[Shipment] = []
    beyond: list[DomainError] = []
    lines = {order.order: order.line for order in orders}
    boxes = boxes_of(orders)
    for order in orders:
        hub = case.hubs[hub_of(order.destination, case.settings.lanes)]
        shipment = to_shipment(order, case.settings, case.origin, hub, case.on, rates)
        if isinstance(shipment, Problem):
            problems.append(shipment)
        else:
            shipments.append(shipment)
    # What the order left open is said beside the verdict; it is no reason of it.
    handfuls = [
        case.of([replace(shipment, notes=()) for shipment in shipments[start : start + TOGETHER]])
        for start in range(0, len(shipments), TOGETHER)
    ]
    if progress is not None:
        progress("orders", 0, len(shipments))
    decided = (answer for answers in some.map(_decide_timed, handfuls) for answer in answers)
    for number, (shipment, (verdict, each_ms)) in enumerate(zip(shipments, decided, strict=True), 1):
        if progress is not None and (number % TOGETHER == 0 or number == len(shipments)):
            progress("orders", number, len(shipments))
        if isinstance(verdict, DomainError):
            beyond.append(verdict)
            problems.append(
                Problem(lines[shipment.key], "row", shipment.key, verdict.read, verdict.expected, verdict.do)
            )
            continue
        _log(verdict, each_ms, model_of(case.settings))
        box_notes = tuple(dict.fromkeys(note for box in shipment.boxes for note in box.notes))
        found.append(compose(verdict, scale, (*shipment.notes, *box_notes)))
    advices = {one.order: one.advice for one in found}
    found = [
        one.model_copy(update={"details": _beside(one.details, siblings_note(boxes[one.order], advices))})
        if one.order in boxes
        else one
        for one in found
    ]
    if beyond and not found:
        raise beyond[0]  # no order can be simulated: the fault lies with the shop and not with a row
    return found, problems


def _beside(details: OrderDetails, note: str) -> OrderDetails:
    return details.model_copy(update={"notes": (note, *details.notes)})


def _decide_timed(asked: tuple[Case, Sequence[Shipment]]) -> list[tuple[Verdict | DomainError, float]]:
    """Decide a handful, and say how long each took on the mean. [ms]"""
    case, shipments = asked
    began_s = time.perf_counter()
    verdicts = _decide(case, shipments)
    each_ms = (time.perf_counter() - began_s) * 1000.0 / len(shipments)
    return [(verdict, each_ms) for verdict in verdicts]


def _decide(case: Case, shipments: Sequence[Shipment]) -> list[Verdict | DomainError]:
    """Decide together; an order beyond the model's range costs itself and no other."""
    try:
        return list(case.decide(shipments))
    except DomainError as error:
        if len(shipments) == 1:
            return [error]
        return [one for shipment in shipments for one in _decide(case, [shipment])]


def _log(verdict: Verdict, each_ms: float, model: str) -> None:
    ages = [used.age_h for used in verdict.weather if used.age_h is not None]
    log.info(
        "order.advised order=%r advice=%s worst=%r forecast_age_h=%.1f model=%r ms=%.0f",
        verdict.key,
        verdict.advice,
        verdict.worst.name if verdict.worst else "none",
        max(ages, default=float("nan")),
        model,
        each_ms,
    )


def _said(problem: Problem) -> ProblemSaid:
    return ProblemSaid(
        line=problem.line,
        column=problem.column,
        order=problem.order,
        read=problem.read,
        expected=problem.expected,
        do=problem.do,
    )
