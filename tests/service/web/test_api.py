"""The API: the same answers as the door functions, orders taken in once, its description current and kept."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

import pytest
from jsonschema import Draft202012Validator
from prometheus_client.parser import text_string_to_metric_families
from starlette.testclient import TestClient

from shipwindow import check
from shipwindow.desk.book import By, open_book
from shipwindow.service.web.app import make_app
from shipwindow.service.web.desk import WebDesk
from shipwindow.service.web.openapi import as_text
from shipwindow.service.web.order_keys import add_once
from shipwindow.settings.packed import fixtures_folder

NOW = datetime(2026, 4, 22, 10, 50, tzinfo=UTC)
ORDER = {"order": "W-1", "destination": "23220", "cargo": "soft-coral", "bags": "bag-4x8:4", "value": "145.00"}
SCHEMA = Path(__file__).parents[3] / "docs" / "schema" / "api.json"


def post(client: TestClient, order: dict[str, Any], key: str = "key-0001") -> Any:
    return client.post("/api/orders", json=order, headers={"Idempotency-Key": key})


def test_the_committed_description_is_current(written_shop: Path) -> None:
    """Also: it does not depend on the shop, so that no shop's values are in it."""
    desk = WebDesk(written_shop)
    try:
        assert as_text(make_app(desk)) == SCHEMA.read_text(encoding="utf-8"), (
            "run: python -m shipwindow.service.web.openapi docs/schema/api.json"
        )
    finally:
        desk.close()


def test_the_description_is_openapi_3_1_with_examples_that_hold() -> None:
    found = json.loads(SCHEMA.read_text())
    assert found["openapi"].startswith("3.1.")
    assert set(found["paths"]) == {
        "/api/check",
        "/api/advisory",
        "/api/advisory/{day}",
        "/api/orders",
        "/api/orders/{order}",
        "/api/arrivals",
        "/api/health",
    }
    for name in ("ArrivalAsked", "CheckAsked", "OrderAsked", "Problem"):
        part = found["components"]["schemas"][name]
        whole = {**part, "components": found["components"]}
        for example in part["examples"]:
            Draft202012Validator(whole).validate(example)
    for methods in found["paths"].values():
        for operation in methods.values():
            assert "application/problem+json" in operation["responses"]["422"]["content"]


def test_a_check_is_the_door_functions_own_answer(client: TestClient, shop_folder: Path) -> None:
    answer = client.post("/api/check", json={"place": "12207", "handover": "met"})
    assert answer.status_code == 200
    told = answer.json()
    assert told["version"] == "1"
    ours = check(shop_folder, "12207", NOW, handover="met", forecasts=fixtures_folder() / "demo-forecasts")
    assert told["acceptance"] == json.loads(ours.model_dump_json())
    assert ours.answer in {"accept", "accept-if", "decline"}


def test_an_unknown_place_is_a_problem_with_three_facts(reader: TestClient) -> None:
    answer = reader.post("/api/check", json={"place": "00000"})
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    told = answer.json()
    assert (told["kind"], told["status"], told["title"]) == ("place", 422, "Unprocessable Content")
    assert "00000" in told["read"]
    assert told["do"]


def test_a_request_that_is_not_as_described_names_its_faults(reader: TestClient) -> None:
    told = reader.post("/api/check", json={"plaice": "23220"}).json()
    assert [fault["where"] for fault in told["faults"]] == ["body.place", "body.plaice"]
    assert reader.post("/api/check", content=b"place=1", headers={"Content-Type": "text/plain"}).status_code == 422
    answer = reader.delete("/api/orders")
    assert (answer.status_code, answer.json()["kind"]) == (405, "method")


def test_the_advisory_is_the_written_one(client: TestClient, shop_folder: Path) -> None:
    told = client.get("/api/advisory/2026-04-22").json()
    written = json.loads((shop_folder / "advisories" / "2026-04-22" / "advisory.json").read_text())
    assert told == {"version": "1", "advisory": written}
    missing = client.get("/api/advisory/2026-04-23")
    assert (missing.status_code, missing.json()["kind"]) == (404, "not-there")


