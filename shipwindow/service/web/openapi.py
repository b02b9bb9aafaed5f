"""The description of the API as OpenAPI 3.1, with problems in their own media type.

For: ``describe`` (the app's own description) and ``as_text`` (the committed docs/schema/api.json). Must not know: what
a route does. Run as a module it writes the committed file: ``python -m shipwindow.service.web.openapi FILE``.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from shipwindow.service.web.problems import API_VERSION, MEDIA_TYPE, Problem

SUMMARY = "Ask a shop's desk: may a place be accepted, what does today's advisory say, which orders are in the book."
DESCRIPTION = """\
Decision help from public weather forecasts and a heat model of the box, both with stated uncertainty; you decide.

Temperatures are in degC, chances from 0 to 1, instants carry their offset. Every answer says `version`; within a
version fields are only added. Errors are problem details (RFC 9457) that say what was read, what was
expected, what to do.
On this computer no token is asked unless one is set; from anywhere else send `Authorization: Bearer` and the token.
"""
FAULTS = {
    "400": "The body cannot be read.",
    "401": "No token, or another one.",
    "403": "From another site, or through a proxy without a token.",
    "404": "Not there.",
    "413": "The body is too large.",
    "422": "A value, a place or the request as a whole is not as expected.",
    "429": "Too many requests: see Retry-After.",
    "503": "Forecast, store or settings cannot be used now, or too much is under way: see Retry-After.",
}


def describe(app: FastAPI) -> None:
    """Let the app give this description of itself."""

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            app.openapi_schema = _made(app)
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]


def _made(app: FastAPI) -> dict[str, Any]:
    found = get_openapi(
        title="shipwindow", version=API_VERSION, summary=SUMMARY, description=DESCRIPTION, routes=app.routes
    )
    parts = found["components"]["schemas"]
    for name in ("HTTPValidationError", "ValidationError"):
        parts.pop(name, None)
    problem = Problem.model_json_schema(ref_template="#/components/schemas/{model}", mode="serialization")
    parts.update(problem.pop("$defs", {}))
    parts["Problem"] = problem
    found["components"]["securitySchemes"] = {"token": {"type": "http", "scheme": "bearer"}}
    found["security"] = [{}, {"token": []}]
    body = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    for methods in found["paths"].values():
        for operation in methods.values():
            for status, says in FAULTS.items():
                operation["responses"][status] = {"description": says, "content": body}
    return found


def as_text(app: FastAPI) -> str:
    """Write the description, the same bytes each time."""
    return json.dumps(app.openapi(), indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def main(target: str) -> None:
    """Write the committed description of a demo shop's desk; no shop's own values are in it."""
    from shipwindow.service.web.app import make_app
    from shipwindow.service.web.desk import WebDesk
    from shipwindow.settings.packed import fixtures_folder
    from shipwindow.store import write_atomically

    write_atomically(Path(target), as_text(make_app(WebDesk(fixtures_folder() / "demo-shop"))))


if __name__ == "__main__":
    main(sys.argv[1])
