"""Sources of forecasts. ``open_source`` gives the one the shop has chosen; nothing heavy loads before."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from shipwindow.errors import ConfigError

if TYPE_CHECKING:
    from shipwindow.forecast.grid import ForecastSource
    from shipwindow.settings.models import ForecastChoice


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
    from shipwindow.forecast.sources.nws import NwsSource

    return NwsSource(
        contact,
        choice.address,
        cache=open_cache(store_path) if store_path is not None else None,
        timeout_s=choice.timeout_h * 3600.0,
        fallback_h=choice.too_old_h,
        farthest_km=choice.farthest_km,
    )
