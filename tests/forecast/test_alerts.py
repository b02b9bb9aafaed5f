"""Warnings: which count, what they say, and that they are fit to print."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from shipwindow.errors import MissingForecast
from shipwindow.forecast.grid import Hazard
from shipwindow.forecast.sources.alerts import clean, hazard_layer, merge, read_alerts


def collection(*features: object) -> dict[str, Any]:
    return {"type": "FeatureCollection", "features": list(features)}


def test_only_actual_and_standing_alerts_count_and_they_end_at_ends(kit: Any) -> None:
    found = read_alerts(
        collection(
            kit.alert("Extreme Heat Warning"),
            kit.alert("Test Message", status="Test"),
            kit.alert("Drill", status="Exercise"),
            kit.alert("Old News", messageType="Cancel"),
            kit.alert("Winter Storm Watch", ends=None, messageType="Update"),
            kit.alert("Extreme Heat Warning"),
        )
    )
    hour = timedelta(hours=1)
    assert [(each.event, each.start_at, each.end_at) for each in found] == [
        ("Extreme Heat Warning", kit.now, kit.now + 9 * hour),
        ("Winter Storm Watch", kit.now, kit.now + 3 * hour),
    ]
    assert found[0].severity == "Severe"
    assert found[0].headline == "Extreme Heat Warning until tonight"


def test_no_alerts_is_the_ordinary_case() -> None:
    assert read_alerts(collection()) == ()


def test_an_alert_with_unreadable_times_is_still_an_alert(kit: Any) -> None:
    found = read_alerts(collection(kit.alert("Flood Watch", onset="soon", ends=7, expires=None)))
    assert found == (Hazard("Flood Watch", None, None, "Severe", "Flood Watch until tonight"),)


def test_foreign_text_is_made_fit_to_print(kit: Any) -> None:
    event = "Flood\x1b[31m\nWatch\u202e\t" + "!" * 500
    found = read_alerts(collection(kit.alert(event, headline=None, severity=[1])))[0]
    assert found.event.startswith("Flood [31m Watch !!!")
    assert found.event.isprintable()
    assert len(found.event) == 80
    assert (found.headline, found.severity) == ("", "")
    assert read_alerts(collection(kit.alert("")))[0].event == "unnamed warning"
    assert clean(None, 10) == ""


@pytest.mark.parametrize("document", [{}, {"features": None}, {"features": [3]}, {"features": [{"properties": []}]}])
def test_what_is_no_collection_is_refused(document: dict[str, Any]) -> None:
    with pytest.raises(MissingForecast, match="alert"):
        read_alerts(document)


def test_an_unknown_code_is_shown_as_it_stands() -> None:
    entry = {"validTime": "2026-03-04T15:00:00Z/PT1H", "value": [{"phenomenon": "QX", "significance": "Z"}]}
    assert [each.event for each in hazard_layer([entry])] == ["QX Z"]


def test_runs_with_a_break_stay_two() -> None:
    code = [{"phenomenon": "HT", "significance": "Y"}]
    entries = [
        {"validTime": "2026-03-04T15:00:00Z/PT2H", "value": code},
        {"validTime": "2026-03-04T20:00:00Z/PT2H", "value": code},
        {"validTime": "2026-03-04T16:00:00Z/PT2H", "value": code},
    ]
    found = hazard_layer(entries)
    assert [(each.start_at.hour, each.end_at.hour) for each in found if each.start_at and each.end_at] == [
        (15, 18),
        (20, 22),
    ]


def test_the_grid_adds_only_what_the_alerts_do_not_say() -> None:
    alerts = (Hazard("Heat Advisory", None, None, "Moderate", "Hot"),)
    layer = (Hazard("heat advisory", None, None), Hazard("Wind Advisory", None, None))
    assert merge(alerts, layer) == (alerts[0], layer[1])
