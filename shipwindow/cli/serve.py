"""``shipwindow serve``: the web desk and its API.

For: options to ``service.web``. Must not know: pages. Logs are JSON lines on stderr; addresses of requests are not in
them, since they hold orders and places.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

import typer

from shipwindow.cli.common import ForecastsOption, NowOption, ShopOption, read_now, say
from shipwindow.errors import ConfigError

HostOption = Annotated[
    str | None,
    typer.Option("--host", metavar="HOST", help="Address to listen at; any but 127.0.0.1 needs a token."),
]
PortOption = Annotated[int | None, typer.Option("--port", metavar="N", help="Port; else the shop's.")]


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("serve")(_serve)


def _serve(
    *,
    shop: ShopOption,
    host: HostOption = None,
    port: PortOption = None,
    forecasts: ForecastsOption = None,
    now: NowOption = None,
) -> None:
    """Serve the web desk and the API until it is told to stop; on this computer only, unless you say otherwise."""
    at = read_now(now)
    if port is not None and not 1 <= port <= 65535:
        raise ConfigError(f"--port {port}", "1 to 65535", "choose another")
    from shipwindow.advisory.run import open_shop
    from shipwindow.service.logs import use_json_logs
    from shipwindow.service.web.desk import WebDesk
    from shipwindow.service.web.listening import check_listening, listen, serve

    opened = open_shop(shop, at)  # a fault of the settings is told here, before anything starts
    web = opened.settings.service.web
    where, gate, token = host or web.host, port or web.port, web.token.get_secret_value()
    check_listening(where, token)
    taken = listen(where, gate)
    started = read_now(None)
    clock = None if now is None else lambda: at + timedelta(seconds=(read_now(None) - started).total_seconds())
    desk = WebDesk(shop, forecasts, clock, token)
    use_json_logs()
    shown = f"[{where}]" if ":" in where and not where.startswith("[") else where
    say(f"the desk of {opened.settings.shop.shop.name} is at http://{shown}:{gate}/ ; Ctrl-C ends it")
    serve(desk, where, taken)
