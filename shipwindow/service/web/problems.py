"""What went wrong, told to a program (RFC 9457, application/problem+json) or to a person (a page).

For: ``Problem`` and the answers made of it. Must not know: routes. Every problem carries the three plain facts of
``errors``: what was read, what was expected, what to do.
"""

from __future__ import annotations

from http import HTTPStatus
from typing import Any, ClassVar

from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import JSONResponse

from shipwindow.errors import (
    ConfigError,
    DomainError,
    ForecastError,
    MailError,
    PlaceError,
    ShipwindowError,
    StoreError,
)
from shipwindow.service.web.order_keys import KeyReusedError
from shipwindow.service.web.work import TooBusyError

API_VERSION = "1"
MEDIA_TYPE = "application/problem+json"
PHRASES = {413: "Content Too Large", 422: "Unprocessable Content"}  # RFC 9110; older Pythons say older words


class Fault(BaseModel):
    """One thing that was not as expected."""

    where: str
    read: str
    expected: str
    do: str


class Problem(BaseModel):
    """Problem details (RFC 9457) with what was read, what was expected and what to do."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "version": API_VERSION,
                    "type": "about:blank",
                    "title": "Unprocessable Content",
                    "status": 422,
                    "kind": "place",
                    "read": "ZIP code '00000'",
                    "expected": "a ZIP code of the United States",
                    "do": "check the digits",
                    "detail": "ZIP code '00000' · expected a ZIP code of the United States · check the digits",
                    "faults": [],
                }
            ]
        }
    )

    version: str = Field(description="version of this API")
    type: str = Field(description="about:blank: `kind` says what it is")
    title: str
    status: int
    kind: str = Field(description="stable word for the kind of problem")
    read: str
    expected: str
    do: str
    detail: str
    faults: tuple[Fault, ...] = ()


class RefusedError(ShipwindowError):
    """A request that is not answered, with its HTTP status."""

    def __init__(self, status: HTTPStatus, kind: str, read: str, expected: str, do: str) -> None:
        super().__init__(read, expected, do)
        self.status = status
        self.kind = kind
        self.headers: dict[str, str] = {}


class ShopFaultyError(ShipwindowError):
    """The shop's own settings cannot be used: nothing the asker can mend."""


class Told:
    """How an error is told: its status and its word."""

    KINDS: ClassVar[tuple[tuple[type[ShipwindowError], HTTPStatus, str], ...]] = (
        (TooBusyError, HTTPStatus.SERVICE_UNAVAILABLE, "busy"),
        (ShopFaultyError, HTTPStatus.SERVICE_UNAVAILABLE, "settings"),
        (KeyReusedError, HTTPStatus.UNPROCESSABLE_ENTITY, "key-reused"),
        (PlaceError, HTTPStatus.UNPROCESSABLE_ENTITY, "place"),
        (DomainError, HTTPStatus.UNPROCESSABLE_ENTITY, "range"),
        (ForecastError, HTTPStatus.SERVICE_UNAVAILABLE, "forecast"),
        (StoreError, HTTPStatus.SERVICE_UNAVAILABLE, "store"),
        (MailError, HTTPStatus.BAD_GATEWAY, "mail"),
        (ConfigError, HTTPStatus.UNPROCESSABLE_ENTITY, "value"),
    )


def status_of(error: ShipwindowError) -> tuple[HTTPStatus, str]:
    """Give the status and the word of an error."""
    if isinstance(error, RefusedError):
        return error.status, error.kind
    for kind, status, word in Told.KINDS:
        if isinstance(error, kind):
            return status, word
    return HTTPStatus.INTERNAL_SERVER_ERROR, "fault"


def problem_of(error: ShipwindowError, faults: tuple[Fault, ...] = ()) -> Problem:
    """Make the problem of an error."""
    status, kind = status_of(error)
    read, expected, do = (_short(text) for text in (error.read, error.expected, error.do))
    return Problem(
        version=API_VERSION,
        type="about:blank",
        title=PHRASES.get(status.value, status.phrase),
        status=status.value,
        kind=kind,
        read=read,
        expected=expected,
        do=do,
        detail=f"{read} · expected {expected} · {do}",
        faults=faults,
    )


def problem_answer(error: ShipwindowError, faults: tuple[Fault, ...] = ()) -> JSONResponse:
    """Answer a program."""
    problem = problem_of(error, faults)
    headers = dict(getattr(error, "headers", {}))
    if problem.kind in {"busy", "store"}:
        headers.setdefault("Retry-After", "30")
    return JSONResponse(problem.model_dump(mode="json"), problem.status, headers, MEDIA_TYPE)


def faults_of(errors: list[dict[str, Any]]) -> tuple[Fault, ...]:
    """Turn what FastAPI found wrong with a request into our three facts, without repeating long values."""
    found = []
    for error in errors[:20]:
        where = ".".join(_short(str(part), 40) for part in error.get("loc", ()))
        read = "nothing" if error.get("type") == "missing" else _short(repr(error.get("input")), 80)
        found.append(Fault(where=where, read=read, expected=_short(str(error.get("msg", ""))), do=f"correct {where}"))
    return tuple(found)


def _short(text: str, longest: int = 1000) -> str:
    """Keep a text printable and of bounded length; a lone surrogate could not be written as UTF-8."""
    tame = text[:longest].encode("utf-8", "replace").decode()
    return tame if len(text) <= longest else f"{tame}…"
