"""Members of doubt as an exposure sees them: where in its range each stated number is, and the error of the forecast.

For: ``DoubtTable``, the one form in which ``expose`` reads doubts; ``tabulate`` makes it of doubts told one at a time.
Must not know: how members are drawn, boxes, animals. Neighbours: ``exposure`` and ``many`` (read it), ``decide`` (draws
joint members), ``forecast.spread`` (error paths).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shipwindow.errors import DomainError, ForecastError
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.models import Doubts
from shipwindow.trip.legs import Role

Array = NDArray[np.float64]
End = Literal["low", "central", "high"]
POSITION: Mapping[End, float] = {"low": -1.0, "central": 0.0, "high": 1.0}
NO_ERROR: Mapping[Role, Array] = {}


@dataclass(frozen=True)
class ExposureDoubt:
    """One member: what is taken at which end of its stated range."""

    forecast_sigmas: float = 0.0  # standard deviations added to every outdoor temperature
    van: End = "central"
    indoor: End = "central"  # buildings and cars
    hold: End = "central"  # the aircraft's hold


@dataclass(frozen=True, eq=False)
class DoubtTable:
    """M members, all doubts at once.

    A position is where in its stated range a number is taken: 0 central, -1 at its low end, +1 at its high end,
    straight in between on each side. A place without an error has none.
    """

    van: Array  # (M,) gain of the van
    indoor: Array  # (M,) buildings and cars
    hold: Array  # (M,) the aircraft's hold
    forecast_K: Mapping[Role, Array] = field(default_factory=lambda: NO_ERROR)  # (M, H), one an hour of the grid

    def __post_init__(self) -> None:
        """Refuse members of different counts, positions outside -1 to 1, and errors that are no numbers."""
        shapes = {self.van.shape, self.indoor.shape, self.hold.shape}
        if len(shapes) != 1 or self.van.ndim != 1 or self.van.size == 0:
            raise DomainError(f"doubts of shapes {sorted(shapes)}", "one position a member, at least one", "match them")
        for name in ("van", "indoor", "hold"):
            values = getattr(self, name)
            # a NaN fails both comparisons, so it is refused too
            if not bool(np.all((values >= -1.0) & (values <= 1.0))):
                raise DomainError(
                    f"{name} from {values.min():g} to {values.max():g}", "positions of -1 to 1", "keep to the range"
                )
        for role, error_K in self.forecast_K.items():
            if error_K.ndim != 2 or error_K.shape[0] != self.members or not bool(np.isfinite(error_K).all()):
                raise DomainError(
                    f"a forecast error at the {role} of shape {error_K.shape}",
                    f"({self.members}, hours), finite",
                    "one row a member, one column an hour of the grid",
                )

    @property
    def members(self) -> int:
        """How many members M."""
        return int(self.van.size)

    def first(self, count: int) -> DoubtTable:
        """Give the first members alone.

        References
        ----------
        .. [1] None: a cut. Status: engineering choice.
        """
        errors: Mapping[Role, Array] = {role: error_K[:count] for role, error_K in self.forecast_K.items()}
        return DoubtTable(self.van[:count], self.indoor[:count], self.hold[:count], errors)


def tabulate(
    doubts: Sequence[ExposureDoubt], weather: Mapping[Role, Forecast | ForecastError], law: Doubts
) -> DoubtTable:
    """Put doubts told one at a time into the table ``expose`` reads.

    Parameters
    ----------
    doubts : sequence                 Members, at least one.
    weather : mapping                 Forecast of each role; an error in its stead has no hours and gets no row.
    law : Doubts                      Forecast error of ``rules.toml``. [K], [K/h]

    Returns
    -------
    DoubtTable

    Notes
    -----
    Shift of an hour: sigmas x (forecast + forecast_K_per_h x lead at its middle), times ``stale_factor`` if the
    forecast is flagged stale.

    References
    ----------
    .. [1] Forecast error: measured on US city forecasts 2021-22, uncertainty.md 1.1. Status: source.
    """
    sigmas = np.array([doubt.forecast_sigmas for doubt in doubts])
    errors: dict[Role, Array] = {}
    if np.any(sigmas):
        for role, forecast in weather.items():
            if isinstance(forecast, Forecast):
                errors[role] = sigmas[:, None] * _sigma_K(forecast, law)
    van, indoor, hold = (
        np.array([POSITION[getattr(doubt, name)] for doubt in doubts]) for name in ("van", "indoor", "hold")
    )
    return DoubtTable(van, indoor, hold, errors)


def _sigma_K(forecast: Forecast, law: Doubts) -> Array:
    """Give the standard deviation of each hour of a forecast, (H,). [K]."""
    first_h = (forecast.start_at - forecast.issued_at) / timedelta(hours=1)
    lead_h = first_h + 0.5 + np.arange(len(forecast.air_C))
    sigma_K = law.forecast_K + law.forecast_K_per_h * np.maximum(lead_h, 0.0)
    stale = any(flag.startswith("stale") for flag in forecast.flags)
    return np.asarray(sigma_K * law.stale_factor if stale else sigma_K)


def within_range(position: Array, low: float, central: float, high: float) -> Array:
    """Give the value at each position of a stated range.

    Parameters
    ----------
    position : array                  -1 to 1; 0 is central. [-]
    low, central, high : float        The range.

    Returns
    -------
    value : array                     Straight from central to each end; unit as the range.

    References
    ----------
    .. [1] None: two straight lines. Status: engineering choice.
    """
    return np.asarray(central + np.where(position > 0.0, position * (high - central), position * (central - low)))
