"""What stands before every route: host, rate, origin, token, size of body, headers of safety, one log line.

For: ``Guard``, the outermost layer of the app. Must not know: routes, pages. Neighbours: ``keys``, ``buckets``.

- A foreign ``Host`` is refused: a page elsewhere whose name is made to point here cannot read the desk (DNS rebinding).
- A writing request must come from our own pages: ``Sec-Fetch-Site`` or ``Origin``, and forms carry a key besides.
- Behind a proxy, a desk without a token refuses: it would be open to whoever reaches the proxy.
"""

from __future__ import annotations

import ipaddress
import logging
import time
from collections.abc import Awaitable, Callable, MutableMapping
from http import HTTPStatus
from typing import Any
from urllib.parse import quote, urlsplit

from fastapi import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from shipwindow.errors import ShipwindowError
from shipwindow.service.web.buckets import Buckets
from shipwindow.service.web.desk import WebDesk
from shipwindow.service.web.keys import LOGIN_COOKIE
from shipwindow.service.web.problems import RefusedError, problem_answer
from shipwindow.service.web.rendering import error_page

log = logging.getLogger(__name__)

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[MutableMapping[str, Any], Receive, Send], Awaitable[None]]

HERE = frozenset({"localhost", "127.0.0.1", "::1"})
READING = frozenset({"GET", "HEAD", "OPTIONS"})
PROGRAMS = ("/api/", "/metrics")
OPEN = ("/static/", "/login")
FORWARDED = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip")
LOGINS_PER_MINUTE = 10  # engineering choice
LONGEST_TARGET = 4096  # characters of path and query; engineering choice

CSP = (
    "default-src 'none'; style-src 'self'; img-src 'self' data:; form-action 'self'; "
    "frame-ancestors 'none'; base-uri 'none'"
)
SAFETY = {
    "Content-Security-Policy": CSP,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Cache-Control": "no-store",
}


