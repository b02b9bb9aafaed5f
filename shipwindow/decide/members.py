"""Members: weathers and doubts drawn together, and each doubt once by itself.

For: ``list_members``, what every plan of every order is tried under, and ``Weathers``, the forecast errors that go with
them. Must not know: boxes, trips, chances. Neighbours: ``forecast.spread`` (error paths), ``trip.doubts`` (the table an
exposure reads), ``risk`` (simulates), ``variance`` (which doubt matters).

One set of columns serves the whole search:

    0         central: everything as stated
    1, 2      a cold and a hot one, all doubts a little on the bad side: for the quick first look
    3 ...     each doubt alone on its bad side, the weather as forecast: which one would turn a verdict
    joint     all doubts and the weather drawn together: their mean is the chance of loss

The joint columns are the same for every plan, day, commitment and order of a morning (common random numbers), so that
comparisons are sharp; and the same in every run with the same seed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from shipwindow.forecast.cities import find_sites
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.spread import draw_members
from shipwindow.settings.models import Doubts, Settings
from shipwindow.trip import DoubtTable, ExposureDoubt, Role
from shipwindow.trip.doubts import tabulate, within_range

Array = NDArray[np.float64]

WALL_LEVELS = 8
"""The wall is taken at so many equally likely levels, because every level costs the box model one set-up.

Status: engineering choice; eight midpoints keep 97 % of the variance of the law they stand for.
"""

RANGE_SIGMAS = 1.645
"""A stated doubt of the animals or of the pack's air holds nine times in ten. [sd]  Status: engineering choice."""

STRESS_SD = 0.85
"""How far the quick look's two bad cases lie off on every doubt. [sd]

Status: engineering choice; together about 1.7 sd of the water, the outer node of a three-point rule.
"""

STRESS_WAIT = (1.0 + STRESS_SD * 0.5**0.5) / 3.0
"""Share of the range of the wait in the same two cases: mean and sd of the law that falls from the stated wait to the
longest. [1]  Status: engineering choice."""

TRIANGLE_SD = 6.0**-0.5  # of a triangular law on -1..1
FORECAST_TRIP_SD = 0.7  # sd of a trip's mean error, in sd of an hour's. Status: source (own fit, see error_law)
QUICK = 3  # columns of the quick look
QUICK_WEIGHTS = np.array([2.0 / 3.0, 1.0 / 6.0, 1.0 / 6.0])
DRAWN = ("wall", "van", "buildings", "aircraft", "air supply", "start", "animals in heat", "animals in cold", "wait")
"""Doubts that are drawn, in the order of the design's dimensions. The weather has its own draws."""


@dataclass(frozen=True)
class Single:
    """One stated doubt on its bad side; the first has none. Positions are -1 to 1 in the stated range."""

    name: str
    says: str
    wall: float = 1.0
    supply: float = 1.0
    van: float = 0.0
    indoor: float = 0.0
    hold: float = 0.0
    start_K: float = 0.0
    heat_K: float = 0.0
    cold_K: float = 0.0
    sigmas: float = 0.0


COLUMNS = ("wall", "supply", "van", "indoor", "hold", "start_K", "heat_K", "cold_K", "sigmas")


@dataclass(frozen=True, eq=False)
class Members:
    """Columns under which everything is simulated; every array has one value a column, M of them.

    ``van``, ``indoor``, ``hold`` are positions in their stated range (-1..1), ``heat_K`` and ``cold_K`` shift what the
    animals bear, ``sigmas`` moves the forecast, ``wait`` is the share of the range of the hand-over's wait; ``drawn``
    holds the uniform draws of the joint columns.
    """

    singles: tuple[Single, ...]  # columns 0, 3, 4, ...
    wall: Array
    supply: Array
    van: Array
    indoor: Array
    hold: Array
    start_K: Array
    heat_K: Array
    cold_K: Array
    sigmas: Array
    wait: Array
    drawn: Array  # (joint, len(DRAWN))
    seed: int

    @property
    def count(self) -> int:
        """How many columns M."""
        return int(self.wall.size)

    @property
    def joints(self) -> int:
        """How many joint columns."""
        return int(self.drawn.shape[0])

    @property
    def joint(self) -> slice:
        """The joint columns."""
        return slice(self.count - self.joints, self.count)

    @cached_property
    def quick(self) -> Members:
        """The first columns alone, for the quick look."""
        return self._cut(QUICK)

    @cached_property
    def central(self) -> Members:
        """The central column alone."""
        return self._cut(1)

    def _cut(self, count: int) -> Members:
        cut = {name: getattr(self, name)[:count] for name in (*COLUMNS, "wait")}
        return Members(singles=self.singles[:1], drawn=self.drawn[:0], seed=self.seed, **cut)


