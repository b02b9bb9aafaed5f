"""Ship days: what the shop and the customer change, what is asked, what is said."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipwindow.errors import ConfigError
from shipwindow.settings.models import CarrierCalendar
from shipwindow.workdays import (
    DeliveryDays,
    arrival_day,
    delivers,
    judge_day,
    next_delivery_day,
    public_holidays,
    ship_days,
)

WEEK = ["mon", "tue", "wed", "thu", "fri"]
MONDAY = date(2026, 4, 13)
DAYS = st.dates(min_value=date(2020, 1, 1), max_value=date(2040, 12, 31))


def carrier(**changes: object) -> CarrierCalendar:
    return CarrierCalendar.model_validate(
        {"collect": WEEK, "deliver": WEEK, "holidays": "US", "window-days": 7} | changes
    )


def test_an_open_day_says_when_the_box_arrives() -> None:
    day = judge_day(MONDAY, carrier())
    assert (day.state, day.holidays_to_confirm) == ("open", ())
    assert day.reason == "arrives Tue 2026-04-14, and a late box still arrives Wed 2026-04-15"


def test_a_holiday_is_closed_until_the_shop_confirms_that_the_carrier_works() -> None:
    tuesday = date(2026, 11, 10)
    asked = judge_day(tuesday, carrier())
    assert asked.state == "closed"
    assert asked.reason == "no delivery on Wed 2026-11-11 (Veterans Day, to be confirmed with the carrier)"
    assert asked.holidays_to_confirm == ((date(2026, 11, 11), "Veterans Day"),)
    settled = judge_day(tuesday, carrier(**{"confirmed-working": ["2026-11-11"]}))
    assert (settled.state, settled.holidays_to_confirm) == ("open", ())
    shut = judge_day(tuesday, carrier(**{"confirmed-closed": ["2026-11-11"]}))
    assert (shut.state, shut.holidays_to_confirm) == ("closed", ())
    assert shut.reason == "no delivery on Wed 2026-11-11 (the carrier is closed)"


def test_a_carriers_own_closed_day() -> None:
    assert judge_day(MONDAY, carrier(**{"confirmed-closed": ["2026-04-15"]})).state == "slack"
    assert judge_day(MONDAY, carrier(**{"confirmed-closed": ["2026-04-13"]})).state == "closed"


def test_the_shops_day_off_closes_that_day_only() -> None:
    calendar = carrier(blackout=["2026-04-14"])
    assert [day.state for day in ship_days(MONDAY, 3, calendar)] == ["open", "closed", "open"]
    assert "the shop does not ship on Tue" in ship_days(MONDAY, 3, calendar)[1].reason


def test_the_customers_day_closes_the_arrival() -> None:
    days = ship_days(MONDAY, 3, carrier(), closed_arrivals=[date(2026, 4, 15)])
    assert [day.state for day in days] == ["open", "closed", "open"]
    assert "the customer cannot take it on Wed" in days[1].reason


def test_a_bought_saturday_is_named_but_stays_slack() -> None:
    thursday = date(2026, 4, 16)
    plain, bought = judge_day(thursday, carrier()), judge_day(thursday, carrier(**{"slack-deliver": ["sat"]}))
    assert (plain.state, bought.state) == ("slack", "slack")
    assert "until Mon 2026-04-20" in plain.reason
    assert "bought" not in plain.reason
    assert "unless a delivery on Sat 2026-04-18 is bought" in bought.reason
    assert judge_day(date(2026, 4, 17), carrier(**{"slack-deliver": ["sat"]})).state == "closed"


def test_a_carrier_that_delivers_on_saturdays_opens_thursday() -> None:
    assert judge_day(date(2026, 4, 16), carrier(deliver=[*WEEK, "sat"])).state == "open"


def test_arrivals_count_delivery_days() -> None:
    assert arrival_day(date(2026, 11, 25), 1, carrier()) == date(2026, 11, 27)
    assert arrival_day(date(2026, 4, 17), 2, carrier()) == date(2026, 4, 21)
    days = DeliveryDays(carrier())
    assert days.arrival_day(MONDAY, 1) == date(2026, 4, 14)
    assert days.next_delivery_day(date(2026, 12, 31)) == date(2027, 1, 4)


def test_other_regions_and_none() -> None:
    assert public_holidays("none", 2026) == {}
    assert date(2026, 7, 1) in public_holidays("CA", 2026)
    assert judge_day(date(2026, 11, 24), carrier(holidays="none")).state == "open"
    for wrong in ("Narnia", "US-ZZ"):
        with pytest.raises(ConfigError, match='a country such as "US"'):
            judge_day(MONDAY, carrier(holidays=wrong))


def test_a_calendar_without_delivery_days_is_an_error_not_a_loop() -> None:
    with pytest.raises(ConfigError, match="no delivery day within 60 days"):
        next_delivery_day(MONDAY, carrier(deliver=[]))
    assert judge_day(MONDAY, carrier(deliver=[])).state == "closed"


@given(DAYS, st.sampled_from([1, 2]))
def test_an_open_day_always_has_a_day_to_spare(day: date, commitment_days: int) -> None:
    found = judge_day(day, carrier(), commitment_days)
    arrives = day + timedelta(days=commitment_days)
    if found.state == "open":
        assert next_delivery_day(arrives, carrier()) == arrives + timedelta(days=1)
    if found.state != "closed":
        assert delivers(arrives, carrier())
        assert arrival_day(day, 1, carrier()) <= arrives


@given(DAYS)
def test_confirming_a_working_day_never_closes_anything(day: date) -> None:
    rank = {"closed": 0, "slack": 1, "open": 2}
    before = judge_day(day, carrier())
    confirmed = [each for each, _ in before.holidays_to_confirm]
    after = judge_day(day, carrier(**{"confirmed-working": confirmed}))
    assert rank[after.state] >= rank[before.state]
    assert after.holidays_to_confirm == ()
