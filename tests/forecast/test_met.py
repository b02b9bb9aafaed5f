"""MET Norway as a source, against a loopback service: its terms kept, every mishap told."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from numpy.testing import assert_allclose

from shipwindow.errors import ConfigError, DomainError, MissingForecast
from shipwindow.forecast.cache import open_cache
from shipwindow.forecast.sources.files import FilesSource, save_payload
from shipwindow.forecast.sources.met import MetSource
from shipwindow.forecast.sources.web import Unreachable
from shipwindow.places import Place

H = timedelta(hours=1)
PATH = "/weatherapi/locationforecast/2.0/complete?lat=52.5&lon=13.4"
BERLIN = Place("Berlin", 52.5, 13.4, "Europe/Berlin")


@pytest.fixture
def open_met(service: Any, pauses: list[float]) -> Iterator[Callable[..., MetSource]]:
    opened: list[MetSource] = []

    def make(**changes: Any) -> MetSource:
        named = {"timeout_s": 5.0, "sleep": pauses.append, **changes}
        opened.append(MetSource(named.pop("contact", "shop@example.org"), service.address, **named))
        return opened[-1]

    yield make
    for source in opened:
        source.close()


def body(document: Any) -> bytes:
    return json.dumps(document).encode()


def test_the_terms_of_the_service_are_kept(service: Any, open_met: Any, kit: Any) -> None:
    stamps = {"Expires": "Wed, 04 Mar 2026 15:30:00 GMT", "Last-Modified": "Wed, 04 Mar 2026 14:02:11 GMT"}
    stamps["Date"] = "Wed, 04 Mar 2026 15:00:00 GMT"
    service.says(
        PATH,
        kit.said(body=body(kit.met_document()), headers=stamps),
        kit.said(304, headers={"Expires": "Wed, 04 Mar 2026 16:10:00 GMT", "Date": "Wed, 04 Mar 2026 15:31:00 GMT"}),
    )
    source = open_met()
    house = replace(BERLIN, label="Jo Bloggs", latitude_deg=52.500049, longitude_deg=13.399951)
    first = source.fetch(house, kit.now)
    assert service.paths() == [PATH]  # rounded, no trailing zeros, no name
    assert service.asked[0].headers["user-agent"].startswith("shipwindow/")
    assert service.asked[0].headers["user-agent"].endswith("(shop@example.org)")
    assert "if-modified-since" not in service.asked[0].headers
    source.fetch(BERLIN, kit.now + 0.49 * H)
    assert len(service.asked) == 1  # not before it expires
    again = source.fetch(BERLIN, kit.now + 0.52 * H)
    assert service.asked[1].headers["if-modified-since"] == stamps["Last-Modified"]  # verbatim
    assert_allclose(again.air_C, first.air_C, rtol=0)  # the same bytes
    source.fetch(BERLIN, kit.now + 0.9 * H)
    assert len(service.asked) == 2  # the 304 said until 16:10
    assert first.attribution == "Weather data: MET Norway (CC BY 4.0)"
    assert (first.cell, first.source) == ("52.5,13.4", "met")
    with pytest.raises(DomainError, match="5 decimals"):
        open_met(decimals=5)
    with pytest.raises(ConfigError, match="no contact"):
        open_met(contact="")


def test_a_far_expiry_is_heeded_and_a_clock_set_back_is_not_trusted(service: Any, open_met: Any, kit: Any) -> None:
    stamps = {"Expires": "Wed, 04 Mar 2026 21:00:00 GMT", "Date": "Wed, 04 Mar 2026 15:00:00 GMT"}
    service.says(PATH, kit.said(body=body(kit.met_document()), headers=stamps))
    source = open_met()
    for hours in (0.0, 3.0, 5.9):
        source.fetch(BERLIN, kit.now + hours * H)
    assert len(service.asked) == 1
    source.fetch(BERLIN, kit.now + 6.1 * H)
    source.fetch(BERLIN, kit.now - 0.5 * H)
    assert len(service.asked) == 3


def test_an_altitude_is_passed_on(service: Any, open_met: Any, kit: Any) -> None:
    service.says(PATH + "&altitude=1234", kit.met_document())
    assert open_met().fetch_payload(BERLIN, kit.now, altitude_m=1234.4).forecast.elevation_m == 25.0


def test_an_old_version_is_used_and_flagged(service: Any, open_met: Any, kit: Any) -> None:
    service.says(PATH, kit.said(203, body(kit.met_document())))
    flags = open_met().fetch(BERLIN, kit.now).flags
    assert flags[-1] == "met answered 203: this version of the service is on its way out"


@pytest.mark.parametrize(
    ("status", "text", "said", "tries"),
    [
        (403, b"Forbidden", r"turned us away \(403\)", 1),
        (422, b"Unprocessable: lat out of range", "met: answer 422: Unprocessable: lat out of range", 1),
        (404, b"<html>no</html>", "met: answer 404$", 1),
        (429, b"Too many", r"429 too many requests \(4 tries\)", 4),
        (500, b"", r"500 internal error \(4 tries\)", 4),
    ],
)
def test_refusals_in_plain_words(
    service: Any, open_met: Any, kit: Any, status: int, text: bytes, said: str, tries: int
) -> None:
    service.says(PATH, kit.said(status, text))
    with pytest.raises(MissingForecast) as caught:
        open_met().fetch(BERLIN, kit.now)
    assert re.search(said, caught.value.read)
    assert len(service.asked) == tries


def test_throttled_once_and_then_served(service: Any, open_met: Any, kit: Any, pauses: list[float]) -> None:
    service.says(PATH, kit.said(429, b"slow down", {"Retry-After": "7"}), kit.met_document())
    assert open_met().fetch(BERLIN, kit.now).cell == "52.5,13.4"
    assert len(pauses) == 1
    assert pauses[0] >= 7.0


def test_a_failing_service_leaves_the_last_good_copy(service: Any, open_met: Any, kit: Any, tmp_path: Path) -> None:
    cache = open_cache(tmp_path / "f.db")
    service.says(PATH, kit.met_document(hours=60))
    open_met(cache=cache).fetch(BERLIN, kit.now)
    service.says(PATH, kit.said(503, b"down"))
    kept = open_met(cache=cache).fetch(BERLIN, kit.now + 5 * H)
    assert kept.flags[-1].startswith("last good copy, issued 2026-03-04 14:00Z, because: the weather service: 503")
    with pytest.raises(Unreachable):
        open_met(cache=cache).fetch(BERLIN, kit.now + 31 * H)
    cache.close()


def test_truncated_answers_are_asked_for_again(service: Any, open_met: Any, kit: Any) -> None:
    whole = body(kit.met_document())
    service.says(PATH, kit.said(body=whole[: len(whole) // 2]), kit.said(body=whole))
    assert open_met().fetch(BERLIN, kit.now).flags[-1] == "no weather warnings: this source gives none"
    assert len(service.asked) == 2


def test_an_answer_for_another_place_is_refused(service: Any, open_met: Any, kit: Any) -> None:
    service.says(PATH, kit.met_document(latitude_deg=53.5))
    with pytest.raises(MissingForecast, match="a point 111 km away"):
        open_met().fetch(BERLIN, kit.now)


def test_an_unsolicited_304_is_no_forecast(service: Any, open_met: Any, kit: Any) -> None:
    service.says(PATH, kit.said(304))
    with pytest.raises(MissingForecast, match="answer 304"):
        open_met().fetch(BERLIN, kit.now)


def test_a_saved_payload_is_read_back(service: Any, open_met: Any, kit: Any, tmp_path: Path) -> None:
    service.says(PATH, kit.met_document())
    payload = open_met().fetch_payload(BERLIN, kit.now)
    save_payload(tmp_path, payload)
    folder = FilesSource(tmp_path, 5.0)
    found = folder.fetch(BERLIN, kit.now)
    assert folder.problems == ()
    assert_allclose(found.air_C, payload.forecast.air_C, rtol=0)  # the same bytes
    assert (found.source, found.raw_model, found.flags) == ("files", True, payload.forecast.flags)
    with pytest.raises(MissingForecast, match="the nearest 111 km"):
        folder.fetch(replace(BERLIN, latitude_deg=51.5), kit.now)
