"""Nothing comes in that should not, and nothing that came in gets out as code, a path, a request or a secret."""

from __future__ import annotations

import hmac
import inspect
import json
import logging
import re
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from shipwindow.desk.book import open_book
from shipwindow.desk.book.exports import Leaving, as_csv
from shipwindow.errors import ConfigError
from shipwindow.service.web import keys
from shipwindow.service.web.buckets import Buckets
from shipwindow.service.web.keys import FORM_S, Keys
from shipwindow.service.web.listening import check_listening, listen

TOKEN = "a-token-of-more-than-twenty-letters"  # noqa: S105 - of the test's own shop
HOSTILE = "{{7*7}}<script>alert(1)</script>"
BEARER = {"Authorization": f"Bearer {TOKEN}"}


def test_every_answer_carries_the_headers_of_safety(reader: TestClient) -> None:
    for path in ("/", "/static/desk.css", "/api/health", "/no", "/plot?order=A-101&day=2026-04-22"):
        headers = reader.get(path).headers
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        policy = headers["content-security-policy"]
        for part in ("default-src 'none'", "frame-ancestors 'none'", "form-action 'self'", "base-uri 'none'"):
            assert part in policy
        assert "unsafe" not in policy
        assert headers["cache-control"] == "no-store" or path.startswith("/static")
        assert "server" not in headers


def test_a_self_contained_page_allows_its_own_styles_only(reader: TestClient) -> None:
    answer = reader.get("/advisory")
    assert re.search(r"style-src 'sha256-[\w+/=]{44}'", answer.headers["content-security-policy"])
    assert "unsafe" not in answer.headers["content-security-policy"]


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example:8377", "", "192.168.0.9", "localhost@evil"])
def test_another_host_is_refused(reader: TestClient, host: str) -> None:
    """DNS rebinding: a page of another site may reach loopback, but it says its own name."""
    answer = reader.get("/api/orders", headers={"Host": host})
    assert answer.status_code == 421
    assert answer.json()["kind"] == "host"


def test_our_own_hosts_are_served(make_client: Callable[..., TestClient]) -> None:
    client = make_client(TOKEN, "0.0.0.0", '[web]\nnames = ["desk.example"]\n')  # noqa: S104 - nothing listens
    for host in ("localhost:8377", "[::1]:8377", "192.168.0.9:8377", "DESK.example"):
        assert client.get("/api/health", headers={"Host": host, **BEARER}).status_code == 200
    assert client.get("/api/health", headers={"Host": "other.example", **BEARER}).status_code == 421


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Origin": "https://evil.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Sec-Fetch-Site": "same-origin", "Origin": "null"}, 303),
        ({"Origin": "http://127.0.0.1:8377"}, 303),
        ({}, 303),
    ],
)
def test_a_form_of_another_site_is_refused(
    client: TestClient, key_of: Callable[..., str], headers: dict[str, str], status: int
) -> None:
    form = {"form-key": key_of(client), "key": "none"}
    assert client.post("/outbox/again", data=form, headers=headers).status_code == status


def test_a_form_needs_the_key_of_its_own_visit(
    make_client: Callable[..., TestClient], key_of: Callable[..., str]
) -> None:
    client, other = make_client(), make_client()
    key = key_of(client)
    assert client.post("/outbox/again", data={"key": "x"}).status_code == 403
    assert client.post("/outbox/again", data={"key": "x", "form-key": key[:-2]}).status_code == 403
    key_of(other)
    assert other.post("/outbox/again", data={"key": "x", "form-key": key}).status_code == 403
    cookie = client.get("/check").headers.get("set-cookie", "") or str(client.cookies.jar)
    assert "shipwindow-visit" in cookie


def test_a_form_key_ages(monkeypatch: pytest.MonkeyPatch) -> None:
    ours = Keys("")
    key = ours.form_key("visit")
    assert ours.is_form_key(key, "visit")
    assert not ours.is_form_key(key, "")
    assert not Keys("").is_form_key(key, "visit")  # another process
    monkeypatch.setattr(keys, "FORM_S", -1)
    assert FORM_S > 0
    assert not ours.is_form_key(key, "visit")


def test_with_a_token_everything_asks_for_it(make_client: Callable[..., TestClient]) -> None:
    client = make_client(TOKEN)
    for path in ("/api/health", "/api/orders", "/metrics", "/api/openapi.json"):
        answer = client.get(path)
        assert answer.status_code == 401
        assert answer.headers["www-authenticate"].startswith("Bearer")
        assert client.get(path, headers=BEARER).status_code == 200
        assert client.get(path, headers={"Authorization": "Bearer wrong"}).status_code == 401
    assert client.get("/orders").headers["location"] == "/login?to=/orders"
    assert client.post("/check", data={}).status_code == 401
    assert client.post("/login", data={"token": "guess"}).status_code == 401
    entered = client.post("/login", data={"token": TOKEN, "to": "//evil.example"})
    assert entered.headers["location"] == "/"
    cookie = entered.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert TOKEN not in cookie
    text = client.get("/orders").text
    assert "Log out" in text
    assert TOKEN not in text + client.get("/settings").text
    key = text.split('name="form-key" value="', 1)[1].split('"', 1)[0]
    assert client.post("/logout", data={"form-key": key}).status_code == 303
    assert client.get("/orders").status_code == 303


