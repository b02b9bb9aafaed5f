"""An Open-Meteo compatible address as a source, against a loopback service; the free host is refused."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from numpy.testing import assert_allclose

from shipwindow.errors import ConfigError, MissingForecast
from shipwindow.forecast.cache import open_cache
from shipwindow.forecast.sources.files import FilesSource, save_payload
from shipwindow.forecast.sources.openmeteo import OpenMeteoSource
from shipwindow.places import Place

H = timedelta(hours=1)
BERLIN = Place("Berlin", 52.5, 13.4, "Europe/Berlin")
KEY = "k3y-that-nobody-may-see"


@pytest.fixture
def open_own(service: Any, pauses: list[float]) -> Iterator[Callable[..., OpenMeteoSource]]:
    opened: list[OpenMeteoSource] = []

    def make(end: str = "", **changes: Any) -> OpenMeteoSource:
        named = {"timeout_s": 5.0, "sleep": pauses.append, **changes}
        opened.append(OpenMeteoSource("shop@example.org", service.address + end, **named))
        return opened[-1]

    yield make
    for source in opened:
        source.close()


def path(end: str = "/v1/forecast", more: str = "") -> str:
    layers = "temperature_2m,wind_speed_10m,cloud_cover,relative_humidity_2m,wind_gusts_10m,precipitation_probability"
    return (
        f"{end}?latitude=52.5&longitude=13.4&hourly={layers}&wind_speed_unit=ms&timezone=UTC&past_days=1&forecast_days=8"
        + more
    )


def test_the_way_from_place_to_forecast(service: Any, open_own: Any, kit: Any) -> None:
    service.says(path(), kit.columns())
    found = open_own().fetch(BERLIN, kit.now)
    assert (found.source, found.cell, found.issued_at) == ("openmeteo", "52.5,13.4", kit.now - 6 * H)
    assert found.distance_km == pytest.approx(2.5, abs=0.2)  # 0.02 deg north, 0.02 deg east of it
    assert service.asked[0].headers["user-agent"].endswith("(shop@example.org)")
    assert parse_qs(urlsplit(service.paths()[0]).query)["timezone"] == ["UTC"]


def test_an_ensemble_address_and_models(service: Any, open_own: Any, kit: Any) -> None:
    service.says(path("/v1/ensemble", "&models=fine_model"), kit.columns())
    open_own("/v1/ensemble", models="fine_model").fetch(BERLIN, kit.now)
    assert len(service.asked) == 1


def test_the_key_is_sent_and_never_shown(
    service: Any, open_own: Any, kit: Any, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO, logger="shipwindow")
    cache = open_cache(tmp_path / "f.db")
    asked = path(more=f"&apikey={KEY}")
    service.says(asked, kit.columns())
    source = open_own(key=KEY, cache=cache)
    found = source.fetch(BERLIN, kit.now)
    assert service.paths() == [asked]
    service.says(asked, kit.said(403, f'{{"error": true, "reason": "key {KEY} expired"}}'.encode()))
    with pytest.raises(MissingForecast) as caught:
        open_own(key=KEY).fetch(BERLIN, kit.now)
    assert caught.value.read == "openmeteo: turned away (403): key *** expired"
    service.says(asked, kit.said(302, b"", {"Location": f"https://elsewhere.example/?apikey={KEY}"}))
    with pytest.raises(MissingForecast) as moved:
        open_own(key=KEY).fetch(BERLIN, kit.now)
    service.says(asked, kit.said(500, b""))
    with pytest.raises(MissingForecast) as failed:
        open_own(key=KEY).fetch(BERLIN, kit.now)
    cache.close()
    shown = [str(caught.value), str(moved.value), str(failed.value), caplog.text, repr(found)]
    assert not any(KEY in text for text in shown)
    assert KEY.encode() not in (tmp_path / "f.db").read_bytes()


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("", "without an address"),
        ("https://api.open-meteo.com", "free host api.open-meteo.com"),
        ("https://ensemble-api.open-meteo.com/v1/ensemble", "free host"),
        ("ftp://own.example", "openmeteo-address"),
    ],
)
def test_no_address_and_the_free_host_are_refused(address: str, said: str) -> None:
    with pytest.raises(ConfigError, match=said):
        OpenMeteoSource("shop@example.org", address)


def test_the_reason_in_an_error_is_told(service: Any, open_own: Any, kit: Any) -> None:
    service.says(path(), kit.said(400, b'{"error": true, "reason": "Cannot resolve model"}'))
    with pytest.raises(MissingForecast, match="openmeteo: answer 400: Cannot resolve model"):
        open_own().fetch(BERLIN, kit.now)
    service.says(path(), kit.said(200, b'{"error": true, "reason": "half asleep"}'))
    with pytest.raises(MissingForecast, match="the service says: half asleep"):
        open_own().fetch(BERLIN, kit.now)


def test_a_kept_answer_keeps_its_age(service: Any, open_own: Any, kit: Any, tmp_path: Path) -> None:
    cache = open_cache(tmp_path / "f.db")
    service.says(path(), kit.columns(hours=60))
    open_own(cache=cache).fetch(BERLIN, kit.now)
    service.says(path(), kit.said(503, b""))
    kept = open_own(cache=cache).fetch(BERLIN, kit.now + 8 * H)
    assert kept.issued_at == kit.now - 6 * H
    assert kept.flags[-1].startswith("last good copy")
    cache.close()


def test_a_saved_answer_is_dated_by_its_name(service: Any, open_own: Any, kit: Any, tmp_path: Path) -> None:
    service.says(path(), kit.columns())
    payload = open_own().fetch_payload(BERLIN, kit.now)
    saved = save_payload(tmp_path, payload)
    folder = FilesSource(tmp_path, 5.0)
    found = folder.fetch(BERLIN, kit.now)
    assert (found.issued_at, found.source, found.raw_model) == (kit.now - 6 * H, "files", True)
    assert_allclose(found.air_C, payload.forecast.air_C, rtol=0)  # the same bytes
    saved.rename(tmp_path / "berlin.json")
    (problem,) = folder.problems
    assert problem.startswith(
        "berlin.json: an undated answer in columns; expected its date at the end of the file's name"
    )


def test_a_cell_too_far_away_is_refused(service: Any, open_own: Any, kit: Any) -> None:
    service.says(path(), kit.columns(latitude=52.9))
    with pytest.raises(MissingForecast, match="a point 44 km away"):
        open_own().fetch(BERLIN, kit.now)
