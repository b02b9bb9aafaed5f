"""Mornings with a made-up clock, the real advisory, the real book and a real mail server on loopback."""

from __future__ import annotations

import threading
import time as real_time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from email import message_from_bytes, policy
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from shipwindow.advisory.arriving import record_arrival
from shipwindow.desk.book import By, Plan, open_book
from shipwindow.errors import StoreError
from shipwindow.learn.arrivals import Facts
from shipwindow.service.clockwork import run_service, sole
from shipwindow.service.health import check_health
from shipwindow.service.mornings import Done, Mornings, store_path
from shipwindow.service.outbox import open_outbox
from shipwindow.service.outcomes import outcomes_due
from shipwindow.settings import load_shop
from shipwindow.settings.service_file import Retries

NEW_YORK = ZoneInfo("America/New_York")


def at(day: int, hour: int, minute: int = 0, month: int = 3) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=NEW_YORK).astimezone(UTC)


def subjects(post: Any) -> list[str]:
    return [str(message_from_bytes(raw, policy=policy.default)["Subject"]) for raw in post.taken]


def test_a_week_across_the_change_of_clocks_has_one_letter_a_morning(
    make_shop: Callable[..., Path], weather: Any, post_server: Any, mail_text: Callable[..., str]
) -> None:
    days = Mornings(make_shop(mail_text(post_server.port)), weather)
    start = at(5, 0)
    done: list[Done] = []
    for beat in range(7 * 16):  # every hour and a half: a lazy timer must do as well as a quick one
        done += days.tick(start + beat * timedelta(minutes=90))
    assert all(each.ok for each in done), done
    for what in ("night", "advisory", "second-look"):
        assert [each.day.day for each in done if each.what == what] == [5, 6, 7, 8, 9, 10, 11], what
    told = subjects(post_server)
    assert len(told) == len(set(told)) == 7
    assert all("no advisory" not in each for each in told)


def test_a_second_look_tells_what_changed_and_only_that(
    make_shop: Callable[..., Path], weather: Any, post_server: Any, mail_text: Callable[..., str]
) -> None:
    order = "A-1,23220,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning\n"
    folder = make_shop(mail_text(post_server.port), orders=order + order.replace("A-1", "A-2"))
    days = Mornings(folder, weather)
    days.tick(at(3, 6, 30))
    weather.shift_K = 30.0  # a heat wave nobody had forecast
    [look] = days.tick(at(3, 15))
    assert (look.ok, look.said) == (True, "2 changed")
    morning, second = post_server.taken
    body = message_from_bytes(second, policy=policy.default).get_body(("plain",))
    assert body is not None
    text = body.get_content()
    assert "2 of 2 orders changed" in text
    assert "was   " in text
    assert "Hold" in text
    assert "warmers burn" in text.lower()
    assert days.tick(at(3, 15, 5)) == ()
    assert len(post_server.taken) == 2
    assert morning != second


def test_without_a_forecast_the_letter_says_hold_and_never_nothing(
    make_shop: Callable[..., Path], weather: Any, post_server: Any, mail_text: Callable[..., str]
) -> None:
    weather.down = True
    days = Mornings(make_shop(mail_text(post_server.port)), weather)
    done = days.tick(at(3, 6, 30))
    assert [(each.what, each.ok) for each in done] == [("night", True), ("advisory", True)]
    body = message_from_bytes(post_server.taken[0], policy=policy.default).get_body(("plain",))
    assert body is not None
    assert "1 hold" in body.get_content()
    assert "no forecast" in body.get_content()
    weather.down = False  # it comes back: the second look tells
    [look] = days.tick(at(3, 15))
    assert look.said == "1 changed"


def test_a_mail_server_that_is_down_gets_the_letter_later_and_once(
    make_shop: Callable[..., Path], weather: Any, post_server: Any, mail_text: Callable[..., str]
) -> None:
    post_server.answers += ["cut", "451 busy", "drop"]
    days = Mornings(make_shop(mail_text(post_server.port)), weather)
    for minute in (30, 31, 32, 34, 38, 46, 50):
        days.tick(at(3, 6, minute))
    ids = {message_from_bytes(raw)["Message-ID"] for raw in post_server.taken}
    assert len(ids) == 1  # "drop" took it and did not say so: the copy after it carries the same id
    assert len(post_server.taken) == 2
    assert post_server.tried == 4


def test_when_no_advisory_can_be_made_the_seller_is_told_once_and_it_is_tried_again(
    make_shop: Callable[..., Path], weather: Any, post_server: Any, mail_text: Callable[..., str]
) -> None:
    folder = make_shop(mail_text(post_server.port))
    blocked = folder / "advisories"
    blocked.write_text("a file where the folder should be")
    days = Mornings(folder, weather)
    [night, failed] = days.tick(at(3, 6, 30))
    assert (night.ok, failed.ok) == (True, False)
    assert days.tick(at(3, 6, 31)) == ()  # not before its pause is over
    assert [each.ok for each in days.tick(at(3, 6, 33))] == [False]
    assert [each.endswith("no advisory") for each in subjects(post_server)] == [True]
    blocked.unlink()
    assert [each.ok for each in days.tick(at(3, 6, 50))] == [True]
    assert len(post_server.taken) == 2


