"""A folder of saved payloads as a source, and the saving."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from numpy.testing import assert_allclose

from shipwindow.errors import MissingForecast, StoreError
from shipwindow.forecast.sources.files import FilesSource, Payload, save_payload
from shipwindow.forecast.sources.gridpoint import parse_gridpoint
from shipwindow.places import Place

H = timedelta(hours=1)
NO_ALERTS = "alerts unavailable: none saved beside the forecast"


def put(folder: Path, name: str, document: Any) -> Path:
    path = folder / name
    path.write_text(document if isinstance(document, str) else json.dumps(document))
    return path


def test_the_cell_that_contains_the_place_goes_before_a_newer_neighbour(tmp_path: Path, place: Any, kit: Any) -> None:
    put(tmp_path, "near.json", kit.document(x=11, longitude_deg=-89.97, issued_at=kit.now))
    put(tmp_path, "here.json", kit.document())
    found = FilesSource(tmp_path, 5.0).fetch(place, kit.now)
    assert (found.cell, found.source, found.distance_km, found.flags) == ("TST/10,20", "files", 0.0, (NO_ALERTS,))


def test_the_nearest_cell_within_the_distance(tmp_path: Path, place: Any, kit: Any) -> None:
    put(tmp_path, "a.json", kit.document(x=11, latitude_deg=40.045))
    put(tmp_path, "b.json", kit.document(x=12, latitude_deg=40.09))
    found = FilesSource(tmp_path, 5.0).fetch(place, kit.now)
    assert found.cell == "TST/11,20"
    assert found.flags == ("nearest saved cell, 3.7 km away", NO_ALERTS)
    with pytest.raises(MissingForecast) as told:
        FilesSource(tmp_path, 3.0).fetch(place, kit.now)
    assert told.value.read == f"no saved forecast for Testville among 2 in {tmp_path.name}, the nearest 4 km away"
    assert told.value.expected == "a cell that contains the place or lies within 3 km"


def test_the_newest_issue_not_after_now(tmp_path: Path, place: Any, kit: Any) -> None:
    for hour in (-30, -7, -1, 5):
        put(tmp_path, f"{hour}.json", kit.document(issued_at=kit.now + hour * H))
    source = FilesSource(tmp_path, 5.0)
    for now_h, issued_h in ((0, -1), (-2, -7), (-7, -7), (6, 5), (900, 5)):
        assert source.fetch(place, kit.now + now_h * H).issued_at == kit.now + issued_h * H
    with pytest.raises(MissingForecast) as told:
        source.fetch(place, kit.now - 40 * H)
    assert told.value.read == (
        "saved forecasts for Testville, all made after now (2026-03-02 23:00 UTC), the first at 2026-03-03 09:00Z"
    )
    assert "--now" in told.value.do


def test_an_issue_within_the_slack_of_clocks_is_a_last_resort(tmp_path: Path, place: Any, kit: Any) -> None:
    put(tmp_path, "soon.json", kit.document(issued_at=kit.now + 0.5 * H))
    source = FilesSource(tmp_path, 5.0)
    assert source.fetch(place, kit.now).issued_at == kit.now + 0.5 * H
    put(tmp_path, "before.json", kit.document(issued_at=kit.now - 3 * H))
    assert source.fetch(place, kit.now).issued_at == kit.now - 3 * H


def test_bad_files_are_named_and_passed_over(tmp_path: Path, place: Any, kit: Any) -> None:
    put(tmp_path, "good.json", kit.document())
    put(tmp_path, "cut.json", json.dumps(kit.document())[:500])
    put(tmp_path, "page.json", "<html></html>")
    put(tmp_path, "hot.json", kit.document(air_C=lambda _: 200.0))
    put(tmp_path, "empty.json", "")
    put(tmp_path, "list.json", "[]")
    put(tmp_path, "points_40,-90.json", kit.point_document("https://api.weather.gov"))
    put(tmp_path, "alerts_x.json", {"type": "FeatureCollection", "features": []})
    put(tmp_path, "notes.txt", "not looked at")
    (tmp_path / "folder.json").mkdir()
    source = FilesSource(tmp_path, 5.0)
    assert source.fetch(place, kit.now).cell == "TST/10,20"
    assert [problem.split(":")[0] for problem in source.problems] == [
        "cut.json",
        "empty.json",
        "hot.json",
        "list.json",
        "page.json",
    ]
    assert "expected -60 to 55 °C" in source.problems[2]
    with pytest.raises(MissingForecast, match=r"not usable there: cut\.json: .* and 4 more"):
        source.fetch(Place("elsewhere", 10.0, 10.0, "UTC"), kit.now)


def test_a_file_that_may_not_be_read_is_named(
    tmp_path: Path, place: Any, kit: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    shut = put(tmp_path, "shut.json", kit.document())
    put(tmp_path, "open.json", kit.document(issued_at=kit.now - 2 * H))
    read_bytes = Path.read_bytes

    def guarded(path: Path) -> bytes:
        if path == shut:  # refused by hand: a superuser running the tests may read anything
            raise PermissionError(13, "Permission denied")
        return read_bytes(path)

    monkeypatch.setattr(Path, "read_bytes", guarded)
    source = FilesSource(tmp_path, 5.0)
    assert source.problems == ("shut.json: cannot be read: Permission denied",)
    assert source.fetch(place, kit.now).issued_at == kit.now - 2 * H


def test_files_that_come_change_and_go_are_noticed(tmp_path: Path, place: Any, kit: Any) -> None:
    source = FilesSource(tmp_path, 5.0)
    with pytest.raises(MissingForecast, match="among 0 in"):
        source.fetch(place, kit.now)
    path = put(tmp_path, "a.json", "broken")
    assert [problem.partition(":")[0] for problem in source.problems] == ["a.json"]
    put(tmp_path, "a.json", kit.document())
    assert not source.problems
    assert source.fetch(place, kit.now).cell == "TST/10,20"
    path.unlink()
    with pytest.raises(MissingForecast, match="no saved forecast"):
        source.fetch(place, kit.now)


def test_no_folder_is_told(tmp_path: Path, place: Any, kit: Any) -> None:
    with pytest.raises(MissingForecast, match="no folder") as told:
        FilesSource(tmp_path / "nowhere", 5.0).fetch(place, kit.now)
    assert "--forecasts" in told.value.do


def test_alerts_beside_the_grid(tmp_path: Path, place: Any, kit: Any) -> None:
    put(tmp_path, "gridpoint_TST.json", kit.document())
    over = kit.alert("Over", ends=(kit.now - H).isoformat())
    put(tmp_path, "alerts_TST.json", {"features": [kit.alert("Blizzard Warning"), over]})
    found = FilesSource(tmp_path, 5.0).fetch(place, kit.now)
    assert ([each.event for each in found.hazards], found.flags) == (["Blizzard Warning"], ())
    put(tmp_path, "alerts_TST.json", "<html>")
    found = FilesSource(tmp_path, 5.0).fetch(place, kit.now)
    assert found.flags == ("alerts unavailable: alerts_TST.json: the alerts: a web page instead of data",)


def test_the_saved_form_is_the_read_form(tmp_path: Path, place: Any, kit: Any) -> None:
    body = json.dumps(kit.document()).encode()
    alerts = json.dumps({"features": [kit.alert("Blizzard Warning")]}).encode()
    payload = Payload("TST/10,20", kit.now - H, body, alerts, parse_gridpoint(body))
    path = save_payload(tmp_path / "new", payload)
    assert path.name == "gridpoint_TST_10-20_20260304T140000Z.json"
    assert save_payload(tmp_path / "new", payload) == path
    assert sorted(each.name for each in path.parent.iterdir()) == [
        "alerts_TST_10-20_20260304T140000Z.json",
        "gridpoint_TST_10-20_20260304T140000Z.json",
    ]
    again = FilesSource(path.parent, 5.0).fetch_payload(place, kit.now)
    assert (again.body, again.alerts, again.cell, again.issued_at) == (body, alerts, payload.cell, payload.issued_at)
    assert_allclose(again.forecast.air_C, payload.forecast.air_C, rtol=0)  # the same bytes
    assert [each.event for each in again.forecast.hazards] == ["Blizzard Warning"]
    save_payload(tmp_path / "third", again)
    assert (tmp_path / "third" / path.name).read_bytes() == body


def test_what_the_service_gave_can_be_saved_and_read_back(
    tmp_path: Path, service: Any, open_nws: Any, place: Any, kit: Any
) -> None:
    service.says(kit.alerts_path, {"features": [kit.alert("Flood Watch")]})
    fetched = open_nws().fetch_payload(place, kit.now)
    save_payload(tmp_path, fetched)
    read = FilesSource(tmp_path, 5.0).fetch(place, kit.now)
    for layer in ("air_C", "wind_m_s", "sky_frac", "humidity_frac", "gust_m_s", "wet_frac"):
        assert_allclose(getattr(read, layer), getattr(fetched.forecast, layer), rtol=0)  # the same bytes
    assert replace(read, source="nws").hazards == fetched.forecast.hazards


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path, kit: Any) -> None:
    (tmp_path / "file").write_text("in the way")
    body = json.dumps(kit.document()).encode()
    with pytest.raises(StoreError, match="file"):
        save_payload(tmp_path / "file" / "x", Payload("TST/10,20", kit.now, body, None, parse_gridpoint(body)))
