"""Pages that ask: a destination, the boxes under way, the season, the bench card.

For: ``router``. Must not know: how an answer is found. Opening a page is quick; asking is a form.
"""

from __future__ import annotations

from datetime import date
from http import HTTPStatus
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from shipwindow.advisory import view
from shipwindow.desk.book import UNDER_WAY
from shipwindow.errors import ConfigError
from shipwindow.service.web import words
from shipwindow.service.web.desk import CardAsked, Question, WebDesk
from shipwindow.service.web.forms import read_form
from shipwindow.service.web.pages_orders import choices
from shipwindow.service.web.rendering import page, with_styles

ANSWERS = {"accept": "Accept", "accept-if": "Accept, if", "decline": "Decline", None: "Not known yet"}


def router(desk: WebDesk) -> APIRouter:
    """Give the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/check")
    def ask(request: Request, place: str = "") -> Response:
        settings = desk.shop().settings
        return page(
            desk,
            request,
            "check.html",
            asked={"place": place[:120]},
            found=None,
            choices=choices(settings),
            usual=settings.shop.defaults,
        )

    @routes.post("/check")
    async def answer(request: Request) -> Response:
        from shipwindow.advisory.svg import plot_svg

        form = await read_form(desk, request)
        found = await desk.check(
            Question(
                place=form.get("place", ""),
                cargo=form.get("cargo"),
                value=form.get("value"),
                on=_day(form["on"]) if "on" in form else None,
                handover=form.get("handover"),
            )
        )
        settings = desk.shop().settings
        order = found.order
        return page(
            desk,
            request,
            "check.html",
            asked=form,
            found=found,
            answers=ANSWERS,
            said=[] if order is None else view.by_label(view.sentences(order, found.scale)),
            plot=plot_svg(order, found.scale) if order is not None and order.details.curve is not None else "",
            choices=choices(settings),
            usual=settings.shop.defaults,
        )

    @routes.get("/watch")
    def watch(request: Request) -> Response:
        with desk.book() as book:
            under_way = book.entries(UNDER_WAY)
            orders = {order.order: order for order in book.read(UNDER_WAY).orders}
        made = desk.watched
        boxes = {} if made is None else {box.order: box for box in made.boxes}
        return page(
            desk,
            request,
            "watch.html",
            entries=under_way,
            orders=orders,
            boxes=boxes,
            made=made,
            age=None if made is None else words.age(made.made_at, desk.now()),
            scale=desk.shop().settings.shop.show.temperature,
        )

    @routes.post("/watch")
    async def follow(request: Request) -> Response:
        await read_form(desk, request)
        await desk.follow()
        return RedirectResponse("/watch", HTTPStatus.SEE_OTHER)

    _add_season(routes, desk)
    _add_card(routes, desk)
    return routes


def _add_season(routes: APIRouter, desk: WebDesk) -> None:
    @routes.get("/season")
    def season(request: Request, place: str = "", cargo: str = "", handover: str = "") -> Response:
        from shipwindow.advisory.season_page import season_html

        kept = desk.kept_season(place, cargo or None, handover or None) if place else None
        if kept is not None:
            return with_styles(season_html(kept), [("/season", "Another place")])
        settings = desk.shop().settings
        with desk.book() as book:
            places = sorted({each.destination for each in book.listing()})
        return page(
            desk,
            request,
            "season.html",
            place=place[:120],
            places=places[:60],
            choices=choices(settings),
            usual=settings.shop.defaults,
        )

    @routes.post("/season")
    async def count(request: Request) -> Response:
        form = await read_form(desk, request)
        place, cargo, handover = form.get("place", ""), form.get("cargo"), form.get("handover")
        await desk.season(place, cargo, handover)
        asked = {"place": place, "cargo": cargo or "", "handover": handover or ""}
        return RedirectResponse("/season?" + urlencode(asked), HTTPStatus.SEE_OTHER)


def _add_card(routes: APIRouter, desk: WebDesk) -> None:
    @routes.get("/card")
    def card(request: Request, box: str = "", cargo: str = "", commitment: str = "", handover: str = "") -> Response:
        from shipwindow.advisory.card.as_html import as_html

        kept = desk.kept_card(CardAsked(box, cargo, commitment, handover))
        if kept is not None:
            asked = urlencode({"box": box, "cargo": cargo, "commitment": commitment, "handover": handover})
            return with_styles(as_html(kept), [(f"/card.pdf?{asked}", "PDF"), ("/card?box=%20", "Another card")])
        settings = desk.shop().settings
        return page(desk, request, "card.html", choices=choices(settings), usual=settings.shop.defaults)

    @routes.post("/card")
    async def compute(request: Request) -> Response:
        form = await read_form(desk, request)
        asked = CardAsked(*(form.get(name, "") for name in CardAsked._fields))
        await desk.card(asked)
        return RedirectResponse("/card?" + urlencode(asked._asdict()), HTTPStatus.SEE_OTHER)

    @routes.get("/card.pdf")
    def card_pdf(box: str = "", cargo: str = "", commitment: str = "", handover: str = "") -> Response:
        from shipwindow.advisory.card.as_pdf import as_pdf

        asked = CardAsked(box, cargo, commitment, handover)
        kept = desk.kept_card(asked)
        if kept is None:
            return RedirectResponse("/card", HTTPStatus.SEE_OTHER)
        raw = as_pdf(kept, desk.shop().settings.desk.sheets.paper)
        headers = {"Content-Disposition": 'attachment; filename="bench-card.pdf"'}
        return Response(bytes(raw), media_type="application/pdf", headers=headers)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ConfigError(f"ship day {text[:20]!r}", "a date as YYYY-MM-DD", "write 2026-03-03") from None
