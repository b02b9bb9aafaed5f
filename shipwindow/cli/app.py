"""The command ``shipwindow``: its groups, and how every run ends.

For: one place that turns an error into three plain facts and an exit code. Must not know: what the commands do.
Heavy imports stay inside the commands, so that ``--help`` answers at once.

Exit codes: 0 all served · 1 a bug · 2 usage or settings · 3 an order held for missing data, or a bad row ·
4 a file or the store · 5 mail · 130 stopped with Ctrl-C.
"""

from __future__ import annotations

import logging
import os
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from shipwindow.cli import (
    advise,
    arrivals,
    backtest,
    calibrate,
    card,
    check,
    claims,
    cost,
    demo,
    doctor,
    fit,
    forecasts,
    init,
    mail,
    messages,
    orders,
    report,
    run,
    season,
    serve,
    sheets,
    watch,
)
from shipwindow.errors import ShipwindowError

EXIT_STOPPED = 130

app = typer.Typer(
    name="shipwindow",
    help="Decide each morning whether a box of live corals can travel: by which day, commitment and packing.",
    epilog="Exit codes: 0 all served, 2 usage or settings, 3 missing data or a bad row, 4 files, 5 mail, 1 a bug.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        from shipwindow.version import VERSION

        print(f"shipwindow {VERSION}")
        raise typer.Exit


@app.callback()
def _options(
    verbose: Annotated[
        bool, typer.Option("--verbose", "-v", help="Write a log line for every step to stderr.")
    ] = False,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    del version
    logging.basicConfig(
        stream=sys.stderr,
        # The advisory itself tells what went wrong on the way; saying it twice helps nobody.
        level=logging.INFO if verbose else logging.ERROR,
        format="%(asctime)s %(levelname)s %(name)s %(message)s",
    )


init.register(app)
demo.register(app)
advise.register(app)
check.register(app)
card.register(app)
season.register(app)
fit.register(app)
cost.register(app)
orders.register(app)
watch.register(app)
sheets.register(app)
app.add_typer(messages.app, name="messages")
app.add_typer(claims.app, name="claims")
arrivals.register(app)
calibrate.register(app)
report.register(app)
backtest.register(app)
app.add_typer(forecasts.app, name="forecasts")
app.add_typer(mail.app, name="mail")
run.register(app)
serve.register(app)
doctor.register(app)


_SOUTHERN = re.compile(r"-\d+(\.\d*)?\s*,")


def _tidy(arguments: Sequence[str]) -> list[str]:
    """Keep a southern place, "-33.9,151.2 Zone/Name", from being taken for an option."""
    return [f" {one}" if _SOUTHERN.match(one) else one for one in arguments]


def _prepare_streams() -> None:
    """Make sure that there is something to print to, and that no character can stop an advisory."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:  # closed by whoever started us
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - for as long as we run
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def main() -> None:
    """Run the command line; every error the program foresees ends here."""
    _prepare_streams()
    try:
        app(args=_tidy(sys.argv[1:]), prog_name="shipwindow")
    except ShipwindowError as error:
        tell(error)
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        sys.exit(EXIT_STOPPED)
    except SystemExit as ended:
        if ended.code == EXIT_STOPPED:  # the library that reads the options has caught Ctrl-C before us
            print("stopped", file=sys.stderr)
        raise
    except Exception as error:  # the last door: nothing continues after it
        if os.environ.get("SHIPWINDOW_TRACEBACK"):
            raise
        print(f"shipwindow failed: {type(error).__name__}: {error}", file=sys.stderr)
        print(
            "  This is a fault of the program, not of your files. Nothing half-written was left behind.",
            file=sys.stderr,
        )
        print(
            "  Run again with SHIPWINDOW_TRACEBACK=1 and report what it prints, with the command and the version.",
            file=sys.stderr,
        )
        sys.exit(1)


def tell(error: ShipwindowError) -> None:
    """Print what was read, what was expected and what to do; many faults, one line each."""
    faults = getattr(error, "faults", ())
    if faults:
        print(f"{len(faults)} fault{'s' if len(faults) > 1 else ''} in the settings:", file=sys.stderr)
        for fault in faults:
            print(f"  {fault}", file=sys.stderr)
        return
    print(f"read      {error.read}\nexpected  {error.expected}\ndo        {error.do}", file=sys.stderr)