def test_bad_settings_cost_the_beat_and_write_nothing(make_shop: Callable[..., Path], weather: Any) -> None:
    from shipwindow.errors import ConfigError

    folder = make_shop()
    days = Mornings(folder, weather)
    (folder / "shop.toml").write_text("[shop]\nname = 3\n")
    with pytest.raises(ConfigError):
        days.tick(at(3, 6, 30))
    assert weather.asked == 0


def test_one_service_a_shop_it_starts_at_once_and_stops_cleanly(make_shop: Callable[..., Path], weather: Any) -> None:
    folder = make_shop()
    days, stop, beats = Mornings(folder, weather), threading.Event(), []
    ended: list[BaseException | None] = []

    def run() -> None:
        run_service(folder, mornings=days, stop=stop, on_beat=lambda: beats.append(1), beat_s=0.05)
        ended.append(None)

    thread = threading.Thread(target=run)
    thread.start()
    try:
        limit = real_time.monotonic() + 20
        while len(beats) < 2 and real_time.monotonic() < limit:
            real_time.sleep(0.02)
        with pytest.raises(StoreError, match="running already"), sole(folder):
            pass
    finally:
        stop.set()
        thread.join(20)
    assert ended == [None]
    assert len(beats) >= 2
    with sole(folder):
        pass


def test_the_night_keeps_spare_copies_and_looks_the_book_over(make_shop: Callable[..., Path], weather: Any) -> None:
    folder = make_shop()
    days = Mornings(folder, weather)
    for day in range(1, 11):
        assert [each.ok for each in days.tick(at(day, 4, 0))] == [True]
    spares = sorted(path.name for path in (folder / "spares").iterdir())
    assert spares == [f"orders-2026-03-{day:02}.db" for day in range(4, 11)]
    (folder / "orders.db").unlink()
    (folder / "spares" / spares[-1]).rename(folder / "orders.db")
    with open_book(folder) as book:
        assert [entry.order for entry in book.entries()] == ["A-1"]


def test_health_says_what_a_monitor_needs(make_shop: Callable[..., Path], weather: Any) -> None:
    folder = make_shop()
    before = check_health(folder, at(3, 6), forecasts=weather)
    grades = {check.name: check.grade for check in before.checks}
    assert grades["advisory"] == "look"  # none yet
    assert set(grades.values()) - {"look"} == {"well"}
    Mornings(folder, weather).tick(at(3, 6, 30))
    after = check_health(folder, at(3, 7), forecasts=weather)
    assert after.grade == "well"
    assert "reaches 8." in next(check.says for check in after.checks if check.name == "forecast")
    weather.down = True
    assert check_health(folder, at(3, 8), forecasts=weather).grade == "ill"
    assert check_health(folder, at(3, 8), forecasts=weather, reach=False).grade == "well"
    assert check_health(folder, at(6, 8), reach=False).grade == "ill"  # nothing ran for three days
    with open_outbox(store_path(load_shop(folder)), Retries()) as outbox:
        outbox.put("old", channel="mail", target="x", message_id="<1@x>", body=b"", now=at(3, 4))
    assert check_health(folder, at(3, 8), reach=False).grade == "look"
    (folder / "lanes.toml").write_text("nonsense")
    assert [check.name for check in check_health(folder, at(3, 8)).checks] == ["settings"]


def test_days_nobody_ran_are_written_down_as_missed(make_shop: Callable[..., Path], weather: Any) -> None:
    folder = make_shop()
    days = Mornings(folder, weather)
    days.tick(at(3, 6, 30))
    days.tick(at(5, 20))
    from shipwindow.service.runs import Runs
    from shipwindow.service.tables import SERVICE
    from shipwindow.store import open_store

    store = open_store(folder / "orders.db", SERVICE)
    found = Runs(store).find("advisory", date(2026, 3, 4))
    store.conn.close()
    assert found is not None
    assert found.state == "missed"


def test_the_night_tells_which_boxes_wait_for_a_word(make_shop: Callable[..., Path], weather: Any) -> None:
    order = "A-1,23220,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning\n"
    folder = make_shop(orders=order + order.replace("A-1", "A-2"))
    by = By(at(2, 8), "test")
    with open_book(folder) as book:
        for name in ("A-1", "A-2"):
            plan = Plan(date(2026, 3, 2), "next-morning", "met", "box-12x10x8", "none")
            book.move(name, "planned", by=by, plan=plan)
            book.move(name, "packed", by=by)
            book.move(name, "handed-over", by=by)
            book.move(name, "arrived", by=by)
    [night] = Mornings(folder, weather).tick(at(4, 4))
    assert "2 not heard of: A-1, A-2" in night.said
    record_arrival(load_shop(folder), "A-1", Facts(opened_at=at(4, 10), water_C=24.0), at(4, 12))
    assert outcomes_due(load_shop(folder), at(5, 4)).unheard == ("A-2",)
    [night] = Mornings(folder, weather).tick(at(12, 4))
    assert "1 due for a look on day 7: A-1" in night.said
    assert outcomes_due(load_shop(folder), at(20, 4)).looks == (("A-1", "day-7"), ("A-1", "day-14"))
