"""``shipwindow run``: the shop's days by themselves, until it is told to stop.

For: options to ``service.clockwork``. Must not know: what a day asks for. Logs are JSON lines on stderr.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

import typer

from shipwindow.cli.common import ForecastsOption, NowOption, ShopOption, read_now, say
from shipwindow.errors import ConfigError

OnceOption = Annotated[bool, typer.Option("--once", help="Do what is due now, then end; for a timer of your own.")]


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("run")(_run)


def _run(
    *, shop: ShopOption, once: OnceOption = False, now: NowOption = None, forecasts: ForecastsOption = None
) -> None:
    """Make each morning's advisory, a second look before the cut-off, and send the letters, by the shop's clock."""
    if now is not None and not once:
        raise ConfigError("--now without --once", "--now with --once", "add --once, or let the clock run")
    at = read_now(now)
    from shipwindow.advisory.run import open_shop
    from shipwindow.service.clockwork import run_service, sole
    from shipwindow.service.logs import use_json_logs
    from shipwindow.service.mornings import Mornings, timetable_of

    opened = open_shop(shop, at)  # a fault of the settings is told here, before anything starts
    days = Mornings(shop, forecasts)
    use_json_logs()
    if not once:
        table = timetable_of(opened)
        coming = table.next_after(at)
        then = coming.at.astimezone(table.zone)
        say(f"running for {opened.settings.shop.shop.name}; next: {coming.what} on {then:%a %Y-%m-%d at %H:%M}")
        run_service(shop, mornings=days)
        return
    with sole(shop):
        done = days.tick(at, (lambda: at) if now is not None else (lambda: datetime.now(UTC)))
    for each in done:
        say(f"{each.what} of {each.day}: {each.said}" if each.ok else f"{each.what} of {each.day} FAILED: {each.said}")
    if not done:
        say("nothing is due")
    if any(not each.ok for each in done):
        raise typer.Exit(4)
