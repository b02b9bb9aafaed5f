"""From a verdict to its place in the advisory.

For: rounding, clocks and the joining of three forecasts into one line. Must not know: how a verdict was found,
how a page looks. Neighbours: ``document`` (the shape), ``run`` (who calls).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from shipwindow.advisory.document import (
    ChanceOfLoss,
    Curve,
    DaySaid,
    DoubtSaid,
    ForecastSaid,
    LegSaid,
    OrderAdvice,
    OrderDetails,
    Pack,
    PlansSaid,
    RulesSaid,
    Scale,
    WaterRange,
    Way,
    WeatherSaid,
    WindowSaid,
    WorstSaid,
)
from shipwindow.decide.explain import say_chance, say_option, say_water, say_worst
from shipwindow.decide.verdict import History, NextWindow, Option, PlanName, Plans, Verdict, WeatherUsed

CURVE_STEP_S = 600.0


def compose(verdict: Verdict, scale: Scale, notes: Sequence[str] = ()) -> OrderAdvice:
    """Write a verdict down as one order of the advisory; ``scale`` is the one its sentences use.

    Chances are rounded to 4 decimals, temperatures to 0.01 degC: beyond that the digits are noise, and a
    rounded document stays the same when the last bit of a sum does not.
    """
    held = verdict.advice == "hold"
    way = verdict.chosen if not held and verdict.chosen is not None else verdict.best_today or verdict.chosen
    advised = None if held else way
    zone = verdict.zones.get("destination", "UTC")
    worst = verdict.worst
    worst_zone = verdict.zones.get(worst.role, "UTC") if worst is not None else "UTC"
    return OrderAdvice(
        order=verdict.key,
        advice=verdict.advice,
        conditions=verdict.conditions,
        ship_day=advised.ship_day if advised else None,
        commitment=advised.commitment if advised else None,
        pack_plan=advised.plan.name if advised else None,
        chance_of_loss=_chance(way) if way else None,
        water_C=WaterRange(min=_temp(way.water.low_C), max=_temp(way.water.high_C)) if way else None,
        rules=_rules(verdict),
        worst_leg=worst.name if worst else None,
        worst_hour=_local(worst.at, worst_zone) if worst else None,
        next_window=verdict.next_window.ship_day,
        forecast=_together(verdict.weather),
        reasons=verdict.reasons,
        details=OrderDetails(
            destination=verdict.destination,
            destination_zone=zone,
            cargo=verdict.cargo,
            way=_way(way, zone) if way else None,
            standing=way.chance.standing if way else None,
            near_limit=_share(way.chance.near_limit) if way else None,
            chance_late=_share(way.chance.late) if way else None,
            model_advice=verdict.model_advice,
            disagreement=verdict.disagreement,
            worst=WorstSaid(
                leg=worst.name,
                role=worst.role,
                at=_local(worst.at, worst_zone),
                side=worst.side,
                water_C=_temp(worst.water_C),
                air_C=_temp(worst.air_C),
                matters=worst.matters or worst.anyway,
                drop=_share(worst.drop),
            )
            if worst
            else None,
            doubts=tuple(
                DoubtSaid(
                    name=doubt.name,
                    says=doubt.says,
                    chance=_share(doubt.chance),
                    flips=doubt.flips,
                    share=None if doubt.share is None else _share(doubt.share),
                )
                for doubt in verdict.doubts
            ),
            changes=verdict.changes,
            alternatives=tuple(_way(option, zone) for option in verdict.alternatives),
            next_window=_window(verdict.next_window),
            weather=tuple(_weather(used) for used in verdict.weather),
            legs=_legs(verdict),
            curve=_curve(verdict.history) if verdict.history is not None else None,
            why=_why(verdict, way, scale),
            missing=verdict.missing,
            notes=tuple(note for note in notes if note not in verdict.reasons),
            summary=verdict.summary,
            plans=_plans(verdict.plans, zone),
            looked_at=verdict.looked_at,
            sampling_error=_share(way.chance.sampling_error) if way else None,
            members=way.chance.members if way else None,
        ),
    )


def _window(window: NextWindow) -> WindowSaid:
    return WindowSaid(
        ship_day=window.ship_day,
        commitment=window.commitment,
        says=window.says,
        opens=None if window.opens is None else _share(window.opens),
        days=tuple(
            DaySaid(
                ship_day=day.ship_day,
                chance=_share(day.combined),
                standing=day.standing,
                may_go=day.may_go,
                opens=None if day.opens is None else _share(day.opens),
            )
            for day in window.days
        ),
    )


def _plans(plans: Plans | None, zone: str) -> PlansSaid:
    if plans is None:
        return PlansSaid()
    found = {
        name: _way(option, zone) if (option := getattr(plans, name)) is not None else None
        for name in ("cheapest", "safest", "simplest")
    }
    return PlansSaid(**found)


def _why(verdict: Verdict, way: Option | None, scale: Scale) -> tuple[str, ...]:
    """Leave out the reasons that only put the record's numbers into words: every writer does that itself."""
    said = set(verdict.missing)
    zone = verdict.zones.get("destination")
    if way is not None:
        said.add(say_chance(way.chance))
        if zone is not None:
            said.add(say_water(way, scale, zone))
            said.add(f"the best that could be done today: {say_option(way, zone)}")
    if verdict.worst is not None and verdict.worst.role in verdict.zones:
        said.add(say_worst(verdict.worst, verdict.zones, scale))
    return tuple(reason for reason in verdict.reasons if reason.removeprefix("held: ") not in said)


