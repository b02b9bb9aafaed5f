"""Many days at once: by which commitment a shipment could have gone on each day of known weather.

For: ``look_over``; climate shares and season sheets count what it finds. It asks of every day what the morning's quick
look asks: is there a packing whose chance of loss is within the shop's limit, also when all doubts lean one way.
Must not know: forecasts' sources, calendars of carriers (every day is tried), pages. Neighbours: ``members`` (doubts),
``plans`` (packings), ``rules`` (thumb), ``lateness``; ``choose`` decides a single morning with all doubts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import DoseLaw as BoxDoseLaw
from shipwindow.box import summarise
from shipwindow.cargo import Doses, Tolerance, chance_of_loss
from shipwindow.decide.lateness import MORE_DAYS_SHARE, late_shares
from shipwindow.decide.members import QUICK_WEIGHTS, Members, list_quick
from shipwindow.decide.plans import Packing, list_packings, with_ballast
from shipwindow.decide.risk import tolerance_of
from shipwindow.decide.rules import air_on_the_way, judge_by_rules
from shipwindow.errors import DomainError
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import Settings
from shipwindow.trip import DELAYS, DoubtTable, NoTrip, Role, Shipment, Trip, TripWeather, plan_trip
from shipwindow.trip.many import expose_many

Array = NDArray[np.float64]
Side = Literal["", "cold", "heat", "time"]
Progress = Callable[[int, int], None]

LEAD_H = 24.0
"""Lead of the forecast a morning would have decided on. [h]  Status: engineering choice; half of a next-day trip."""

STEP_S = 1200.0
"""Step of the surroundings; the box model has its own. [s]  Status: engineering choice."""

PAIRS_AT_ONCE = 3000
"""Ways with a packing that are simulated together: some tens of megabytes."""

EVERY_DAY = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, eq=False)
class Run:
    """A stretch of known weather at the three places, and the ship days to try in it."""

    weather: Mapping[Role, Forecast]
    days: Sequence[date]


@dataclass(frozen=True)
class DayChance:
    """What a day offers by one commitment and hand-over: the best packing's chance of loss, or nothing known.

    ``side`` is what the best packing suffers from most; ``held_by_rule`` says that a rule of thumb holds the day.
    """

    run: int
    day: date
    commitment: CommitmentName
    handover: HandoverName
    chance: float
    one_day_late: float
    side: Side
    pack: str
    held_by_rule: bool = False

    @property
    def known(self) -> bool:
        """Whether there was weather to judge by."""
        return bool(np.isfinite(self.chance))


def goes(one: DayChance, settings: Settings) -> bool:
    """Say whether a day is within the shop's limits.

    Parameters
    ----------
    one : DayChance
    settings : Settings             ``limits`` of ``shop.toml``, ``thumb.stricter-wins`` of ``rules.toml``.

    Returns
    -------
    bool                            Never for a day of which nothing is known.

    References
    ----------
    .. [1] Limits as in ``judge``: trade.md 7 (must 1). Status: engineering choice.
    """
    limits = settings.shop.limits
    held = one.held_by_rule and settings.rules.thumb.stricter_wins
    return one.known and one.chance < limits.within and one.one_day_late < limits.late_ceiling and not held


def look_over(
    shipment: Shipment,
    runs: Sequence[Run],
    settings: Settings,
    *,
    commitments: Sequence[CommitmentName] | None = None,
    handovers: Sequence[HandoverName] | None = None,
    progress: Progress | None = None,
) -> list[DayChance]:
    """Find the least chance of loss of every day by every commitment and hand-over.

    Parameters
    ----------
    shipment : Shipment             Places, boxes, cargo; its dates are not heard.
    runs : sequence of Run          Weather that is taken as known, with the error a day's forecast would have had.
    settings : Settings             The shop.
    commitments, handovers          What to try; None means those of the shop that the cargo allows, and the order's.
    progress : callable, optional   Called as ``progress(done, total)``.

    Returns
    -------
    list of DayChance               One for each run, day, commitment and hand-over, in that order.

    Notes
    -----
    The chance is that of the quick look: the central case and two in which every doubt leans to the cold or to the hot
    side, weighed 4:1:1. A bare box within the limit is taken as it is; else packs, and after them ballast water, are
    tried. A delay is weighed by its chance, its worse place, and the share of boxes late by more than a day, as in
    ``risk``. Carriers' calendars are left out: every day is tried
    as if it were an ordinary working day, because weather knows no weekends.

    References
    ----------
    .. [1] Three-point rule for a normal doubt (nodes at 0 and 1.73 sd, weights 2/3 and 1/6). Status: memory.
    """
    ordinary = every_day(settings)
    kind = settings.cargo.cargo[shipment.cargo]
    usual = tuple(
        name
        for name, bought in settings.lanes.commitment.items()
        if (bought.days == 1 or kind.two_days) and (shipment.commitment in {None, name})
    )
    services = [(c, h) for c in commitments or usual for h in handovers or (shipment.handover,)]
    looked = _Look(shipment, ordinary, progress, len(runs) * len(services))
    found: list[DayChance] = []
    for number, run in enumerate(runs):
        by_service = [looked.service(number, run, *service) for service in services]
        found += [one for same_day in zip(*by_service, strict=True) for one in same_day]
    return found


def every_day(settings: Settings) -> Settings:
    """Give the settings with a carrier that works every day.

    Parameters
    ----------
    settings : Settings

    Returns
    -------
    Settings                        The same but for the calendar.

    References
    ----------
    .. [1] None: a setting. Status: engineering choice.
    """
    calendar = settings.shop.calendar.model_copy(
        update={
            "collect": EVERY_DAY, "deliver": EVERY_DAY, "slack_deliver": (), "holidays": "none",
            "confirmed_working": (), "confirmed_closed": (), "blackout": (),
        }
    )  # fmt: skip
    return settings.model_copy(update={"shop": settings.shop.model_copy(update={"calendar": calendar})})


@dataclass(frozen=True, eq=False)
class _Way:
    """One day by one commitment and hand-over, with its surroundings on time and late."""

    day: date
    around: tuple[TripWeather, ...]  # one a delay
    late: Array  # (M,)
    held_by_rule: bool


@dataclass(frozen=True)
class _Outcome:
    """The best packing of a way so far."""

    chance: float
    one_day_late: float
    side: Side
    pack: str


class _Look:
    """What is the same for every day of a shipment."""

    def __init__(self, shipment: Shipment, settings: Settings, progress: Progress | None, total: int) -> None:
        self.shipment, self.settings = shipment, settings
        self.kind = settings.cargo.cargo[shipment.cargo]
        self.tolerance = tolerance_of(self.kind, settings.cargo.dose)
        self.members: Members = list_quick(settings)
        self.law = _law(self.tolerance, self.kind.safe_low_C, self.kind.safe_high_C)
        packings = [packing for choice in shipment.boxes for packing in list_packings(choice, settings)]
        boxes = {choice.name: choice for choice in shipment.boxes}
        self.bare = [packing for packing in packings if packing.plan.count == 0]
        self.packed = [packing for packing in packings if packing.plan.count > 0]
        self.heavy = [
            more for packing in packings if (more := with_ballast(packing, boxes[packing.box], settings)) is not None
        ]
        self._progress, self._total, self._done = progress, total, 0.0

    def service(self, number: int, run: Run, commitment: CommitmentName, handover: HandoverName) -> list[DayChance]:
        """Judge every day of a run by one commitment and hand-over."""
        ways = self._ways(run, commitment, handover)
        self._tell(0.3)
        best = self._best([way for way in ways.values() if way is not None])
        self._tell(0.7)
        found = []
        for day in run.days:
            way, one = ways.get(day), best.get(day)
            if way is None or one is None:
                found.append(DayChance(number, day, commitment, handover, np.nan, np.nan, "", ""))
                continue
            found.append(
                DayChance(
                    number,
                    day,
                    commitment,
                    handover,
                    one.chance,
                    one.one_day_late,
                    one.side,
                    one.pack,
                    way.held_by_rule,
                )
            )
        return found

    def _tell(self, share: float) -> None:
        self._done += share
        if self._progress is not None:
            self._progress(min(self._total, round(self._done)), self._total)

    def _ways(self, run: Run, commitment: CommitmentName, handover: HandoverName) -> dict[date, _Way | None]:
        planned: dict[date, tuple[Trip, ...]] = {}
        for day in run.days:
            trips = tuple(self._trips(day, commitment, handover))
            if trips:
                planned[day] = trips
        table = self._table(run.weather)
        exposed = iter(
            expose_many([t for trips in planned.values() for t in trips], run.weather, self.settings, table, STEP_S)
        )
        found: dict[date, _Way | None] = {}
        for day, trips in planned.items():
            around = tuple(next(exposed) for _ in trips)
            known = tuple(one for one in around if isinstance(one, TripWeather))
            found[day] = self._way(day, trips, known, run, table) if len(known) == len(DELAYS) else None
        return found

    def _trips(self, day: date, commitment: CommitmentName, handover: HandoverName) -> Iterator[Trip]:
        profile = self.settings.lanes.handover[handover]
        # The mean of the wait a morning draws: a law that falls from the stated wait to the longest.
        wait_h = profile.wait_h + max(profile.wait_high_h - profile.wait_h, 0.0) / 3.0
        trips = [
            plan_trip(self.shipment, self.settings, day, commitment, handover, delay, wait_h=wait_h) for delay in DELAYS
        ]
        if not any(isinstance(trip, NoTrip) for trip in trips):
            yield from (trip for trip in trips if isinstance(trip, Trip))

    def _way(
        self, day: date, trips: Sequence[Trip], around: tuple[TripWeather, ...], run: Run, table: DoubtTable
    ) -> _Way:
        on_time = trips[0]
        late = late_shares(on_time, run.weather, self.settings, table.forecast_K, table.members, self.shipment).late
        late_h = max((trip.end_at - on_time.end_at).total_seconds() / 3600.0 for trip in trips)
        spans = air_on_the_way(on_time, run.weather, self.settings)
        held = bool(spans) and (
            judge_by_rules(spans, late_h, on_time.commitment, self.kind, self.settings).advice == "hold"
        )
        return _Way(day, around, late, held)

    def _table(self, weather: Mapping[Role, Forecast]) -> DoubtTable:
        """Put the members into the table an exposure reads; the forecast's error is that of a day ahead."""
        members, doubts = self.members, self.settings.rules.doubts
        sigma_K = doubts.forecast_K + doubts.forecast_K_per_h * LEAD_H
        errors: dict[Role, Array] = {
            role: np.repeat(members.sigmas[:, None] * sigma_K, len(forecast.air_C), axis=1)
            for role, forecast in weather.items()
        }
        return DoubtTable(members.van, members.indoor, members.hold, errors)

    def _best(self, ways: Sequence[_Way]) -> dict[date, _Outcome]:
        """Try the bare box, then packs against what ails it, then ballast water, each only where still needed."""
        best: dict[date, _Outcome] = {}
        for packings in (self.bare, self.packed, self.heavy):
            open_ways = [way for way in ways if way.day not in best or not self._within(best[way.day])]
            pairs = [
                (way, packing) for way in open_ways for packing in packings if _may_help(packing, best.get(way.day))
            ]
            for (way, packing), one in zip(pairs, self._assess(pairs), strict=True):
                known = best.get(way.day)
                if known is None or one[0] < known.chance:
                    best[way.day] = _Outcome(*one, packing.name.says)
        return best

    def _within(self, one: _Outcome) -> bool:
        limits = self.settings.shop.limits
        return one.chance < limits.within and one.one_day_late < limits.late_ceiling

    def _assess(self, pairs: Sequence[tuple[_Way, Packing]]) -> list[tuple[float, float, Side]]:
        found: list[tuple[float, float, Side]] = []
        for first in range(0, len(pairs), PAIRS_AT_ONCE):
            found += self._simulate(pairs[first : first + PAIRS_AT_ONCE])
        return found

    def _simulate(self, pairs: Sequence[tuple[_Way, Packing]]) -> list[tuple[float, float, Side]]:
        """Give the chance of loss, that of a box a day late, and the side it suffers from."""
        members, tolerance = self.members, self.tolerance
        summary = summarise(
            [packing.load for _, packing in pairs for _ in DELAYS],
            [packing.plan for _, packing in pairs for _ in DELAYS],
            [one.exposure for way, _ in pairs for one in way.around],
            self.law,
            start_C=np.full(len(pairs) * len(DELAYS), self.settings.shop.bench.water_C),
            wall_factor=members.wall,
            supply_factor=members.supply,
            start_shift_K=members.start_K,
        )
        heat, cold, bag_h, low_C = (
            each.astype(np.float64) for each in (summary.heat_dose, summary.cold_dose, summary.bag_h, summary.low_C)
        )
        # each member's own animals, as cargo.shifted does for one shift
        every = Doses(
            heat=heat * 10 ** (-members.heat_K / tolerance.heat_per_decade_K),
            cold=cold * 10 ** (members.cold_K / tolerance.cold_per_decade_K),
            bag_h=bag_h,
            floor_margin_K=low_C - tolerance.cold_floor_C - members.cold_K,
        )
        chances = chance_of_loss(every, tolerance)
        shape = (len(pairs), len(DELAYS), members.count)
        total, by_heat, by_cold = (np.reshape(each, shape) for each in (chances.total, chances.heat, chances.cold))
        late = np.stack([way.late for way, _ in pairs])
        one_day_late = total[:, 1:].max(axis=1)
        later = chance_of_loss(_later(every, shape), tolerance).total.max(axis=1)
        if_late = (1.0 - MORE_DAYS_SHARE) * one_day_late + MORE_DAYS_SHARE * later
        combined = (1.0 - late) * total[:, 0] + late * if_late
        heats, colds = ((1.0 - late) * each[:, 0] + late * each[:, 1:].max(axis=1) for each in (by_heat, by_cold))
        if not np.isfinite(combined).all():  # a day without weather never comes here: this is the model's fault
            raise DomainError("a chance of loss that is no number", "0 to 1", "report this with the command you ran")
        weights = QUICK_WEIGHTS[: members.count]
        return [
            (
                float(weights @ each),
                float(weights @ delayed),
                _side(float(weights @ hot), float(weights @ cool), float(weights @ each)),
            )
            for each, delayed, hot, cool in zip(combined, one_day_late, heats, colds, strict=True)
        ]


