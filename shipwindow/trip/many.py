"""What surrounds the box on many trips at once: the same laws as ``exposure``, every hour of every place worked once.

For: ``expose_many``. A trip is cut into pieces that lie in one step, one hour and one leg; a piece is a row of a table
(place and surroundings, hour) that all trips share, so a trip costs little more than looking its rows up. Steps of the
same piece are kept as one column that is held for as many steps. Members stay in single precision, which is how the
fast solver reads them. Must not know: boxes, animals, money. Neighbours: ``exposure`` (the plain path, one trip at a
time, to which this one is held by a test), ``around``, ``sun``, ``faces`` (the laws), ``box.runs`` (reads the columns).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from shipwindow.box.exposure import Exposure
from shipwindow.errors import ForecastError
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.models import Settings, Surroundings
from shipwindow.trip.around import damped_air_C, film_W_m2K, van_gain_K
from shipwindow.trip.doubts import DoubtTable, ExposureDoubt, within_range
from shipwindow.trip.exposure import (
    SEA_LEVEL_KPA,
    Gap,
    MissingWeather,
    TripWeather,
    Weather,
    find_gap,
    needs_weather,
    net_W_m2,
    read_doubts,
    surroundings_of,
)
from shipwindow.trip.legs import Role, Trip
from shipwindow.trip.sun import Sunlight, sunlight

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Integers = NDArray[np.int64]

EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)
HOUR_US = 3_600_000_000
NEVER = np.iinfo(np.int64).max
Whole = TypeVar("Whole", int, "Integers")


@dataclass(frozen=True, eq=False)
class _Grid:
    """A forecast's hours, and which of them can be used."""

    forecast: Forecast
    start_us: int
    lacking: Integers  # (H + 1,) hours without a needed value, counted up

    def whole(self, first: int, last: int) -> bool:
        """Whether every needed value of the hours [first, last) is there."""
        return first >= 0 and last < self.lacking.size and bool(self.lacking[last] == self.lacking[first])


class _Same:
    """A key that is equal to itself only, and keeps what it stands for alive."""

    __slots__ = ("what",)

    def __init__(self, what: Forecast) -> None:
        self.what = what

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.what is self.what

    def __hash__(self) -> int:
        return id(self.what)


@lru_cache(maxsize=512)
def _grid(key: _Same) -> _Grid:
    forecast = key.what
    usable = np.ones(len(forecast.air_C), dtype=bool)
    for layer in forecast.needed:
        usable &= np.isfinite(getattr(forecast, layer))
    lacking = np.concatenate(([0], np.cumsum(~usable)))
    return _Grid(forecast, _us(forecast.start_at), lacking.astype(np.int64))


@lru_cache(maxsize=512)
def _light(key: _Same) -> Sunlight:
    """Sunlight of every hour of a forecast; hours that are lacking count as clear and are never asked for."""
    forecast = key.what
    return sunlight(forecast.latitude_deg, forecast.longitude_deg, forecast.start_at, np.nan_to_num(forecast.sky_frac))


def _us(instant: datetime) -> int:
    return (instant - EPOCH) // MICROSECOND


@dataclass(frozen=True)
class _Kind:
    """One place in one kind of surroundings: where its rows begin, and which hours they are."""

    around: Surroundings
    role: Role
    in_hold: bool
    outdoors: bool  # whether weather reaches the box
    grid: _Grid | None  # None where it does not, or where there is none


@dataclass(frozen=True)
class _Legs:
    """Legs of all trips, one after the other. [us]."""

    trip: Integers
    kind: Integers
    start: Integers
    end: Integers
    number: Integers  # of the leg in its trip


@dataclass(frozen=True)
class _Pieces:
    """Stretches in one step, one hour and one leg."""

    leg: Integers
    span: Integers  # us
    step: Integers  # of all trips, counted on
    row: Integers  # in the table


