"""The forecast record: cutting hours, holes, ages."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import numpy as np
import pytest

from shipwindow.errors import DomainError, ForecastHole
from shipwindow.forecast.grid import LAYER_WORDS, Forecast

START = datetime(2026, 3, 8, 5, tzinfo=UTC)
H = timedelta(hours=1)


def forecast(hours: int = 6) -> Forecast:
    row = np.arange(hours, dtype=float)
    return Forecast(
        "test", "TST/1,2", START - H, START, row, row + 10, row / 10, row / 10, row + 20, row / 10, 40.0, -90.0, 100.0
    )


def with_layer(whole: Forecast, layer: str, values: Any) -> Forecast:
    changes: dict[str, Any] = {layer: values}
    return replace(whole, **changes)


def test_whole_hours_around_a_span() -> None:
    cut = forecast().hours(START + 1.5 * H, START + 3.2 * H)
    assert cut.start_at == START + H
    assert cut.air_C.tolist() == [1.0, 2.0, 3.0]
    assert cut.wind_m_s.tolist() == [11.0, 12.0, 13.0]
    assert cut.sky_frac.tolist() == [0.1, 0.2, 0.3]


def test_an_instant_gives_its_hour_and_other_zones_mean_the_same() -> None:
    assert forecast().hours(START + 2 * H, START + 2 * H).air_C.tolist() == [2.0]
    local = (START + 2 * H).astimezone(timezone(timedelta(hours=-5)))
    assert forecast().hours(local, local + H).air_C.tolist() == [2.0]


@pytest.mark.parametrize(
    ("layer", "words"), [("air_C", "air temperature"), ("wind_m_s", "wind"), ("sky_frac", "cloud cover")]
)
def test_a_hole_names_layer_and_hour_in_plain_words(layer: str, words: str) -> None:
    whole = forecast()
    values = getattr(whole, layer).copy()
    values[3] = np.nan
    holed = with_layer(whole, layer, values)
    assert holed.hours(START, START + 3 * H).air_C.size == 3
    with pytest.raises(ForecastHole) as told:
        holed.hours(START, START + 5 * H)
    assert told.value.read == f"no {words} for 2026-03-08 08:00Z in the test grid TST/1,2"
    assert told.value.expected == "every hour from 2026-03-08 05:00Z to 2026-03-08 10:00Z"


def test_no_message_leaks_the_name_of_an_attribute() -> None:
    whole = replace(forecast(), needed=tuple(LAYER_WORDS))
    for layer in LAYER_WORDS:
        with pytest.raises(ForecastHole) as told:
            with_layer(whole, layer, np.full(6, np.nan)).hours(START, START + H)
        assert re.search(r"_|[a-z]C\b", str(told.value)) is None
        assert LAYER_WORDS[layer] in told.value.read


def test_every_layer_of_the_record_has_plain_words() -> None:
    arrays = {each.name for each in fields(Forecast) if each.type == "Array"}
    assert arrays == set(LAYER_WORDS)


@pytest.mark.parametrize(
    ("first", "last", "hour"), [(-2, 3, "03:00"), (4, 9, "11:00"), (20, 22, "01:00"), (-9, -7, "20:00")]
)
def test_beyond_either_end_is_a_hole_at_its_first_hour(first: int, last: int, hour: str) -> None:
    with pytest.raises(ForecastHole, match=rf"no air temperature for 2026-03-\d\d {hour}Z"):
        forecast().hours(START + first * H, START + last * H)


def test_a_layer_that_ends_early_is_a_hole_only_there() -> None:
    values = np.r_[np.zeros(4), np.nan, np.nan]
    ended = replace(forecast(), wind_m_s=values)
    assert ended.hours(START, START + 4 * H).wind_m_s.size == 4
    with pytest.raises(ForecastHole, match="no wind for 2026-03-08 09:00Z"):
        ended.hours(START, START + 5 * H)


def test_a_span_backwards_or_without_zone_is_refused() -> None:
    with pytest.raises(DomainError, match="back to"):
        forecast().hours(START + 2 * H, START + H)
    with pytest.raises(DomainError, match="without a time zone"):
        forecast().hours(START.replace(tzinfo=None), START + H)


def test_a_record_no_one_could_read_is_refused() -> None:
    with pytest.raises(DomainError, match="one value an hour"):
        replace(forecast(), gust_m_s=np.zeros(5))
    with pytest.raises(DomainError, match="without a time zone"):
        replace(forecast(), start_at=START.replace(tzinfo=None))
    for hint in ({"members_C": np.zeros((3, 5))}, {"members_C": np.zeros(6)}, {"band_C": np.zeros((3, 6))}):
        with pytest.raises(DomainError, match="members or band of another length"):
            replace(forecast(), **hint)
    assert replace(forecast(), members_C=np.zeros((3, 6)), band_C=np.zeros((2, 6))).members_C is not None


def test_age_is_the_age_of_the_issue() -> None:
    assert forecast().age_h(START + 4.5 * H) == pytest.approx(5.5)  # exact in doubles
