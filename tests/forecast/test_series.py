"""Intervals and their spreading over hours."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from shipwindow.errors import MissingForecast
from shipwindow.forecast.sources.series import Step, ceil_hour, floor_hour, frame, hourly, instant, interval

START = datetime(2026, 3, 8, 5, tzinfo=UTC)
H = timedelta(hours=1)


def at(hour: float) -> datetime:
    return START + hour * H


@pytest.mark.parametrize(
    ("text", "start", "end"),
    [
        ("2026-03-08T06:00:00+00:00/PT3H", 1, 4),
        ("2026-03-08T06:00:00Z/PT3H", 1, 4),
        ("2026-03-08T01:00:00-05:00/PT3H", 1, 4),
        ("2026-03-08T16:00:00+1000/PT3H", 1, 4),
        ("2026-03-08T06:00:00Z/P1DT6H", 1, 31),
        ("2026-03-08T06:00:00Z/P7DT14H", 1, 183),
        ("2026-03-08T06:00:00Z/P1W", 1, 169),
        ("2026-03-08T06:30:00Z/PT45M", 1.5, 2.25),
        ("2026-03-08T06:00:00Z/2026-03-08T09:00:00Z", 1, 4),
        ("2026-03-08T06:00:00Z / 2026-03-08T04:00:00-05:00", 1, 4),
        ("PT3H/2026-03-08T09:00:00Z", 1, 4),
    ],
)
def test_the_three_forms_of_an_iso_8601_interval(text: str, start: float, end: float) -> None:
    assert interval(text, "x") == (at(start), at(end))


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("2026-03-08T06:00:00Z/PT0H", "PT0H"),
        ("2026-03-08T06:00:00Z/P0D", "P0D"),
        ("2026-03-08T06:00:00Z/P", "lasting 'P'"),
        ("2026-03-08T06:00:00Z/PT", "lasting 'PT'"),
        ("2026-03-08T06:00:00Z/P1DT", "P1DT"),
        ("2026-03-08T06:00:00Z/P999999999D", "P999999999D"),
        ("2026-03-08T06:00:00Z/P1Y", "P1Y"),
        ("2026-03-08T06:00:00Z/-PT3H", "-PT3H"),
        ("2026-03-08T06:00:00Z/2026-03-08T06:00:00Z", "06:00:00Z"),
        ("2026-03-08T09:00:00Z/2026-03-08T06:00:00Z", "09:00:00Z"),
        ("PT3H/PT3H", "PT3H/PT3H"),
        ("2026-03-08T06:00:00/PT3H", "06:00:00"),
        ("2026-02-30T06:00:00Z/PT3H", "2026-02-30"),
        ("9999-12-31T23:00:00Z/PT3H", "9999"),
        ("2026-03-08T06:00:00Z", "06:00:00Z"),
        ("", "''"),
        ("date:now -29327 seconds / PT1H", "relative"),
        ("NOW/PT1H", "relative"),
        ("x" * 5000, "xxx"),
        (None, "None"),
        (12, "12"),
        ({"start": 1}, "start"),
    ],
)
def test_what_is_no_interval_is_refused_in_words(text: object, read: str) -> None:
    with pytest.raises(MissingForecast) as told:
        interval(text, "wind for")
    assert read in told.value.read
    assert told.value.read.startswith("wind for")
    assert len(str(told.value)) < 400


def test_a_relative_instant_is_named_as_such() -> None:
    with pytest.raises(MissingForecast, match="relative to whenever it is read"):
        instant("date:now -4396 seconds", "updateTime")


def test_whole_hours() -> None:
    assert floor_hour(at(1.5)) == at(1)
    assert ceil_hour(at(1.5)) == at(2)
    assert ceil_hour(at(2)) == at(2)
    assert frame([[], [Step(at(1.5), at(2.5), 1.0)], [Step(at(3), at(7), 1.0)]]) == (at(1), 6)


def test_gaps_and_nulls_stay_gaps() -> None:
    values, overlapped = hourly([Step(at(1), at(2), 5.0), Step(at(3), at(4), None), Step(at(4), at(5), 7.0)], START, 6)
    assert not overlapped
    assert_allclose(values, [np.nan, 5.0, np.nan, np.nan, 7.0, np.nan], equal_nan=True, rtol=0)  # copies are exact


def test_an_hour_in_pieces_is_their_mean_and_an_unfinished_hour_is_a_gap() -> None:
    quarter = [Step(at(0), at(0.25), 4.0), Step(at(0.25), at(1.5), 8.0)]
    values, _ = hourly(quarter, START, 2)
    assert_allclose(values, [7.0, np.nan], equal_nan=True, rtol=1e-15)  # one rounding


def test_on_an_overlap_the_later_start_wins_and_it_is_told() -> None:
    values, overlapped = hourly([Step(at(0), at(4), 1.0), Step(at(2), at(3), 9.0)], START, 4)
    assert overlapped
    assert values.tolist() == [1.0, 1.0, 9.0, 1.0]


def test_of_two_with_one_start_the_more_particular_wins() -> None:
    values, overlapped = hourly([Step(at(0), at(1), 9.0), Step(at(0), at(3), 1.0)], START, 3)
    assert overlapped
    assert values.tolist() == [9.0, 1.0, 1.0]


def test_of_two_for_the_very_same_span_the_later_in_the_list_wins() -> None:
    values, overlapped = hourly([Step(at(0), at(1), value) for value in (1.0, None, 2.0)], START, 1)
    assert overlapped
    assert values.tolist() == [2.0]


def test_the_same_claim_twice_is_still_a_value() -> None:
    assert hourly([Step(at(0), at(1), 3.0)] * 2, START, 1)[0].tolist() == [3.0]


def test_what_lies_outside_the_frame_is_cut() -> None:
    assert hourly([Step(at(-5), at(1), 3.0), Step(at(1), at(50), 4.0)], START, 2)[0].tolist() == [3.0, 4.0]
    assert np.isnan(hourly([Step(at(-5), at(-1), 3.0), Step(at(9), at(10), 3.0)], START, 2)[0]).all()


quarters = st.lists(
    st.tuples(st.integers(1, 40), st.one_of(st.none(), st.floats(-60, 55))), min_size=1, max_size=30
)  # lengths in quarter hours, end to end, some without value


def chain(parts: list[tuple[int, float | None]]) -> list[Step]:
    steps, clock = [], 0.0
    for length, value in parts:
        steps.append(Step(at(clock), at(clock + length / 4), value))
        clock += length / 4
    return steps


@given(parts=quarters, seed=st.randoms(use_true_random=False))
def test_splitting_and_reordering_change_nothing(parts: list[tuple[int, float | None]], seed: object) -> None:
    whole = chain(parts)
    split = chain([(1, value) for length, value in parts for _ in range(length)])
    seed.shuffle(split)  # type: ignore[attr-defined]
    hours = frame([whole])[1]
    first, overlapped = hourly(whole, START, hours)
    second, overlapped_too = hourly(split, START, hours)
    assert not overlapped
    assert not overlapped_too
    assert_allclose(first, second, equal_nan=True, rtol=1e-12, atol=1e-12)  # four additions of doubles below 60


@given(parts=quarters)
def test_values_are_never_invented(parts: list[tuple[int, float | None]]) -> None:
    steps = chain(parts)
    values, _ = hourly(steps, START, frame([steps])[1])
    given_values = [step.value for step in steps if step.value is not None]
    assert np.isfinite(values).sum() * 4 <= sum(length for length, value in parts if value is not None)
    if given_values:
        finite = values[np.isfinite(values)]
        assert ((finite >= min(given_values) - 1e-9) & (finite <= max(given_values) + 1e-9)).all()


steps_anyhow = st.lists(
    st.tuples(st.integers(0, 20), st.integers(1, 12), st.one_of(st.none(), st.integers(0, 3))),
    min_size=1,
    max_size=12,
    unique_by=lambda span: span[:2],
)


@given(spans=steps_anyhow, seed=st.randoms(use_true_random=False))
def test_order_plays_no_part_even_with_overlaps(spans: list[tuple[int, int, int | None]], seed: object) -> None:
    steps = [Step(at(a), at(a + n), None if v is None else float(v)) for a, n, v in spans]
    shuffled = list(steps)
    seed.shuffle(shuffled)  # type: ignore[attr-defined]
    first, second = hourly(steps, START, 32), hourly(shuffled, START, 32)
    assert_allclose(first[0], second[0], equal_nan=True, rtol=0)  # the same values are copied
    assert first[1] == second[1]