class _Rows:
    """Surroundings of every place and hour that a trip meets: (R,) or (R, M)."""

    def __init__(self, kinds: Sequence[_Kind], hours: Sequence[Integers], table: DoubtTable) -> None:
        rows = sum(each.size for each in hours)
        self.air = np.empty((rows, table.members), dtype=np.float32)
        self.film = np.empty((rows, table.members), dtype=np.float32)
        self.central = np.empty(rows)
        self.sun, self.wind, self.warmth, self.pressure = (np.zeros(rows) for _ in range(4))
        self.full = np.zeros((len(kinds), table.members))
        self.full_central = np.zeros(len(kinds))
        at = 0
        for number, (kind, its_hours) in enumerate(zip(kinds, hours, strict=True)):
            if its_hours.size:
                self._fill(kind, number, slice(at, at + its_hours.size), its_hours, table)
            at += its_hours.size

    def _fill(self, kind: _Kind, number: int, here: slice, hours: Integers, table: DoubtTable) -> None:
        around, grid = kind.around, kind.grid
        place = within_range(
            table.hold if kind.in_hold else table.indoor, around.indoor_low_C, around.indoor_C, around.indoor_high_C
        )
        outdoor: Array = np.zeros(1)
        apart: Array = np.zeros((1, 1))
        if grid is not None:
            forecast = grid.forecast
            # hours that are lacking are never asked for; any number does
            outdoor, self.wind[here] = np.nan_to_num(forecast.air_C[hours]), np.nan_to_num(forecast.wind_m_s[hours])
            if kind.role in table.forecast_K:
                apart = table.forecast_K[kind.role][:, hours].T
            if around.sun_share > 0.0:
                self.sun[here] = around.sun_share * net_W_m2(forecast, hours, _light(_Same(forecast)), around)
            if around.gain_high_K > 0.0:
                self.warmth[here] = van_gain_K(_light(_Same(forecast)).horizontal_W_m2[hours], 1.0)
                self.full[number] = within_range(table.van, around.gain_low_K, around.gain_K, around.gain_high_K)
                self.full_central[number] = around.gain_K
        edges = (around.outdoor_share, around.low_C, around.high_C)
        air_C = damped_air_C(outdoor[:, None] + apart, place[None, :], *edges)
        self.central[here] = damped_air_C(outdoor, np.array([around.indoor_C]), *edges)
        self.air[here] = air_C
        self.film[here] = film_W_m2K(air_C, self.wind[here, None], around.wind_share)
        self.pressure[here] = around.pressure_kPa / SEA_LEVEL_KPA


def expose_many(
    trips: Sequence[Trip],
    weather: Weather,
    settings: Settings,
    doubts: DoubtTable | Sequence[ExposureDoubt],
    step_s: float = 600.0,
) -> list[TripWeather | MissingWeather]:
    """Find what surrounds the box at every step of many trips between the same places.

    Parameters
    ----------
    trips : sequence of Trip          Of one shipment: their roles stand for the same places.
    weather, settings, doubts         As ``expose``.
    step_s : float                    Step of each trip's own grid. [s]

    Returns
    -------
    list                              As ``expose`` gives one by one, in the order of ``trips``; equal steps are kept as
                                      one column that is held.

    Raises
    ------
    DomainError, ConfigError          As ``expose``.

    Notes
    -----
    Laws, cuts and means are those of ``expose``, which says them; the two agree within 1e-4 K (single precision).

    References
    ----------
    .. [1] As ``expose``. Status: source.
    """
    table = read_doubts(doubts, weather, settings, step_s)
    found: list[TripWeather | MissingWeather | None] = [None] * len(trips)
    work = _Work(weather, settings, table, round(step_s * 1e6))
    for number, trip in enumerate(trips):
        gaps = work.add(trip)
        if gaps:
            found[number] = MissingWeather(gaps)
    given = iter(work.exposed(step_s))
    return [next(given) if one is None else one for one in found]


