"""Load the compiled kernel before it is needed: ``load_kernel``.

For: processes that wait for work anyway. Must not know: trips, settings. Neighbours: ``summary``, ``runs``.
"""

from __future__ import annotations

import numpy as np

from shipwindow.box.exposure import Exposure
from shipwindow.box.geometry import Bag, Box, Load
from shipwindow.box.packs import PackPlan
from shipwindow.box.summary import DoseLaw, summarise


def load_kernel() -> None:
    """Follow one small box for an hour, which loads or compiles everything a search needs.

    Returns
    -------
    None                              The outcome is thrown away. [-]

    References
    ----------
    .. [1] None: any box will do. Status: engineering choice.
    """
    ones = np.ones((1, 1), dtype=np.float32)
    hour = Exposure(600.0, 20.0 * ones, 8.0 * ones, 0.0 * ones, np.ones(1), np.array([6]))  # type: ignore[arg-type]
    load = Load(Box((0.3, 0.25, 0.2), 0.0254), ((Bag((0.127, 0.254), 195e-6), 4),))
    summarise(
        [load], [PackPlan()], [hour], DoseLaw(28.0, 33.0, 2.2, 20.0, 15.0, 5.0, 25.0, 2.0, 22.0, 28.0), start_C=25.0
    )
