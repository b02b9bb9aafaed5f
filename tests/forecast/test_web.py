"""How long an answer is fresh, and who may be asked how."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from shipwindow.errors import ConfigError, MissingForecast
from shipwindow.forecast.sources.web import Unreachable, Web, check_address, check_contact, fresh_until, when

NOW = datetime(2026, 3, 4, 15, tzinfo=UTC)


@pytest.mark.parametrize(
    ("headers", "seconds"),
    [
        ({"cache-control": "public, max-age=749, s-maxage=3600"}, 749),
        ({"cache-control": "max-age=749", "age": "700"}, 49),
        ({"cache-control": "max-age=749", "age": "900"}, 0),
        ({"cache-control": "s-maxage=600"}, 300),
        ({"cache-control": "no-cache"}, 0),
        ({"cache-control": "no-store, max-age=600"}, 0),
        ({"cache-control": "max-age=31536000"}, 3600),
        ({"expires": "Wed, 04 Mar 2026 15:10:00 GMT", "date": "Wed, 04 Mar 2026 15:00:00 GMT"}, 600),
        # A server whose clock is an hour behind: only the span between its own two stamps counts.
        ({"expires": "Wed, 04 Mar 2026 14:10:00 GMT", "date": "Wed, 04 Mar 2026 14:00:00 GMT"}, 600),
        ({"expires": "Wed, 04 Mar 2026 15:10:00 GMT"}, 600),
        ({"expires": "Wed, 04 Mar 2026 14:10:00 GMT"}, 0),
        ({"expires": "0"}, 0),
        ({"cache-control": "max-age=60", "expires": "Wed, 04 Mar 2026 15:10:00 GMT"}, 60),
        ({}, 300),
    ],
)
def test_freshness_follows_the_headers(headers: dict[str, str], seconds: int) -> None:
    # max-age goes before Expires, Age is taken off, Expires counts from Date: RFC 9111, 4.2.1 and 4.2.3. Status:
    # source, from memory. The cap of an hour and the 5 minutes where nothing is said are ours.
    assert fresh_until(headers, NOW) == NOW + timedelta(seconds=seconds)


def test_http_dates() -> None:
    assert when("Wed, 04 Mar 2026 15:00:00 GMT") == NOW
    assert when("rubbish") is None
    assert when(None) is None


@pytest.mark.parametrize("contact", ["", "  ", "a", "shop\r\nX-Evil: 1", "café@example.org", "x" * 200])
def test_a_contact_must_be_there_and_fit_a_header(contact: str) -> None:
    with pytest.raises(ConfigError, match="contact"):
        check_contact(contact)


@pytest.mark.parametrize(
    "address",
    [
        "",
        "api.example.org",
        "file:///etc/passwd",
        "ftp://a.org",
        "https://",
        "https://u:p@a.org",
        "https://a.org?x=1",
        "http://a:99999",
    ],
)
def test_an_address_must_be_plain(address: str) -> None:
    with pytest.raises(ConfigError, match=r"forecast\.address"):
        check_address(address)


def test_an_address_may_have_a_path() -> None:
    assert check_address("https://mirror.example.org/nws/") == "https://mirror.example.org/nws"


@pytest.fixture
def web(service: Any, pauses: list[float]) -> Iterator[Web]:
    made = Web(service.address, "test", accept="*/*", timeout_s=20.0, attempts=3, sleep=pauses.append)
    yield made
    made.close()


@pytest.fixture
def hasty(service: Any, pauses: list[float]) -> Iterator[Web]:
    made = Web(service.address, "test", accept="*/*", timeout_s=0.3, attempts=3, sleep=pauses.append)
    yield made
    made.close()


def test_a_drip_does_not_outlast_the_deadline(service: Any, hasty: Any, kit: Any, pauses: list[float]) -> None:
    service.says("/slow", kit.said(body=b"x" * 400, drip_s=0.02))
    with pytest.raises(Unreachable, match=r"no whole answer within 0\.3 s \(3 tries\)"):
        hasty.get("/slow", now=NOW)
    assert len(pauses) == 2


@pytest.mark.parametrize("chunks", [None, 7, 100_000])
@pytest.mark.parametrize("packed", [False, True])
def test_a_body_comes_whole_in_pieces_or_packed(
    service: Any, web: Any, kit: Any, chunks: int | None, packed: bool
) -> None:
    whole = bytes(range(256)) * 300
    headers = {"Content-Encoding": "gzip"} if packed else {}
    service.says("/whole", kit.said(body=gzip.compress(whole) if packed else whole, headers=headers, chunks=chunks))
    assert web.get("/whole", now=NOW).body == whole


def test_a_small_parcel_that_unpacks_without_end_is_cut_off(
    service: Any, web: Any, kit: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shipwindow.forecast.sources.web.LARGEST_BYTES", 100_000)
    service.says("/bomb", kit.said(body=gzip.compress(bytes(50_000_000)), headers={"Content-Encoding": "gzip"}))
    with pytest.raises(MissingForecast, match="an answer above"):
        web.get("/bomb", now=NOW)


def test_silence_is_a_timeout(service: Any, hasty: Any, kit: Any) -> None:
    service.says("/silent", kit.said(wait_s=5.0))
    with pytest.raises(Unreachable, match=r"no answer within 0\.3 s"):
        hasty.get("/silent", now=NOW)


def test_a_body_shorter_than_promised_is_asked_for_again(service: Any, web: Any, kit: Any) -> None:
    service.says("/short", kit.said(body=b'{"a": 1', promise_bytes=4000), kit.said(body=b'{"a": 1}'))
    assert web.get("/short", now=NOW).body == b'{"a": 1}'


def test_a_body_without_end_is_cut_off(service: Any, web: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shipwindow.forecast.sources.web.LARGEST_BYTES", 100_000)
    service.says("/big", b"x" * 100_001)
    with pytest.raises(MissingForecast, match="an answer above"):
        web.get("/big", now=NOW)
    assert service.paths() == ["/big"]


def test_redirects_stay_on_the_host(service: Any, web: Any, kit: Any) -> None:
    service.says("/home", b"found")
    for target in ("/home", "home", f"{service.address}/home"):
        service.says("/old", kit.said(301, headers={"Location": target}))
        assert web.get("/old", now=NOW).body == b"found"
    asked = len(service.asked)
    for target in ("http://169.254.169.254/latest", "https://evil.example/x", "//evil.example/x", "file:///etc/passwd"):
        service.says("/old", kit.said(302, headers={"Location": target}))
        with pytest.raises(MissingForecast, match="a redirect from the weather service"):
            web.get("/old", now=NOW)
    port = service.address.rsplit(":", 1)[1]
    service.says("/old", kit.said(302, headers={"Location": f"http://127.0.0.1:{int(port) - 1}/"}))
    with pytest.raises(MissingForecast, match="a redirect"):
        web.get("/old", now=NOW)
    assert [each for each in service.paths()[asked:] if each != "/old"] == []


def test_a_ring_of_redirects_ends(service: Any, web: Any, kit: Any) -> None:
    service.says("/ring", kit.said(301, headers={"Location": "/ring"}))
    with pytest.raises(MissingForecast, match="more than 5 redirects"):
        web.get("/ring", now=NOW)
    assert len(service.asked) == 6


def test_pauses_grow_with_jitter_and_nobody_waits_after_the_last_try(
    service: Any, web: Any, kit: Any, pauses: list[float]
) -> None:
    service.says("/down", kit.said(500))
    with pytest.raises(Unreachable, match=r"500 internal error \(3 tries\)"):
        web.get("/down", now=NOW)
    assert len(service.asked) == 3
    assert len(pauses) == 2
    assert 0.5 <= pauses[0] <= 1.0
    assert 1.0 <= pauses[1] <= 2.0


@pytest.mark.parametrize(
    ("header", "least_s"),
    [
        ({"Retry-After": "7"}, 7.0),
        ({"Retry-After": "Wed, 04 Mar 2026 15:00:20 GMT", "Date": "Wed, 04 Mar 2026 15:00:00 GMT"}, 20.0),
        ({}, 5.0),
    ],
)
def test_too_many_requests_waits_as_long_as_asked(
    service: Any, web: Any, kit: Any, pauses: list[float], header: dict[str, str], least_s: float
) -> None:
    service.says("/busy", kit.said(429, headers=header), kit.said(body=b"ok"))
    assert web.get("/busy", now=NOW).body == b"ok"
    assert len(pauses) == 1
    assert least_s <= pauses[0] <= least_s + 1.0


def test_who_asks_for_an_hour_is_not_asked_again_this_morning(
    service: Any, web: Any, kit: Any, pauses: list[float]
) -> None:
    service.says("/busy", kit.said(429, headers={"Retry-After": "3600"}))
    with pytest.raises(Unreachable, match=r"429 too many requests \(1 try\)"):
        web.get("/busy", now=NOW)
    assert pauses == []


def test_a_service_that_is_down_costs_one_try_a_question_until_it_answers(service: Any, web: Any, kit: Any) -> None:
    service.says("/down", kit.said(503))
    service.says("/up", b"ok")
    service.says("/down/later", kit.said(503), b"ok")
    for tries in (3, 4, 5):
        with pytest.raises(Unreachable):
            web.get("/down", now=NOW)
        assert len(service.asked) == tries
    web.get("/up", now=NOW)  # another kind of question: half a service may be down
    with pytest.raises(Unreachable, match="1 try"):
        web.get("/down/later", now=NOW)
    web.get("/down/later", now=NOW)
    with pytest.raises(Unreachable, match="3 tries"):
        web.get("/down", now=NOW)


def test_nobody_there(pauses: list[float], service: Any) -> None:
    service.close()
    gone = Web(service.address, "test", accept="*/*", timeout_s=1.0, attempts=2, sleep=pauses.append)
    with pytest.raises(Unreachable, match=r"connection failed"):
        gone.get("/x", now=NOW)
    gone.close()
