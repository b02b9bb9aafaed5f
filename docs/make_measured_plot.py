"""Draw docs/images/measured.png: an invented summer trip, its logger, and what was to be expected of it."""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from benchmarks.recover_calibration import DESIGNS, SHARED, demo_settings, make_trace  # noqa: E402
from shipwindow.advisory.measured import plot_measured  # noqa: E402
from shipwindow.desk.boxfit import load_box  # noqa: E402
from shipwindow.learn.band import expected  # noqa: E402

LEGS = (
    ("drop-off depot", 0.0, 6.0),
    ("hub sort", 6.0, 13.0),
    ("depot", 13.0, 16.0),
    ("van", 16.0, 21.5),
    ("porch", 21.5, 22.0),
)


def main() -> None:
    """Draw it."""
    with tempfile.TemporaryDirectory() as folder:
        settings = demo_settings(Path(folder) / "shop")
    truth = dict.fromkeys(SHARED, 1.0) | {"wall": 1.1, "van": 1.6}
    trace = make_trace(DESIGNS[4], truth, settings, np.random.default_rng(2))
    trace = replace(trace, legs=LEGS, zone="America/New_York")
    kind = settings.cargo.cargo[settings.shop.defaults.cargo]
    band = expected(trace, settings, load_box)
    picture = plot_measured(trace, band, (kind.safe_low_C, kind.safe_high_C), "F", "png")
    (ROOT / "docs" / "images" / "measured.png").write_bytes(picture)


if __name__ == "__main__":
    main()
