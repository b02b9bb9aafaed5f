"""Trips: ``plan_trip`` gives legs, ``expose`` and ``expose_many`` surroundings, ``late_weather`` what delays a box."""

from __future__ import annotations

from shipwindow.trip.commitment import plan_trip
from shipwindow.trip.doubts import DoubtTable, ExposureDoubt, tabulate
from shipwindow.trip.exposure import MissingWeather, TripWeather, Weather, expose
from shipwindow.trip.late import LateWeather, late_kinds, late_weather, sort_hours
from shipwindow.trip.legs import DELAYS, Delay, Leg, NoTrip, Role, Trip
from shipwindow.trip.many import expose_many
from shipwindow.trip.shipment import BoxChoice, Shipment

__all__ = [
    "DELAYS",
    "BoxChoice",
    "Delay",
    "DoubtTable",
    "ExposureDoubt",
    "LateWeather",
    "Leg",
    "MissingWeather",
    "NoTrip",
    "Role",
    "Shipment",
    "Trip",
    "TripWeather",
    "Weather",
    "expose",
    "expose_many",
    "late_kinds",
    "late_weather",
    "plan_trip",
    "sort_hours",
    "tabulate",
]
