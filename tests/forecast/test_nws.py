"""The service as a source, against a loopback service that misbehaves in every known way."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from numpy.testing import assert_allclose

from shipwindow.errors import ConfigError, DomainError, MissingForecast, StoreError
from shipwindow.forecast.cache import open_cache, open_memory
from shipwindow.forecast.gather import Ages, gather
from shipwindow.forecast.sources.nws import NwsSource
from shipwindow.forecast.sources.pointwise import decimal
from shipwindow.forecast.sources.web import Unreachable

H = timedelta(hours=1)
FRESH = {"Cache-Control": "max-age=600"}


def body(document: Any) -> bytes:
    return json.dumps(document).encode()


def test_the_way_from_place_to_forecast(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    found = open_nws().fetch(place, kit.now)
    assert service.paths() == [kit.point_path, kit.grid_path, kit.alerts_path]
    assert (found.cell, found.source, found.flags, found.distance_km) == ("TST/10,20", "nws", (), 0.0)
    assert_allclose(found.hours(kit.now, kit.now + H).wind_m_s, 5.0, rtol=1e-15)  # one division
    for asked in service.asked:
        assert asked.headers["user-agent"].startswith("shipwindow/")
        assert asked.headers["user-agent"].endswith(" (shop@example.org)")
        assert asked.headers["accept"] == "application/geo+json"


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (40.12346, 4, "40.1235"),
        (40.12346, 3, "40.123"),
        (-90.5, 4, "-90.5"),
        (-90.0, 4, "-90"),
        (40.10004, 4, "40.1"),
        (-0.00001, 3, "0"),
        (100.0, 0, "100"),
    ],
)
def test_coordinates_are_rounded_without_trailing_zeros(value: float, decimals: int, text: str) -> None:
    assert decimal(value, decimals) == text


def test_no_house_is_told_to_the_service(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    house = replace(place, label="Jo Bloggs, 1 High Street", latitude_deg=40.000123, longitude_deg=-90.000321)
    open_nws().fetch(house, kit.now)
    assert service.paths() == [kit.point_path, kit.grid_path, kit.alerts_path]
    assert not any("Bloggs" in str(asked) or "40.0001" in str(asked) for asked in service.asked)
    with pytest.raises(DomainError, match="5 decimals"):
        open_nws(decimals=5)


def test_without_a_contact_nothing_is_asked(service: Any, open_nws: Any) -> None:
    with pytest.raises(ConfigError, match="no contact"):
        open_nws(contact=" ")
    assert service.asked == []


def test_nothing_is_asked_before_the_answer_expires(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    service.says(kit.grid_path, kit.said(body=body(kit.document()), headers=FRESH))
    service.says(kit.alerts_path, kit.said(body=b'{"features": []}', headers=FRESH))
    source = open_nws()
    first = source.fetch(place, kit.now)
    second = source.fetch(place, kit.now + timedelta(seconds=599))
    assert service.paths() == [kit.point_path, kit.grid_path, kit.alerts_path]
    assert_allclose(second.air_C, first.air_C, rtol=0)  # the same bytes
    source.fetch(place, kit.now + timedelta(seconds=601))
    assert service.paths()[3:] == [kit.grid_path, kit.alerts_path]


def test_a_clock_set_back_does_not_make_an_answer_fresh_for_ever(
    service: Any, open_nws: Any, place: Any, kit: Any
) -> None:
    service.says(kit.grid_path, kit.said(body=body(kit.document(issued_at=kit.now - 9 * H)), headers=FRESH))
    source = open_nws()
    source.fetch(place, kit.now)
    source.fetch(place, kit.now - 2 * H)
    assert service.paths().count(kit.grid_path) == 2


def test_conditional_requests_echo_the_stamps_verbatim(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    odd = "Thu, 01 Jan 2037 00:00:00 GMT"  # in the future, as the service has been seen to send
    stamps = {"ETag": 'W/"abc;1"', "Last-Modified": odd, "Cache-Control": "max-age=60"}
    service.says(kit.grid_path, kit.said(body=body(kit.document()), headers=stamps), kit.said(304, headers=FRESH))
    source = open_nws()
    first = source.fetch(place, kit.now)
    second = source.fetch(place, kit.now + 0.1 * H)
    asked = [each for each in service.asked if each.path == kit.grid_path]
    assert "if-none-match" not in asked[0].headers
    assert (asked[1].headers["if-none-match"], asked[1].headers["if-modified-since"]) == ('W/"abc;1"', odd)
    assert_allclose(second.air_C, first.air_C, rtol=0)  # the same bytes
    source.fetch(place, kit.now + 0.2 * H)  # 304 said: fresh for ten minutes more
    assert service.paths().count(kit.grid_path) == 2
    source.fetch(place, kit.now + 0.3 * H)
    last = [each for each in service.asked if each.path == kit.grid_path][-1]
    assert last.headers["if-none-match"] == 'W/"abc;1"'  # kept through the 304


def test_a_304_nobody_asked_for_is_no_forecast(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    service.says(kit.grid_path, kit.said(304))
    with pytest.raises(MissingForecast, match="answer 304"):
        open_nws().fetch(place, kit.now)


def test_relative_redirects_are_followed(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    service.says(kit.point_path, kit.said(301, headers={"Location": "/points/40.0,-90.0"}))
    service.says("/points/40.0,-90.0", kit.point_document(service.address))
    assert open_nws().fetch(place, kit.now).cell == "TST/10,20"


@pytest.mark.parametrize(
    "target",
    [
        "http://169.254.169.254/gridpoints/TST/10,20",
        "https://evil.example/gridpoints/TST/10,20",
        "/gridpoints/TST/10,20",
        "https://api.weather.gov/gridpoints/TST/10,20/../../alerts",
        "https://api.weather.gov/gridpoints/TST/10,20?x=1",
        "https://api.weather.gov/offices/TST",
        "https://api.weather.gov.evil.example/gridpoints/TST/10,20",
        None,
        7,
    ],
)
def test_a_look_up_that_points_elsewhere_is_not_followed(
    service: Any, open_nws: Any, place: Any, kit: Any, target: object
) -> None:
    service.says(kit.point_path, {"properties": {"gridId": "TST", "forecastGridData": target}})
    with pytest.raises(MissingForecast, match="the place look-up pointing to"):
        open_nws().fetch(place, kit.now)
    assert service.paths() == [kit.point_path]


def test_the_official_name_is_asked_on_the_configured_host(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    service.says(kit.point_path, kit.point_document("https://api.weather.gov"))
    assert open_nws().fetch(place, kit.now).cell == "TST/10,20"


@pytest.mark.parametrize(
    ("status", "kind", "read", "do"),
    [
        (403, "Forbidden", "turned us away (403)", "check contact"),
        (404, "InvalidPoint", "no forecast for this place (InvalidPoint)", "folder"),
        (404, "MarineForecastNotSupported", "lies on water", "inland"),
        (400, "BadRequest", "answer 400: the detail", "later"),
    ],
)
def test_a_look_up_refused_is_told_in_plain_words_and_not_repeated(
    service: Any, open_nws: Any, place: Any, kit: Any, status: int, kind: str, read: str, do: str
) -> None:
    service.says(kit.point_path, kit.problem_said(status, kind, "the detail"))
    with pytest.raises(MissingForecast) as told:
        open_nws().fetch(place, kit.now)
    assert read in told.value.read
    assert do in told.value.do
    assert service.paths() == [kit.point_path]


def test_500_then_200_is_mended_silently(
    service: Any, open_nws: Any, place: Any, kit: Any, pauses: list[float]
) -> None:
    service.says(kit.grid_path, kit.problem_said(500, "UnexpectedProblem"), kit.said(body=body(kit.document())))
    assert open_nws().fetch(place, kit.now).flags == ()
    assert len(pauses) == 1


@pytest.mark.parametrize("damage", [b"", b"<html>proxy</html>", b'{"properties": {"upd', b'{"a": NaN}'])
def test_a_damaged_answer_is_asked_for_again(service: Any, open_nws: Any, place: Any, kit: Any, damage: bytes) -> None:
    service.says(kit.grid_path, damage, kit.document())
    assert open_nws().fetch(place, kit.now).flags == ()
    service.says(kit.grid_path, damage)
    with pytest.raises(Unreachable, match="4 tries"):
        open_nws().fetch(place, kit.now)


BROKEN: dict[str, Any] = {
    "500": lambda kit: kit.problem_said(500, "UnexpectedProblem"),
    "503": lambda kit: kit.problem_said(503, "ForecastGridExpired", "issued long ago has expired"),
    "429": lambda kit: kit.said(429, headers={"Retry-After": "3"}),
    "truncated": lambda kit: kit.said(body=body(kit.document())[:900]),
    "web page": lambda kit: kit.said(body=b"<html>sign in</html>"),
    "200 degC": lambda kit: kit.said(body=body(kit.document(air_C=lambda _: 200.0))),
    "no values": lambda kit: kit.said(body=body(kit.document(temperature={"values": []}))),
    "wrong unit": lambda kit: kit.said(
        body=body(kit.document(skyCover=kit.layer([], "x") | {"values": [{"value": 1}]}))
    ),
    "other cell": lambda kit: kit.said(body=body(kit.document(x=11))),
    "future": lambda kit: kit.said(body=body(kit.document(issued_at=kit.now + 90 * H))),
    "403": lambda kit: kit.problem_said(403, "Forbidden"),
}


@pytest.mark.parametrize("fault", BROKEN)
def test_a_failing_grid_without_a_kept_copy_is_no_forecast(
    service: Any, open_nws: Any, place: Any, kit: Any, fault: str
) -> None:
    service.says(kit.grid_path, BROKEN[fault](kit))
    with pytest.raises(MissingForecast) as told:
        open_nws().fetch(place, kit.now)
    assert told.value.read
    assert told.value.do


@pytest.mark.parametrize("fault", BROKEN)
def test_a_failing_grid_falls_back_on_the_last_good_copy_and_says_so(
    service: Any, open_nws: Any, place: Any, kit: Any, fault: str
) -> None:
    source = open_nws()
    good = source.fetch(place, kit.now)
    service.says(kit.grid_path, BROKEN[fault](kit))
    again = source.fetch(place, kit.now + H)
    assert again.flags[0].startswith("last good copy, issued 2026-03-04 14:00Z, because: ")
    assert again.issued_at == good.issued_at
    assert_allclose(again.air_C, good.air_C, rtol=0)  # the same bytes
    with pytest.raises(MissingForecast):
        source.fetch(place, kit.now + 30 * H)  # 31 h after the issue: beyond the 30 h a copy may stand in


def test_fresh_then_failing_then_mended_then_failing_then_expired(
    service: Any, open_nws: Any, place: Any, kit: Any
) -> None:
    source, ages, places = open_nws(), Ages(12.0, 30.0), {"a": place}

    def morning(hours: float) -> Any:
        return gather(places, source, kit.now + hours * H, ages)["a"]

    assert morning(0).flags == ()
    service.says(kit.grid_path, kit.said(503))
    assert [flag.split(",")[0] for flag in morning(2).flags] == ["last good copy"]
    service.says(kit.grid_path, kit.document(issued_at=kit.now + 3 * H))
    assert morning(4).flags == ()
    assert morning(4).issued_at == kit.now + 3 * H
    service.says(kit.grid_path, kit.said(503))
    late = morning(18)
    assert late.issued_at == kit.now + 3 * H
    assert [flag.split(":")[0] for flag in late.flags] == ["last good copy, issued 2026-03-04 18", "stale"]
    assert late.flags[-1] == "stale: 15 h old"
    gone = morning(34)
    assert isinstance(gone, Unreachable)
    assert "503 unavailable" in gone.read


def test_an_older_issue_than_the_one_we_hold_is_not_taken(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    source = open_nws()
    source.fetch(place, kit.now)
    service.says(kit.grid_path, kit.document(issued_at=kit.now - 20 * H))
    found = source.fetch(place, kit.now + H)
    assert found.issued_at == kit.now - H
    assert found.flags == ("the service answered with an older issue (03-03 19:00Z): kept the newer",)


def test_a_moved_grid_is_looked_up_again(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    source = open_nws()
    source.fetch(place, kit.now)
    service.says(kit.grid_path, kit.problem_said(404, "MarineForecastNotSupported", "Marine Forecast Not Supported"))
    service.says(kit.point_path, kit.point_document(service.address, "TST/11,20"))
    service.says("/gridpoints/TST/11,20", kit.document(x=11))
    found = source.fetch(place, kit.now + H)
    assert (found.cell, found.flags) == ("TST/11,20", ("the service moved its grid: cell TST/10,20 is now TST/11,20",))
    assert source.fetch(place, kit.now + 1.01 * H).flags == ()  # the new cell is remembered


def test_a_cell_that_has_become_another_place_is_looked_up_again(
    service: Any, open_nws: Any, place: Any, kit: Any
) -> None:
    source = open_nws()
    source.fetch(place, kit.now)
    service.says(kit.grid_path, kit.document(latitude_deg=41.0, issued_at=kit.now))
    service.says(kit.point_path, kit.point_document(service.address, "TST/10,60"))
    service.says("/gridpoints/TST/10,60", kit.document(y=60))
    found = source.fetch(place, kit.now + H)
    assert found.cell == "TST/10,60"
    assert found.distance_km == 0.0


@pytest.mark.parametrize("kind", ["MarineForecastNotSupported", "NotFound"])
def test_a_cell_that_is_gone_for_good_is_told(service: Any, open_nws: Any, place: Any, kit: Any, kind: str) -> None:
    service.says(kit.grid_path, kit.problem_said(404, kind))
    with pytest.raises(
        MissingForecast, match="lies on water" if kind.startswith("Marine") else "not known to the service"
    ):
        open_nws().fetch(place, kit.now)
    assert service.paths() == [kit.point_path, kit.grid_path]


def test_a_far_cell_is_flagged_or_refused(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    service.says(kit.grid_path, kit.document(latitude_deg=40.1))
    assert open_nws().fetch(place, kit.now).flags == ("the service's cell TST/10,20 lies 10 km from the place",)
    with pytest.raises(MissingForecast, match="lies 10 km away"):
        open_nws(farthest_km=8.0).fetch(place, kit.now)


def test_the_cell_of_a_point_is_believed_for_some_days_only(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    source = open_nws(points_keep_h=72.0)
    for day, looked_up in ((0, 1), (1, 1), (3, 1), (3.1, 2)):
        now = kit.now + timedelta(days=day)
        service.says(kit.grid_path, kit.document(issued_at=now - H))
        source.fetch(place, now)
        assert service.paths().count(kit.point_path) == looked_up


def test_a_failing_look_up_uses_the_old_cell_and_says_so(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    source = open_nws()
    source.fetch(place, kit.now)
    now = kit.now + timedelta(days=5)
    service.says(kit.point_path, kit.said(503))
    service.says(kit.grid_path, kit.document(issued_at=now - H))
    assert source.fetch(place, now).flags == ("place look-up failed: using the cell known since 2026-03-04",)


def test_alerts_are_shown_and_their_loss_does_not_lose_the_forecast(
    service: Any, open_nws: Any, place: Any, kit: Any
) -> None:
    over = kit.alert("Over", ends=(kit.now - H).isoformat())
    service.says(kit.alerts_path, {"features": [kit.alert("Winter Storm Warning"), over]})
    assert [each.event for each in open_nws().fetch(place, kit.now).hazards] == ["Winter Storm Warning"]
    for broken in (
        kit.said(500),
        kit.said(body=b"<html>"),
        kit.said(body=b"{}"),
        kit.problem_said(400, "BadParameter"),
    ):
        service.says(kit.alerts_path, broken)
        found = open_nws().fetch(place, kit.now)
        assert len(found.flags) == 1
        assert found.flags[0].startswith("alerts unavailable: ")
        assert found.hours(kit.now, kit.now + H).air_C.size == 1


def test_clocks_that_differ_are_told(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    service.says(kit.point_path, kit.point_document(service.address, zone="America/New_York"))
    found = open_nws().fetch(place, kit.now)
    assert found.flags == ("clocks differ: the weather service says America/New_York, the place says America/Chicago",)
    for same in ("America/Winnipeg", "Mars/Base", "", "../etc/passwd"):
        service.says(kit.point_path, kit.point_document(service.address, zone=same))
        assert open_nws().fetch(place, kit.now).flags == ()


def test_every_issue_is_kept_and_a_new_run_starts_from_the_cache(
    service: Any, open_nws: Any, place: Any, kit: Any, tmp_path: Any
) -> None:
    cache = open_cache(tmp_path / "forecasts.db")
    for hour in (0, 1, 2):
        service.says(kit.grid_path, kit.document(issued_at=kit.now + hour * H))
        open_nws(cache=cache).fetch(place, kit.now + (hour + 0.1) * H)
    assert [issue.issued_at for issue in cache.history("TST/10,20")] == [kit.now, kit.now + H, kit.now + 2 * H]
    cache.close()
    asked = len(service.asked)
    cache = open_cache(tmp_path / "forecasts.db")
    assert open_nws(cache=cache).fetch(place, kit.now + 2.11 * H).issued_at == kit.now + 2 * H
    assert service.paths()[asked:] == [kit.alerts_path]  # point and grid were still fresh
    cache.close()
    kept = (tmp_path / "forecasts.db").read_bytes()
    assert b"Testville" not in kept
    assert b"shop@example.org" not in kept


def test_a_broken_cache_costs_its_help_and_not_the_forecast(
    service: Any, open_nws: Any, place: Any, kit: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    cache = open_memory()

    def broken(*_: object, **__: object) -> None:
        raise StoreError("forecasts.db: full", "room on the disk", "free some space")

    for name in ("keep", "keep_point", "last_answer", "latest", "point"):
        monkeypatch.setattr(cache, name, broken)
    found = open_nws(cache=cache).fetch(place, kit.now)
    assert found.flags == ("forecast cache unavailable: forecasts.db: full",)
    assert found.air_C.size == 48


def test_many_addresses_in_one_cell_share_one_grid(service: Any, open_nws: Any, place: Any, kit: Any) -> None:
    near = replace(place, latitude_deg=40.004)
    service.says("/points/40.004,-90", kit.point_document(service.address))
    service.says("/alerts/active?point=40.004,-90", {"features": []})
    source = open_nws()
    found = gather({"a": place, "b": near, "c": place}, source, kit.now, Ages())
    assert [each.cell for each in found.values()] == ["TST/10,20"] * 3  # type: ignore[union-attr]
    assert service.paths().count(kit.grid_path) == 1
    assert service.paths().count(kit.point_path) == 1


def test_a_service_that_is_not_there(service: Any, place: Any, kit: Any, pauses: list[float]) -> None:
    service.close()
    source = NwsSource("shop@example.org", service.address, timeout_s=1.0, sleep=pauses.append)
    with pytest.raises(Unreachable, match=r"connection failed.*\(4 tries\)"):
        source.fetch(place, kit.now)
    source.close()
    assert len(pauses) == 3
