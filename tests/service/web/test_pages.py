"""Every page opens, shows what it should, and its forms do what they say."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlencode

import pytest
from markupsafe import escape
from starlette.testclient import TestClient

from shipwindow.advisory.arrival_said import find_arrival, recorded
from shipwindow.advisory.arriving import record_arrival
from shipwindow.desk.book import open_book
from shipwindow.learn.arrivals import Facts
from shipwindow.settings import load_shop

NOW = datetime(2026, 4, 22, 10, 50, tzinfo=UTC)
HOSTILE = "{{7*7}}<script>alert(1)</script>"
PAGES = [
    ("/", ["Wed 22 Apr 2026", "Hold", "A-107", "Richmond, VA 23220", "and other ways", "/plot?", "dry ice"]),
    ("/check", ["Ask a place", 'name="form-key"', "small-polyp"]),
    ("/window", ["Mon 27 Apr", "may go by then", "advised"]),
    ("/orders", ["A-103", "handed over"]),
    ("/orders/new", ["Order number", "<select"]),
    ("/order?id=A-101", ["Advice for Wed 22 Apr 2026", "Move it", "What happened", "added", "Its pack sheet"]),
    ("/watch", ["A-107", "Follow them now"]),
    ("/arrivals", ["A-107", "nothing recorded yet", "day 14"]),
    ("/arrivals/new?id=A-107", ["on the clock there: America/New_York", "heat-40h", "such as 74 F", "Looked at"]),
    ("/report", ["Make it", "day 14"]),
    ("/claims", ["A-107-1", "&lt;b&gt;two&lt;/b&gt; are pale", "A person decides"]),
    ("/sheets", ["Pack in this order", "/sheets/sheets.pdf?day=2026-04-22", "A-101"]),
    ("/sheets/page?day=2026-04-22&order=A-101", ["A-101", "Lid on by", "Back to the desk"]),
    ("/season", ["Count the days"]),
    ("/card", ["Compute it"]),
    ("/forecasts", ["Richmond, VA 23220", "Freshness"]),
    ("/outbox", ["advisory/x", "waits"]),
    ("/health", ["whole, 5 orders"]),
    ("/settings", ["shop.toml", "cut-off"]),
    ("/advisory", ["Order by order"]),
    ("/login", ["Token"]),
]  # fmt: skip


@pytest.mark.parametrize(("path", "has"), PAGES, ids=[path for path, _ in PAGES])
def test_a_page_opens_and_shows(reader: TestClient, path: str, has: list[str]) -> None:
    answer = reader.get(path)
    assert answer.status_code == 200, answer.text[:300]
    assert answer.headers["content-type"].startswith("text/html")
    missing = [text for text in has if text.lower() not in answer.text.lower()]
    assert not missing
    assert '<html lang="en">' in answer.text
    assert "<script" not in answer.text
    assert answer.text.count("<h1") == 1


def test_pictures_and_pdfs(reader: TestClient) -> None:
    plot = reader.get("/plot?order=A-101&day=2026-04-22")
    assert plot.headers["content-type"] == "image/svg+xml"
    assert "hub sort" in plot.text
    pdf = reader.get("/sheets/carton-labels.pdf?day=2026-04-22&order=A-101")
    assert pdf.content.startswith(b"%PDF-")
    assert pdf.headers["content-disposition"] == 'attachment; filename="carton-labels-2026-04-22.pdf"'


@pytest.mark.parametrize(
    "path", ["/order?id=nobody", "/plot?order=x&day=2026-04-22", "/advisory?day=2020-01-01", "/no"]
)
def test_what_is_not_there_says_so(reader: TestClient, path: str) -> None:
    answer = reader.get(path)
    assert answer.status_code == 404
    for word in ("read", "expected", "do"):
        assert f"<dt>{word}</dt>" in answer.text


def test_an_order_is_moved_by_its_form_and_only_as_it_stands(
    client: TestClient, key_of: Callable[..., str], shop_folder: Path
) -> None:
    key = key_of(client, "/order?id=A-101")
    with open_book(shop_folder) as book:
        seen = str(book.entry("A-101").seq)
    form = {"form-key": key, "order": "A-101", "to": "packed", "seen": seen}
    answer = client.post("/order/move", data=form)
    assert answer.status_code == 303
    assert "Done: moved" in client.get(answer.headers["location"]).text
    with open_book(shop_folder) as book:
        entry = book.entry("A-101")
    assert entry.state == "packed"
    assert entry.plan is not None
    assert str(entry.plan.ship_day) == "2026-04-22"  # the way advised goes along
    again = client.post("/order/move", data={**form, "to": "handed-over"})
    assert again.status_code == 409
    assert "has changed since" in again.text
    lacking = client.post("/order/move", data={**form, "to": "cancelled", "seen": str(entry.seq)})
    assert lacking.status_code == 422
    assert "without a reason" in lacking.text


def test_an_order_is_taken_in_and_told_as_not_advised_on(client: TestClient, key_of: Callable[..., str]) -> None:
    form = {"form-key": key_of(client, "/orders/new"), "order": "N/1 ..", "destination": "80202", "bags": "bag-4x8:2"}
    answer = client.post("/orders/new", data=form)
    assert answer.status_code == 303
    assert client.get(answer.headers["location"]).status_code == 200
    assert "Not in it" in client.get("/").text
    bad = client.post("/orders/new", data={**form, "order": "N-2", "destination": "00000"})
    assert bad.status_code == 422
    assert "destination of order N-2" in bad.text


def test_a_place_is_asked(client: TestClient, key_of: Callable[..., str]) -> None:
    answer = client.post("/check", data={"form-key": key_of(client), "place": "23220", "handover": "met"})
    assert answer.status_code == 200
    assert "Richmond, VA 23220: Accept" in answer.text
    assert "<svg" in answer.text
    assert "Decision help" in answer.text


def test_the_advisory_is_made_again_and_boxes_are_followed(client: TestClient, key_of: Callable[..., str]) -> None:
    key = key_of(client)
    assert client.post("/advise", data={"form-key": key}).headers["location"] == "/?made=1"
    assert "Made just now" in client.get("/?made=1").text
    assert client.post("/watch", data={"form-key": key}).status_code == 303
    text = client.get("/watch").text
    assert "Followed 0 min ago" in text
    assert "Naples, FL 34102" in text
    assert "things to do" in text


def test_an_arrival_is_recorded_by_its_form_as_the_command_would(
    client: TestClient, key_of: Callable[..., str], shop_folder: Path
) -> None:
    """Water by the definition of the scale: 74 degF is (74 - 32) / 1.8 degC. The clock is the destination's."""
    key = key_of(client, "/arrivals/new?id=A-107")
    form = {
        "form-key": key, "order": "A-107", "opened": "2026-04-23T11:20", "water": "74 F", "days-late": "0",
        "check": "day-14", "count-well": "5", "count-dead": "1",
        "pack": "heat-40h", "packs": "2", "before": "208 g", "after": "224 g", "note": "dry  inside",
    }  # fmt: skip
    first = client.post("/arrivals/new", data=form)
    again = client.post("/arrivals/new", data=form)
    assert (first.status_code, again.status_code) == (303, 303)
    assert "Recorded." in client.get(first.headers["location"]).text
    assert "known already" in client.get(again.headers["location"]).text
    found = find_arrival(load_shop(shop_folder), "A-107")
    assert found is not None
    assert found.opened_at == datetime(2026, 4, 23, 15, 20, tzinfo=UTC)
    assert found.water_C == pytest.approx((74 - 32) / 1.8)
    assert (found.days_late, found.lost(), found.final, found.corrections) == (0, (1, 6), True, 0)
    assert found.pack is not None
    assert found.pack.gain_kg == pytest.approx(0.016)
    assert found.lane is not None  # found from the order, so that its delay teaches
    for path in ("/arrivals", "/order?id=A-107"):
        assert "Opened Thu 23 Apr 11:20; water 74" in client.get(path).text
    # Those whose corals still await a look come first, whatever was recorded last.
    record_arrival(shop_folder, "A-101", Facts(days_late=1), NOW)
    rows = client.get("/arrivals").text.split('id="known"')[1]
    assert rows.index("A-101") < rows.index("A-107")


