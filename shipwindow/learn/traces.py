"""A logger's trace put beside the box it lay in: which box, bags and packs, and what was around it, step by step.

For: the record that a fit reads and the shop's database keeps. Surroundings are resolved once, when a trace comes in,
so that a fit next year rests on the weather as it was known then. Must not know: orders, fitting.
Neighbours: ``loggers`` (readings), ``trip`` (legs and surroundings), ``fit`` (its user).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import Exposure
from shipwindow.box.films import still_W_m2K
from shipwindow.errors import ConfigError, ForecastError
from shipwindow.forecast.grid import Forecast
from shipwindow.learn.loggers import Readings
from shipwindow.settings.models import Settings
from shipwindow.store import atomic, explained
from shipwindow.trip import ExposureDoubt, MissingWeather, Role, Trip, expose

if TYPE_CHECKING:
    from shipwindow.tables import Database

Array = NDArray[np.float64]
Kind = Literal["box-test", "trip"]
Numbers = tuple[float, ...]

STEP_S = 600.0
AIR_LAPSE_H = 1.0  # air readings may start and end so much inside the water's
LATEST_START_H = 12.0  # a logger may start as late as this after the lid was shut
LEAST_SHARE = 0.5  # of a trip that a trace must cover
SD_OF_RANGE = 2.0 * 1.645  # a stated range reaches from 5 % to 95 %


@dataclass(frozen=True)
class Packed:
    """What lay in the box, in the names of the shop's settings."""

    box: str
    bags: tuple[tuple[str, int], ...]
    plan: str = "none"
    ballast_kg: float = 0.0
    gain_kg: float | None = None  # what its warmers gained until it was opened


@dataclass(frozen=True)
class Around:
    """Surroundings at every step of 10 minutes from the shutting of the lid; empty when they are not known.

    ``own`` are ways in which they may be wrong, each one standard deviation of the air in K; ``van_per_K`` what one
    kelvin of the van's gain adds to the air.
    """

    air_C: Numbers = ()
    film_W_m2K: Numbers = ()
    sun_W_m2: Numbers = ()
    pressure_frac: Numbers = ()
    own: tuple[tuple[str, Numbers], ...] = ()
    van_per_K: Numbers = ()
    says: str = "not known"

    def exposure(self, shift_K: Array | float = 0.0) -> Exposure:
        """Give the surroundings in the box's terms, the air shifted."""
        air = (np.array(self.air_C) + shift_K)[np.newaxis]
        return Exposure(
            STEP_S, air, np.array([self.film_W_m2K]), np.array([self.sun_W_m2]), np.array(self.pressure_frac)
        )


