"""Read warnings: the collection of active alerts, and the hazards layer of a grid.

For: turning either into ``Hazard`` records, cleaned for a terminal and a page. A warning never changes a
number here; it is shown. Must not know: where the payload came from. Neighbours: ``gridpoint``, ``nws``,
``files``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from shipwindow.errors import MissingForecast
from shipwindow.forecast.grid import Hazard
from shipwindow.forecast.sources.reading import bad, short
from shipwindow.forecast.sources.series import instant, interval

MOST_ALERTS = 200

# P-VTEC codes, NWS Directive 10-1703. Status: from memory; an unknown code is shown as it stands.
_PHENOMENA = {
    "AQ": "Air Quality",
    "AS": "Air Stagnation",
    "BZ": "Blizzard",
    "CF": "Coastal Flood",
    "CW": "Cold Weather",
    "DS": "Dust Storm",
    "DU": "Blowing Dust",
    "EC": "Extreme Cold",
    "EH": "Excessive Heat",
    "EW": "Extreme Wind",
    "FA": "Areal Flood",
    "FF": "Flash Flood",
    "FG": "Dense Fog",
    "FL": "Flood",
    "FR": "Frost",
    "FW": "Fire Weather",
    "FZ": "Freeze",
    "HF": "Hurricane Force Wind",
    "HT": "Heat",
    "HU": "Hurricane",
    "HW": "High Wind",
    "HZ": "Hard Freeze",
    "IS": "Ice Storm",
    "LE": "Lake Effect Snow",
    "LW": "Lake Wind",
    "SQ": "Snow Squall",
    "SV": "Severe Thunderstorm",
    "TO": "Tornado",
    "TR": "Tropical Storm",
    "WC": "Wind Chill",
    "WI": "Wind",
    "WS": "Winter Storm",
    "WW": "Winter Weather",
    "XH": "Extreme Heat",
    "ZF": "Freezing Fog",
    "ZR": "Freezing Rain",
}
_SIGNIFICANCE = {"W": "Warning", "A": "Watch", "Y": "Advisory", "S": "Statement", "F": "Forecast", "O": "Outlook"}


def clean(text: object, most: int) -> str:
    """Make foreign text one printable line of at most ``most`` characters."""
    if not isinstance(text, str):
        return ""
    line = " ".join("".join(letter if letter.isprintable() else " " for letter in text[: 8 * most]).split())
    return line if len(line) <= most else line[: most - 1] + "…"


def hazard_layer(values: Iterable[Mapping[str, Any]]) -> tuple[Hazard, ...]:
    """Read the hazards layer of a grid: lists of codes over intervals; runs of one hazard become one."""
    runs: dict[str, list[tuple[datetime, datetime]]] = {}
    for entry in values:
        items = entry.get("value")
        if not isinstance(items, list) or not items:
            continue
        start_at, end_at = interval(entry.get("validTime"), "hazards for")
        for item in items:
            if not isinstance(item, Mapping):
                raise bad(f"hazards: {short(item)}", "a phenomenon with its significance")
            phenomenon, significance = clean(item.get("phenomenon"), 8), clean(item.get("significance"), 8)
            if phenomenon:
                words = (_PHENOMENA.get(phenomenon, phenomenon), _SIGNIFICANCE.get(significance, significance))
                runs.setdefault(" ".join(words).strip(), []).append((start_at, end_at))
    found: list[Hazard] = []
    for event, spans in runs.items():
        joined: list[tuple[datetime, datetime]] = []
        for start_at, end_at in sorted(spans):
            if joined and start_at <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(joined[-1][1], end_at))
            else:
                joined.append((start_at, end_at))
        found.extend(Hazard(event, start_at, end_at) for start_at, end_at in joined)
    return tuple(sorted(found, key=_order))


def read_alerts(document: Mapping[str, Any]) -> tuple[Hazard, ...]:
    """Read a collection of alerts: only actual ones, not cancelled; they end at ``ends``, else at ``expires``."""
    features = document.get("features")
    if not isinstance(features, list):
        raise bad(f"alerts: {short(features)}", "a list of alerts")
    found: list[Hazard] = []
    for feature in features[:MOST_ALERTS]:
        properties = feature.get("properties") if isinstance(feature, Mapping) else None
        if not isinstance(properties, Mapping):
            raise bad(f"an alert {short(feature)}", "an alert with its properties")
        if properties.get("status") != "Actual" or properties.get("messageType") == "Cancel":
            continue
        found.append(
            Hazard(
                event=clean(properties.get("event"), 80) or "unnamed warning",
                start_at=_optional(properties.get("onset") or properties.get("effective")),
                end_at=_optional(properties.get("ends") or properties.get("expires")),
                severity=clean(properties.get("severity"), 20),
                headline=clean(properties.get("headline"), 240),
            )
        )
    return tuple(sorted(set(found), key=_order))


def merge(alerts: Iterable[Hazard], layer: Iterable[Hazard]) -> tuple[Hazard, ...]:
    """Put alerts first and add what only the grid's own layer knows."""
    first = tuple(alerts)
    known = {hazard.event.casefold() for hazard in first}
    return (*first, *(hazard for hazard in layer if hazard.event.casefold() not in known))


def _optional(text: object) -> datetime | None:
    # A warning with an unreadable time is still a warning.
    try:
        return instant(text, "alert") if text is not None else None
    except MissingForecast:
        return None


def _order(hazard: Hazard) -> tuple[float, str, float]:
    start_s = hazard.start_at.timestamp() if hazard.start_at is not None else 0.0
    end_s = hazard.end_at.timestamp() if hazard.end_at is not None else float("inf")
    return start_s, hazard.event, end_s
