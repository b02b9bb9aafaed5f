"""Rules of thumb: thresholds are common practice, no source; what is tested is that each speaks when it should."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from shipwindow.decide.rules import AirSpan, air_on_the_way, judge_by_rules
from shipwindow.decide.verdict import RulesVerdict
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.fields import CommitmentName
from shipwindow.settings.models import Settings
from shipwindow.trip import Role, Shipment, Trip, Weather, plan_trip

AT = datetime(2026, 4, 21, 12, tzinfo=UTC)


def span(role: Role, low_C: float, high_C: float) -> AirSpan:
    return AirSpan(role, low_C, AT, high_C, AT)


def judged(
    settings: Settings, *spans: AirSpan, late_h: float = 24.0, commitment: CommitmentName = "next-morning"
) -> RulesVerdict:
    return judge_by_rules(spans, late_h, commitment, settings.cargo.cargo["small-polyp-stony"], settings)


@pytest.mark.parametrize(
    ("spans", "advice", "name"),
    [
        ((span("origin", 15, 25), span("hub", 16, 20), span("destination", 14, 27)), "go", "mild"),
        ((span("origin", 15, 25), span("destination", 5, 12)), "pack-with-heat", "cold end"),
        ((span("origin", 15, 25), span("destination", 20, 35)), "pack-with-cold", "hot end"),
        ((span("origin", 15, 25), span("destination", -10, 2)), "hold", "too cold or too hot"),
        ((span("origin", 15, 25), span("destination", 25, 40)), "hold", "too cold or too hot"),
        ((span("origin", 24, 34), span("destination", 2, 10)), "hold", "hot to cold"),
        ((span("origin", 15, 25), span("hub", -15, -8), span("destination", 14, 25)), "hold", "hub"),
    ],
)
def test_each_rule_speaks(settings: Settings, spans: tuple[AirSpan, ...], advice: str, name: str) -> None:
    found = judged(settings, *spans)
    assert found.advice == advice
    assert name in {finding.name for finding in found.findings}


def test_a_cold_hub_and_a_hot_end_ask_for_both_packs_and_so_for_a_hold(settings: Settings) -> None:
    found = judged(settings, span("origin", 20, 28), span("hub", 8, 12), span("destination", 24, 34))
    assert {finding.advice for finding in found.findings} == {"pack-with-heat", "pack-with-cold"}
    assert found.advice == "hold"


def test_two_days_are_never_for_corals(settings: Settings) -> None:
    found = judged(settings, span("origin", 15, 25), commitment="second-day")
    assert found.advice == "hold"
    assert any("two-day" in finding.reason for finding in found.findings)


def test_a_late_box_over_the_weekend_is_held(settings: Settings) -> None:
    assert judged(settings, span("origin", 15, 25), late_h=72.0).advice == "hold"


def test_thresholds_are_shown_in_the_shops_scale(settings: Settings) -> None:
    show = settings.shop.show.model_copy(update={"temperature": "C"})
    metric = settings.model_copy(update={"shop": settings.shop.model_copy(update={"show": show})})
    assert "5.0 °C" in judged(metric, span("destination", 5, 12)).findings[0].reason
    assert "41 °F" in judged(settings, span("destination", 5, 12)).findings[0].reason


def test_the_air_on_the_way_is_that_of_the_hours_the_box_is_there(
    settings: Settings, ship: Callable[..., Shipment], weather: Callable[..., Weather]
) -> None:
    shipment = ship()
    trip = plan_trip(shipment, settings, shipment.earliest, "next-morning", "met", "on-time")
    assert isinstance(trip, Trip)
    around = weather(origin=21.0, hub=9.0, destination=15.0)
    frost = around["destination"]
    assert isinstance(frost, Forecast)
    after = int((trip.end_at - frost.start_at).total_seconds() // 3600) + 1
    frost.air_C[after:] = -20.0
    usable: dict[Role, Forecast] = {role: one for role, one in around.items() if isinstance(one, Forecast)}
    spans = {one.role: one for one in air_on_the_way(trip, usable, settings)}
    assert spans["hub"].low_C == pytest.approx(9.0)
    assert spans["destination"].low_C == pytest.approx(15.0), "a frost after the lid is open is no concern"
