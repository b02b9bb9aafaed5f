"""Sources of forecasts. ``open_source`` gives the one the shop has chosen; nothing heavy loads before."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from shipwindow.errors import ConfigError

if TYPE_CHECKING:
    from shipwindow.forecast.cache import ForecastCache
    from shipwindow.forecast.grid import ForecastSource
    from shipwindow.forecast.sources.auto import PayloadSource
    from shipwindow.settings.models import ForecastChoice

# Half the diagonal of a global model's cell of a quarter of a degree. [km] Status: engineering choice.
COARSE_CELL_KM = 20.0


def open_source(
    choice: ForecastChoice, contact: str, folder_override: Path | None = None, store_path: Path | None = None
) -> ForecastSource:
    """Open the source of the ``[forecast]`` settings; a folder given on the command line goes first.

    ``store_path`` is the database of the forecast cache; without it the cache lives in memory only. The
    folder in the settings is taken as it stands: whoever read the shop folder makes it absolute.
    """
    if folder_override is not None or choice.source == "files":
        from shipwindow.forecast.sources.files import FilesSource

        if folder_override is None and not choice.folder:
            raise ConfigError(
                'source = "files" without a folder',
                "a folder of saved forecasts",
                'set folder = "..." under [forecast]',
            )
        folder = folder_override if folder_override is not None else Path(choice.folder or "")
        return FilesSource(folder, choice.farthest_km)
    from shipwindow.forecast.cache import open_cache

    cache = open_cache(store_path) if store_path is not None else None
    if choice.source != "auto":
        return _open(choice.source, choice, contact, cache)
    from shipwindow.forecast.sources.auto import AutoSource

    # Nothing is asked of an address the shop has not given.
    wanted = ("nws", "met", "openmeteo") if choice.openmeteo_address else ("nws", "met")
    return AutoSource({name: _open(name, choice, contact, cache) for name in wanted}, choice.stale_h, choice.too_old_h)


def _open(name: str, choice: ForecastChoice, contact: str, cache: ForecastCache | None) -> PayloadSource:
    """Open one service."""
    timeout_s, fallback_h, farthest_km = choice.timeout_h * 3600.0, choice.too_old_h, choice.farthest_km
    if name == "met":
        from shipwindow.forecast.sources.met import MetSource

        return MetSource(
            contact,
            choice.met_address,
            cache=cache,
            timeout_s=timeout_s,
            fallback_h=fallback_h,
            farthest_km=farthest_km,
        )
    if name == "openmeteo":
        from shipwindow.forecast.sources.openmeteo import OpenMeteoSource

        return OpenMeteoSource(
            contact,
            choice.openmeteo_address,
            key=choice.openmeteo_key.get_secret_value(),
            models=choice.openmeteo_models,
            cache=cache,
            timeout_s=timeout_s,
            fallback_h=fallback_h,
            farthest_km=max(farthest_km, COARSE_CELL_KM),
        )
    from shipwindow.forecast.sources.nws import NwsSource

    return NwsSource(
        contact,
        choice.address,
        cache=cache,
        timeout_s=timeout_s,
        fallback_h=fallback_h,
        farthest_km=farthest_km,
    )
