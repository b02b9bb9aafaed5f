"""Pages of the day: today, the whole advisory, a trip's picture, the window, pack sheets.

For: ``router``. Must not know: how an advisory is made. Reading pages show what is written; making one is a form.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from http import HTTPStatus
from typing import Annotated, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Query
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from shipwindow.advisory import view
from shipwindow.advisory.document import Advisory, OrderAdvice
from shipwindow.advisory.sheets.record import Sheets
from shipwindow.desk.book import ADVISED
from shipwindow.service.web import words
from shipwindow.service.web.desk import WebDesk
from shipwindow.service.web.forms import read_form
from shipwindow.service.web.problems import RefusedError
from shipwindow.service.web.rendering import page, with_styles


def router(desk: WebDesk) -> APIRouter:
    """Give the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/")
    def today(request: Request, made: str = "") -> Response:
        advisory = desk.last_advisory()
        with desk.book() as book:
            listed = {each.order: each for each in book.listing()}
            state_words = {name: each.says for name, each in book.settings.desk.state.items()}
        said = set() if advisory is None else {order.order for order in advisory.orders}
        fresh = [each for each in listed.values() if each.state in ADVISED and each.order not in said]
        return page(
            desk,
            request,
            "today.html",
            advisory=advisory,
            groups=() if advisory is None else view.groups(advisory),
            listed=listed,
            state_words=state_words,
            fresh=fresh,
            today=desk.today(),
            age=None if advisory is None else words.age(advisory.made_at, desk.now()),
            just_made=made == "1",
        )

    @routes.post("/advise")
    async def make(request: Request) -> Response:
        await read_form(desk, request)
        await desk.advise()
        return RedirectResponse("/?made=1", HTTPStatus.SEE_OTHER)

    @routes.get("/advisory")
    def whole(day: date | None = None) -> Response:
        from shipwindow.advisory.as_html import as_html

        return with_styles(as_html(_advisory(desk, day)))

    @routes.get("/plot")
    def plot(order: str, day: date, size: Literal["wide", "narrow"] = "wide") -> Response:
        from shipwindow.advisory.picture import NARROW, WIDE
        from shipwindow.advisory.svg import plot_svg

        advisory = _advisory(desk, day)
        found = find_advice(advisory, order)
        if found is None or found.details.curve is None:
            raise _missing(f"a picture of order {order[:60]!r}")
        svg = plot_svg(found, advisory.details.scale, WIDE if size == "wide" else NARROW)
        return Response(svg, media_type="image/svg+xml")

    @routes.get("/window")
    def window(request: Request) -> Response:
        advisory = desk.last_advisory()
        days, rows = ((), ()) if advisory is None else words.window_rows(advisory)
        return page(desk, request, "window.html", advisory=advisory, days=days, rows=rows)

    _add_sheets(routes, desk)
    return routes


def _add_sheets(routes: APIRouter, desk: WebDesk) -> None:
    @routes.get("/sheets")
    def sheets(request: Request) -> Response:
        advisory = desk.last_advisory()
        found = None if advisory is None else _sheets(desk, advisory, ())
        return page(desk, request, "sheets.html", advisory=advisory, sheets=found, today=desk.today())

    @routes.get("/sheets/page")
    def sheets_page(day: date, order: Annotated[list[str] | None, Query(max_length=200)] = None) -> Response:
        from shipwindow.advisory.sheets.as_html import as_html

        text = as_html(_sheets(desk, _advisory(desk, day), order or ()))
        asked = urlencode([("day", day), *(("order", each) for each in order or ())])
        return with_styles(text, [(f"/sheets/sheets.pdf?{asked}", "PDF"), ("/sheets", "All sheets")])

    @routes.get("/sheets/{name}.pdf")
    async def pdf(
        name: Literal["sheets", "bag-labels", "carton-labels"],
        day: date,
        order: Annotated[list[str] | None, Query(max_length=200)] = None,
    ) -> Response:
        raw = await desk.work.once(("pdf", name, day, tuple(order or ())), lambda: _pdf(desk, name, day, order or ()))
        headers = {"Content-Disposition": f'attachment; filename="{name}-{day}.pdf"'}
        return Response(raw, media_type="application/pdf", headers=headers)


def _pdf(desk: WebDesk, name: str, day: date, only: Sequence[str]) -> bytes:
    """Draw a PDF: a second or more, since typefaces are cut to the letters used."""
    from shipwindow.advisory.sheets.as_pdf import as_pdf
    from shipwindow.advisory.sheets.labels_pdf import bag_labels_pdf, carton_labels_pdf

    found = _sheets(desk, _advisory(desk, day), only)
    if name == "sheets":
        return bytes(as_pdf(found)[0])
    if name == "bag-labels":
        return bytes(bag_labels_pdf(found, desk.shop().settings.desk.labels, 0)[0])
    return bytes(carton_labels_pdf(found)[0])


def _sheets(desk: WebDesk, advisory: Advisory, only: Sequence[str]) -> Sheets:
    from shipwindow.advisory.sheets.build import build_sheets
    from shipwindow.advisory.sheets.codes import read_code

    with desk.book() as book:
        orders = book.read({*ADVISED, "packed", "handed-over"}).orders
    return build_sheets(advisory, orders, desk.shop().settings, desk.now(), only=[read_code(text) for text in only])


def _advisory(desk: WebDesk, day: date | None) -> Advisory:
    found = desk.last_advisory() if day is None else desk.advisory(day)
    if found is None:
        raise _missing(f"an advisory for {day or 'any day'}")
    return found


def find_advice(advisory: Advisory | None, order: str) -> OrderAdvice | None:
    """Find what an advisory says of an order."""
    return None if advisory is None else next((each for each in advisory.orders if each.order == order), None)


def _missing(what: str) -> RefusedError:
    return RefusedError(HTTPStatus.NOT_FOUND, "not-there", what, "one that is there", "make the advisory, or go to /")
