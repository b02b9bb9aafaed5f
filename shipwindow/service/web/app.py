"""Put the desk together: guard, pages, API, errors.

For: ``make_app``. Must not know: what a page says. Neighbours: ``guard``, ``pages_*``, ``api``, ``openapi``.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from http import HTTPStatus
from typing import Any, cast

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.staticfiles import StaticFiles

from shipwindow.errors import ShipwindowError
from shipwindow.service.web import (
    api,
    api_arrivals,
    pages_arrivals,
    pages_ask,
    pages_day,
    pages_orders,
    pages_state,
    pages_way_in,
)
from shipwindow.service.web.desk import WebDesk
from shipwindow.service.web.guard import PROGRAMS, Guard, TooLargeError
from shipwindow.service.web.openapi import describe
from shipwindow.service.web.problems import RefusedError, faults_of, problem_answer
from shipwindow.service.web.rendering import STATIC, error_page

log = logging.getLogger(__name__)


def make_app(desk: WebDesk, *, host: str = "127.0.0.1") -> FastAPI:
    """Make the app of one shop; ``host`` is the address it will listen at."""
    web = desk.web
    app = FastAPI(
        title="shipwindow", docs_url=None, redoc_url=None, openapi_url=None, lifespan=_lifespan, redirect_slashes=False
    )
    app.state.desk = desk
    for routes in (pages_day, pages_orders, pages_arrivals, pages_ask, pages_state, pages_way_in):
        app.include_router(routes.router(desk))
    app.include_router(api.router(desk))
    app.include_router(api_arrivals.router(desk))
    describe(app)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.add_exception_handler(ShipwindowError, _foreseen)
    app.add_exception_handler(RequestValidationError, _not_as_described)
    app.add_exception_handler(HTTPException, _plain)
    app.add_middleware(
        cast("Any", Guard),
        desk=desk,
        host=host,
        names=web.names,
        per_minute=web.per_minute,
        largest_body=web.largest_body_kB * 1000,
    )
    return app


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    threading.Thread(target=_make_ready, daemon=True, name="desk-ready").start()
    log.info("desk.started")
    yield
    app.state.desk.close()
    log.info("desk.stopped")


def _make_ready() -> None:
    """Load what the first check would wait for."""
    from shipwindow.box.ready import load_kernel

    load_kernel()


def _tell(request: Request, error: ShipwindowError, **more: Any) -> Response:  # noqa: ANN401 - faults
    program = request.url.path.startswith(PROGRAMS)
    return problem_answer(error, **more) if program else error_page(error)


async def _foreseen(request: Request, error: Exception) -> Response:
    return _tell(request, cast("ShipwindowError", error))


async def _not_as_described(request: Request, error: Exception) -> Response:
    faults = faults_of(list(cast("RequestValidationError", error).errors()))
    first = faults[0] if faults else None
    refused = RefusedError(
        HTTPStatus.UNPROCESSABLE_ENTITY,
        "request",
        f"{first.where}: {first.read}" if first else "a request",
        first.expected if first else "one as /api/openapi.json describes it",
        "correct the request; /api/openapi.json describes it",
    )
    return _tell(request, refused, faults=faults) if request.url.path.startswith(PROGRAMS) else _tell(request, refused)


async def _plain(request: Request, error: Exception) -> Response:
    """Say 404, 405 and the like in our own words."""
    if isinstance(error, TooLargeError):
        return _tell(request, error.told)
    found = cast("HTTPException", error)
    status = HTTPStatus(found.status_code)
    words = {
        HTTPStatus.NOT_FOUND: ("no-page", "an address that is not here", "a page of this desk", "start at /"),
        HTTPStatus.METHOD_NOT_ALLOWED: (
            "method",
            f"{request.method[:12]} at an address that does not take it",
            (found.headers or {}).get("Allow", "another method"),
            "see docs/api.md",
        ),
        HTTPStatus.BAD_REQUEST: ("body", "a body that cannot be read", "what the address takes", "correct it"),
    }
    kind, read, expected, do = words.get(status, ("http", status.phrase, "a request that can be served", "correct it"))
    refused = RefusedError(status, kind, read, expected, do)
    refused.headers = dict(found.headers or {})
    return _tell(request, refused)
