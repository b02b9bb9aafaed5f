"""The errors a user can meet, and the exit code each one ends a command with.

For: one tree, so that the edges (``cli``, ``service``) catch one class and print three plain facts.
Must not know: anything else of the package.

    ShipwindowError                     read, expected, do          exit 1
    ├── ConfigError                     a settings or orders file   exit 2
    ├── PlaceError                      a ZIP or coordinates        exit 2
    ├── DomainError (also ValueError)   a number outside its range  exit 2
    ├── ForecastError                   no usable forecast          exit 3
    │   ├── MissingForecast             none to be had
    │   ├── StaleForecast               too old to decide on
    │   └── ForecastHole                a gap where the box will be
    ├── StoreError                      the database or a file      exit 4
    └── MailError                       the mail server             exit 5
"""

from __future__ import annotations


class ShipwindowError(Exception):
    """Say what was read, what was expected and what to do about it."""

    exit_code = 1

    def __init__(self, read: str, expected: str, do: str) -> None:
        super().__init__(read, expected, do)
        self.read = read
        self.expected = expected
        self.do = do

    def __str__(self) -> str:
        return f"{self.read} · expected {self.expected} · {self.do}"


class ConfigError(ShipwindowError):
    """A settings file, orders file or option cannot be used as written."""

    exit_code = 2


class PlaceError(ShipwindowError):
    """A postcode or pair of coordinates does not name a place a box can go to."""

    exit_code = 2


class DomainError(ShipwindowError, ValueError):
    """A number lies outside the range a formula is valid for."""

    exit_code = 2


class ForecastError(ShipwindowError):
    """No forecast that a decision may rest on."""

    exit_code = 3


class MissingForecast(ForecastError):
    """No forecast could be had for a place."""


class StaleForecast(ForecastError):
    """The newest forecast is too old to decide on."""


class ForecastHole(ForecastError):
    """The forecast has a gap at an hour when the box depends on it."""


class StoreError(ShipwindowError):
    """The database or an output file cannot be read or written."""

    exit_code = 4


class MailError(ShipwindowError):
    """The mail server refused, or could not be reached."""

    exit_code = 5
