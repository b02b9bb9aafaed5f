"""The record: its fixed keys, its schema, its bytes, its way back."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from shipwindow.advisory.as_json import as_json, from_json, schema, schema_text
from shipwindow.advisory.document import Advisory
from shipwindow.decide.verdict import Verdict

PUBLISHED = Path(__file__).parents[2] / "docs" / "schema" / "advisory.schema.json"

# The contract with scripts: exactly these, in this order.
TOP = ["shop", "day", "made_at", "model", "orders", "problems", "details"]
ORDER = [
    "order",
    "advice",
    "conditions",
    "ship_day",
    "commitment",
    "pack_plan",
    "chance_of_loss",
    "water_C",
    "rules",
    "worst_leg",
    "worst_hour",
    "next_window",
    "forecast",
    "reasons",
    "details",
]
PARTS = {
    "chance_of_loss": ["on_time", "one_day_late", "combined", "low", "high", "limit"],
    "water_C": ["min", "max"],
    "rules": ["advice", "reasons"],
    "forecast": ["source", "issued_at", "age_h", "flags"],
}


def test_keys_are_the_agreed_ones(advisory: Advisory) -> None:
    found = json.loads(as_json(advisory))
    assert list(found) == TOP
    for order in found["orders"]:
        assert list(order) == ORDER
        for part, keys in PARTS.items():
            assert order[part] is None or list(order[part]) == keys


def test_published_schema_is_fresh() -> None:
    assert PUBLISHED.read_text() == schema_text(), "write it again: see docs/schema in DEVELOPERS.md"


def test_json_keeps_to_the_schema(advisory: Advisory) -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
    validator = jsonschema.Draft202012Validator(json.loads(PUBLISHED.read_text()))
    validator.validate(json.loads(as_json(advisory)))


@pytest.mark.parametrize("change", [{"advice": "maybe"}, {"colour": "amber"}, {"chance_of_loss": {"combined": 2}}])
def test_schema_refuses(advisory: Advisory, change: dict[str, Any]) -> None:
    document = json.loads(as_json(advisory))
    document["orders"][0] |= change
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, json.loads(PUBLISHED.read_text()))


def test_round_trip(advisory: Advisory) -> None:
    again = from_json(as_json(advisory))
    assert again == advisory
    assert as_json(again) == as_json(advisory)


def test_a_held_order_ships_nothing(gather: Callable[..., Advisory], verdict: Callable[..., Verdict]) -> None:
    order = gather(verdict("A", "hold")).orders[0]
    assert (order.ship_day, order.commitment, order.pack_plan) == (None, None, None)
    assert order.chance_of_loss is not None
    assert order.chance_of_loss.combined == pytest.approx(0.22, abs=1e-4)  # rounded to 4 decimals
    assert order.details.standing == "over"


def test_oldest_forecast_counts(gather: Callable[..., Advisory], verdict: Callable[..., Verdict]) -> None:
    forecast = gather(verdict()).orders[0].forecast
    assert forecast.age_h == pytest.approx(14.0, abs=0.01)  # rounded to 2 decimals
    assert forecast.issued_at == datetime(2026, 3, 2, 22, 10, tzinfo=UTC)
    assert forecast.flags == ("hub: stale",)


def test_worst_hour_is_told_on_the_clock_of_its_place(
    gather: Callable[..., Advisory], verdict: Callable[..., Verdict]
) -> None:
    found = json.loads(as_json(gather(verdict())))["orders"][0]
    assert found["worst_hour"] == "2026-03-04T01:30:00-06:00"  # 07:30Z at the hub, six hours behind in winter


def test_missing_data_or_a_bad_row_makes_it_incomplete(
    gather: Callable[..., Advisory], verdict: Callable[..., Verdict], missing: Verdict, problem: Any
) -> None:
    assert not gather(verdict("A", "hold")).incomplete
    assert gather(verdict(), missing).incomplete
    assert gather(verdict(), problems=(problem,)).incomplete


def test_curve_is_thinned_to_ten_minutes_and_keeps_one_length(
    gather: Callable[..., Advisory], verdict: Callable[..., Verdict]
) -> None:
    curve = gather(verdict()).orders[0].details.curve
    assert curve is not None
    assert curve.step_s == pytest.approx(600.0)  # twice the 300 s of the hand-written history, exact
    lengths = {len(curve.water_C), len(curve.water_low_C), len(curve.water_high_C), len(curve.air_C)}
    assert lengths == {142}  # 23.5 h, six points an hour, and the end


def test_reasons_that_repeat_the_numbers_stay_in_the_json_only(
    gather: Callable[..., Advisory], verdict: Callable[..., Verdict]
) -> None:
    from shipwindow.decide.explain import say_chance, say_worst

    made = verdict()
    assert made.chosen is not None
    assert made.worst is not None
    numbers = (say_chance(made.chosen.chance), say_worst(made.worst, made.zones, "F"))
    order = gather(verdict(reasons=(*numbers, "a reason of its own"))).orders[0]
    assert order.reasons == (*numbers, "a reason of its own")
    assert order.details.why == ("a reason of its own",)