def test_the_token_is_compared_in_constant_time(monkeypatch: pytest.MonkeyPatch) -> None:
    compared: list[int] = []
    real = hmac.compare_digest

    def compare(one: bytes, other: bytes) -> bool:
        compared.append(len(one))
        assert len(one) == len(other)  # digests: neither length nor start of the token can be timed
        return real(one, other)

    monkeypatch.setattr(hmac, "compare_digest", compare)
    assert Keys(TOKEN).is_token(TOKEN)
    assert not Keys(TOKEN).is_token(TOKEN[:-1])
    assert not Keys("").is_token("")
    assert compared[:2] == [32, 32]
    assert " == " not in inspect.getsource(Keys.is_token)


def test_log_ins_and_requests_are_limited(make_client: Callable[..., TestClient]) -> None:
    client = make_client(TOKEN)
    tried = [client.post("/login", data={"token": "guess"}).status_code for _ in range(12)]
    assert tried == [401] * 10 + [429] * 2
    slow = make_client("", "127.0.0.1", "[web]\nper-minute = 5\n")
    answers = [slow.get("/api/openapi.json") for _ in range(7)]
    assert [each.status_code for each in answers] == [200] * 5 + [429] * 2
    assert 1 <= int(answers[-1].headers["retry-after"]) <= 12
    assert answers[-1].json()["kind"] == "rate"


def test_a_bucket_refills_evenly() -> None:
    bucket = Buckets(60)
    assert [bucket.take("a", 0.0) for _ in range(60)] == [0.0] * 60
    assert bucket.take("a", 0.0) == pytest.approx(1.0)  # exact: one token a second
    assert bucket.take("b", 0.0) == 0.0
    assert bucket.take("a", 1.0) == 0.0
    assert bucket.take("a", 1.5) == pytest.approx(0.5)


def test_a_proxy_without_a_token_is_refused(reader: TestClient) -> None:
    answer = reader.get("/", headers={"X-Forwarded-For": "203.0.113.9"})
    assert answer.status_code == 403
    assert "proxy" in answer.text


@pytest.mark.parametrize(
    ("host", "token", "fine"),
    [
        ("127.0.0.1", "", True),
        ("::1", "", True),
        ("localhost", "", True),
        ("127.0.0.1", "short", False),
        ("0.0.0.0", "", False),  # noqa: S104 - refused
        ("", "", False),
        ("192.168.1.5", "nineteen-letters-xx", False),
        ("192.168.1.5", "twenty-letters-or-so", True),
        ("desk.example", "", False),
    ],
)
def test_off_loopback_needs_a_long_token(host: str, token: str, fine: bool) -> None:
    if fine:
        check_listening(host, token)
        return
    with pytest.raises(ConfigError, match="token") as told:
        check_listening(host, token)
    assert not token or token not in str(told.value)


def test_a_taken_port_is_told() -> None:
    with listen("127.0.0.1", 0) as taken, pytest.raises(ConfigError, match="choose another with --port"):
        listen("127.0.0.1", taken.getsockname()[1])


@pytest.mark.parametrize("raw", [b"[" * 200_000, b'{"place":' * 50_000, b"\xff\xfe", b"{", b"NaN", b"[1,2]", b'"x"'])
def test_hostile_json_is_told_as_a_problem(reader: TestClient, raw: bytes) -> None:
    answer = reader.post("/api/check", content=raw, headers={"Content-Type": "application/json"})
    assert answer.status_code in {400, 422}
    assert answer.headers["content-type"] == "application/problem+json"
    assert set(answer.json()) >= {"version", "type", "title", "status", "read", "expected", "do"}
    assert len(answer.content) < 5000


@pytest.mark.parametrize(
    "more",
    [
        '"value": NaN',
        '"value": 1e999',
        '"value": "1e999"',
        '"value": "nan"',
        '"value": ' + "9" * 5000,
        '"on": "9999-12-31"',
        '"on": "0001-01-01"',
        '"place": "' + "9" * 119 + '"',
        '"place": "\\ud800"',
        '"place": "1e999,0"',
        '"handover": "\\u0000"',
        '"x": 1',
    ],
)
def test_hostile_values_never_become_an_answer(reader: TestClient, more: str) -> None:
    body = f'{{"place": "23220", {more}}}'
    answer = reader.post("/api/check", content=body.encode(), headers={"Content-Type": "application/json"})
    told = answer.json()
    # A day ten thousand years ahead may be answered with "not known"; nothing else may be answered at all.
    assert answer.status_code in {400, 422} or told["acceptance"]["answer"] is None, told