def list_members(settings: Settings) -> Members:
    """List the columns of a shop's stated doubts.

    Parameters
    ----------
    settings : Settings             ``doubts`` and ``members`` of ``rules.toml``, doubts of the animals.

    Returns
    -------
    Members

    Notes
    -----
    Joint columns: scrambled Sobol points, one dimension a doubt. How a stated range is read: wall, van, buildings,
    hold and start as a triangular law that peaks at the stated value and ends at the ends of the range, on each side
    its own width; a pack's air supply as a lognormal law whose central nine tenths are the range; the animals' heat
    and cold tolerance as normal laws, likewise; the hand-over's wait as a triangular law falling from the stated wait
    to the longest. The weather is drawn by ``forecast.spread``, apart from these.

    References
    ----------
    .. [1] Ranges: thermal.md 4 and 9 (wall +-20 %), trade.md 0.6 (van 2-15 K), packs.md 2d (air supply), biology.md 6
       (animals). Status: engineering choice, except the forecast error, which is measured (uncertainty.md 1.1).
    .. [2] Owen, "Scrambling Sobol' and Niederreiter-Xing points", J. Complexity 14, 1998, as coded in scipy.
       Status: memory.
    """
    doubts, dose = settings.rules.doubts, settings.cargo.dose
    return _list_members(doubts, (dose.doubt_warm_K, dose.doubt_cold_K), *_drawn_by(settings))


def list_quick(settings: Settings) -> Members:
    """List the columns of the quick look alone; nothing is drawn for them, so it costs no import.

    Parameters
    ----------
    settings : Settings             As ``list_members``.

    Returns
    -------
    Members                         With the numbers of ``list_members(settings).quick``.

    References
    ----------
    .. [1] As ``list_members``. Status: engineering choice.
    """
    doubts, dose = settings.rules.doubts, settings.cargo.dose
    animals_K = dose.doubt_warm_K, dose.doubt_cold_K
    singles = _singles(doubts, animals_K)[:1]
    rows = [*singles, *_stress(doubts, animals_K)]
    columns = {name: np.array([getattr(one, name) for one in rows]) for name in COLUMNS}
    waits = np.array([0.0, STRESS_WAIT, STRESS_WAIT])
    return Members(
        singles=singles, wait=waits, drawn=np.zeros((0, len(DRAWN))), seed=settings.rules.members.seed, **columns
    )


def _drawn_by(settings: Settings) -> tuple[int, int]:
    return settings.rules.members.count, settings.rules.members.seed


@lru_cache(maxsize=8)
def _list_members(doubts: Doubts, animals_K: tuple[float, float], count: int, seed: int) -> Members:
    singles = _singles(doubts, animals_K)
    rows = [singles[0], *_stress(doubts, animals_K), *singles[1:]]
    points = _design(count, seed)
    u = dict(zip(DRAWN, points.T, strict=True))
    middle = float(np.sqrt(doubts.supply_low * doubts.supply_high))
    spread = float(np.log(doubts.supply_high / doubts.supply_low)) / 2.0 / RANGE_SIGMAS
    joint = {
        "wall": within_range(_triangle(u["wall"]), doubts.wall_low, 1.0, doubts.wall_high),
        "supply": middle * np.exp(spread * _normal(u["air supply"])),
        "van": _triangle(u["van"]),
        "indoor": _triangle(u["buildings"]),
        "hold": _triangle(u["aircraft"]),
        "start_K": doubts.start_K * _triangle(u["start"]),
        "heat_K": animals_K[0] / RANGE_SIGMAS * _normal(u["animals in heat"]),
        "cold_K": animals_K[1] / RANGE_SIGMAS * _normal(u["animals in cold"]),
        "sigmas": np.zeros(count),
    }
    columns = {
        name: np.concatenate((np.array([getattr(one, name) for one in rows]), drawn)) for name, drawn in joint.items()
    }
    waits = [STRESS_WAIT if one.name == "stress" else 0.0 for one in rows]
    wait = np.concatenate((waits, 1.0 - np.sqrt(1.0 - u["wait"])))
    return Members(singles=singles, wait=wait, drawn=points, seed=seed, **columns)


def _design(count: int, seed: int) -> Array:
    """Draw points of the unit cube, (count, doubts), sorted by the level of the wall so that like walls lie together.

    A Sobol sequence is balanced for powers of two; any first part of it is still far more even than chance.
    """
    from scipy.stats import qmc

    drawn = qmc.Sobol(len(DRAWN), scramble=True, rng=np.random.default_rng(seed)).random_base2(
        max(1, int(np.ceil(np.log2(count))))
    )[:count]
    level = np.minimum(np.floor(drawn[:, 0] * WALL_LEVELS), WALL_LEVELS - 1)
    drawn[:, 0] = (level + 0.5) / WALL_LEVELS
    points = drawn[np.argsort(level, kind="stable")]
    return np.ascontiguousarray(np.clip(points, 1e-6, 1.0 - 1e-6))


def _triangle(u: Array) -> Array:
    """Quantiles of the triangular law on -1..1 with its peak at 0."""
    return np.where(u < 0.5, np.sqrt(2.0 * u) - 1.0, 1.0 - np.sqrt(2.0 * (1.0 - u)))


