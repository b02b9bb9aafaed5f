"""The report of whole shops: a season of known truth, boxes that cannot be judged, held days, and the page.

No outside source: the shops are invented and their truth is known. The statistics stand in ``learn/test_verify`` and
``reference/test_stated_chances``.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from shipwindow.advisory.report import Report, made_up, make_report
from shipwindow.advisory.report.as_html import as_html, write_report
from shipwindow.advisory.report.as_text import as_text
from shipwindow.advisory.report.holds import hindsight
from shipwindow.advisory.report.made_up import write_season
from shipwindow.decide.verdict import Chance
from shipwindow.desk.book import By, Plan, open_book
from shipwindow.desk.claims import open_claims
from shipwindow.errors import ConfigError
from shipwindow.learn.arrivals import CoralState, Facts, learn_store, opened, record
from shipwindow.settings import load_shop
from shipwindow.settings.desk_file import StateName

FIRST = date(2026, 3, 2)
GONE: tuple[StateName, ...] = ("planned", "packed", "handed-over")
NOW = datetime(2026, 9, 1, 12, tzinfo=UTC)
SAID = {"until": "2026-03-03T17:00:00Z", "C": [20.0, 21.0, 22.0], "low_C": [18.0, 19.0, 20.0], "high_C": [22.0, 23.0, 24.0]}  # fmt: skip  # noqa: E501


def panel(report: Report, name: str) -> str:
    found = next(each for each in report.panels if each.name == name)
    return f"{found.answer}. {found.behind}"


@pytest.mark.parametrize(
    ("truth", "word", "headline"),
    [(1.0, "as stated", "The stated chances have held."), (2.0, "too sure", "more corals were lost than they allow")],
)
def test_a_season_of_known_truth(season: Any, shop: Path, truth: float, word: str, headline: str) -> None:
    # One season each; how often such a season is told right is counted in learn/test_verify (95 % and 80 %).
    season(170, truth, seed=5)
    report = make_report(shop, NOW)
    assert (report.boxes.sent, report.boxes.scored, report.judgement.seen) == (170, 170, 680)
    assert report.judgement.word == word
    assert headline in report.headline
    assert sum(each.boxes for each in report.bins) == 170
    assert report.late is not None
    assert report.late.expected == pytest.approx(170 * 0.04)
    text = as_text(report)
    assert report.headline in text
    assert ("Until you know why" in text) == (word == "too sure")


def test_a_shop_without_a_record_says_so(shop: Path) -> None:
    report = make_report(shop, NOW)
    assert report.headline == "Nothing can be said of the chances yet."
    assert panel(report, "Corals").startswith("no box to judge. No box has gone yet.")
    assert panel(report, "Water").startswith("not measured yet")
    assert "freight 0.00" in panel(report, "Money")
    assert "169 boxes" in " ".join(report.needs)  # 5 % from 10 %, the exact binomial design
    assert as_html(report)
    assert json.loads(report.as_json())["judgement"]["boxes"] == 0


def test_boxes_that_cannot_be_judged_are_counted_and_named(season: Any, shop: Path) -> None:
    season(4)
    loaded = load_shop(shop, {})
    late_day = FIRST + timedelta(days=20)
    by = By(datetime(2026, 3, 22, 18, tzinfo=UTC))
    with open_book(loaded) as book:
        cells = dict(book.entry("A-0").cells)
        for order in ("not-said", "otherwise", "not-seen", "against"):
            book.add(order, cells, by=by)
        said = {
            order: {**Plan(late_day, "next-noon", "met", "box-12x10x8", "none").as_body(), "day": late_day.isoformat(),
                    "advice": "hold" if order == "against" else "go", "chance": 0.2, "limit": 0.05, "missing": []}
            for order in ("otherwise", "not-seen", "against")
        }  # fmt: skip
        book.note_advice(said, by=by)
        for order in ("not-said", "otherwise", "not-seen", "against"):
            way = Plan(late_day, "next-noon", "met", "box-12x10x8", "none")
            plan = replace(way, commitment="next-morning") if order == "otherwise" else way
            for state in GONE:
                book.move(order, state, by=by, plan=plan)
    with opened(learn_store(shop, loaded.settings.desk.book.file)) as database:
        for order in ("not-said", "otherwise", "against"):
            facts = Facts(corals=(CoralState("frag", "day-14", "dead", 1),))
            record(database, order, facts, by.at)
    report = make_report(shop, NOW)
    boxes = report.boxes
    assert (boxes.sent, boxes.scored, boxes.unsaid, boxes.otherwise, boxes.not_seen) == (8, 5, 1, 1, 1)
    assert (boxes.against, boxes.against_lost) == (1, 1)  # it went against the advice, the same way: it is scored too
    notes = " ".join(report.notes)
    assert "1 without a stated chance for their day, 1 sent another way than advised" in notes
    assert "1 box went though advised to hold; 1 of them lost corals" in notes


def test_since_leaves_out_what_was_before(season: Any, shop: Path) -> None:
    season(12)
    report = make_report(shop, NOW, FIRST + timedelta(days=2))
    assert report.boxes.sent == 6
    assert report.first == FIRST + timedelta(days=2)
    with pytest.raises(ConfigError, match="2027-01-01"):
        make_report(shop, NOW, date(2027, 1, 1))


def test_water_on_opening_against_the_water_said_for_that_hour(season: Any, shop: Path) -> None:
    season(3, water=SAID)
    report = make_report(shop, NOW)
    # opened at 16:00, an hour before the end: 21.0 said, 22.0 read; all three boxes of the first day are alike
    on_time = report.at_arrival
    assert on_time is not None
    assert on_time.bias_K == pytest.approx(1.0)
    assert on_time.covered[-1][1] == pytest.approx(1.0)
    assert "too few boxes to judge the stated bands" in panel(report, "Water").lower()


def test_money_is_what_claims_and_prices_say(season: Any, shop: Path) -> None:
    season(2)
    with open_claims(load_shop(shop, {})) as claims:
        at = datetime(2026, 3, 3, 17, tzinfo=UTC)
        one = claims.report("A-0", at, at=at, who="Kim")
        claims.decide(one.claim, "refund", at=at, who="Kim", why="lost", amount_cents=5000)
        claims.report("A-1", at, at=at, who="Kim")
    report = make_report(shop, NOW)
    assert (report.money.claims, report.money.claims_open, report.money.claims_cents) == (2, 1, 5000)
    assert report.money.freight_cents is None  # a new shop has no prices
    assert "freight no price, claims 50.00" in panel(report, "Money")
    assert "1 claim without an amount yet" in panel(report, "Money")


@pytest.mark.parametrize(
    ("combined", "one_day_late", "held_still", "said"),
    [
        (0.06, 0.3, True, "needed"),
        (0.05, 0.3, True, "needed"),
        (0.03, 0.5, True, "needed"),  # a late box would have been lost
        (0.03, 0.3, True, "close"),  # a doubt on its bad side carries it over
        (0.03, 0.3, False, "needless"),
    ],
)
def test_words_of_hindsight(combined: float, one_day_late: float, held_still: bool, said: str) -> None:
    chance = Chance(0.02, one_day_late, combined, 0.01, 0.2, limit=0.05, near_limit=0.15, late=0.04)
    assert hindsight(chance, 0.5, held_still=held_still) == said


def test_a_season_made_by_the_product_itself(tmp_path: Path) -> None:
    """The invented season in small: real mornings, stored grids, a held day followed through the weather that came."""
    folder, now = write_season(tmp_path / "one", boxes=4, days=4, loggers=1)
    way = Plan(FIRST, "next-noon", "met", "box-12x10x8", "two-heat-hole")
    with open_book(load_shop(folder, {})) as book:
        by = By(datetime(2026, 3, 2, 10, tzinfo=UTC))
        cells = {"destination": "77007", "cargo": "soft-coral", "bags": "bag-4x8:8", "box": "box-12x10x8"}
        book.add("mild", {**cells, "value": "100", "handover": "met"}, by=by)
        held = {**Plan().as_body(), "day": "2026-03-02", "advice": "hold", "chance": 0.3, "limit": 0.05, "missing": []}
        book.note_advice({"mild": {**held, "considered": way.as_body()}}, by=by)
    report = make_report(folder, now)
    assert report.invented
    assert report.boxes.sent >= 2
    assert report.at_arrival is not None
    assert report.traces == 1
    assert report.on_trips is not None
    assert report.on_trips.off_K < 3.0  # made from the model's own band, nine in ten within about 3 K
    assert report.places
    mild = next(each for each in report.held if each.order == "mild")
    assert mild.hindsight == "needless"  # a mild spring night in a full box
    assert mild.low is not None
    assert mild.chance is not None
    assert mild.high is not None
    assert mild.low <= mild.chance < 0.05
    assert mild.chance <= mild.high
    assert mild.lead_h is not None
    assert 0.0 < mild.lead_h <= 30.0
    assert make_report(folder, now) == report
    files = write_report(report, tmp_path / "out")
    assert [file.name for file in files] == ["report.html", "report.txt", "report.json"]
    assert json.loads(files[2].read_text(encoding="utf-8"))["shop"] == report.shop
    assert "INVENTED" in files[1].read_text(encoding="utf-8")
    with pytest.raises(ConfigError, match="not empty"):
        write_season(folder)


def test_a_day_held_for_frost_that_came_was_needed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for code in made_up.DESTINATIONS:
        monkeypatch.setitem(made_up.CLIMATE, code, (-22.0, 3.0, 0.5))
    folder, now = write_season(tmp_path / "cold", boxes=2, days=3, loggers=0)
    report = make_report(folder, now)
    first = [each for each in report.held if each.day == FIRST]
    assert first
    assert {each.hindsight for each in first} == {"needed"}
    assert all(each.chance is not None and each.chance > each.limit for each in first)
    assert "needed" in panel(report, "Held days")
    assert all(each.went_on is None for each in report.held_orders)


class _Page(HTMLParser):
    """Collects what a page would fetch or run, and its words."""

    def __init__(self) -> None:
        super().__init__()
        self.fetched: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.fetched += [tag] if tag in {"script", "link", "img", "iframe"} else []
        self.fetched += [str(value) for name, value in attrs if name in {"src", "href"} or name.startswith("on")]

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_the_page_says_what_the_text_says_and_fetches_nothing(season: Any, shop: Path) -> None:
    season(30, water=SAID)
    report = make_report(shop, NOW)
    page = _Page()
    page.feed(as_html(report))
    assert page.fetched == []
    words = " ".join(" ".join(page.words).split())
    for text in (report.headline, *(f"{each.answer} {each.behind}" for each in report.panels), *report.needs):
        assert text in words
    assert as_html(report).count("<svg") == 2  # for wide and for narrow screens
