"""Hourly histories of weather at stations: the climate beside the forecast.

``open_library`` gives the stations (a shop's own folder and those that travel with the program), ``Library.nearest``
the one that may stand for a place, ``as_forecast`` a stretch of it as the record that ``trip`` and ``decide`` read.
Loading this loads nothing heavy.
"""

from __future__ import annotations

from shipwindow.forecast.histories.library import Library, Nearby, NotCovered, open_library
from shipwindow.forecast.histories.reading import read_history
from shipwindow.forecast.histories.replay import as_forecast
from shipwindow.forecast.histories.series import History, Kind, Station

__all__ = [
    "History",
    "Kind",
    "Library",
    "Nearby",
    "NotCovered",
    "Station",
    "as_forecast",
    "open_library",
    "read_history",
]