class _Work:
    """Trips gathered for one go."""

    def __init__(self, weather: Weather, settings: Settings, table: DoubtTable, step_us: int) -> None:
        self.weather, self.settings, self.table, self.step_us = weather, settings, table, step_us
        self.grids = {
            role: _grid(_Same(found)) for role, found in weather.items() if not isinstance(found, ForecastError)
        }
        self.kinds: list[_Kind] = []
        self.known: dict[tuple[Role, str], int] = {}
        self.trips: list[Trip] = []
        self.legs: list[tuple[int, int, int, int, int]] = []

    def add(self, trip: Trip) -> tuple[Gap, ...]:
        """Take a trip in, or say where its weather is not known."""
        legs: list[tuple[int, int, int, int, int]] = []
        gaps: list[Gap] = []
        end = _us(trip.start_at)
        for number, leg in enumerate(trip.legs):
            start, end = end, _us(leg.end_at)
            kind = self._kind(leg.role, leg.surroundings)
            grid = self.kinds[kind].grid
            if self.kinds[kind].outdoors:
                hours = (0, 0) if grid is None else _hours(start, end, grid.start_us)
                if grid is None or not grid.whole(*hours):
                    gap = find_gap(leg, self.weather)
                    if gap is not None:
                        gaps.append(gap)
            legs.append((len(self.trips), kind, start, end, number))
        if not gaps:
            self.trips.append(trip)
            self.legs += legs
        return tuple(gaps)

    def _kind(self, role: Role, name: str) -> int:
        if (role, name) not in self.known:
            around = surroundings_of(name, self.settings)
            outdoors = needs_weather(around)
            grid = self.grids.get(role) if outdoors else None
            self.known[role, name] = len(self.kinds)
            self.kinds.append(_Kind(around, role, name == "flight", outdoors, grid))
        return self.known[role, name]

    def exposed(self, step_s: float) -> list[TripWeather]:
        """Put columns together for every trip."""
        if not self.trips:
            return []
        legs = _Legs(*np.array(self.legs, dtype=np.int64).T.copy())
        starts = legs.start[np.flatnonzero(np.diff(legs.trip, prepend=-1))]
        ends = legs.end[np.flatnonzero(np.diff(legs.trip, append=len(self.trips)))]
        steps = -((starts - ends) // self.step_us)
        step_0 = np.concatenate(([0], np.cumsum(steps)))
        pieces, hours = self._cut(legs, starts, step_0)
        rows = _Rows(self.kinds, hours, self.table)
        columns = _Columns(pieces, legs, self.kinds, rows, step_0)
        return [columns.of_trip(number, trip, step_s) for number, trip in enumerate(self.trips)]

    def _cut(self, legs: _Legs, starts: Integers, step_0: Integers) -> tuple[_Pieces, list[Integers]]:
        """Cut legs at steps and hours; give the pieces, and the hours that each kind's rows are for."""
        grids = [kind.grid for kind in self.kinds]
        outdoors = np.array([grid is not None for grid in grids])[legs.kind]
        grid_0 = np.array([0 if grid is None else grid.start_us for grid in grids], dtype=np.int64)[legs.kind]
        trip_0 = starts[legs.trip]
        hour_first, hour_last = _hours(legs.start, legs.end, grid_0)
        first = np.full(len(grids), NEVER, dtype=np.int64)
        last = np.zeros(len(grids), dtype=np.int64)
        np.minimum.at(first, legs.kind, np.where(outdoors, hour_first, 0))
        np.maximum.at(last, legs.kind, np.where(outdoors, hour_last, 1))
        used = first < NEVER
        first = np.where(used, first, 0)
        count = np.where(used, last - first, 0)

        step_first, step_last = (legs.start - trip_0) // self.step_us, -((trip_0 - legs.end) // self.step_us)
        by_step, steps = _between(step_first, step_last)
        by_hour, hours = _between(hour_first, np.where(outdoors, hour_last, hour_first))
        leg = np.concatenate((np.arange(legs.start.size), by_step, by_hour))
        at = np.concatenate(
            (
                legs.start,
                trip_0[by_step] + steps * self.step_us,
                grid_0[by_hour] + hours * HOUR_US,
            )
        )
        base = int(legs.start.min())
        far = int(legs.end.max()) - base + 1
        key = np.sort(leg * far + (at - base))
        key = key[np.diff(key, prepend=-1) != 0]  # an hour that falls on a step counts once
        leg = key // far
        at = key - leg * far + base
        until = np.append(at[1:], 0)
        ends = np.flatnonzero(np.diff(leg, append=-1))
        until[ends] = legs.end[leg[ends]]
        hour = np.where(outdoors[leg], (at - grid_0[leg]) // HOUR_US, 0)
        # a row for every hour from the first to the last of its kind, then only those that a piece lies in
        row_0 = np.concatenate(([0], np.cumsum(count)))
        row = (row_0[:-1] - first)[legs.kind[leg]] + hour
        met = np.zeros(int(row_0[-1]), dtype=bool)
        met[row] = True
        pieces = _Pieces(
            leg=leg,
            span=until - at,
            step=step_0[legs.trip[leg]] + (at - trip_0[leg]) // self.step_us,
            row=(np.cumsum(met) - 1)[row],
        )
        return pieces, [
            first[kind] + np.flatnonzero(met[row_0[kind] : row_0[kind + 1]]) for kind in range(len(self.kinds))
        ]


def _hours(start: Whole, end: Whole, grid_0: Whole) -> tuple[Whole, Whole]:
    """First hour, and one past the last, of a stretch on a grid's own hours."""
    return (start - grid_0) // HOUR_US, -((grid_0 - end) // HOUR_US)


def _between(first: Integers, last: Integers) -> tuple[Integers, Integers]:
    """Whole numbers strictly between first and last of each, and whose they are."""
    count = np.maximum(last - first - 1, 0)
    owner = np.repeat(np.arange(count.size), count)
    begin = np.cumsum(count) - count
    return owner, first[owner] + 1 + np.arange(owner.size) - begin[owner]


class _Columns:
    """Steps of all trips, equal neighbours as one column."""

    def __init__(self, pieces: _Pieces, legs: _Legs, kinds: Sequence[_Kind], rows: _Rows, step_0: Integers) -> None:
        self.rows, self.step_0 = rows, step_0
        kind = legs.kind[pieces.leg]
        gains = np.array([one.around.gain_high_K > 0.0 and one.grid is not None for one in kinds])
        gaining = gains[kind]
        came = _lagged(pieces, kind, gaining, kinds, rows)
        begin = np.flatnonzero(np.diff(pieces.step, prepend=-1))
        parts = np.diff(begin, append=pieces.step.size)
        single = parts == 1
        row = pieces.row[begin]
        plain = single & ~gaining[begin]
        new = np.ones(begin.size, dtype=bool)
        new[1:] = ~(plain[1:] & plain[:-1] & (row[1:] == row[:-1]))
        new[step_0[:-1]] = True
        self.leg_index = _leg_index(pieces, legs, begin, single)
        self.step_of = np.flatnonzero(new)
        self.held = np.diff(self.step_of, append=begin.size)
        self.first = np.searchsorted(self.step_of, step_0)  # column at which each trip begins
        at = begin[self.step_of]
        self.air, self.film = rows.air[pieces.row[at]], rows.film[pieces.row[at]]
        self.central = rows.central[pieces.row[at]]
        self.sun, self.pressure = rows.sun[pieces.row[at]], rows.pressure[pieces.row[at]]
        warm = np.flatnonzero(single[self.step_of] & gaining[at])
        which = at[warm]
        self.air[warm], self.film[warm], self.central[warm] = _warmed(
            pieces.row[which], kind[which], came[which], kinds, rows
        )
        mixed = np.flatnonzero(~single[self.step_of])
        if mixed.size:
            size = parts[self.step_of[mixed]]
            from_0 = np.cumsum(size) - size
            which = np.repeat(at[mixed] - from_0, size) + np.arange(int(size.sum()))
            span = pieces.span[which].astype(np.float64)
            share = span / np.repeat(np.add.reduceat(span, from_0), size)
            air, film, central = _warmed(pieces.row[which], kind[which], came[which], kinds, rows)
            weight = share.astype(np.float32)[:, None]
            self.air[mixed] = np.add.reduceat(air * weight, from_0, axis=0)
            self.film[mixed] = np.add.reduceat(film * weight, from_0, axis=0)
            self.central[mixed] = np.add.reduceat(central * share, from_0)
            self.sun[mixed] = np.add.reduceat(rows.sun[pieces.row[which]] * share, from_0)
            self.pressure[mixed] = np.add.reduceat(rows.pressure[pieces.row[which]] * share, from_0)

    def of_trip(self, number: int, trip: Trip, step_s: float) -> TripWeather:
        """Cut one trip out."""
        here = slice(int(self.first[number]), int(self.first[number + 1]))
        steps = slice(int(self.step_0[number]), int(self.step_0[number + 1]))
        held = self.held[here]
        # single precision, which readers of the record take as it is
        air_C, film = (cast("Array", layer[here].T) for layer in (self.air, self.film))
        return TripWeather(
            trip=trip,
            exposure=Exposure(
                step_s=step_s,
                air_C=air_C,
                film_W_m2K=film,
                sun_W_m2=np.broadcast_to(self.sun[here], air_C.shape),
                pressure_frac=self.pressure[here],
                held=held,
            ),
            leg_index=self.leg_index[steps],
            air_C=np.repeat(self.central[here], held),
        )


def _warmed(
    row: Integers, kind: Integers, came: Array, kinds: Sequence[_Kind], rows: _Rows
) -> tuple[Singles, Singles, Array]:
    """Air with the van's warmth so far, and film, of some pieces: (n, M), (n, M) and the air without doubt (n,)."""
    air, film = rows.air[row], rows.film[row]
    warmed = came != 0.0
    for number in np.flatnonzero(np.bincount(kind[warmed], minlength=len(kinds))).tolist():
        mine = np.flatnonzero(warmed & (kind == number))
        gain = came[mine, None].astype(np.float32) * rows.full[number].astype(np.float32)
        if mine.size == row.size:
            air += gain
        else:
            air[mine] += gain
        if kinds[number].around.wind_share > 0.0:
            film[mine] = film_W_m2K(air[mine], rows.wind[row[mine], None], kinds[number].around.wind_share)
    return air, film, rows.central[row] + came * rows.full_central[kind]


def _lagged(pieces: _Pieces, kind: Integers, gaining: NDArray[np.bool_], kinds: Sequence[_Kind], rows: _Rows) -> Array:
    """How far each piece's warmth has come, as a share of the full gain; every leg starts cool."""
    came = np.zeros(pieces.leg.size)
    inside = np.flatnonzero(gaining)
    if not inside.size:
        return came
    target = rows.warmth[pieces.row[inside]]
    span_s = pieces.span[inside] * 1e-6
    delay_s = np.array([one.around.gain_delay_h * 3600.0 for one in kinds])[kind[inside]]
    at_once = delay_s < 1.0
    delay_s = np.where(at_once, 1.0, delay_s)
    left = np.where(at_once, 0.0, np.exp(-span_s / delay_s))
    mean = np.where(at_once, 0.0, (1.0 - left) * delay_s / span_s)
    begins = np.diff(pieces.leg[inside], prepend=-1) != 0
    found: list[float] = []
    state = 0.0
    for begun, goal, kept, share in zip(begins.tolist(), target.tolist(), left.tolist(), mean.tolist(), strict=True):
        gap = (0.0 if begun else state) - goal
        found.append(goal + gap * share)
        state = goal + gap * kept
    came[inside] = found
    return came


def _leg_index(pieces: _Pieces, legs: _Legs, begin: Integers, single: NDArray[np.bool_]) -> Integers:
    """Leg that fills most of each step; the earlier of two that fill it alike."""
    number = legs.number[pieces.leg]
    index = number[begin]
    if single.all():
        return index
    turn = np.flatnonzero(
        np.diff(pieces.step * legs.start.size + pieces.leg, prepend=-1)
    )  # a leg's part of a step begins
    filled = np.add.reduceat(pieces.span, turn)
    step = pieces.step[turn]
    order = np.lexsort((-filled, step))  # stable: the earlier leg first among equals
    best = order[np.flatnonzero(np.diff(step[order], prepend=-1))]
    return np.asarray(number[turn[best]])
