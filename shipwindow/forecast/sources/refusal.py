"""What the US National Weather Service means when it says no.

For: turning its problem documents into our errors. Must not know: how anything was asked.
Neighbours: ``nws`` (its user), ``web`` (the reply).

Statuses and problem types: NWS API documentation and the issue threads of github.com/weather-gov/api. Status: source.
"""

from __future__ import annotations

from shipwindow.errors import MissingForecast
from shipwindow.forecast.sources.alerts import clean
from shipwindow.forecast.sources.reading import load_json
from shipwindow.forecast.sources.web import Reply


def _problem(reply: Reply) -> tuple[str, str]:
    """Read the service's problem document: its type and what it says, cleaned."""
    try:
        document = load_json(reply.body)
    except MissingForecast:
        return "", ""
    kind = clean(document.get("type"), 200).rsplit("/", 1)[-1]
    return kind, clean(document.get("detail") or document.get("title"), 160)


def is_marine(reply: Reply) -> bool:
    """Say whether an answer complains of a cell on water."""
    kind, detail = _problem(reply)
    return "marine" in f"{kind} {detail}".lower()


def refusal(reply: Reply, what: str) -> MissingForecast:
    """Put an answer that is no forecast into words, with what the seller can do."""
    kind, detail = _problem(reply)
    if reply.status == 403:
        return MissingForecast(
            f"{what}: the weather service turned us away (403)",
            "a service that accepts our identity and contact",
            "check contact under [shop] in shop.toml",
        )
    if reply.status == 404 and is_marine(reply):
        return MissingForecast(
            f"{what}: the place lies on water",
            "a place on land",
            'give the place as "lat,lon" of a spot a little inland',
        )
    if reply.status == 404:
        return MissingForecast(
            f"{what}: the weather service has no forecast for this place ({kind or 404})",
            "a place in the United States or its territories",
            "check the place; elsewhere, put saved forecasts in a folder",
        )
    said = f": {detail}" if detail else ""
    return MissingForecast(f"{what}: answer {reply.status}{said}", "answer 200", "run again later")
