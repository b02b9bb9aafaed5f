"""Ship days against the federal holidays of 5 U.S.C. 6103 and dated weeks worked by hand.

Sources
-------
[1] 5 U.S.C. 6103(a), legal public holidays: 1 January; third Monday of January; third Monday of February; last Monday
    of May; 19 June; 4 July; first Monday of September; second Monday of October; 11 November; fourth Thursday of
    November; 25 December. 6103(b): a Saturday holiday is observed on the Friday before. A Sunday holiday is observed
    on the Monday after (Executive Order 11582). Status: memory for the wording, a court's public page was seen for the
    observance rule.
[2] The dated weeks (STATE below): worked by hand in 2026 from the rule "open when the carrier delivers on the arrival
    day and on the day after it". The rule is an engineering choice; that carriers keep the federal days is not: they
    keep their own lists, which is why every such day is listed for confirmation. Agreement found: every row.
"""

from datetime import date, timedelta

import pytest

from shipwindow.settings.models import CarrierCalendar
from shipwindow.workdays import arrival_day, judge_day, next_delivery_day, public_holidays, ship_days

WEEK = ["mon", "tue", "wed", "thu", "fri"]


def carrier(**changes: object) -> CarrierCalendar:
    return CarrierCalendar.model_validate(
        {"collect": WEEK, "deliver": WEEK, "holidays": "US", "window-days": 7} | changes
    )


def nth(year: int, month: int, weekday: int, number: int) -> date:
    """Give the number-th weekday of a month (Monday = 0), from the end when negative."""
    if number < 0:
        last = date(year + month // 12, month % 12 + 1, 1) - timedelta(days=1)
        return last - timedelta(days=(last.weekday() - weekday) % 7)
    first = date(year, month, 1)
    return first + timedelta(days=(weekday - first.weekday()) % 7 + 7 * (number - 1))


def statute_days(year: int) -> set[date]:
    """Write out 6103(a) for one year, with the days they are observed on."""
    fixed = [date(year, 1, 1), date(year, 6, 19), date(year, 7, 4), date(year, 11, 11), date(year, 12, 25)]
    rules = [(1, 0, 3), (2, 0, 3), (5, 0, -1), (9, 0, 1), (10, 0, 2), (11, 3, 4)]  # month, weekday, which
    moving = [nth(year, *rule) for rule in rules]
    observed = [day + timedelta(days={5: -1, 6: 1}.get(day.weekday(), 0)) for day in [*fixed, date(year + 1, 1, 1)]]
    return {day for day in [*fixed, *moving, *observed] if day.year == year}


@pytest.mark.parametrize("year", range(2022, 2036))
def test_federal_days_follow_the_statute(year: int) -> None:
    assert set(public_holidays("US", year)) == statute_days(year)


STATE = [
    # An ordinary week.
    ("2026-04-13", "open"), ("2026-04-14", "open"), ("2026-04-15", "open"), ("2026-04-16", "slack"),
    ("2026-04-17", "closed"), ("2026-04-18", "closed"), ("2026-04-19", "closed"), ("2026-04-20", "open"),
    # Holiday Monday, 25 May 2026.
    ("2026-05-20", "open"), ("2026-05-21", "slack"), ("2026-05-22", "closed"), ("2026-05-23", "closed"),
    ("2026-05-24", "closed"), ("2026-05-25", "closed"), ("2026-05-26", "open"), ("2026-05-27", "open"),
    # Independence Day on a Saturday, observed on Friday 3 July 2026.
    ("2026-06-30", "open"), ("2026-07-01", "slack"), ("2026-07-02", "closed"), ("2026-07-03", "closed"),
    ("2026-07-06", "open"),
    # Thanksgiving week 2026.
    ("2026-11-23", "open"), ("2026-11-24", "slack"), ("2026-11-25", "closed"), ("2026-11-26", "closed"),
    ("2026-11-27", "closed"), ("2026-11-28", "closed"), ("2026-11-29", "closed"), ("2026-11-30", "open"),
    # Christmas 2026, a Friday.
    ("2026-12-21", "open"), ("2026-12-22", "open"), ("2026-12-23", "slack"), ("2026-12-24", "closed"),
    ("2026-12-25", "closed"), ("2026-12-26", "closed"), ("2026-12-27", "closed"), ("2026-12-28", "open"),
]  # fmt: skip


@pytest.mark.parametrize(("day", "state"), STATE)
def test_dated_weeks(day: str, state: str) -> None:
    assert judge_day(date.fromisoformat(day), carrier()).state == state


SECOND_DAY = [
    # Two working days, and one to spare: D+2 and D+3.
    ("2026-04-13", "open"), ("2026-04-14", "open"), ("2026-04-15", "slack"), ("2026-04-16", "closed"),
    ("2026-11-23", "slack"), ("2026-11-24", "closed"), ("2026-11-25", "slack"),
]  # fmt: skip


@pytest.mark.parametrize(("day", "state"), SECOND_DAY)
def test_second_day_needs_the_second_and_third_day(day: str, state: str) -> None:
    assert judge_day(date.fromisoformat(day), carrier(), commitment_days=2).state == state


def test_a_late_friday_box_arrives_on_monday() -> None:
    assert next_delivery_day(date(2026, 4, 17), carrier()) == date(2026, 4, 20)
    assert next_delivery_day(date(2026, 5, 22), carrier()) == date(2026, 5, 26)


def test_holiday_monday_story() -> None:
    """Customer wants "Saturday or Monday" around 25 May 2026: Tuesday or Wednesday are offered."""
    week = ship_days(date(2026, 5, 21), 7, carrier())
    assert [day.day.isoformat() for day in week if day.state == "open"] == ["2026-05-26", "2026-05-27"]
    assert [arrival_day(day.day, 1, carrier()).isoformat() for day in week if day.state == "open"] == [
        "2026-05-27",
        "2026-05-28",
    ]