def test_an_order_sent_twice_is_taken_in_once(client: TestClient, shop_folder: Path) -> None:
    first, again = post(client, ORDER), post(client, ORDER)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert post(client, ORDER, "another-key").status_code == 200  # the book knows the order itself
    reused = post(client, {**ORDER, "order": "W-2"})
    assert (reused.status_code, reused.json()["kind"]) == (422, "key-reused")
    changed = post(client, {**ORDER, "bags": "bag-4x8:5"}, "third-key")
    assert changed.status_code == 422
    assert "again" in changed.json()["read"]
    bare = client.post("/api/orders", json=ORDER)
    assert (bare.status_code, bare.json()["faults"][0]["where"]) == (422, "header.Idempotency-Key")
    with open_book(shop_folder) as book:
        assert [event.kind for event in book.events("W-1")] == ["added"]
        assert book.find("W-2") is None


def test_an_order_sent_many_times_at_once_is_taken_in_once(client: TestClient, shop_folder: Path) -> None:
    client.get("/api/orders")
    answers: list[int] = []

    def send() -> None:
        answers.append(post(client, ORDER, "same-key-for-all").status_code)

    threads = [threading.Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answers) == [200] * 7 + [201]
    with open_book(shop_folder) as book:
        assert len(book.events("W-1")) == 1