def _share(value: float) -> float:
    return round(min(max(float(value), 0.0), 1.0), 4)


def _temp(value_C: float) -> float:
    # Adding zero turns -0.0 into 0.0, which would otherwise be a different byte.
    return round(float(value_C), 2) + 0.0


def _local(at: datetime, zone: str) -> datetime:
    return at.astimezone(ZoneInfo(zone))


def _chance(option: Option) -> ChanceOfLoss:
    chance = option.chance
    return ChanceOfLoss(
        on_time=_share(chance.on_time),
        one_day_late=_share(chance.one_day_late),
        combined=_share(chance.combined),
        low=_share(chance.low),
        high=_share(chance.high),
        limit=_share(chance.limit),
    )


def _pack(plan: PlanName) -> Pack:
    return Pack(
        name=plan.name,
        says=plan.says,
        heat_count=plan.heat_count,
        cold_count=plan.cold_count,
        ballast_kg=round(plan.ballast_kg, 3),
        lid_hole_m=round(plan.lid_hole_m, 4),
    )


def _way(option: Option, zone: str) -> Way:
    return Way(
        ship_day=option.ship_day,
        arrival_day=option.arrival_day,
        commitment=option.commitment,
        handover=option.handover,
        box=option.box,
        pack=_pack(option.plan),
        chance=_share(option.chance.combined),
        standing=option.chance.standing,
        delivered_at=_local(option.delivered_at, zone),
        opened_at=_local(option.opened_at, zone),
        price_cents=option.price_cents,
        expected_cents=option.expected_cents,
    )


def _rules(verdict: Verdict) -> RulesSaid:
    if verdict.rules is None:
        return RulesSaid(advice=None, reasons=())
    return RulesSaid(advice=verdict.rules.advice, reasons=tuple(finding.reason for finding in verdict.rules.findings))


def _weather(used: WeatherUsed) -> WeatherSaid:
    return WeatherSaid(
        role=used.role,
        place=used.place,
        source=used.source,
        issued_at=used.issued_at,
        age_h=None if used.age_h is None else round(used.age_h, 2),
        flags=used.flags,
        hazards=used.hazards,
    )


def _together(weather: Sequence[WeatherUsed]) -> ForecastSaid:
    issues = [used.issued_at for used in weather if used.issued_at is not None]
    ages = [used.age_h for used in weather if used.age_h is not None]
    sources = dict.fromkeys(used.source for used in weather if used.source)
    return ForecastSaid(
        source=", ".join(sources) or "none",
        issued_at=min(issues) if issues else None,
        age_h=round(max(ages), 2) if ages else None,
        flags=tuple(f"{used.role}: {flag}" for used in weather for flag in used.flags),
    )


def _legs(verdict: Verdict) -> tuple[LegSaid, ...]:
    found = []
    for leg in verdict.legs:
        zone = verdict.zones.get(leg.role, "UTC")
        found.append(
            LegSaid(
                name=leg.name,
                role=leg.role,
                zone=zone,
                surroundings=leg.surroundings,
                start_at=_local(leg.start_at, zone),
                end_at=_local(leg.end_at, zone),
            )
        )
    return tuple(found)


def _curve(history: History) -> Curve:
    """Thin the record to ten-minute points; step means of the air get an end like the water's edges."""
    every = max(1, round(CURVE_STEP_S / history.step_s))
    missing = history.water_C.size - history.air_C.size
    air_C = np.concatenate([history.air_C, np.repeat(history.air_C[-1:], max(missing, 0))])[: history.water_C.size]

    def thin(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, ...]:
        return tuple(_temp(value) for value in values[::every])

    return Curve(
        start_at=history.start_at,
        step_s=history.step_s * every,
        water_C=thin(history.water_C),
        water_low_C=thin(history.water_low_C),
        water_high_C=thin(history.water_high_C),
        air_C=thin(air_C),
        safe_low_C=_temp(history.safe_low_C),
        safe_high_C=_temp(history.safe_high_C),
    )
