"""Random numbers that belong to a place, a day and a seed, and to nothing else.

For: unit-variance innovations for anchors and hours, alike in every run, correlated between places by
distance. Must not know: temperatures, forecasts. Neighbours: ``error_law`` (how far correlation reaches), ``spread``.

Each block of members and each run of days has its own counter-based generator (Philox), keyed by seed, purpose,
block and run; so another place, a longer forecast, a later issue or more members change no number that was drawn
before. A new issue of the same grid meets the same draws: two mornings are compared without the luck of the draw.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipwindow.forecast.error_law import NEAR_CORRELATION, REACH_KM

Array = NDArray[np.float64]
BLOCK = 50
ANCHORS_A_DAY = 4  # two anchors a day, each a slow and an own innovation
# Days drawn by one generator: fewer waste less, more open fewer generators. Status: engineering choice.
ANCHOR_CHUNK, HOUR_CHUNK = 16, 4
# Waves that make up the field between places: enough that a sum looks normal, few enough to be cheap.
# Status: engineering choice.
WAVES = 8
EARTH_KM = 6371.0088  # mean radius, IUGG. Status: memory


def generator(seed: int, purpose: str, block: int, chunk: int = 0) -> np.random.Generator:
    """Open the generator of one purpose, block of members and run of days."""
    text = f"{seed}|{purpose}|{block}|{chunk}"
    key = int.from_bytes(hashlib.blake2b(text.encode(), digest_size=16).digest(), "little")
    return np.random.Generator(np.random.Philox(key=key))


def on_sphere_km(latitude_deg: float, longitude_deg: float) -> Array:
    """Give a place as a point in space, seen from the Earth's centre, (3,) [km]."""
    phi, lam = np.radians(latitude_deg), np.radians(longitude_deg)
    return np.asarray(EARTH_KM * np.array([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)]))


@dataclass(frozen=True)
class Spot:
    """A cell: its name keys its own part, its coordinates place it in the shared field."""

    cell: str
    latitude_deg: float
    longitude_deg: float


class Field:
    """Innovations of one block of members, shared by distance, over a range of days.

    The shared part is a sum of plane waves with random wave vectors. With wave vectors from the three-dimensional
    Cauchy law the covariance of two places is exactly exp(-distance / reach), distance along the chord, whatever
    other places are asked for (random Fourier features; Rahimi & Recht 2007, from memory).

    Parameters
    ----------
    anchor_days, hour_days : (first, last)
        Days from which innovations of anchors and of hours are wanted.
    """

    def __init__(self, seed: int, block: int, anchor_days: tuple[int, int], hour_days: tuple[int, int]) -> None:
        self._seed = seed
        self._block = block
        self._streams = {
            "anchors": _Stream("anchors", ANCHORS_A_DAY, ANCHOR_CHUNK, anchor_days),
            "hours": _Stream("hours", 24, HOUR_CHUNK, hour_days),
        }
        drawn = generator(seed, "wave vectors", block).standard_normal((BLOCK, WAVES, 4))
        self._vectors = drawn[..., :3] / np.abs(drawn[..., 3:]) / REACH_KM
        self._amplitudes = {
            name: stream.draw(seed, "waves", block, (2 * WAVES,)) for name, stream in self._streams.items()
        }

    def innovations(self, spot: Spot) -> tuple[Array, Array]:
        """Give the innovations of a place, each N(0, 1): of anchors (BLOCK, days, 4) and of hours (BLOCK, days, 24)."""
        phase = self._vectors @ on_sphere_km(spot.latitude_deg, spot.longitude_deg)
        wave = np.concatenate([np.cos(phase), np.sin(phase)], axis=-1)[:, :, None] * np.sqrt(NEAR_CORRELATION / WAVES)
        found = []
        for name, stream in self._streams.items():
            own = stream.draw(self._seed, f"cell {spot.cell}", self._block, ())
            shape = self._amplitudes[name].shape
            shared = np.matmul(self._amplitudes[name].reshape(BLOCK, -1, shape[-1]), wave).reshape(shape[:-1])
            shared += np.sqrt(1.0 - NEAR_CORRELATION) * own
            found.append(shared)
        return found[0], found[1]


@dataclass(frozen=True)
class _Stream:
    """So many numbers a day, drawn in chunks of days that begin on fixed days."""

    name: str
    a_day: int
    chunk: int
    days: tuple[int, int]

    def draw(self, seed: int, purpose: str, block: int, tail: tuple[int, ...]) -> Array:
        """Draw the days wanted, (BLOCK, days, numbers a day, *tail)."""
        first, last = self.days
        chunks = range(first // self.chunk, last // self.chunk + 1)
        shape = (BLOCK, self.chunk, self.a_day, *tail)
        drawn = [generator(seed, f"{purpose} {self.name}", block, chunk).standard_normal(shape) for chunk in chunks]
        begins = first - chunks[0] * self.chunk
        return np.ascontiguousarray(np.concatenate(drawn, axis=1)[:, begins : begins + last - first + 1])


def moving(innovations: Array, factor: float, step: int, terms: int) -> Array:
    """Give a first-order autoregression as a weighted sum of its last innovations, along the last axis.

    ``factor`` is the correlation ``step`` places on. A sum of finitely many terms depends on no starting point; the
    weights are scaled to unit variance. The first ``step x (terms - 1)`` values are short of terms and not given.
    """
    weights = factor ** np.arange(terms)
    weights = weights / np.sqrt((weights**2).sum())
    lost = step * (terms - 1)
    length = innovations.shape[-1] - lost
    out = np.zeros((*innovations.shape[:-1], length))
    for term, weight in enumerate(weights):
        first = lost - step * term
        out += weight * innovations[..., first : first + length]
    return out
