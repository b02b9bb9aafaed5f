"""Judge one simulated option: may it go, under which conditions, and which doubt would turn it.

For: limits, doubts and rules of thumb applied to a chance. Must not know: other options, other days.
Neighbours: ``risk`` (chances), ``rules`` (thumb), ``choose`` (compares judged options).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from shipwindow.decide.costs import expected_cents, price_cents, used_cents
from shipwindow.decide.explain import AGREES, CONFIRM, EXTRA_DAY, HANDOVER_WORDS, clock, percent, percent_beside
from shipwindow.decide.risk import Assessed
from shipwindow.decide.verdict import Advice, Chance, Doubt, Option, RulesVerdict, Water
from shipwindow.settings.fields import HandoverName
from shipwindow.settings.models import Settings
from shipwindow.trip import Shipment
from shipwindow.workdays import ShipDay

GO, GO_IF, HOLD = 0, 1, 2

PROMISED: tuple[HandoverName, ...] = ("met", "depot")
"""Hand-overs the customer has promised: that they are kept is a condition, not a reason for another plan."""


@dataclass(frozen=True)
class Judged:
    """An option with everything that speaks for and against it.

    ``grade`` is GO, GO_IF or HOLD with the rules heard; ``model_grade`` is the model's alone. ``liking`` is the
    place of its hand-over among those the customer allows, 0 the one liked best.
    """

    assessed: Assessed
    option: Option
    chance: Chance
    rules: RulesVerdict
    grade: int
    model_grade: int
    conditions: tuple[str, ...]
    objections: tuple[str, ...]
    doubts: tuple[Doubt, ...]
    liking: int = 0

    @property
    def pack_advice(self) -> Advice:
        """The advice this option stands for when it goes."""
        if self.option.plan.heat_count:
            return "pack-with-heat"
        return "pack-with-cold" if self.option.plan.cold_count else "go"


def judge(
    assessed: Assessed,
    long_wait: Assessed | None,
    rules: RulesVerdict,
    day: ShipDay,
    shipment: Shipment,
    settings: Settings,
) -> Judged:
    """Hold an option against the shop's limits, its doubts and the rules of thumb.

    Parameters
    ----------
    assessed : Assessed             The option, simulated with all members.
    long_wait : Assessed or None    The same option opened late (end of the hand-over's range).
    rules : RulesVerdict            What the rules of thumb say of the same way.
    day : ShipDay                   Open or slack, holidays to confirm.
    shipment, settings

    Returns
    -------
    Judged

    Notes
    -----
    Over the upper limit, over the ceiling for a late box, or a doubt that carries the chance over the flip limit:
    hold. A long wait that does so, or a chance between the two limits, is a condition instead, because the
    customer can promise the first and agree to the second. Where the order already promises to meet or collect the
    box, the condition does not make the option a worse one.

    References
    ----------
    .. [1] Classes 5 % and 15 %, late ceiling 0.5: trade.md 7 (must 1). Status: engineering choice.
    """
    limits = settings.shop.limits
    bare = assessed.chance(settings)
    doubts = _weigh_doubts(assessed, long_wait, bare, settings)
    chance = _with_wait(bare, doubts)
    zone = shipment.destination.zone
    objections: list[str] = []
    if chance.combined >= chance.near_limit:
        objections.append(
            f"chance of loss {percent_beside(chance.combined, chance.near_limit)} is over {percent(chance.near_limit)}"
        )
    if chance.one_day_late >= limits.late_ceiling:
        said = f"a box one day late would be lost with {percent(chance.one_day_late)}"
        objections.append(f"{said}, over the ceiling of {percent(limits.late_ceiling)}")
    if not objections:
        turning = [doubt for doubt in doubts if doubt.flips and doubt.name != "wait"]
        objections += [f"{doubt.says}: then the chance is {percent(doubt.chance)}" for doubt in turning]
    model_grade = HOLD if objections else GO
    conditions: list[str] = []
    on_time = assessed.way.on_time
    if model_grade == GO:
        if any(doubt.flips and doubt.name == "wait" for doubt in doubts):
            conditions.append(f"only if {HANDOVER_WORDS[on_time.handover]} and opened by {clock(on_time.end_at, zone)}")
            model_grade = GO if on_time.handover in PROMISED else GO_IF
        if chance.standing == "near":
            conditions.append(f"{AGREES} {percent(chance.combined)}")
            model_grade = GO_IF
    grade = model_grade
    if rules.advice == "hold" and settings.rules.thumb.stricter_wins:
        grade = HOLD
        # where one end asks for heat and the other for cold, no finding alone says hold: both do
        heard = [finding for finding in rules.findings if finding.advice == "hold"] or rules.findings
        objections += [f"rule of thumb: {finding.reason}" for finding in heard]
    if day.state == "slack":
        conditions.append(f"{EXTRA_DAY}: no working day is left for a delay")
    conditions += [f"{CONFIRM} that it works on {name}, {on:%a %d %b}" for on, name in day.holidays_to_confirm]
    return Judged(
        assessed=assessed,
        option=_option(assessed, chance, shipment, settings),
        chance=chance,
        rules=rules,
        grade=grade,
        model_grade=model_grade,
        conditions=tuple(conditions),
        objections=tuple(objections),
        doubts=tuple(sorted(doubts, key=lambda doubt: -doubt.chance)),
        liking=_liking(on_time.handover, shipment),
    )


def _liking(handover: HandoverName, shipment: Shipment) -> int:
    allowed = shipment.allowed
    return allowed.index(handover) if handover in allowed else len(allowed)


def _weigh_doubts(assessed: Assessed, long_wait: Assessed | None, chance: Chance, settings: Settings) -> list[Doubt]:
    flip = settings.shop.limits.flip_near
    doubts: list[Doubt] = []
    for single, value in list(zip(assessed.way.members.singles, assessed.singles, strict=True))[1:]:
        if single.name == "air supply" and assessed.packing.plan.heat is None:
            continue
        doubts.append(Doubt(single.name, single.says, float(value), flips=bool(value >= flip > chance.combined)))
    if long_wait is not None:
        last = long_wait.way.on_time.legs[-1]
        says = f"nobody opens the box for {last.duration_h:.0f} h ({last.name})"
        doubts.append(Doubt("wait", says, long_wait.mean, flips=long_wait.mean >= flip > chance.combined))
    return doubts


def _with_wait(chance: Chance, doubts: Sequence[Doubt]) -> Chance:
    values = [chance.low, chance.high, *(doubt.chance for doubt in doubts)]
    return replace(chance, low=min(values), high=max(values))


def _option(assessed: Assessed, chance: Chance, shipment: Shipment, settings: Settings) -> Option:
    trip, water = assessed.way.on_time, assessed.on_time_water
    priced = price_cents(trip.commitment, assessed.packing, shipment, settings)
    used = used_cents(assessed.packing, shipment, settings)
    spent = None if priced is None or used is None else priced + used
    return Option(
        ship_day=trip.ship_day,
        arrival_day=trip.arrival_day,
        commitment=trip.commitment,
        handover=trip.handover,
        box=assessed.packing.box,
        plan=assessed.packing.name,
        chance=chance,
        water=Water(
            low_C=water.low_C,
            low_at=trip.start_at + timedelta(seconds=water.low_at_s),
            high_C=water.high_C,
            high_at=trip.start_at + timedelta(seconds=water.high_at_s),
        ),
        delivered_at=trip.delivered_at,
        opened_at=trip.end_at,
        price_cents=priced,
        expected_cents=expected_cents(spent, chance.combined, shipment),
    )
