"""Rules of thumb of the trade, spoken beside the model and never mixed with it.

For: what a careful seller would say from the temperatures on the way alone. Every threshold is the
shop's (``rules.toml``); all are common practice without a source. Must not know: the box, doses, chances.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from shipwindow import units
from shipwindow.decide.verdict import Advice, RuleFinding, RulesVerdict
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.fields import CommitmentName
from shipwindow.settings.models import CargoKind, Settings, Thumb
from shipwindow.trip.legs import Role, Trip

LONGEST_LATE_WAIT_H = 30.0  # a day and some hours; more means a weekend or holiday. Status: engineering choice
SEVERITY: Mapping[Advice, int] = {"go": 0, "pack-with-heat": 1, "pack-with-cold": 1, "hold": 2}


@dataclass(frozen=True)
class AirSpan:
    """Coldest and warmest outdoor hour at one place while the box is there. [degC]"""

    role: Role
    low_C: float
    low_at: datetime
    high_C: float
    high_at: datetime


def air_on_the_way(trip: Trip, weather: Mapping[Role, Forecast], settings: Settings) -> tuple[AirSpan, ...]:
    """Find the outdoor extremes at each place during the hours the box stands there.

    Parameters
    ----------
    trip : Trip                     The on-time trip.
    weather : mapping               Forecast of each place the trip uses, without holes in its hours.
    settings : Settings             Says which surroundings feel the outdoors.

    Returns
    -------
    tuple of AirSpan                One for each place that matters, in the order of the trip. [degC]

    References
    ----------
    .. [1] None: a reading of the forecast. Status: engineering choice.
    """
    found: dict[Role, AirSpan] = {}
    for leg in trip.legs:
        around = settings.lanes.surroundings[leg.surroundings]
        forecast = weather.get(leg.role)
        if around.outdoor_share == 0 or forecast is None:
            continue
        hours = forecast.hours(leg.start_at, leg.end_at)
        for number, air_C in enumerate(hours.air_C):
            at = max(hours.start_at + timedelta(hours=number), leg.start_at)
            span = found.get(leg.role)
            if span is None:
                found[leg.role] = AirSpan(leg.role, float(air_C), at, float(air_C), at)
                continue
            low = (float(air_C), at) if air_C < span.low_C else (span.low_C, span.low_at)
            high = (float(air_C), at) if air_C > span.high_C else (span.high_C, span.high_at)
            found[leg.role] = AirSpan(leg.role, low[0], low[1], high[0], high[1])
    return tuple(found.values())


def judge_by_rules(
    spans: tuple[AirSpan, ...], late_wait_h: float, commitment: CommitmentName, kind: CargoKind, settings: Settings
) -> RulesVerdict:
    """Let each rule of thumb speak and take the strictest.

    Parameters
    ----------
    spans : tuple of AirSpan        Outdoor extremes on the way. [degC]
    late_wait_h : float             Hours a late box waits beyond its promise. [h]
    commitment : str                Delivery commitment.
    kind : CargoKind                Says whether two days are ever allowed.
    settings : Settings             Thresholds of ``rules.toml`` and how to show temperatures.

    Returns
    -------
    RulesVerdict                    Advice and the findings behind it; `go` with one finding when no rule objects.

    References
    ----------
    .. [1] All thresholds: common practice, no source. Status: common-practice.
    """
    thumb, scale = settings.rules.thumb, settings.shop.show.temperature
    findings = _too_far(spans, thumb, scale) + _spread(spans, thumb, scale) + _packs(spans, thumb, scale)
    if commitment == "second-day" and not kind.two_days:
        findings.append(RuleFinding("two days", "hold", f"{kind.label} never travels by a two-day commitment"))
    if late_wait_h > LONGEST_LATE_WAIT_H:
        said = f"a late box would wait {late_wait_h:.0f} h, over days without delivery"
        findings.append(RuleFinding("weekend", "hold", said))
    if not findings:
        low = units.show_temperature(min(span.low_C for span in spans), scale)
        high = units.show_temperature(max(span.high_C for span in spans), scale)
        said = f"{low} to {high} on the way asks for no pack"
        findings.append(RuleFinding("mild", "go", said))
    return RulesVerdict(_strictest(findings), tuple(findings))


def _strictest(findings: list[RuleFinding]) -> Advice:
    asked = {finding.advice for finding in findings}
    if {"pack-with-heat", "pack-with-cold"} <= asked:
        return "hold"
    return max(asked, key=lambda advice: SEVERITY[advice])


def _too_far(spans: tuple[AirSpan, ...], thumb: Thumb, scale: str) -> list[RuleFinding]:
    findings = []
    for span in spans:
        low_limit_C, high_limit_C, name = thumb.hold_below_C, thumb.hold_above_C, "too cold or too hot"
        if span.role == "hub":
            low_limit_C, high_limit_C, name = thumb.hub_hold_below_C, thumb.hub_hold_above_C, "hub"
        for beyond, air_C, word, limit_C in (
            (span.low_C < low_limit_C, span.low_C, "below", low_limit_C),
            (span.high_C > high_limit_C, span.high_C, "above", high_limit_C),
        ):
            if beyond:
                air, limit = units.show_temperature(air_C, scale), units.show_temperature(limit_C, scale)
                findings.append(RuleFinding(name, "hold", f"{air} at the {span.role} is {word} {limit}"))
    return findings


def _spread(spans: tuple[AirSpan, ...], thumb: Thumb, scale: str) -> list[RuleFinding]:
    """One end needs heat, the other ice, and they lie far apart: neither pack is right."""
    ends = [span for span in spans if span.role != "hub"]
    cold = min(ends, key=lambda span: span.low_C, default=None)
    hot = max(ends, key=lambda span: span.high_C, default=None)
    if cold is None or hot is None or cold.role == hot.role:
        return []
    apart_K = hot.high_C - cold.low_C
    if cold.low_C < thumb.heat_pack_below_C and hot.high_C > thumb.cold_pack_above_C and apart_K >= thumb.spread_K:
        said = (
            f"the {cold.role} asks for heat ({units.show_temperature(cold.low_C, scale)}) and the {hot.role} for cold "
            f"({units.show_temperature(hot.high_C, scale)}), {units.show_rise(apart_K, scale)} apart"
        )
        return [RuleFinding("hot to cold", "hold", said)]
    return []


def _packs(spans: tuple[AirSpan, ...], thumb: Thumb, scale: str) -> list[RuleFinding]:
    findings = []
    coldest = min(spans, key=lambda span: span.low_C, default=None)
    hottest = max(spans, key=lambda span: span.high_C, default=None)
    if coldest is not None and coldest.low_C < thumb.heat_pack_below_C:
        limit = units.show_temperature(thumb.heat_pack_below_C, scale)
        said = f"{units.show_temperature(coldest.low_C, scale)} at the {coldest.role} is below {limit}"
        findings.append(RuleFinding("cold end", "pack-with-heat", said))
    if hottest is not None and hottest.high_C > thumb.cold_pack_above_C:
        limit = units.show_temperature(thumb.cold_pack_above_C, scale)
        said = f"{units.show_temperature(hottest.high_C, scale)} at the {hottest.role} is above {limit}"
        findings.append(RuleFinding("hot end", "pack-with-cold", said))
    return findings
