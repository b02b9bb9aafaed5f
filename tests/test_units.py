"""Quantities as people write them, against pint and against the definitions of the units.

Exact definitions: inch 25.4 mm and pound 0.45359237 kg (international yard and pound agreement, 1959), degF from
degC by t(F) = 1.8 t(C) + 32 (NIST Special Publication 811). Status: memory.
"""

import math
import subprocess
import sys
from collections.abc import Callable

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipwindow import units
from shipwindow.errors import ConfigError

NUMBERS = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False, allow_infinity=False)

CASES: list[tuple[Callable[[object], float], str, float]] = [
    (units.temperature_C, "78 degF", 25.555555555555557),
    (units.temperature_C, "-40 F", -40.0),
    (units.temperature_C, "25.5 degC", 25.5),
    (units.temperature_C, "25.5 °C", 25.5),
    (units.temperature_C, "300 K", 26.85),
    (units.rise_K, "20 degF", 11.11111111111111),
    (units.rise_K, "6 K", 6.0),
    (units.rise_K, "6 degC", 6.0),
    (units.length_m, "12 in", 0.3048),
    (units.length_m, "2.5 cm", 0.025),
    (units.length_m, "1 yard", 0.9144),
    (units.volume_m3, "250 mL", 2.5e-4),
    (units.volume_m3, "1 gallon", 3.785411784e-3),
    (units.mass_kg, "2 lb", 0.90718474),
    (units.mass_kg, "100 g", 0.1),
    (units.duration_h, "20 min", 1.0 / 3.0),
    (units.duration_h, "2 days", 48.0),
    (units.distance_km, "150 miles", 241.4016),
    (units.speed_m_s, "750 km/h", 208.33333333333334),
    (units.flow_m3_s, "0.1 mL/s", 1e-7),
    (units.pressure_kPa, "1 atm", 101.325),
    (units.latent_J_kg, "334 kJ/kg", 334000.0),
    (units.conductivity_W_mK, "0.036 W/m/K", 0.036),
]


@pytest.mark.parametrize(("read", "text", "expected"), CASES)
def test_known_quantities(read: Callable[[object], float], text: str, expected: float) -> None:
    # Exact definitions: only float rounding is allowed.
    assert read(text) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("target", "unit"), [(target, unit) for target, table in units._EXACT.items() for unit in table]
)
def test_quick_table_agrees_with_pint(target: str, unit: str) -> None:
    spelt = {"m3": "m**3"}.get(unit, unit)  # pint wants the power written out
    # pint is the reference library here; 1e-12 is float rounding.
    assert units._EXACT[target][unit] == pytest.approx(pint.Quantity(1.0, spelt).to(target).magnitude, rel=1e-12)


@given(NUMBERS)
def test_fahrenheit_against_pint(value: float) -> None:
    if value < -459.67:
        with pytest.raises(ConfigError, match="above absolute zero"):
            units.temperature_C(f"{value!r} degF")
    else:
        expected = pint.Quantity(value, "degF").to("degC").magnitude
        # Two orders of the same sum: a few parts in 1e15 of the largest term.
        assert units.temperature_C(f"{value!r} degF") == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(st.floats(min_value=-80.0, max_value=80.0))
def test_celsius_and_fahrenheit_round_trip(value_C: float) -> None:
    written = f"{value_C * 1.8 + 32.0!r} degF"
    assert units.temperature_C(written) == pytest.approx(value_C, abs=1e-9)


@given(st.integers(min_value=-200, max_value=250))
def test_whole_fahrenheit_survives_being_shown(value_F: int) -> None:
    assert units.show_temperature(units.temperature_C(f"{value_F} degF"), "F") == f"{value_F} °F"


@given(st.integers(min_value=0, max_value=10**9))
def test_cents_round_trip(cents: int) -> None:
    assert units.cents(f"{cents // 100}.{cents % 100:02d}") == cents


BAD: list[tuple[Callable[[object], float], object, str]] = [
    (units.temperature_C, 78, 'add the unit, in quotes: "78 degF"'),
    (units.temperature_C, "78", 'add the unit, in quotes: "78 degF"'),
    (units.temperature_C, True, "write it as text in quotes"),
    (units.temperature_C, None, "write it as text in quotes"),
    (units.temperature_C, "", "write a number, a space and the unit"),
    (units.temperature_C, "warm", "write a number, a space and the unit"),
    (units.temperature_C, "nan degF", "write a number, a space and the unit"),
    (units.temperature_C, "inf degC", "write a number, a space and the unit"),
    (units.temperature_C, "78 deg", "use degF or degC"),
    (units.temperature_C, "12 in", "use degF or degC"),
    (units.rise_K, 6, 'add the unit, in quotes: "6 K"'),
    (units.rise_K, "6 in", "use K, degC or degF"),
    (units.length_m, "12", 'add the unit, in quotes: "12 in"'),
    (units.length_m, "12 degF", "is not a unit of a length"),
    (units.length_m, "12 smoots_or_so", "is not a unit of a length"),
    (units.length_m, "1 2 in", "is not a unit of a length"),
    (units.mass_kg, "100 mL", "is not a unit of a mass"),
    (units.duration_h, "6 m", "is not a unit of a duration"),
    (units.length_m, "1 in; import os", "is not a unit of a length"),
    (units.length_m, "0]", "is not a unit of a length"),
    (units.length_m, "1 9**9**9**9", "is not a unit of a length"),
    (units.length_m, "1 m**999999", "is not a unit of a length"),
    (units.length_m, "1e999 m", "write a smaller number"),
    (units.temperature_C, "1e999 degC", "write a smaller number"),
    (units.cents, "1e999", "write a plain number"),
    (units.cents, "a lot", "write a plain number"),
    (units.cents, "18 eur", "without a unit"),
    (units.cents, -1, "without a unit"),
    (units.cents, False, "write a plain number"),
]


@pytest.mark.parametrize(("read", "value", "said"), BAD)
def test_unreadable_quantities(read: Callable[[object], float], value: object, said: str) -> None:
    with pytest.raises(ConfigError) as caught:
        read(value)
    assert said in str(caught.value)


@given(st.text(max_size=30) | st.from_regex(r"[0-9]{1,3}(e[0-9]{1,4})? ?[a-z()\[\]:*/^0-9]{0,9}", fullmatch=True))
def test_any_text_is_read_or_refused_never_a_crash(text: str) -> None:
    for read in (units.temperature_C, units.rise_K, units.length_m, units.duration_h):
        try:
            found = read(text)
        except ConfigError:
            continue
        assert math.isfinite(found)


def test_shown_for_people() -> None:
    assert units.show_temperature(25.5555, "F") == "78 °F"
    assert units.show_temperature(25.5555, "C") == "25.6 °C"
    assert units.show_rise(11.111, "F") == "20 °F"
    assert units.show_rise(6.0, "C") == "6.0 K"


def test_pint_is_loaded_only_for_rare_units() -> None:
    code = (
        "import sys; from shipwindow import units;"
        "units.length_m('12 in'); units.duration_h('20 min'); print('pint' in sys.modules);"
        "units.length_m('1 yard'); print('pint' in sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.split() == ["False", "True"]