def test_a_fault_leaves_neither_key_nor_order(
    client: TestClient, shop_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    client.get("/api/orders")  # makes the table
    with open_book(shop_folder) as book:
        real = type(book).add

        def add_then_die(self: Any, *asked: Any, **more: Any) -> None:
            real(self, *asked, **more)
            raise KeyboardInterrupt

        monkeypatch.setattr(type(book), "add", add_then_die)
        with pytest.raises(KeyboardInterrupt):
            add_once(book, "key-0001", "W-1", {"destination": "23220"}, by=By(NOW))
        monkeypatch.undo()
        assert book.find("W-1") is None
    assert post(client, ORDER).status_code == 201


def test_contacts_go_in_and_never_out(client: TestClient, shop_folder: Path) -> None:
    order = {**ORDER, "contact": {"name": "Invented Reader", "email": "reader@shop.example"}}
    assert "Invented" not in post(client, order).text
    assert "Invented" not in client.get("/api/orders/W-1").text + client.get("/api/orders").text
    with open_book(shop_folder) as book:
        contact = book.contact("W-1")
    assert contact is not None
    assert contact.email == "reader@shop.example"


def test_orders_are_listed_by_state_and_page(client: TestClient) -> None:
    whole = client.get("/api/orders").json()
    assert whole["total"] == len(whole["orders"]) == 5
    part = client.get("/api/orders?limit=2&offset=1").json()
    assert part["orders"] == whole["orders"][1:3]
    away = client.get("/api/orders?state=handed-over&state=packed").json()
    assert [order["order"] for order in away["orders"]] == ["A-107"]
    one = client.get("/api/orders/A-107").json()["order"]
    assert [event["kind"] for event in one["events"]] == ["added", "advised", "moved", "moved"]
    assert client.get("/api/orders?limit=0").status_code == 422
    assert client.get("/api/orders/none%2Fof%20these").json()["kind"] == "order"


def test_an_arrival_said_twice_changes_nothing_and_a_late_repeat_undoes_no_correction(client: TestClient) -> None:
    report = json.loads(SCHEMA.read_text())["components"]["schemas"]["ArrivalAsked"]["examples"][0]
    keyed = {"Idempotency-Key": "arrival-0001"}
    first = client.post("/api/arrivals", json=report, headers=keyed)
    assert first.status_code == 201, first.text
    told = first.json()["arrival"]
    assert told["opened_at"] == "2026-04-23T15:20:00Z"  # 11:20 on the clock of Naples, Florida
    assert told["water_C"] == pytest.approx((74 - 32) / 1.8)
    assert told["pack"] == {"pack": "heat-40h", "before_kg": 0.104, "after_kg": 0.112, "packs": 1}
    assert (told["lost"], told["seen"]) == (0, 2)
    bare = client.post("/api/arrivals", json=report)
    assert (bare.status_code, bare.json()) == (200, {**first.json(), "new": 0})
    right = client.post("/api/arrivals", json={"order": "A-107", "water": "23.5 degC"})
    assert (right.status_code, right.json()["new"], right.json()["arrival"]["corrections"]) == (201, 1, 1)
    repeat = client.post("/api/arrivals", json=report, headers=keyed)
    assert (repeat.status_code, repeat.json()["arrival"]["water_C"]) == (200, 23.5)
    reused = client.post("/api/arrivals", json={**report, "days_late": 2}, headers=keyed)
    assert (reused.status_code, reused.json()["kind"]) == (422, "key-reused")
    listed = client.get("/api/arrivals?order=A-107").json()
    assert (listed["total"], listed["arrivals"]) == (1, [repeat.json()["arrival"]])
    assert client.get("/api/arrivals?order=A-101").json()["total"] == 0


@pytest.mark.parametrize(
    ("report", "status", "kind"),
    [
        ({"order": "nobody", "water": "74 degF"}, 404, "order"),
        ({"order": "A-107"}, 422, "value"),
        ({"order": "A-107", "water": "74"}, 422, "value"),
        ({"order": "A-107", "water_C": 23.5}, 422, "request"),
        ({"order": "A-107", "opened_at": "2026-03-08T02:30"}, 422, "value"),  # that hour was left out there
        ({"order": "A-107", "corals": [{"name": " ", "health": "well"}]}, 422, "value"),
    ],
)
def test_an_arrival_that_cannot_be_is_a_problem(
    client: TestClient, report: dict[str, Any], status: int, kind: str
) -> None:
    answer = client.post("/api/arrivals", json=report)
    assert (answer.status_code, answer.json()["kind"]) == (status, kind)
    assert client.get("/api/arrivals").json()["total"] == 0


def test_health_and_metrics(client: TestClient) -> None:
    told = client.get("/api/health").json()
    assert told["grade"] in {"well", "look", "ill"}
    assert {check["name"] for check in told["checks"]} >= {"settings", "disk", "book", "outbox", "advisory"}
    client.post("/api/check", json={"place": "nowhere"})
    answer = client.get("/metrics")
    assert answer.headers["content-type"].startswith("text/plain; version=")
    found = {family.name: family for family in text_string_to_metric_families(answer.text)}
    by_state = {s.labels["state"]: s.value for s in found["shipwindow_orders"].samples}
    assert by_state == {"open": 4.0, "handed-over": 1.0}
    asked = {(s.labels["route"], s.labels["status"]) for s in found["shipwindow_requests"].samples if "total" in s.name}
    assert asked == {("/api/health", "200"), ("/api/check", "422")}
    assert found["shipwindow_advisory_made_timestamp_seconds"].samples[0].value == pytest.approx(NOW.timestamp())


def test_any_request_of_the_description_is_answered_as_described(make_client: Callable[..., TestClient]) -> None:
    """Schemathesis: made-up requests by the description, right and wrong; every answer must be one it describes."""
    import schemathesis
    from hypothesis import HealthCheck, Phase, given, seed, settings
    from schemathesis.specs.openapi.checks import positive_data_acceptance

    client = make_client("", "127.0.0.1", "[web]\nper-minute = 100000\n")
    app = client.app
    described = schemathesis.openapi.from_dict(json.loads(SCHEMA.read_text()))
    described.app = app
    asked = 0
    for result in described.get_all_operations():
        operation: Any = cast("Any", result).ok()
        if (operation.method.upper(), operation.path) == ("POST", "/api/advisory"):
            continue  # takes no input and seconds

        @seed(20260422)
        @settings(
            max_examples=12,
            deadline=None,
            database=None,
            phases=[Phase.explicit, Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(case=operation.as_strategy())
        def ask(case: Any) -> None:
            nonlocal asked
            asked += 1
            answer = case.call(base_url="http://127.0.0.1:8377")
            # A place that is no place and an order the book refuses fit the description: 422 is right for them.
            case.validate_response(answer, excluded_checks=[positive_data_acceptance])
            assert answer.status_code < 500

        ask()
    assert asked >= 40
