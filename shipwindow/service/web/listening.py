"""Where the desk listens, and running it there.

For: ``check_listening`` and ``serve``, called by the command line. Must not know: routes. Off this computer's loopback
a token is needed, long enough that nobody guesses it; it comes from the environment and is never written anywhere.
"""

from __future__ import annotations

import ipaddress
import logging
import signal
import socket
from pathlib import Path
from typing import TYPE_CHECKING

from shipwindow.errors import ConfigError
from shipwindow.service.web.keys import SHORTEST_TOKEN

if TYPE_CHECKING:
    from shipwindow.service.web.desk import WebDesk

MOST_CONNECTIONS = 250
BACKLOG = 128
GRACE_S = 20


def is_loopback(host: str) -> bool:
    """Say whether only this computer can reach an address; a name other than localhost is not looked up."""
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def check_listening(host: str, token: str) -> None:
    """Refuse to listen beyond this computer without a long token.

    Raises
    ------
    ConfigError     No token, or a short one, for an address that others can reach; or any token that is short.
    """
    if token and len(token) < SHORTEST_TOKEN:
        raise ConfigError(
            f"a token of {len(token)} characters",
            f"{SHORTEST_TOKEN} or more",
            "make one: python3 -c 'import secrets; print(secrets.token_urlsafe(24))'",
        )
    if not token and not is_loopback(host):
        raise ConfigError(
            f"host {host or 'any'} without a token",
            "a token of 20 or more characters, or host 127.0.0.1",
            "set SHIPWINDOW__SERVICE__WEB__TOKEN in the environment; make one: "
            "python3 -c 'import secrets; print(secrets.token_urlsafe(24))'",
        )


def listen(host: str, port: int) -> socket.socket:
    """Take the address, or say why not."""
    bare = host.strip("[]")
    try:
        family = socket.getaddrinfo(bare, port, type=socket.SOCK_STREAM)[0][0]
        return socket.create_server((bare, port), family=family, backlog=BACKLOG)
    except OSError as error:
        raise ConfigError(
            f"{host}:{port}: {error.strerror or error}",
            "an address of this computer that is free",
            "stop what listens there, or choose another with --port",
        ) from None


def serve(desk: WebDesk, host: str, taken: socket.socket) -> None:
    """Answer until a signal says otherwise; what has begun is finished first."""
    import uvicorn

    from shipwindow.service.web.app import make_app

    config = uvicorn.Config(
        make_app(desk, host=host),
        log_config=None,
        access_log=False,  # addresses of requests hold orders and places; guard writes its own line
        server_header=False,
        date_header=True,
        limit_concurrency=MOST_CONNECTIONS,
        timeout_keep_alive=10,
        timeout_graceful_shutdown=GRACE_S,
        h11_max_incomplete_event_size=32768,
        ws="none",
    )
    logging.getLogger("uvicorn").setLevel(logging.WARNING)
    for each in (signal.SIGINT, signal.SIGTERM):
        # The server finishes what has begun, then raises the signal once more for whoever waits for it: nobody here.
        signal.signal(each, lambda _number, _frame: None)
    uvicorn.Server(config).run(sockets=[taken])


def token_of(folder: Path) -> tuple[str, str, int]:
    """Read token, host and port of a shop's settings."""
    from shipwindow.settings import load_shop

    web = load_shop(folder).settings.service.web
    return web.token.get_secret_value(), web.host, web.port