class TooLargeError(HTTPException):
    """The body goes on beyond what is taken; FastAPI lets only its own kind of error through its reading of a body."""

    def __init__(self, largest: int) -> None:
        super().__init__(HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
        self.told = _too_large(largest)


class Guard:
    """Refuse what must not come in; give every answer its headers, its log line and its count."""

    def __init__(
        self, app: App, desk: WebDesk, *, host: str, names: tuple[str, ...], per_minute: int, largest_body: int
    ) -> None:
        self._app = app
        self._desk = desk
        self._names = frozenset(name.lower() for name in (*names, *HERE, host) if name)
        self._any_address = not _is_here(host)
        self._rates = Buckets(per_minute)
        self._logins = Buckets(LOGINS_PER_MINUTE)
        self._largest = largest_body

    async def __call__(self, scope: MutableMapping[str, Any], receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        request = Request(scope, receive)
        began_s = time.perf_counter()
        seen: dict[str, int] = {}

        async def say(message: Message) -> None:
            if message["type"] == "http.response.start":
                seen["status"] = message["status"]
                message["headers"] = _with_safety(message.get("headers", []))
            await send(message)

        try:
            await self._serve(request, self._counted(receive), say, seen)
        finally:
            took_s = time.perf_counter() - began_s
            route = getattr(scope.get("route"), "path", None) or "none"
            status = seen.get("status", 0)
            method = request.method if request.method in {*READING, "POST"} else "other"
            self._desk.metrics.answered(route, method, status, took_s)
            log.info("web.answered route=%s method=%s status=%d ms=%.0f", route, method, status, took_s * 1000.0)

    async def _serve(self, request: Request, receive: Receive, send: Send, seen: dict[str, int]) -> None:
        try:
            self._check(request)
            answer = self._let_in(request)
            if answer is not None:
                await answer(request.scope, receive, send)
                return
            await self._app(request.scope, receive, send)
        except ShipwindowError as error:
            if "status" not in seen:
                await _refusal(request, error)(request.scope, receive, send)
        except Exception:
            log.exception("web.failed reason=bug")
            if "status" not in seen:
                await _refusal(request, _bug())(request.scope, receive, send)

    def _check(self, request: Request) -> None:
        client = request.client.host if request.client else "unknown"
        now_s = time.monotonic()
        wait_s = self._rates.take(client, now_s)
        if wait_s == 0.0 and request.method == "POST" and request.url.path == "/login":
            wait_s = self._logins.take(client, now_s)
        if wait_s > 0.0:
            raise _too_often(wait_s)
        if len(request.url.path) + len(request.url.query) > LONGEST_TARGET:
            raise RefusedError(
                HTTPStatus.REQUEST_URI_TOO_LONG, "address", "an address of thousands of characters", "a short one",
                "send long values in the body",
            )  # fmt: skip
        host = _host_of(request.headers.get("host", ""))
        if not self._is_ours(host):
            raise RefusedError(
                HTTPStatus.MISDIRECTED_REQUEST,
                "host",
                f"a request for {host[:80] or 'no host'!r}",
                "the address this desk was started with",
                "open it by that address, or add the name to names under [web] in service.toml",
            )
        if not self._desk.keys.asked and any(name in request.headers for name in FORWARDED):
            raise RefusedError(
                HTTPStatus.FORBIDDEN,
                "token",
                "a request through a proxy, and no token is set",
                "a token for whoever comes from outside",
                "set SHIPWINDOW__SERVICE__WEB__TOKEN and start the desk again",
            )
        if request.method not in READING:
            _check_origin(request)
            length = request.headers.get("content-length", "0")
            if not length.isdigit() or int(length[:12]) > self._largest:
                raise _too_large(self._largest)

    def _let_in(self, request: Request) -> Response | None:
        """Ask for the token where one is set; None lets the request in."""
        keys, path = self._desk.keys, request.url.path
        if not keys.asked or path.startswith(OPEN):
            return None
        scheme, _, given = request.headers.get("authorization", "").partition(" ")
        if scheme.lower() == "bearer" and keys.is_token(given.strip()):
            return None
        if not given and keys.is_login(request.cookies.get(LOGIN_COOKIE, "")):
            return None
        if path.startswith(PROGRAMS):
            error = RefusedError(
                HTTPStatus.UNAUTHORIZED,
                "token",
                "no token, or another than this shop's",
                "Authorization: Bearer and the shop's token",
                "send the token that the desk was started with",
            )
            error.headers = {"WWW-Authenticate": 'Bearer realm="shipwindow"'}
            raise error
        if request.method not in READING:
            raise RefusedError(
                HTTPStatus.UNAUTHORIZED,
                "token",
                "a form, and nobody logged in",
                "a log-in",
                "log in, then send it again",
            )
        return RedirectResponse(f"/login?to={quote(path)}", HTTPStatus.SEE_OTHER)

    def _is_ours(self, host: str) -> bool:
        if host in self._names:
            return True
        # An address in figures cannot be a foreign name that was made to point here.
        return self._any_address and _is_address(host)

    def _counted(self, receive: Receive) -> Receive:
        taken = 0

        async def count() -> Message:
            nonlocal taken
            message = await receive()
            if message["type"] == "http.request":
                taken += len(message.get("body", b""))
                if taken > self._largest:
                    raise TooLargeError(self._largest)
            return message

        return count


def _with_safety(headers: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    there = {name.lower() for name, _ in headers}
    more = [(name.lower().encode(), value.encode()) for name, value in SAFETY.items()]
    return [*headers, *(pair for pair in more if pair[0] not in there)]


def _refusal(request: Request, error: ShipwindowError) -> Response:
    return problem_answer(error) if request.url.path.startswith(PROGRAMS) else error_page(error)


def _check_origin(request: Request) -> None:
    """Refuse a writing request that a page elsewhere has made."""
    site = request.headers.get("sec-fetch-site")
    origin = request.headers.get("origin")
    ours = True
    if site is not None:
        ours = site in {"same-origin", "none"}
    elif origin is not None:
        ours = urlsplit(origin).netloc.lower() == request.headers.get("host", "").lower()
    if not ours:
        raise RefusedError(
            HTTPStatus.FORBIDDEN,
            "origin",
            "a form that another site has sent",
            "one of this desk",
            "open the page here",
        )


def _host_of(header: str) -> str:
    """Take the port off: "[::1]:8377" gives "::1"."""
    text = header.strip().lower()
    if text.startswith("["):
        return text[1:].partition("]")[0]
    return text.rpartition(":")[0] if text.count(":") == 1 else text


def _is_address(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def _is_here(host: str) -> bool:
    return host.lower() in HERE or (_is_address(host) and ipaddress.ip_address(host).is_loopback)


def _too_often(wait_s: float) -> RefusedError:
    error = RefusedError(
        HTTPStatus.TOO_MANY_REQUESTS,
        "rate",
        "more requests a minute than this desk answers",
        "fewer, or a higher per-minute under [web]",
        f"wait {wait_s:.0f} s",
    )
    error.headers = {"Retry-After": str(max(int(wait_s + 0.999), 1))}
    return error


def _too_large(largest: int) -> RefusedError:
    return RefusedError(
        HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
        "size",
        "a body that is too large",
        f"up to {largest // 1000} kB",
        "send it in parts, or raise largest-body-kB under [web]",
    )


def _bug() -> ShipwindowError:
    return ShipwindowError(
        "a fault of the program, not of what you sent",
        "an answer",
        "look into the log of the desk and report it; nothing half-written was left behind",
    )
