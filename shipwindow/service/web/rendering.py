"""Pages from templates: the frame that all share, the key in every form, the header for styles that a page brings.

For: ``Renderer.page`` and ``error_page``. Must not know: routes, what a page says. Every text is escaped by the
templates; only drawings of our own are put in as they are.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Sequence
from functools import lru_cache
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import HTMLResponse

from shipwindow.errors import ShipwindowError
from shipwindow.service.web import words
from shipwindow.service.web.keys import VISIT_COOKIE, Keys
from shipwindow.service.web.problems import status_of

if TYPE_CHECKING:
    from shipwindow.service.web.desk import WebDesk

NAV = (
    ("/", "Today"),
    ("/check", "Ask a place"),
    ("/window", "Window"),
    ("/orders", "Orders"),
    ("/sheets", "Sheets"),
    ("/watch", "On the way"),
    ("/arrivals", "Arrivals"),
    ("/claims", "Claims"),
)
MORE = (
    ("/report", "Report"),
    ("/season", "Season"),
    ("/card", "Bench card"),
    ("/forecasts", "Forecasts"),
    ("/outbox", "Outbox"),
    ("/health", "Health"),
    ("/settings", "Settings"),
)
_STYLE = re.compile(r"<style[^>]*>(.*?)</style>", re.DOTALL)
_BAR_STYLE = (
    ".desk-bar{display:flex;flex-wrap:wrap;gap:.2rem 1.2rem;margin-bottom:1rem;font:.9rem/1.5 sans-serif}"
    ".desk-bar a{padding:.5rem 0;color:inherit}@media print{.desk-bar{display:none}}"
)
STATIC = Path(__file__).parent / "static"


@lru_cache(maxsize=1)
def _environment() -> Any:  # noqa: ANN401 - Jinja2's own type
    from jinja2 import Environment, PackageLoader, StrictUndefined

    from shipwindow.advisory import view

    environment = Environment(
        loader=PackageLoader("shipwindow.service.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_kept_together,
    )
    environment.globals.update(view=view, words=words, nav=NAV, more=MORE, css_version=static_version("desk.css"))
    return environment


def _kept_together(value: Any) -> Any:  # noqa: ANN401 - whatever a template shows
    """Keep a number and its per cent sign on one line."""
    return value.replace(" %", "\u00a0%") if type(value) is str else value


@lru_cache(maxsize=4)
def static_version(name: str) -> str:
    """Give a short digest of a static file, so that a new version is fetched anew."""
    return hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:12]


def secure(request: Request) -> bool:
    """Say whether cookies may ask for an encrypted connection."""
    return request.url.scheme == "https"


def page(desk: WebDesk, request: Request, template: str, status: int = 200, **said: Any) -> HTMLResponse:  # noqa: ANN401 - what a template shows
    """Render a page of the desk."""
    visit = request.cookies.get(VISIT_COOKIE, "")
    fresh = not re.fullmatch(r"[\w-]{20,40}", visit)
    if fresh:
        visit = Keys.new_visit()
    text = (
        _environment()
        .get_template(template)
        .render(
            here=request.url.path,
            shop=desk.shop().settings.shop.shop.name,
            form_key=desk.keys.form_key(visit),
            can_leave=desk.keys.asked,
            **said,
        )
    )
    answer = HTMLResponse(text, status)
    if fresh:
        answer.set_cookie(VISIT_COOKIE, visit, httponly=True, samesite="strict", secure=secure(request), path="/")
    return answer


def bare_page(template: str, status: int = 200, **said: Any) -> HTMLResponse:  # noqa: ANN401 - as above
    """Render a page that needs no shop: the log-in, an error."""
    return HTMLResponse(_environment().get_template(template).render(**said), status)


def error_page(error: ShipwindowError) -> HTMLResponse:
    """Tell a person what was read, what was expected and what to do."""
    status, kind = status_of(error)
    faults = tuple(str(fault) for fault in getattr(error, "faults", ()))
    answer = bare_page("error.html", status.value, told=status, kind=kind, error=error, faults=faults)
    for name, value in getattr(error, "headers", {}).items():
        answer.headers[name] = value
    return answer


def with_styles(text: str, links: Sequence[tuple[str, str]] = ()) -> HTMLResponse:
    """Serve a self-contained page whose styles stand in it: each is allowed by its digest, nothing else is.

    Links back to the desk, and to other forms of the page, are put on top of it; they are not printed.
    """
    every = "".join(
        f'<a href="{escape(path)}">{escape(name)}</a> ' for path, name in (*links, ("/", "Back to the desk"))
    )
    bar = f'<style>{_BAR_STYLE}</style><nav class="desk-bar" aria-label="Desk">{every}</nav>'
    text = text.replace("</head>", '<link rel="icon" href="/static/icon.svg" type="image/svg+xml">\n</head>', 1)
    text = text.replace("<body>", f"<body>\n{bar}", 1)
    digests = dict.fromkeys(
        base64.b64encode(hashlib.sha256(style.encode()).digest()).decode() for style in _STYLE.findall(text)
    )
    allowed = " ".join(f"'sha256-{digest}'" for digest in digests) or "'none'"
    policy = (
        f"default-src 'none'; style-src {allowed}; img-src 'self' data:; form-action 'self'; "
        "frame-ancestors 'none'; base-uri 'none'"
    )
    return HTMLResponse(text, headers={"Content-Security-Policy": policy})
