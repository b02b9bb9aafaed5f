"""What surrounds the box at every step of a trip, under every stated doubt.

For: ``expose``, from legs and forecasts to arrays for the box model. Must not know: boxes, animals, money.
Neighbours: ``commitment`` (legs), ``around``, ``sun``, ``faces`` (the laws), ``forecast.grid`` (hours), ``box`` (the
record).
Missing weather never leaves here as an exception: it becomes ``MissingWeather`` and the order is held.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from shipwindow.box.exposure import Exposure
from shipwindow.errors import ConfigError, DomainError, ForecastError
from shipwindow.forecast.grid import HOUR, Forecast, Hours
from shipwindow.settings.models import Settings, Surroundings
from shipwindow.trip.around import damped_air_C, film_W_m2K, van_gain_K
from shipwindow.trip.doubts import DoubtTable, ExposureDoubt, tabulate, within_range
from shipwindow.trip.faces import BEARING_DEG, faces_net_W_m2, porch_faces
from shipwindow.trip.legs import Leg, Role, Trip
from shipwindow.trip.sun import Sunlight, box_net_W_m2, sunlight

Array = NDArray[np.float64]
Weather = Mapping[Role, Forecast | ForecastError]

SEA_LEVEL_KPA = 101.325
"""Standard pressure. [kPa]  Status: source (ISO 2533)."""


@dataclass(frozen=True)
class Gap:
    """A leg whose weather is not known."""

    role: Role
    leg: str
    at: datetime
    read: str
    do: str

    def __str__(self) -> str:
        at = self.at.astimezone(UTC)
        return (
            f"no weather at the {self.role} for the leg {self.leg!r} from {at:%Y-%m-%d %H:%M}Z: {self.read}; {self.do}"
        )


@dataclass(frozen=True)
class MissingWeather:
    """Why a trip has no exposure."""

    gaps: tuple[Gap, ...]

    @property
    def reasons(self) -> tuple[str, ...]:
        """The first gap at each place, in words."""
        first = {gap.role: gap for gap in reversed(self.gaps)}
        return tuple(str(gap) for gap in dict.fromkeys(first[gap.role] for gap in self.gaps))


@dataclass(frozen=True)
class TripWeather:
    """A trip with what surrounds the box; T steps from the shutting of the lid."""

    trip: Trip
    exposure: Exposure
    leg_index: NDArray[np.int64]  # (T,) leg that fills most of each step
    air_C: Array  # (T,) air around the box without any doubt


@dataclass(frozen=True)
class _Cut:
    """Hours of a forecast as plain values, so that equal cuts are the same key."""

    latitude_deg: float
    longitude_deg: float
    start_at: datetime
    air: bytes
    wind: bytes
    sky: bytes
    error: bytes  # (M, hours) of every member, the last without any; empty for none at all

    @property
    def sky_frac(self) -> Array:
        """Cloud cover of each hour. [1]."""
        return np.frombuffer(self.sky)


@dataclass(frozen=True)
class _Positions:
    """Positions of M members in their ranges as plain values, the last member without any doubt."""

    count: int
    van: bytes
    indoor: bytes
    hold: bytes


@dataclass(frozen=True)
class _Part:
    """What one leg puts into the step grid: sums of value x seconds."""

    first: int
    seconds: Array  # (n,)
    air: Array  # (M, n)
    film: Array  # (M, n)
    sun: Array  # (n,)


def needs_weather(around: Surroundings) -> bool:
    """Say whether anything outdoors reaches a box in these surroundings.

    Parameters
    ----------
    around : Surroundings             Of a leg.

    Returns
    -------
    bool                              True if air, wind, sun or a van's gain depends on the forecast.

    References
    ----------
    .. [1] None: a reading of the shares. Status: engineering choice.
    """
    return any(share > 0.0 for share in (around.outdoor_share, around.wind_share, around.sun_share, around.gain_high_K))


def expose(
    trip: Trip,
    weather: Weather,
    settings: Settings,
    doubts: DoubtTable | Sequence[ExposureDoubt],
    step_s: float = 600.0,
) -> TripWeather | MissingWeather:
    """Find what surrounds the box at every step.

    Parameters
    ----------
    trip : Trip                       Contiguous legs.
    weather : mapping                 Forecast of each role, or the error that stands for it.
    settings : Settings               Surroundings, bench air, forecast error.
    doubts : DoubtTable or sequence   Members, M of them; at least one.
    step_s : float                    Step of the grid, which starts when the lid is shut. [s]

    Returns
    -------
    TripWeather or MissingWeather     The last step is filled up with the last leg, past the trip's end.

    Raises
    ------
    DomainError                       No member, or a step of no length.
    ConfigError                       Surroundings that ``lanes.toml`` does not describe.

    Notes
    -----
    Air = outdoor_share x outdoor + (1 - outdoor_share) x indoor, kept within low..high, plus in a closed van
    gain x min(1, sun / 800 W/m2) approached with the delay ``gain_delay``, from 0 when the leg starts. Film:
    4 + 4 v + hr in the wind, still air without. An hourly forecast value holds over its hour; a step across the edge
    of an hour or leg takes the mean by time; so does the forecast's error. Where no weather reaches the box none is
    asked for.

    References
    ----------
    .. [1] Sol-air and van gain: thermal.md 6 (ASHRAE form; gain: engineering choice); films: ISO 6946 (memory).
    """
    table = read_doubts(doubts, weather, settings, step_s)
    members = _positions(table)
    start_at = trip.start_at.astimezone(UTC)
    total = int(np.ceil((trip.end_at - trip.start_at).total_seconds() / step_s - 1e-9))
    air, film = np.zeros((members.count, total)), np.zeros((members.count, total))
    sun, pressure, seconds, most = np.zeros(total), np.zeros(total), np.zeros(total), np.zeros(total)
    leg_index = np.zeros(total, dtype=np.int64)
    gaps: list[Gap] = []
    for number, leg in enumerate(trip.legs):
        around = surroundings_of(leg.surroundings, settings)
        cut = _cut(leg, weather, table) if needs_weather(around) else None
        if isinstance(cut, Gap):
            gaps.append(cut)
            continue
        part = _leg_part(leg, around, cut, members, start_at, step_s)
        steps = slice(part.first, part.first + part.seconds.size)
        air[:, steps] += part.air
        film[:, steps] += part.film
        sun[steps] += part.sun
        pressure[steps] += part.seconds * around.pressure_kPa / SEA_LEVEL_KPA
        seconds[steps] += part.seconds
        longer = part.seconds > most[steps]
        leg_index[steps][longer] = number
        most[steps][longer] = part.seconds[longer]
    if gaps:
        return MissingWeather(tuple(gaps))
    air /= seconds
    film /= seconds
    return TripWeather(
        trip=trip,
        exposure=Exposure(
            step_s=step_s,
            air_C=np.ascontiguousarray(air[:-1]),
            film_W_m2K=np.ascontiguousarray(film[:-1]),
            sun_W_m2=np.tile(sun / seconds, (table.members, 1)),
            pressure_frac=pressure / seconds,
        ),
        leg_index=leg_index,
        air_C=air[-1].copy(),
    )


def read_doubts(
    doubts: DoubtTable | Sequence[ExposureDoubt], weather: Weather, settings: Settings, step_s: float
) -> DoubtTable:
    """Check members and step, and put the members into one table.

    Parameters
    ----------
    doubts : DoubtTable or sequence   Members, M of them; at least one.
    weather, settings                 As ``expose``.
    step_s : float                    Above 0. [s]

    Returns
    -------
    DoubtTable

    References
    ----------
    .. [1] As ``tabulate``. Status: source.
    """
    if not step_s > 0 or (not isinstance(doubts, DoubtTable) and not doubts):
        count = doubts.members if isinstance(doubts, DoubtTable) else len(doubts)
        raise DomainError(f"{count} members, a step of {step_s} s", "one or more, above 0 s", "pass both")
    table = doubts if isinstance(doubts, DoubtTable) else tabulate(doubts, weather, settings.rules.doubts)
    for role, error_K in table.forecast_K.items():
        forecast = weather.get(role)
        if isinstance(forecast, Forecast) and error_K.shape[1] != len(forecast.air_C):
            raise DomainError(
                f"an error of {error_K.shape[1]} hours for a forecast of {len(forecast.air_C)} at the {role}",
                "one an hour of the grid",
                "draw the error on the forecast's own hours",
            )
    return table


def _positions(table: DoubtTable) -> _Positions:
    van, indoor, hold = (np.append(each, 0.0).tobytes() for each in (table.van, table.indoor, table.hold))
    return _Positions(table.members + 1, van, indoor, hold)


def surroundings_of(name: str, settings: Settings) -> Surroundings:
    """Give the surroundings of this name; on the bench the shop's own air stands in, with the range around it.

    Parameters
    ----------
    name : str                        Of ``lanes.toml``.
    settings : Settings

    Returns
    -------
    Surroundings

    Raises
    ------
    ConfigError                       No such surroundings.

    References
    ----------
    .. [1] None: a look-up. Status: engineering choice.
    """
    known = settings.lanes.surroundings
    if name not in known:
        raise ConfigError(f"no surroundings {name!r}", f"one of {', '.join(known)}", "describe it in lanes.toml")
    around = known[name]
    if name == "bench":
        moved_K = settings.shop.bench.air_C - around.indoor_C
        around = around.model_copy(
            update={
                "indoor_C": around.indoor_C + moved_K,
                "indoor_low_C": around.indoor_low_C + moved_K,
                "indoor_high_C": around.indoor_high_C + moved_K,
            }
        )
    return around


def find_gap(leg: Leg, weather: Weather) -> Gap | None:
    """Say what is missing of the weather of a leg, if anything is.

    Parameters
    ----------
    leg : Leg                         One that weather reaches.
    weather : mapping                 As ``expose``.

    Returns
    -------
    Gap or None

    References
    ----------
    .. [1] None: a look-up. Status: engineering choice.
    """
    found = _hours(leg, weather)
    return found if isinstance(found, Gap) else None


def _hours(leg: Leg, weather: Weather) -> tuple[Forecast, Hours] | Gap:
    """Cut the leg's hours out of its forecast, or say what is missing."""
    forecast = weather.get(leg.role)
    if forecast is None:
        return Gap(leg.role, leg.name, leg.start_at, "no forecast was fetched", "fetch one")
    if isinstance(forecast, ForecastError):
        return Gap(leg.role, leg.name, leg.start_at, forecast.read, forecast.do)
    try:
        return forecast, forecast.hours(leg.start_at, leg.end_at)
    except ForecastError as error:
        return Gap(leg.role, leg.name, leg.start_at, error.read, error.do)