@pytest.mark.parametrize(
    ("field", "status", "says"),
    [
        ({"water": "74"}, 422, "without a unit"),
        ({"water": "74 C"}, 422, "on arrival"),
        ({"opened": "yesterday"}, 422, "an instant such as"),
        ({"days-late": "-1"}, 422, "a whole number"),
        ({"coral-0": "lively|frag"}, 422, "state"),
        ({"before": "104 g"}, 422, "without its pack"),
        ({"pack": "heat-40h", "before": "104 g", "after": "150 g"}, 422, "a third of the pack"),
        ({}, 422, "nothing to record"),
        ({"order": "nobody", "water": "74 F"}, 404, "in the book"),
        ({"form-key": "x", "water": "74 F"}, 403, "without its key"),
    ],
)
def test_an_arrival_that_cannot_be_is_refused_and_nothing_is_kept(
    client: TestClient, key_of: Callable[..., str], shop_folder: Path, field: dict[str, str], status: int, says: str
) -> None:
    form = {"form-key": key_of(client, "/arrivals/new?id=A-107"), "order": "A-107", **field}
    answer = client.post("/arrivals/new", data=form)
    assert answer.status_code == status
    assert says in answer.text
    assert recorded(load_shop(shop_folder)) == ()


def test_each_named_coral_has_its_field_whatever_its_name(
    client: TestClient, key_of: Callable[..., str], shop_folder: Path
) -> None:
    path = "/arrivals/new?" + urlencode({"id": HOSTILE})
    form = {"form-key": key_of(client, path), "order": HOSTILE, "coral-0": "stressed|<img src=x onerror=alert(2)>"}
    assert 'value="stressed|&lt;img src=x' in client.get(path).text
    assert client.post("/arrivals/new", data=form).status_code == 303
    found = find_arrival(load_shop(shop_folder), HOSTILE)
    assert found is not None
    assert [(each.name, each.check, each.health) for each in found.corals] == [
        ("<img src=x onerror=alert(2)>", "arrival", "stressed")
    ]
    assert "stressed on arrival" in client.get(path).text


