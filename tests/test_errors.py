"""The tree of errors: three facts, one exit code each, drawn as it is."""

import re

import pytest

from shipwindow import errors
from shipwindow.errors import ShipwindowError

CODES = {
    "ShipwindowError": 1,
    "ConfigError": 2,
    "PlaceError": 2,
    "DomainError": 2,
    "ForecastError": 3,
    "MissingForecast": 3,
    "StaleForecast": 3,
    "ForecastHole": 3,
    "StoreError": 4,
    "MailError": 5,
}
CLASSES = {name: each for name, each in vars(errors).items() if isinstance(each, type)}


def test_every_class_is_listed_here_and_in_the_drawing() -> None:
    assert set(CLASSES) == set(CODES)
    drawn = re.findall(r"[├└]── (\w+)", str(errors.__doc__))
    assert ["ShipwindowError", *drawn] == list(CODES)


@pytest.mark.parametrize("name", CODES)
def test_code_and_message(name: str) -> None:
    error = CLASSES[name]("78", "a unit", "add one")
    assert isinstance(error, ShipwindowError)
    assert error.exit_code == CODES[name]
    assert (error.read, error.expected, error.do) == ("78", "a unit", "add one")
    assert str(error) == "78 · expected a unit · add one"


def test_a_domain_error_is_a_value_error_too() -> None:
    with pytest.raises(ValueError, match="expected 0 to 1"):
        raise errors.DomainError("2", "0 to 1", "correct it")


def test_forecast_errors_are_caught_together() -> None:
    for name in ("MissingForecast", "StaleForecast", "ForecastHole"):
        assert issubclass(CLASSES[name], errors.ForecastError)
