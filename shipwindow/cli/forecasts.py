"""``shipwindow forecasts``: save what the weather service gives, show what a forecast holds.

For: taking the morning's weather along, and looking at it. Must not know: payloads, orders' verdicts.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from shipwindow.cli.common import (
    EXIT_INCOMPLETE,
    ForecastsOption,
    JsonOption,
    NowOption,
    ProgressLine,
    ShopOption,
    product,
    read_now,
    say,
    show,
    show_json,
)

if TYPE_CHECKING:
    from rich.console import Console

    from shipwindow.forecast.grid import Forecast
    from shipwindow.places import Place
    from shipwindow.settings import Shop

app = typer.Typer(help="Save and show forecasts.", no_args_is_help=True, rich_markup_mode=None)
PlacesArgument = Annotated[list[str] | None, typer.Argument(metavar="PLACE", help="Further places.")]


def _places(shop: Shop, orders: Path | None, more: list[str]) -> list[Place]:
    from shipwindow.advisory.run import hub_place, origin_of
    from shipwindow.desk import read_orders
    from shipwindow.places import find_place

    settings = shop.settings
    found = [origin_of(settings), *(hub_place(settings, name) for name in settings.lanes.hub)]
    found += [find_place(text) for text in more]
    if orders is not None:
        book = read_orders(orders, settings)
        found += [order.destination for order in book.orders]
        for problem in book.problems:
            say(f"orders file, not covered: {problem}")
    return list(dict.fromkeys(found))


@app.command("save")
def _save(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the payloads go.")],
    shop: ShopOption,
    places: PlacesArgument = None,
    orders: Annotated[Path | None, typer.Option("--orders", metavar="FILE.csv", help="Also its destinations.")] = None,
    now: NowOption = None,
) -> None:
    """Save the forecasts of your shop, your hubs, the orders' destinations and further places, as they came."""
    at = read_now(now)
    from shipwindow.advisory.weather import opened_forecasts
    from shipwindow.errors import ConfigError, ForecastError
    from shipwindow.forecast.sources.files import save_payload
    from shipwindow.settings import load_shop

    opened = load_shop(shop)
    wanted = _places(opened, orders, places or [])
    failed = 0
    with opened_forecasts(opened, None) as source, ProgressLine() as progress:
        fetch: Any = getattr(source, "fetch_payload", None)
        if fetch is None:
            raise ConfigError("this source", "one whose payloads can be saved", 'set source = "nws"')
        for done, place in enumerate(wanted, 1):
            try:
                saved = save_payload(folder, fetch(place, at))
                with product():
                    print(saved)
            except ForecastError as error:
                failed += 1
                say(f"{place.label}: {error}")
            progress("forecasts", done, len(wanted))
    if failed:
        raise typer.Exit(EXIT_INCOMPLETE)


