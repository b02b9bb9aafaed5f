"""What is due when, walked with made-up clocks; no outside source: the rules are the program's own promises."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipwindow.service.timetable import Timetable, What
from shipwindow.settings.service_file import Schedule

NEW_YORK = ZoneInfo("America/New_York")


def schedule(**changes: object) -> Schedule:
    plain = {
        "advisory": "06:30",
        "fetch-ahead": "20 min",
        "jitter": "10 min",
        "second-look": "2 h",
        "night": "03:30",
        "latest-start": "8 h",
    }
    return Schedule.model_validate(plain | changes)


def table(**changes: object) -> Timetable:
    return Timetable(schedule(**changes), NEW_YORK, time(17, 0), "shop")


def walk(hours: Timetable, start: datetime, end: datetime, beat: timedelta) -> list[tuple[datetime, What, date]]:
    """Beat from start to end and do whatever is due."""
    done: set[tuple[What, date]] = set()
    log = []
    now = start
    while now < end:
        for due in hours.due(now, done):
            done.add(due.key)
            log.append((now, due.what, due.day))
        now += beat
    return log


@pytest.mark.parametrize(
    "start",
    [
        datetime(2026, 3, 5, 0, 0, tzinfo=NEW_YORK),  # clocks go forward on 8 March 2026 (15 U.S.C. 260a)
        datetime(2026, 10, 29, 0, 0, tzinfo=NEW_YORK),  # and back on 1 November
        datetime(2026, 6, 1, 0, 0, tzinfo=NEW_YORK),
    ],
)
@pytest.mark.parametrize("minutes", [1, 7])
def test_a_week_has_one_of_each_a_day_at_the_shops_hours(start: datetime, minutes: int) -> None:
    days = [(start + timedelta(days=k)).date() for k in range(7)]
    log = walk(table(), start.astimezone(UTC), (start + timedelta(days=7)).astimezone(UTC), timedelta(minutes=minutes))
    for what, clock in (("night", time(3, 30)), ("advisory", time(6, 30)), ("second-look", time(15, 0))):
        runs = [(at, day) for at, each, day in log if each == what]
        assert [day for _, day in runs] == days, what
        for at, day in runs:
            late = at - datetime.combine(day, clock, NEW_YORK).astimezone(UTC)
            assert timedelta(0) <= late < timedelta(minutes=minutes), (what, day)
    fetched = [at.astimezone(NEW_YORK).time() for at, each, _ in log if each == "fetch"]
    assert len(fetched) == 7
    assert all(time(6, 0) <= at < time(6, 17) for at in fetched)


def test_a_computer_opened_at_nine_makes_todays_advisory_once() -> None:
    opened = datetime(2026, 3, 3, 9, 0, tzinfo=NEW_YORK).astimezone(UTC)
    log = walk(table(), opened, opened + timedelta(hours=3), timedelta(minutes=1))
    assert [(each, day) for _, each, day in log] == [("night", date(2026, 3, 3)), ("advisory", date(2026, 3, 3))]
    assert all(at == opened for at, _, _ in log)


def test_after_the_cut_off_nothing_is_made_for_today() -> None:
    opened = datetime(2026, 3, 3, 17, 0, tzinfo=NEW_YORK).astimezone(UTC)
    assert [due.what for due in table().due(opened, set())] == []


def test_what_was_slept_through_is_told_as_missed() -> None:
    monday = datetime(2026, 3, 2, 20, 0, tzinfo=NEW_YORK).astimezone(UTC)
    thursday = datetime(2026, 3, 5, 1, 0, tzinfo=NEW_YORK).astimezone(UTC)
    missed = table().missed(thursday, {("advisory", date(2026, 3, 4))}, monday)
    assert [(due.what, due.day.day) for due in missed] == [
        ("night", 3), ("fetch", 3), ("advisory", 3), ("second-look", 3), ("night", 4), ("fetch", 4), ("second-look", 4),
    ]  # fmt: skip


def test_an_hour_that_the_clock_skips_moves_on_and_one_that_comes_twice_counts_once() -> None:
    at_half_past_two = table(night="02:30")
    spring = datetime(2026, 3, 8, 0, 0, tzinfo=NEW_YORK).astimezone(UTC)
    log = walk(at_half_past_two, spring, spring + timedelta(hours=5), timedelta(minutes=1))
    assert [at for at, each, _ in log if each == "night"] == [datetime(2026, 3, 8, 7, 30, tzinfo=UTC)]  # 03:30 EDT
    one_thirty = table(night="01:30")
    autumn = datetime(2026, 11, 1, 0, 0, tzinfo=NEW_YORK).astimezone(UTC)
    log = walk(one_thirty, autumn, autumn + timedelta(hours=5), timedelta(minutes=1))
    assert [at for at, each, _ in log if each == "night"] == [datetime(2026, 11, 1, 5, 30, tzinfo=UTC)]  # the first


def test_a_shop_that_starts_late_has_no_second_look() -> None:
    assert [due.what for due in table(advisory="15:30").of_day(date(2026, 3, 3))] == ["night", "fetch", "advisory"]


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, 2 * 365 * 24 * 60),
    st.sampled_from(["America/New_York", "America/Los_Angeles", "Europe/Berlin", "Australia/Sydney", "Asia/Kathmandu"]),
    st.times(time(4, 0), time(10, 0)),
)
def test_the_next_thing_is_ahead_and_due_then(minutes: int, zone: str, advisory: time) -> None:
    hours = Timetable(schedule(advisory=f"{advisory:%H:%M}"), ZoneInfo(zone), time(18, 0))
    now = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes)
    coming = hours.next_after(now)
    assert coming.at > now
    assert coming.key in {due.key for due in hours.due(coming.at, set())}
