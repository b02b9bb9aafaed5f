"""What ``arrivals`` and ``calibrate`` share: the shop as written, its database, and a logger's file with questions.

For: the edge of ``learn``. Must not know: fits. A file that could mean two things is asked about on a terminal and
refused elsewhere.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, cast

import typer

from shipwindow.cli.common import say
from shipwindow.errors import ConfigError

if TYPE_CHECKING:
    from shipwindow.learn.loggers import Asked, Readings
    from shipwindow.learn.stamps import DateOrder
    from shipwindow.settings import Shop

ZoneOption = Annotated[
    str | None,
    typer.Option("--zone", metavar="ZONE", help="Zone of the logger's clock: America/New_York, UTC or -05:00."),
]
ScaleOption = Annotated[str | None, typer.Option("--scale", metavar="F|C", help="Scale, when the file does not say.")]
DatesOption = Annotated[
    str | None, typer.Option("--dates", metavar="ORDER", help="day-first or month-first, when the file does not tell.")
]
ColumnOption = Annotated[str | None, typer.Option("--column", metavar="NAME", help="Heading of the column to read.")]
AirOption = Annotated[
    str | None,
    typer.Option("--air", metavar="FILE|TEMP", help='Air beside the box: a logger\'s file, or such as "38 degF".'),
]
StartOption = Annotated[
    str | None, typer.Option("--start", metavar="ISO", help="When the lid was shut, such as 2026-01-14T17:30-05:00.")
]


def written(folder: Path) -> Shop:
    """Load a shop as it is written, without a calibration: what is fitted starts from there."""
    from shipwindow.settings import load_shop

    return load_shop(folder, use_calibration=False)


@contextmanager
def learned(shop: Shop) -> Iterator[Any]:
    """Open the shop's database."""
    from shipwindow.learn.arrivals import learn_store, opened

    assert shop.folder is not None  # noqa: S101 - the command line opens folders only
    with opened(learn_store(shop.folder, shop.settings.desk.book.file)) as database:
        yield database


def read_instant(option: str, text: str | None, zone: str | None = None) -> datetime | None:
    """Read an instant; without an offset it is on the clock of ``zone``."""
    from shipwindow.advisory.moments import read_moment
    from shipwindow.learn.stamps import read_zone

    if text is None:
        return None
    found = datetime.fromisoformat(text.strip()) if _naive(text) else None
    if found is not None and zone is not None and not _named(zone):
        return found.replace(tzinfo=read_zone(zone))
    return read_moment(option, text, zone)


def _named(zone: str) -> bool:
    return "/" in zone


def _naive(text: str) -> bool:
    try:
        return datetime.fromisoformat(text.strip()).tzinfo is None and "T" in text.strip().replace(" ", "T", 1)
    except ValueError:
        return False


def asked_about(
    zone: str | None, scale: str | None, dates: str | None, column: str | None, start_at: datetime | None
) -> Asked:
    """Put the options about a file into one record."""
    from shipwindow.learn.loggers import Asked
    from shipwindow.learn.stamps import read_zone

    if scale is not None and scale.upper() not in ("F", "C"):
        raise ConfigError(f"--scale {scale!r}", "F or C", "say which scale the file is in")
    if dates is not None and dates not in ("day-first", "month-first"):
        raise ConfigError(f"--dates {dates!r}", "day-first or month-first", "say how 03/04 is to be read")
    return Asked(
        zone=read_zone(zone) if zone is not None else None,
        scale=cast("Any", scale.upper()) if scale is not None else None,
        dates=cast("DateOrder | None", dates),
        column=column,
        start_at=start_at,
    )


def read_file(path: Path, asked: Asked) -> Readings:
    """Read a logger's file; on a terminal what it leaves open is asked, elsewhere it is refused with a hint."""
    from shipwindow.learn.loggers import read_logger

    for _ in range(4):
        try:
            return _told(read_logger(path, asked), path)
        except ConfigError as error:
            answer = _ask(error, asked) if sys.stdin is not None and sys.stdin.isatty() else None
            if answer is None:
                raise
            asked = answer
    return _told(read_logger(path, asked), path)


def _told(readings: Readings, path: Path) -> Readings:
    for note in readings.notes:
        say(f"{path.name}: {note}")
    return readings


def _ask(error: ConfigError, asked: Asked) -> Asked | None:
    from shipwindow.learn.stamps import read_zone

    def prompt(question: str) -> str:
        try:
            return str(typer.prompt(f"{error.read}. {question}", err=True)).strip()
        except typer.Abort:
            raise KeyboardInterrupt from None

    if error.do.startswith("add --zone") and asked.zone is None:
        return replace(asked, zone=read_zone(prompt("In which zone is the logger's clock? (America/New_York, -05:00)")))
    if error.do.startswith("add --scale") and asked.scale is None:
        scale = prompt("degF or degC? (F/C)").upper()[:1]
        return replace(asked, scale=cast("Any", scale)) if scale in ("F", "C") else None
    if error.do.startswith("add --dates") and asked.dates is None:
        first = prompt("Does the day come first, or the month? (day/month)").lower()
        return replace(asked, dates="day-first" if first.startswith("d") else "month-first")
    return None


def read_air(text: str | None, asked: Asked) -> Readings | float | None:
    """Read ``--air``: a temperature with its unit, or a logger's file."""
    from shipwindow import units

    if text is None:
        return None
    if Path(text).is_file():
        return read_file(Path(text), replace(asked, column=None))
    if not any(character.isdigit() for character in text) or text.lower().endswith((".csv", ".txt")):
        raise ConfigError(f"--air {text!r}", 'a logger\'s file, or a temperature such as "38 degF"', "check the path")
    return units.temperature_C(text)