def _cut(leg: Leg, weather: Weather, table: DoubtTable) -> _Cut | Gap:
    """Take the leg's hours and errors as plain values, or say what is missing."""
    found = _hours(leg, weather)
    if isinstance(found, Gap):
        return found
    forecast, hours = found
    apart = b""
    if leg.role in table.forecast_K:
        first = round((hours.start_at - forecast.start_at) / HOUR)
        error_K = table.forecast_K[leg.role][:, first : first + len(hours.air_C)]
        apart = np.vstack((error_K, np.zeros(len(hours.air_C)))).tobytes()
    return _Cut(
        latitude_deg=forecast.latitude_deg,
        longitude_deg=forecast.longitude_deg,
        start_at=hours.start_at,
        air=np.asarray(hours.air_C, dtype=np.float64).tobytes(),
        wind=np.asarray(hours.wind_m_s, dtype=np.float64).tobytes(),
        sky=np.asarray(hours.sky_frac, dtype=np.float64).tobytes(),
        error=apart,
    )


@lru_cache(maxsize=2048)  # orders, commitments and delays share most legs; the key holds every value that matters
def _leg_part(
    leg: Leg,
    around: Surroundings,
    cut: _Cut | None,
    members: _Positions,
    grid_at: datetime,
    step_s: float,
) -> _Part:
    """Cut a leg at steps and hours, find each piece's surroundings, and add the pieces up by step."""
    start, end = (leg.start_at - grid_at).total_seconds(), (leg.end_at - grid_at).total_seconds()
    edges = [np.array([start, end]), np.arange(np.ceil(start / step_s), np.ceil(end / step_s)) * step_s]
    if cut is not None:
        air_C, wind_m_s, sky_frac = (np.frombuffer(layer) for layer in (cut.air, cut.wind, cut.sky))
        hour_0 = (cut.start_at - grid_at).total_seconds()
        edges.append(hour_0 + 3600.0 * np.arange(1, air_C.size))
    cuts = np.unique(np.concatenate(edges))
    cuts = cuts[(cuts >= start) & (cuts <= end)]
    span_s = np.diff(cuts)
    middle = cuts[:-1] + span_s / 2
    inside = np.frombuffer(members.hold if leg.surroundings == "flight" else members.indoor)
    indoor = within_range(inside, around.indoor_low_C, around.indoor_C, around.indoor_high_C)
    share = around.outdoor_share
    outdoor = np.zeros((members.count, span_s.size))
    wind = np.zeros(span_s.size)
    sun = np.zeros(span_s.size)
    light: Sunlight | None = None
    hour = np.zeros(span_s.size, dtype=np.int64)
    if cut is not None:
        hour = ((middle - hour_0) // 3600.0).astype(np.int64)
        if share > 0.0:
            outdoor = np.broadcast_to(air_C[hour], outdoor.shape)
            if cut.error:
                outdoor = outdoor + np.frombuffer(cut.error).reshape(members.count, -1)[:, hour]
        wind = wind_m_s[hour]
        if around.sun_share > 0.0 or around.gain_high_K > 0.0:
            light = sunlight(cut.latitude_deg, cut.longitude_deg, cut.start_at, sky_frac)
            sun = around.sun_share * net_W_m2(cut, slice(None), light, around)[hour]
    air = damped_air_C(outdoor, indoor[:, None], share, around.low_C, around.high_C)
    if light is not None and around.gain_high_K > 0.0:
        full = within_range(np.frombuffer(members.van), around.gain_low_K, around.gain_K, around.gain_high_K)
        target = van_gain_K(light.horizontal_W_m2[hour], full[:, None])
        air += lagged_mean(target, span_s, around.gain_delay_h * 3600.0)
    film = film_W_m2K(air, wind, around.wind_share)
    step = (middle // step_s).astype(np.int64)
    firsts = np.flatnonzero(np.diff(step, prepend=-1))
    return _Part(
        first=int(step[0]),
        seconds=np.add.reduceat(span_s, firsts),
        air=np.add.reduceat(air * span_s, firsts, axis=1),
        film=np.add.reduceat(film * span_s, firsts, axis=1),
        sun=np.add.reduceat(sun * span_s, firsts),
    )


def net_W_m2(
    forecast: Forecast | _Cut, hours: slice | NDArray[np.int64], light: Sunlight, around: Surroundings
) -> Array:
    """Give the radiation a box takes up in the open, turned any way, or on a porch that faces one way.

    Parameters
    ----------
    forecast : Forecast               Its place, start and clouds.
    hours : slice or int array        Which of its hours.
    light : Sunlight                  Of the same hours from the start. [W/m2]
    around : Surroundings             Which way the porch looks, and its roof.

    Returns
    -------
    net : array (hours,)              Mean over the whole outer surface. [W/m2]

    References
    ----------
    .. [1] As ``sun.box_net_W_m2`` and ``faces.faces_net_W_m2``. Status: engineering choice.
    """
    if around.faces == "open":
        return box_net_W_m2(light)[hours]
    place = (forecast.latitude_deg, forecast.longitude_deg, forecast.start_at, np.nan_to_num(forecast.sky_frac))
    return faces_net_W_m2(porch_faces(*place, BEARING_DEG[around.faces], roof_deg=around.roof_deg))[hours]


def lagged_mean(target: Array, span_s: Array, delay_s: float) -> Array:
    """Give the mean of a first-order approach to a target over each piece, starting from 0.

    Parameters
    ----------
    target : array (M, S)             Held over each piece.
    span_s : array (S,)               Lengths of the pieces. [s]
    delay_s : float                   Time constant; below 1 s = at once. [s]

    Returns
    -------
    mean : array (M, S)               Exact for the held target; same unit as the target.

    References
    ----------
    .. [1] First-order lag. Form of the warming of parked cars: McLaren, Null & Quinn, Pediatrics 116:e109, 2005; Null's
       table fits 26 K (1 - exp(-t/25 min)). Status: source for the form, engineering choice for a van.
    """
    if delay_s < 1.0:
        return target.copy()
    out = np.empty_like(target)
    state = np.zeros(target.shape[0])
    for piece, dt in enumerate(span_s):
        left = np.exp(-dt / delay_s)
        gap = state - target[:, piece]
        out[:, piece] = target[:, piece] + gap * (1.0 - left) * delay_s / dt
        state = target[:, piece] + gap * left
    return out