def test_the_report_is_made_by_its_button_and_shown_since(client: TestClient, key_of: Callable[..., str]) -> None:
    key = key_of(client, "/report")
    assert client.get("/report/page").status_code == 303
    assert client.post("/report", data={"form-key": key}).status_code == 303
    text = client.get("/report").text
    made = client.app.state.desk.reported  # type: ignore[attr-defined]
    assert made.boxes.sent == 1  # A-107 is under way, nobody has seen it
    assert made.boxes.not_seen == 1
    assert str(escape(made.headline)) in text
    assert str(escape(made.headline)) in client.get("/report/page").text
    late = client.post("/report", data={"form-key": key, "since": "2030-01-01"})
    assert (late.status_code, client.app.state.desk.reported is made) == (422, True)  # type: ignore[attr-defined]


def test_a_shop_whose_settings_break_says_so_on_every_page(client: TestClient, shop_folder: Path) -> None:
    (shop_folder / "shop.toml").write_text("[shop\n")
    answer = client.get("/")
    assert answer.status_code == 503
    assert "shop.toml" in answer.text


def test_an_empty_shop_has_every_page(make_client: Callable[..., TestClient], shop_folder: Path) -> None:
    for name in ("orders.db", "orders.db-wal", "orders.db-shm"):
        (shop_folder / name).unlink(missing_ok=True)
    (shop_folder / "advisories" / "2026-04-22" / "advisory.json").write_text("{")
    client = make_client()
    for path, _ in PAGES:
        if "?" not in path and path != "/advisory":
            assert client.get(path).status_code == 200, path
    assert client.get("/advisory").status_code == 404