@dataclass(frozen=True)
class Trace:
    """Readings in the water of one box, with all that a prediction needs."""

    key: str
    kind: Kind
    packed: Packed
    start_at: datetime
    hours: Numbers  # of each reading since the lid was shut
    water_C: Numbers
    around: Around
    sensor: str = "water"
    start_known: bool = True  # the first reading lies near the shutting of the lid
    legs: tuple[tuple[str, float, float], ...] = ()  # name, start and end in hours since the lid was shut
    zone: str = "UTC"  # clock to show
    notes: tuple[str, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether a fit can use it."""
        return bool(self.around.air_C)

    @property
    def start_C(self) -> float:
        """The first reading. [degC]"""
        return self.water_C[0]

    def thinned(self, every_h: float) -> tuple[Array, Array]:
        """Give means of readings that lie closer than this together: hours and temperatures."""
        hours, water = np.array(self.hours), np.array(self.water_C)
        later = hours > max(0.25, hours[0])  # the first one is the start
        hours, water = hours[later], water[later]
        _, place = np.unique((hours // every_h).astype(np.int64), return_inverse=True)
        count = np.bincount(place)
        return np.bincount(place, hours) / count, np.bincount(place, water) / count


def steady_around(steps: int, air_C: Sequence[float] | Array, air_sd_K: float, says: str) -> Around:
    """Surroundings of a box at home: air as measured, still, out of the sun, at sea level."""
    air = tuple(float(value) for value in air_C)
    return Around(
        air_C=air,
        film_W_m2K=(float(still_W_m2K()),) * steps,
        sun_W_m2=(0.0,) * steps,
        pressure_frac=(1.0,) * steps,
        own=(("air", (air_sd_K,) * steps),),
        says=says,
    )


def box_test(
    name: str,
    readings: Readings,
    packed: Packed,
    air: Readings | float,
    settings: Settings,
    start_at: datetime | None = None,
    zone: str = "UTC",
) -> Trace:
    """Build the trace of a box test at home.

    Parameters
    ----------
    name : str                      What the shop calls the test.
    readings : Readings             In the water.
    packed : Packed                 Box, bags and packs.
    air : Readings or float         Beside the box, or one temperature throughout. [degC]
    settings : Settings             What a reading is worth.
    start_at : datetime or None     When the lid was shut; None = with the first reading.
    zone : str                      Clock of the shop.
    """
    begin = start_at or readings.at[0]
    cut = _cut(readings, begin, readings.at[-1], f"test {name}")
    steps = max(1, int(np.ceil(cut.hours[-1] * 3600.0 / STEP_S)))
    middles_h = (np.arange(steps) + 0.5) * STEP_S / 3600.0
    worth = settings.learn.readings
    if isinstance(air, Readings):
        hours = np.array([(at - begin).total_seconds() / 3600.0 for at in air.at])
        if hours[0] > AIR_LAPSE_H or hours[-1] < cut.hours[-1] - AIR_LAPSE_H:
            raise ConfigError(
                f"air from {air.at[0]:%Y-%m-%d %H:%M}Z to {air.at[-1]:%Y-%m-%d %H:%M}Z for water from "
                f"{begin.astimezone(UTC):%Y-%m-%d %H:%M}Z to {readings.at[-1]:%Y-%m-%d %H:%M}Z",
                "air throughout the test",
                "check both loggers' zones; cut the water to the hours with air",
            )
        around = steady_around(steps, np.interp(middles_h, hours, air.temperature_C), worth.air_K, "air by a logger")
    else:
        around = steady_around(
            steps, np.full(steps, air), worth.thermometer_air_K, f"air by a thermometer, {air:.1f} degC throughout"
        )
    return replace(cut, key=f"test {name}", kind="box-test", packed=packed, around=around, zone=zone)


def trip_trace(
    order: str,
    readings: Readings,
    packed: Packed,
    trip: Trip,
    weather: Mapping[Role, Forecast | ForecastError],
    settings: Settings,
    air: Readings | None = None,
    zone: str = "UTC",
) -> Trace:
    """Build the trace of a trip: readings between lid shut and box opened, surroundings from the stored forecasts.

    Parameters
    ----------
    order : str                     Id of the order.
    readings : Readings             In the water.
    packed : Packed                 Box, bags and packs.
    trip : Trip                     Its legs.
    weather : mapping               Forecast of each role as of the morning, or the error that stands for it.
    settings : Settings             As written, without calibration.
    air : Readings or None          By a logger on the outside of the box: then no forecast is needed.
    zone : str                      Clock of the destination.
    """
    cut = _cut(readings, trip.start_at, trip.end_at, f"order {order}")
    covered = (cut.hours[-1] - cut.hours[0]) * 3600.0 / (trip.end_at - trip.start_at).total_seconds()
    if covered < LEAST_SHARE:
        raise ConfigError(
            f"readings over {covered:.0%} of the trip from {trip.start_at:%Y-%m-%d %H:%M}Z to "
            f"{trip.end_at:%Y-%m-%d %H:%M}Z",
            f"at least {LEAST_SHARE:.0%}",
            "check the logger's zone and the ship day, or give --start",
        )
    if air is not None:
        steps = int(np.ceil((trip.end_at - trip.start_at).total_seconds() / STEP_S))
        hours = np.array([(at - trip.start_at).total_seconds() / 3600.0 for at in air.at])
        middles_h = (np.arange(steps) + 0.5) * STEP_S / 3600.0
        around = steady_around(
            steps, np.interp(middles_h, hours, air.temperature_C), settings.learn.readings.air_K, "air by a logger"
        )
    else:
        around = forecast_around(trip, weather, settings)
    notes = cut.notes if around.air_C else (*cut.notes, f"kept, but not fitted: {around.says}")
    legs = tuple((leg.name, _since_h(trip, leg.start_at), _since_h(trip, leg.end_at)) for leg in trip.legs)
    return replace(cut, key=order, kind="trip", packed=packed, around=around, notes=notes, legs=legs, zone=zone)


def _since_h(trip: Trip, at: datetime) -> float:
    return (at - trip.start_at).total_seconds() / 3600.0


def forecast_around(trip: Trip, weather: Mapping[Role, Forecast | ForecastError], settings: Settings) -> Around:
    """Resolve what was around a box on its trip, with every way in which that may be wrong."""
    plain = _air_C(trip, weather, settings)
    if isinstance(plain, str):
        return Around(says=plain)
    law = settings.rules.doubts
    own: list[tuple[str, Numbers]] = []
    for role, found in weather.items():
        if isinstance(found, ForecastError):
            continue
        lead_h = max((trip.start_at - found.issued_at).total_seconds() / 3600.0 + 12.0, 0.0)
        sigma_K = law.forecast_K + law.forecast_K_per_h * lead_h
        warmer = replace(found, air_C=found.air_C + sigma_K)
        own += _pattern(f"weather at {role}", plain, _air_C(trip, {**weather, role: warmer}, settings))
    own += _pattern("buildings", plain, _air_C(trip, weather, _warmer_indoors(settings, flights=False)))
    own += _pattern("aircraft", plain, _air_C(trip, weather, _warmer_indoors(settings, flights=True)))
    van = _pattern("van", plain, _air_C(trip, weather, _more_gain(settings, 1.0)))
    exposure, air = plain
    return Around(
        air_C=tuple(air.tolist()),
        film_W_m2K=tuple(exposure.film_W_m2K[0].tolist()),
        sun_W_m2=tuple(exposure.sun_W_m2[0].tolist()),
        pressure_frac=tuple(exposure.pressure_frac.tolist()),
        own=tuple(own),
        van_per_K=van[0][1] if van else (),
        says="air by the stored forecasts",
    )


def _air_C(
    trip: Trip, weather: Mapping[Role, Forecast | ForecastError], settings: Settings
) -> tuple[Exposure, Array] | str:
    found = expose(trip, weather, settings, [ExposureDoubt()], STEP_S)
    if isinstance(found, MissingWeather):
        return str(found.gaps[0])
    return found.exposure, np.asarray(found.exposure.air_C[0], dtype=np.float64)


def _pattern(
    name: str, plain: tuple[Exposure, Array], moved: tuple[Exposure, Array] | str
) -> list[tuple[str, Numbers]]:
    if isinstance(moved, str):
        return []
    change = moved[1] - plain[1]
    return [(name, tuple(np.round(change, 6).tolist()))] if np.any(np.abs(change) > 1e-3) else []


def _warmer_indoors(settings: Settings, *, flights: bool) -> Settings:
    """Raise the inside of every building (or hold) by one standard deviation of its stated range."""
    around = dict(settings.lanes.surroundings)
    for name, one in around.items():
        if (name == "flight") is flights and one.outdoor_share < 1.0:
            up_K = (one.indoor_high_C - one.indoor_low_C) / SD_OF_RANGE
            around[name] = one.model_copy(
                update={key: getattr(one, key) + up_K for key in ("indoor_C", "indoor_low_C", "indoor_high_C")}
            )
    return settings.model_copy(update={"lanes": settings.lanes.model_copy(update={"surroundings": around})})


def _more_gain(settings: Settings, more_K: float) -> Settings:
    around = dict(settings.lanes.surroundings)
    van = around["van"]
    around["van"] = van.model_copy(
        update={key: getattr(van, key) + more_K for key in ("gain_K", "gain_low_K", "gain_high_K")}
    )
    return settings.model_copy(update={"lanes": settings.lanes.model_copy(update={"surroundings": around})})


def _cut(readings: Readings, begin: datetime, end: datetime, what: str) -> Trace:
    late = timedelta(minutes=10)
    inside = [n for n, at in enumerate(readings.at) if begin - late <= at <= end + late]
    if len(inside) < 3:
        raise ConfigError(
            f"{what}: readings from {readings.at[0]:%Y-%m-%d %H:%M}Z to {readings.at[-1]:%Y-%m-%d %H:%M}Z, box shut "
            f"from {begin.astimezone(UTC):%Y-%m-%d %H:%M}Z to {end.astimezone(UTC):%Y-%m-%d %H:%M}Z",
            "readings while the box was shut",
            "check the logger's zone, the year and the day; --start gives the shutting of the lid",
        )
    hours = tuple(max((readings.at[n] - begin).total_seconds() / 3600.0, 0.0) for n in inside)
    if hours[0] > LATEST_START_H:
        raise ConfigError(
            f"{what}: the first reading {hours[0]:.0f} h after the lid was shut at {begin:%Y-%m-%d %H:%M %z}",
            f"within {LATEST_START_H:.0f} h of it",
            "check --start, its year and zone, and the logger's clock",
        )
    outside = len(readings.at) - len(inside)
    notes = [*readings.notes, *([f"{outside} readings before or after were left out"] if outside else [])]
    known = hours[0] <= 1.0
    if not known:
        notes.append(f"the first reading comes {hours[0]:.1f} h after the lid was shut: the start is less sure")
    return Trace(
        key=what,
        kind="trip",
        packed=Packed("", ()),
        start_at=begin.astimezone(UTC),
        hours=hours,
        water_C=tuple(float(readings.temperature_C[n]) for n in inside),
        around=Around(),
        sensor=readings.column,
        start_known=known,
        notes=tuple(notes),
    )


# ---------------------------------------------------------------- kept in the database


def keep(database: Database, trace: Trace, now: datetime) -> bool:
    """Keep a trace; the same one again changes nothing (False), another of the same sensor replaces it from now on."""
    if not trace.usable and any(
        one.usable and (one.key, one.sensor) == (trace.key, trace.sensor) for one in traces(database)
    ):
        return False  # an earlier import knew what was around the box: it counts on
    record = json.dumps({**asdict(trace), "start_at": trace.start_at.isoformat()}, sort_keys=True)
    return _insert(database, trace.key, trace.sensor, record, now)


def drop(database: Database, key: str, now: datetime) -> int:
    """Leave the traces of a test or order out of every fit from now on; they stay in the database."""
    dropped = [trace for trace in traces(database) if trace.key == key]
    for trace in dropped:
        _insert(database, key, trace.sensor, "{}", now)
    return len(dropped)


def _insert(database: Database, key: str, sensor: str, record: str, now: datetime) -> bool:
    digest = hashlib.sha256(record.encode()).hexdigest()
    with atomic(database):
        query = "select digest from learn_trace where key = ? and sensor = ? order by id desc limit 1"
        if any(row["digest"] == digest for row in database.query(query, [key, sensor])):
            return False
        database.table("learn_trace").insert(
            {
                "key": key,
                "sensor": sensor,
                "digest": digest,
                "record": record,
                "imported_at": now.astimezone(UTC).isoformat(timespec="seconds"),
            }
        )
    return True


def traces(database: Database, path: str = "the shop's database") -> list[Trace]:
    """Give every trace that counts, in the order it came."""
    newest: dict[tuple[str, str], str] = {}
    with explained(path):
        for row in database.query("select key, sensor, record from learn_trace order by id"):
            newest[row["key"], row["sensor"]] = row["record"]
    return [_trace(json.loads(record)) for record in newest.values() if record != "{}"]


def _trace(record: dict[str, Any]) -> Trace:
    packed, around = record.pop("packed"), record.pop("around")
    packed["bags"] = tuple((name, count) for name, count in packed["bags"])
    around["own"] = tuple((name, tuple(values)) for name, values in around["own"])
    around = {key: tuple(value) if isinstance(value, list) else value for key, value in around.items()}
    record["start_at"] = datetime.fromisoformat(record["start_at"])
    record["legs"] = tuple((name, start, end) for name, start, end in record["legs"])
    record = {key: tuple(value) if isinstance(value, list) else value for key, value in record.items()}
    return Trace(packed=Packed(**packed), around=Around(**around), **record)