def test_bodies_are_bounded_with_and_without_a_length(client: TestClient) -> None:
    large = b"x" * 600_000
    assert client.post("/api/check", content=large).status_code == 413
    answer = client.post("/api/orders", content=iter([large[:300_000]] * 4))  # chunked: no length is told
    assert answer.status_code == 413
    assert answer.json()["kind"] == "size"
    assert client.get("/" + "a" * 5000).status_code == 414


@pytest.mark.parametrize(
    "path",
    [
        "/static/../keys.py",
        "/static/%2e%2e/keys.py",
        "/static/..%2fkeys.py",
        "/static/",
        "/static",
        "/advisory?day=..%2f..",
        "/sheets/..%2f..%2fshop.pdf?day=2026-04-22",
        "/api/advisory/..%2f..%2fshop.toml",
        "/api/advisory/2026-04-22%00",
        "/shop.toml",
        "/.git/config",
    ],
)
def test_no_path_leads_out(reader: TestClient, path: str) -> None:
    answer = reader.get(path)
    assert answer.status_code in {404, 422}
    assert "token" not in answer.text
    assert "Lantern" not in answer.text


def test_what_is_ordered_never_becomes_code(reader: TestClient) -> None:
    """Template injection and stored script: a name, a coral and a claim come out as the letters they are."""
    for path in ("/", "/orders", f"/order?id={HOSTILE}", "/window", "/sheets", "/claims", "/advisory", "/watch"):
        text = reader.get(path).text
        assert "<script" not in text, path
        assert "<img src=x" not in text, path
        assert "49&lt;script" not in text, path
        assert ">49<" not in text, path
    shown = unescape(reader.get("/order", params={"id": HOSTILE}).text)
    assert HOSTILE in shown
    assert "<img src=x onerror=alert(2)>" in shown


def test_exports_are_no_formulas(client: TestClient, shop_folder: Path) -> None:
    order = {"order": "=1+1", "destination": "23220", "wishes": "@SUM(A1)", "bags": "bag-4x8:2"}
    answer = client.post("/api/orders", json=order, headers={"Idempotency-Key": "formula-1"})
    assert answer.status_code == 201, answer.text
    with open_book(shop_folder) as book:
        text = as_csv(Leaving(entry) for entry in book.entries())
    assert not re.search(r"(^|,)\"?[=@+]", text, re.MULTILINE)


@pytest.mark.parametrize(
    "place", ["http://169.254.169.254/latest", "file:///etc/passwd", "//evil.example/x", "1,2 http://x"]
)
def test_order_data_choose_no_address(client: TestClient, place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """SSRF: a place is coordinates of ours before anything is fetched, and no text of an order is ever asked for."""
    import requests

    def never(*asked: Any, **more: Any) -> None:
        raise AssertionError(asked)

    monkeypatch.setattr(requests.Session, "request", never)
    assert client.post("/api/check", json={"place": place}).json()["kind"] == "place"
    order = {"order": "S-1", "destination": place}
    assert client.post("/api/orders", json=order, headers={"Idempotency-Key": "12345678"}).status_code == 422


def test_logs_and_pages_hold_no_secret_and_no_order(
    make_client: Callable[..., TestClient], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setenv("SHIPWINDOW__SERVICE__WEB__TOKEN", TOKEN)
    monkeypatch.setenv("SHIPWINDOW__SERVICE__MAIL__PASSWORD", "tell-nobody")
    caplog.set_level(logging.DEBUG)
    client = make_client(TOKEN)
    client.post("/login", data={"token": TOKEN})
    pages = [client.get(path).text for path in ("/settings", "/health", "/outbox", "/order?id=A-101", "/no")]
    pages += [client.get("/api/health").text, client.get("/metrics").text]
    client.get("/api/orders/A-101", headers=BEARER)
    client.get("/orders", headers={"Authorization": "Bearer tell-nobody-either"})
    own = "\n".join(record.getMessage() for record in caplog.records if record.name.startswith("shipwindow"))
    for secret in (TOKEN, "tell-nobody"):
        assert all(secret not in page for page in pages)
        assert secret not in own
    assert "set, not shown" in pages[0]
    assert "web.answered route=/order method=GET status=200" in own
    assert "A-101" not in own
    assert "A-101" not in pages[-1]


def test_a_bug_is_told_without_its_insides(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shipwindow.service.web.api.check_health", lambda *_a, **_k: json.loads("{inside"))
    answer = client.get("/api/health")
    assert answer.status_code == 500
    assert "inside" not in answer.text
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "fault of the program" in answer.json()["read"]
