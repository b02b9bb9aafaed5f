"""The weather of one run: where it comes from, every place once, what was unusable, whom to credit.

For: ``run``, ``acceptance`` and the commands that show forecasts. Must not know: orders, verdicts, how a source works.
Neighbours: ``forecast.sources`` (opens), ``forecast.gather`` (fetches).
"""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path

from shipwindow.errors import ConfigError, ForecastError, MissingForecast
from shipwindow.forecast.gather import gather
from shipwindow.forecast.grid import Forecast, ForecastSource
from shipwindow.forecast.sources import opened_source
from shipwindow.places import Place
from shipwindow.settings import Shop
from shipwindow.settings.models import Settings

log = logging.getLogger(__name__)

Source = ForecastSource | Mapping[Place, Forecast | ForecastError]
Forecasts = Source | Path | str | None
Progress = Callable[[str, int, int], None]


@contextlib.contextmanager
def opened_forecasts(shop: Shop, forecasts: Forecasts) -> Iterator[Source]:
    """Open what is asked for: a folder of saved payloads, the shop's own choice, or something given ready-made.

    What was opened here is closed again; what was given is left as it is.
    """
    if not isinstance(forecasts, Path | str | None):
        yield forecasts
        return
    with _opened(shop, forecasts) as source:
        yield source


def _opened(shop: Shop, forecasts: Path | str | None) -> contextlib.AbstractContextManager[ForecastSource]:
    choice = shop.settings.shop.forecast
    if forecasts is None:
        if choice.folder and shop.folder is not None:
            choice = choice.model_copy(update={"folder": str(shop.folder / choice.folder)})
        store = shop.folder / choice.cache if shop.folder is not None else None
        return opened_source(choice, shop.settings.shop.shop.contact, store_path=store)
    folder = Path(forecasts)
    if not folder.is_dir():
        raise ConfigError(f"no folder {folder}", "a folder of saved forecasts", "check the path given to --forecasts")
    return opened_source(choice, shop.settings.shop.shop.contact, folder_override=folder)


def fetch(
    settings: Settings,
    places: Sequence[Place],
    source: Source,
    now: datetime,
    progress: Progress | None = None,
) -> dict[Place, Forecast | ForecastError]:
    """Fetch every place once; a place without a forecast keeps the reason in its stead."""
    wanted = {place: place for place in places}
    if isinstance(source, Mapping):
        return {place: source.get(place) or not_asked(place) for place in wanted}
    done = 0

    def count(_place: Place, found: Forecast | ForecastError) -> None:
        nonlocal done
        done += 1
        outcome = type(found).__name__ if isinstance(found, ForecastError) else f"age_h={found.age_h(now):.1f}"
        log.info("forecast.fetched source=%s outcome=%s", source.name, outcome)
        if progress is not None:
            progress("forecasts", done, len(wanted))

    return gather(wanted, source, now, settings.shop.forecast, on_done=count)


def unusable(source: object) -> tuple[str, ...]:
    """Name the saved forecasts that could not be used; other sources have none."""
    if not isinstance(getattr(source, "problems", None), tuple):
        return ()
    try:
        return tuple(source.problems)  # type: ignore[attr-defined]
    except ForecastError as error:
        return (error.read,)


def not_asked(place: Place) -> MissingForecast:
    """Give the reason for a place nobody handed a forecast in for."""
    return MissingForecast(f"no forecast for {place.label}", "one for every place on the way", "hand one in")


def credits_of(weather: Iterable[Forecast | ForecastError]) -> tuple[str, ...]:
    """Name the makers of the forecasts used."""
    found = [one.attribution for one in weather if isinstance(one, Forecast) and one.attribution]
    return tuple(dict.fromkeys(found))
