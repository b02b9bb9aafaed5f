"""What the commands share: reading dates, the clock, consoles and the progress line.

For: the edge where ``now`` is taken from this computer. Must not know: any one command.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Self

import typer

from shipwindow.errors import ConfigError, StoreError

if TYPE_CHECKING:
    from types import TracebackType

    from rich.console import Console
    from rich.progress import Progress, TaskID

ShopOption = Annotated[Path, typer.Option("--shop", metavar="DIR", help="Your shop folder, made by `shipwindow init`.")]
OnOption = Annotated[str | None, typer.Option("--on", metavar="DATE", help="Ship day, YYYY-MM-DD; today if left out.")]
NowOption = Annotated[
    str | None,
    typer.Option(
        "--now", metavar="ISO", help="Take this instant for now, such as 2026-03-03T11:30Z; for recorded forecasts."
    ),
]
ForecastsOption = Annotated[
    Path | None,
    typer.Option("--forecasts", metavar="DIR", help="Folder of saved forecasts instead of the weather service."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON and nothing else.")]

EXIT_INCOMPLETE = 3
SHOWN_AFTER_S = 1.0
NARROWEST = 40  # columns; some terminals say 0
YEARS = range(2000, 2101)  # beyond them a date is a slip of the finger


def read_now(text: str | None) -> datetime:
    """Read ``--now``; without it, ask this computer's clock."""
    if text is None:
        return datetime.now(UTC)
    try:
        found = datetime.fromisoformat(text.strip())
    except ValueError:
        raise ConfigError(
            f"--now {text!r}", "an instant such as 2026-03-03T11:30Z", "write date, T, time and zone"
        ) from None
    if found.tzinfo is None:
        raise ConfigError(
            f"--now {text!r} without a zone",
            "an instant with its zone",
            f"add Z for UTC or an offset such as -05:00: {found:%Y-%m-%dT%H:%M}Z",
        )
    _check_year(f"--now {text!r}", found.year)
    return found


def read_day(text: str | None) -> date | None:
    """Read ``--on``."""
    if text is None:
        return None
    try:
        found = datetime.strptime(text.strip(), "%Y-%m-%d").replace(tzinfo=UTC).date()
    except ValueError:
        raise ConfigError(
            f"--on {text!r}", "a date as YYYY-MM-DD", "write year, month and day, such as 2026-03-03"
        ) from None
    _check_year(f"--on {text!r}", found.year)
    return found


def _check_year(read: str, year: int) -> None:
    if year not in YEARS:
        raise ConfigError(read, f"a year from {YEARS[0]} to {YEARS[-1]}", "correct the year")


def say(text: str) -> None:
    """Tell the person at the terminal something that is not the product."""
    print(text, file=sys.stderr)


@contextlib.contextmanager
def product() -> Iterator[None]:
    """Print the product: a reader that has left early (``| head``) is no fault, a full disk is told plainly."""
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        _stop_printing()
    except OSError as error:
        _stop_printing()
        raise StoreError(
            f"standard output: {error.strerror or error}", "a place to print to", "check the disk's room, or the pipe"
        ) from None


def _stop_printing() -> None:
    """Let what is still in the buffer go nowhere, so that leaving does not fail again."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)


def show(draw: Callable[[Console], None]) -> None:
    """Print what a function draws: in colour on a terminal, elsewhere as plain text."""
    from rich.console import Console

    console = Console(highlight=False, markup=False)
    width = max(console.width, NARROWEST)
    with product():
        if console.is_terminal:
            draw(Console(highlight=False, markup=False, width=width))
        else:
            from shipwindow.advisory.as_text import plain

            print(plain(draw, width), end="")


def show_json(text: str) -> None:
    """Print JSON, in UTF-8 whatever the terminal thinks it speaks (RFC 8259, section 8.1)."""
    text = text if text.endswith("\n") else f"{text}\n"
    buffer = getattr(sys.stdout, "buffer", None)
    with product():
        if buffer is None or (sys.stdout.encoding or "").lower().replace("-", "") == "utf8":
            print(text, end="")
        else:
            sys.stdout.flush()
            buffer.write(text.encode())
            buffer.flush()


class ProgressLine:
    """A bar on stderr, for a terminal only, and only once a run has taken a second."""

    def __init__(self) -> None:
        self._bar: Progress | None = None
        self._tasks: dict[str, TaskID] = {}
        self._timer: threading.Timer | None = None

    def __enter__(self) -> Self:
        if sys.stderr.isatty():
            self._bar = _new_bar()
            self._timer = threading.Timer(SHOWN_AFTER_S, self._bar.start)
            self._timer.daemon = True
            self._timer.start()
        return self

    def __call__(self, what: str, done: int, total: int) -> None:
        """Show how far a step has come."""
        if self._bar is None:
            return
        if what not in self._tasks:
            self._tasks[what] = self._bar.add_task(what, total=total)
        self._bar.update(self._tasks[what], completed=done, total=total)

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer.join()
        if self._bar is not None:
            self._bar.stop()


def _new_bar() -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    return Progress(
        TextColumn("{task.description}", markup=False),
        BarColumn(complete_style="bold", finished_style="dim"),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        console=Console(stderr=True),
        transient=True,
    )