def _later(every: Doses, shape: tuple[int, int, int]) -> Doses:
    """Give the doses of a box late by more than a day, (P, 2, M): they grow once more by what the first day added."""
    heat, cold, bag_h, margin_K = (
        np.reshape(each, shape) for each in (every.heat, every.cold, every.bag_h, every.floor_margin_K)
    )
    heat, cold, bag_h = (np.maximum(2.0 * each[:, 1:] - each[:, :1], each[:, 1:]) for each in (heat, cold, bag_h))
    return Doses(heat=heat, cold=cold, bag_h=bag_h, floor_margin_K=margin_K[:, 1:])


def _side(heat: float, cold: float, total: float) -> Side:
    if max(heat, cold) < 0.2 * total:
        return "time"
    return "heat" if heat >= cold else "cold"


def _may_help(packing: Packing, bare: _Outcome | None) -> bool:
    """Leave out heat packs where heat is the trouble, and cold packs where cold is."""
    if bare is None:
        return True
    against = "heat" if packing.plan.heat is not None else "cold" if packing.plan.cold is not None else "time"
    return bare.side != against or bare.side == "time"


def _law(tolerance: Tolerance, safe_low_C: float, safe_high_C: float) -> BoxDoseLaw:
    """Restate a tolerance in the plain numbers the box model counts by."""
    return BoxDoseLaw(
        heat_from_C=tolerance.heat_from_C,
        heat_1h_C=tolerance.heat_1h_C,
        heat_per_decade_K=tolerance.heat_per_decade_K,
        cold_from_C=tolerance.cold_from_C,
        cold_1h_C=tolerance.cold_1h_C,
        cold_per_decade_K=tolerance.cold_per_decade_K,
        bag_reference_C=tolerance.bag_reference_C,
        bag_q10=tolerance.bag_q10,
        safe_low_C=safe_low_C,
        safe_high_C=safe_high_C,
    )