def _normal(u: Array) -> Array:
    from scipy.special import ndtri

    return np.asarray(ndtri(u))


def _singles(doubts: Doubts, animals_K: tuple[float, float]) -> tuple[Single, ...]:
    warm_K, cold_K = animals_K
    high, low, sigmas, start_K = doubts.wall_high, doubts.wall_low, doubts.forecast_sigmas, doubts.start_K
    return (
        Single("central", "as stated"),
        Single("wall", f"the box loses {high - 1:.0%} more than its sizes say", wall=high),
        Single("wall", f"the box loses {1 - low:.0%} less than its sizes say", wall=low),
        Single("van", "the van is at the hot end of its range", van=1.0),
        Single("van", "the van is at the cool end of its range", van=-1.0),
        Single("buildings", "the buildings on the way are colder than stated", indoor=-1.0),
        Single("buildings", "the buildings on the way are warmer than stated", indoor=1.0),
        Single("aircraft", "the aircraft's hold is colder than stated", hold=-1.0),
        Single("aircraft", "the aircraft's hold is warmer than stated", hold=1.0),
        Single("air supply", "little air reaches the heat pack", supply=doubts.supply_low),
        Single("air supply", "much air reaches the heat pack", supply=doubts.supply_high),
        Single("start", f"the water goes in {start_K:g} K colder than stated", start_K=-start_K),
        Single("start", f"the water goes in {start_K:g} K warmer than stated", start_K=start_K),
        Single("forecast", "it turns colder than forecast", sigmas=-sigmas),
        Single("forecast", "it turns warmer than forecast", sigmas=sigmas),
        Single("animals", f"the animals bear {warm_K:g} K less heat than stated", heat_K=-warm_K),
        Single("animals", f"the animals bear {cold_K:g} K less cold than stated", cold_K=cold_K),
    )


def _stress(doubts: Doubts, animals_K: tuple[float, float]) -> tuple[Single, Single]:
    """Give the cold and the hot column of the quick look."""
    off = STRESS_SD * TRIANGLE_SD
    animals = STRESS_SD / RANGE_SIGMAS
    wall = 1.0 + off * (doubts.wall_high - 1.0)
    weather = STRESS_SD * FORECAST_TRIP_SD
    return (
        Single("stress", "all a little colder", wall, van=-off, indoor=-off, hold=-off, start_K=-off * doubts.start_K,
               cold_K=animals * animals_K[1], sigmas=-weather),
        Single("stress", "all a little warmer", wall, van=off, indoor=off, hold=off, start_K=off * doubts.start_K,
               heat_K=-animals * animals_K[0], sigmas=weather),
    )  # fmt: skip


class Weathers:
    """Forecast errors of every column, drawn once for each forecast and kept for the orders that share it."""

    def __init__(self, settings: Settings, members: Members) -> None:
        self._members = members
        self._law = settings.rules.doubts
        self._calibration = settings.calibration
        self._kept: dict[int, tuple[Forecast, Array]] = {}

    def draw(self, forecasts: Iterable[Forecast]) -> None:
        """Draw for many forecasts at once, which is quicker than one by one and gives the same numbers."""
        new = {id(one): one for one in forecasts if id(one) not in self._kept}
        if not new or self._members.joints == 0:
            return
        widen = {
            key: (self._law.stale_factor if is_stale(one) else 1.0) * self._learned(one) for key, one in new.items()
        }
        drawn = draw_members(new, self._members.joints, self._members.seed, sites=find_sites(new), widen=widen)
        for key, air_C in drawn.items():
            # Hours without a forecast have no error either; a leg that needs one of them has no weather.
            error_K = air_C - new[key].air_C
            self._kept[key] = (new[key], np.where(np.isfinite(new[key].air_C), error_K, 0.0))

    def _learned(self, forecast: Forecast) -> float:
        """How much more than the law this place misses, by the shop's own record. [1]"""
        return 1.0 if self._calibration is None else self._calibration.forecast_factor(forecast.source, forecast.cell)

    def table(self, weather: Mapping[Role, Forecast], members: Members) -> DoubtTable:
        """Give the table an exposure reads for these columns: all of them, or the first ones alone."""
        self.draw(weather.values() if members.joints else ())
        sigma_K = tabulate([ExposureDoubt(forecast_sigmas=1.0)], weather, self._law).forecast_K
        errors: dict[Role, Array] = {}
        for role, forecast in weather.items():
            error_K = members.sigmas[:, None] * sigma_K[role]
            if members.joints:
                error_K[members.joint] = self._kept[id(forecast)][1]
            errors[role] = error_K
        return DoubtTable(members.van, members.indoor, members.hold, errors)


def is_stale(forecast: Forecast) -> bool:
    """Say whether a forecast is flagged as old, so that its doubt is widened."""
    return any(flag.startswith("stale") for flag in forecast.flags)
