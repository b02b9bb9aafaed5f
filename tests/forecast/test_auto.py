"""Choosing by place, falling back, and saying so."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from shipwindow.errors import MissingForecast, StaleForecast
from shipwindow.forecast.gather import Ages, gather
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.sources.auto import AutoSource, in_us
from shipwindow.forecast.sources.files import Payload
from shipwindow.forecast.sources.locationforecast import read_met
from shipwindow.places import Place

H = timedelta(hours=1)


class Scripted:
    """A source that gives what it is told to."""

    def __init__(self, name: str, said: Callable[[Place, datetime], Forecast]) -> None:
        self.name = name
        self.said = said
        self.asked = 0
        self.closed = False

    def fetch(self, place: Place, now: datetime) -> Forecast:
        return self.fetch_payload(place, now).forecast

    def fetch_payload(self, place: Place, now: datetime) -> Payload:
        self.asked += 1
        found = replace(self.said(place, now), source=self.name)
        return Payload(found.cell, found.issued_at, b"{}", None, found)

    def close(self) -> None:
        self.closed = True


def failing(read: str) -> Callable[..., Forecast]:
    def fail(*_: object) -> Forecast:
        raise MissingForecast(read, "an answer", "run again later")

    return fail


@pytest.fixture
def good(kit: Any) -> Callable[..., Forecast]:
    return lambda _place, now: read_met(kit.met_document(issued_at=now - H))


CHICAGO = Place("Chicago", 41.9, -87.6, "America/Chicago")
BERLIN = Place("Berlin", 52.5, 13.4, "Europe/Berlin")


@pytest.mark.parametrize(
    ("name", "latitude_deg", "longitude_deg", "us"),
    [
        ("Chicago", 41.9, -87.6, True),
        ("Key West", 24.55, -81.8, True),
        ("Anchorage", 61.2, -149.9, True),
        ("Attu", 52.9, 172.9, True),
        ("Honolulu", 21.3, -157.9, True),
        ("San Juan", 18.4, -66.1, True),
        ("Guam", 13.44, 144.78, True),
        ("Pago Pago", -14.28, -170.7, True),
        ("Berlin", 52.5, 13.4, False),
        ("Sydney", -33.9, 151.2, False),
        ("Edmonton", 53.5, -113.5, False),
        ("Tokyo", 35.7, 139.7, False),
    ],
)
def test_where_the_us_service_reaches(name: str, latitude_deg: float, longitude_deg: float, us: bool) -> None:
    assert in_us(latitude_deg, longitude_deg) is us, name


def test_the_place_decides_who_is_asked(kit: Any, good: Any) -> None:
    nws, met = Scripted("nws", good), Scripted("met", good)
    source = AutoSource({"nws": nws, "met": met}, 12.0, 30.0)
    assert (source.fetch(CHICAGO, kit.now).source, nws.asked, met.asked) == ("nws", 1, 0)
    found = source.fetch(BERLIN, kit.now)
    assert (found.source, nws.asked, met.asked) == ("met", 1, 1)
    assert not any("failed" in flag for flag in found.flags)
    source.close()
    assert nws.closed
    assert met.closed


def test_the_next_one_answers_and_says_so(kit: Any, good: Any) -> None:
    nws, met = Scripted("nws", failing("the grid is late")), Scripted("met", failing("down"))
    own = Scripted("openmeteo", good)
    found = AutoSource({"nws": nws, "met": met, "openmeteo": own}, 12.0, 30.0).fetch(CHICAGO, kit.now)
    assert found.source == "openmeteo"
    assert found.flags[0] == "from openmeteo: nws failed: the grid is late; met failed: down"


def test_too_old_counts_as_failed(kit: Any, good: Any) -> None:
    old = Scripted("nws", lambda _place, now: read_met(kit.met_document(issued_at=now - 31 * H)))
    found = AutoSource({"nws": old, "met": Scripted("met", good)}, 12.0, 30.0).fetch(CHICAGO, kit.now)
    assert found.flags[0] == "from met: nws failed: the forecast made at 2026-03-03 08:00Z is 31 h old"
    with pytest.raises(StaleForecast, match="31 h old"):
        AutoSource({"nws": old}, 12.0, 30.0).fetch(CHICAGO, kit.now)


def test_a_stale_one_is_used_only_where_none_is_fresher(kit: Any, good: Any) -> None:
    stale = Scripted("nws", lambda _place, now: read_met(kit.met_document(issued_at=now - 20 * H)))
    staler = Scripted("met", lambda _place, now: read_met(kit.met_document(issued_at=now - 25 * H)))
    down = Scripted("met", failing("no answer"))
    fresher = AutoSource({"nws": stale, "met": Scripted("met", good)}, 12.0, 30.0).fetch(CHICAGO, kit.now)
    assert fresher.flags[0] == "from met: nws failed: the forecast made at 2026-03-03 19:00Z is 20 h old"
    for other, reason in ((staler, "the forecast made at 2026-03-03 14:00Z is 25 h old"), (down, "no answer")):
        kept = AutoSource({"nws": stale, "met": other}, 12.0, 30.0).fetch(CHICAGO, kit.now)
        assert (kept.source, kept.flags[0]) == ("nws", f"from nws: met failed: {reason}")
    alone = AutoSource({"nws": stale}, 12.0, 30.0).fetch(CHICAGO, kit.now)
    assert not any(flag.startswith("from ") for flag in alone.flags)
    gathered = gather({"a": CHICAGO}, AutoSource({"nws": stale}, 12.0, 30.0), kit.now, Ages())["a"]
    assert isinstance(gathered, Forecast)
    assert gathered.flags[-1] == "stale: 20 h old"


def test_when_all_fail_each_reason_is_told_and_the_others_go_on(kit: Any, good: Any) -> None:
    met = Scripted("met", lambda place, now: good(place, now) if place is BERLIN else failing("no answer")())
    source = AutoSource({"nws": Scripted("nws", failing("503")), "met": met}, 12.0, 30.0)
    found = gather({"a": CHICAGO, "b": BERLIN}, source, kit.now, Ages())
    assert isinstance(found["a"], MissingForecast)
    assert found["a"].read == "no source has a forecast (nws: 503; met: no answer)"
    assert isinstance(found["b"], Forecast)