@app.command("show")
def _show(
    shop: ShopOption,
    places: PlacesArgument = None,
    forecasts: ForecastsOption = None,
    now: NowOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show the forecast of your shop, your hubs and further places: source, age, gaps, and each day's range."""
    at = read_now(now)
    from shipwindow.advisory.weather import fetch, opened_forecasts, unusable
    from shipwindow.errors import ForecastError
    from shipwindow.settings import load_shop

    opened = load_shop(shop)
    wanted = _places(opened, None, places or [])
    with opened_forecasts(opened, forecasts) as source, ProgressLine() as progress:
        found = fetch(opened.settings, wanted, source, at, progress)
        problems = unusable(source)
    if as_json:
        records = [_as_record(place, one, at) for place, one in found.items()]
        show_json(json.dumps(records, indent=2, ensure_ascii=False))
    else:
        scale = opened.settings.shop.show.temperature

        def draw(console: Console) -> None:
            for place, one in found.items():
                _print(console, place, one, at, scale)

        show(draw)
    for problem in problems:
        say(f"saved forecast not used: {problem}")
    if any(isinstance(one, ForecastError) for one in found.values()):
        raise typer.Exit(EXIT_INCOMPLETE)


def _as_record(place: Place, found: Forecast | Exception, now: datetime) -> dict[str, Any]:
    from shipwindow.errors import ForecastError

    if isinstance(found, ForecastError):
        return {
            "place": place.label,
            "usable": False,
            "read": found.read,
            "expected": found.expected,
            "do": found.do,
        }
    from shipwindow.forecast.grid import Forecast

    if not isinstance(found, Forecast):
        raise TypeError(f"{type(found).__name__} is neither a forecast nor the reason for its lack")

    def numbers(layer: Iterable[float]) -> list[float | None]:
        return [round(float(value), 3) if math.isfinite(value) else None for value in layer]

    return {
        "place": place.label,
        "zone": place.zone,
        "usable": True,
        "source": found.source,
        "cell": found.cell,
        "issued_at": found.issued_at.isoformat(),
        "age_h": round(found.age_h(now), 2),
        "flags": list(found.flags),
        "hazards": [hazard.event for hazard in found.hazards],
        "attribution": found.attribution,
        "start_at": found.start_at.isoformat(),
        "air_C": numbers(found.air_C),
        "wind_m_s": numbers(found.wind_m_s),
        "sky_frac": numbers(found.sky_frac),
        "wet_frac": numbers(found.wet_frac),
    }


def _print(console: Console, place: Place, found: Forecast | Exception, now: datetime, scale: str) -> None:
    from rich.table import Table

    from shipwindow.forecast.grid import Forecast

    if not isinstance(found, Forecast):
        console.print(f"{place.label}: no forecast. {found}\n")
        return
    console.print(
        f"{place.label} ({place.zone}): {found.source}, cell {found.cell}, issued {found.issued_at:%Y-%m-%d %H:%M}Z, "
        f"{found.age_h(now):.0f} h old"
    )
    for text in (*found.flags, *(f"warning in force: {hazard.event}" for hazard in found.hazards)):
        console.print(f"  {text}")
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="dim")
    for name in ("  day", "coldest", "warmest", "wind up to", "sky covered", "hours", "gaps"):
        table.add_column(name)
    for row in _days(place, found, scale):
        table.add_row(*row)
    console.print(table)
    if found.attribution:
        console.print(f"  {found.attribution}")
    console.print()


def _days(place: Place, found: Forecast, scale: str) -> list[tuple[str, ...]]:
    """Gather the hours into the place's own days."""
    from datetime import timedelta
    from zoneinfo import ZoneInfo

    import numpy as np

    from shipwindow import units

    zone = ZoneInfo(place.zone)
    days: dict[Any, list[int]] = {}
    for hour in range(found.air_C.size):
        days.setdefault((found.start_at + timedelta(hours=hour)).astimezone(zone).date(), []).append(hour)
    rows: list[tuple[str, ...]] = []
    for day, hours in days.items():
        air, wind, sky = (layer[hours] for layer in (found.air_C, found.wind_m_s, found.sky_frac))
        seen = np.isfinite(air)
        gaps = int(np.sum(~(seen & np.isfinite(wind) & np.isfinite(sky))))

        def at(pick: int, hours: list[int] = hours) -> str:
            return f"{(found.start_at + timedelta(hours=hours[pick])).astimezone(zone):%H:%M}"

        cold = (
            f"{units.show_temperature(float(np.nanmin(air)), scale)} at {at(int(np.nanargmin(air)))}"
            if seen.any()
            else "-"
        )
        warm = (
            f"{units.show_temperature(float(np.nanmax(air)), scale)} at {at(int(np.nanargmax(air)))}"
            if seen.any()
            else "-"
        )
        windy = f"{np.nanmax(wind):.0f} m/s" if np.isfinite(wind).any() else "-"
        cover = f"{np.nanmean(sky) * 100:.0f} %" if np.isfinite(sky).any() else "-"
        rows.append((f"  {day:%a %d %b}", cold, warm, windy, cover, str(len(hours)), str(gaps) if gaps else ""))
    return rows
