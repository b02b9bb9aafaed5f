"""Pages of the order book: the list, an order with its verdict and its moves, a new order.

For: ``router``. Must not know: what may follow what (``desk.book.states``). An order is named in the query, never in
the path: its number may hold any printable character.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from http import HTTPStatus
from typing import cast, get_args
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from shipwindow.advisory import view
from shipwindow.advisory.arrival_said import find_arrival
from shipwindow.advisory.document import OrderAdvice, Scale
from shipwindow.decide.explain import HANDOVER_WORDS
from shipwindow.desk.book import MOVES, STATES, Book, By, Entry
from shipwindow.desk.book.plans import plan_of_move
from shipwindow.desk.cells import one_of
from shipwindow.desk.columns import ORDER_COLUMNS
from shipwindow.errors import ConfigError
from shipwindow.service.web import words
from shipwindow.service.web.desk import WebDesk
from shipwindow.service.web.forms import read_form
from shipwindow.service.web.pages_day import find_advice
from shipwindow.service.web.problems import RefusedError
from shipwindow.service.web.rendering import page
from shipwindow.settings.desk_file import ScanPoint, StateName
from shipwindow.settings.models import Settings

PLAN_FIELDS = ("commitment", "handover", "box", "plan", "ballast")
USUAL = ("open", "held", "planned", "packed", "handed-over")


def choices(settings: Settings) -> dict[str, list[tuple[str, str]]]:
    """List what the fields of a form may hold, as (name, words)."""
    return {
        "cargo": [(name, kind.label) for name, kind in settings.cargo.cargo.items()],
        "handover": list(HANDOVER_WORDS.items()),
        "commitment": [(name, name) for name in settings.lanes.commitment],
        "box": [(name, name) for name in settings.boxes.box],
        "plan": [("none", "none")] + [(name, name) for name in settings.packs.plan if name != "none"],
        "point": [(name, name) for name in get_args(ScanPoint)],
    }


def router(desk: WebDesk) -> APIRouter:
    """Give the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/orders")
    def orders(request: Request, every: bool = False) -> Response:
        with desk.book() as book:
            listed = book.listing(None if every else cast("tuple[StateName, ...]", USUAL))
            state_words = {name: each.says for name, each in book.settings.desk.state.items()}
        groups = [(state, [each for each in listed if each.state == state]) for state in STATES]
        return page(
            desk,
            request,
            "orders.html",
            groups=[(state_words[state], rows) for state, rows in groups if rows],
            total=len(listed),
            every=every,
        )

    @routes.get("/orders/new")
    def new(request: Request) -> Response:
        settings = desk.shop().settings
        return page(desk, request, "order_new.html", choices=choices(settings), usual=settings.shop.defaults)

    @routes.post("/orders/new")
    async def add(request: Request) -> Response:
        form = await read_form(desk, request)
        return _back(await run_in_threadpool(_add, desk, form), "added")

    @routes.get("/order")
    def order(request: Request, id: str, done: str = "") -> Response:  # noqa: A002 - a short address
        advisory = desk.last_advisory()
        advice = find_advice(advisory, id)
        with desk.book() as book:
            entry = find_entry(book, id)
            events = book.events(id)
            settings = book.settings
            zone = zone_of(book, id)
        came = find_arrival(desk.shop(), id)
        return page(
            desk,
            request,
            "order.html",
            entry=entry,
            came=None if came is None else words.arrival_row(came, zone, settings.shop.show.temperature),
            events=events[::-1],
            advisory=advisory,
            advice=advice,
            moves=MOVES[entry.state],
            choices=choices(settings),
            state_words={name: each.says for name, each in settings.desk.state.items()},
            zone=desk.zone(),
            said=() if advice is None or advisory is None else _said(advice, advisory.details.scale),
            done=done[:40],
        )

    @routes.post("/order/move")
    async def move(request: Request) -> Response:
        form = await read_form(desk, request)
        return _back(await run_in_threadpool(_move, desk, form), "moved")

    @routes.post("/order/scan")
    async def scan(request: Request) -> Response:
        form = await read_form(desk, request)
        return _back(await run_in_threadpool(_scan, desk, form), "noted")

    return routes


def _add(desk: WebDesk, form: Mapping[str, str]) -> str:
    order = form.get("order", "")
    cells = {name: form[name] for name in ORDER_COLUMNS if name in form and name != "order"}
    with desk.book() as book:
        return book.add(order, cells, by=By(desk.now(), form.get("who", ""))).order


def _move(desk: WebDesk, form: Mapping[str, str]) -> str:
    order = form.get("order", "")
    with desk.book() as book:
        entry = find_entry(book, order)
        if form.get("seen", "") != str(entry.seq):
            raise RefusedError(
                HTTPStatus.CONFLICT,
                "changed",
                f"a move of order {order}, which has changed since the page was made",
                "a move of the order as it stands",
                "look at it again, then move it",
            )
        to = cast("StateName", one_of(STATES, "state")(form.get("to", "")))
        said = {name: form[name] for name in PLAN_FIELDS if name in form}
        day = _day(form["day"]) if "day" in form else None
        plan = plan_of_move(entry, to, said, book.settings, day=day, today=desk.today())
        book.move(order, to, by=By(desk.now(), form.get("who", ""), form.get("why", "")), plan=plan)
    return order


def _scan(desk: WebDesk, form: Mapping[str, str]) -> str:
    order = form.get("order", "")
    with desk.book() as book:
        find_entry(book, order)
        point = cast("ScanPoint", one_of(get_args(ScanPoint), "point")(form.get("point", "")))
        book.scan(order, by=By(desk.now(), form.get("who", "")), point=point, seen_at=desk.now())
    return order


def _said(advice: OrderAdvice, scale: Scale) -> list[tuple[str, list[str]]]:
    return view.by_label(view.sentences(advice, scale))


def find_entry(book: Book, order: str) -> Entry:
    """Give an order as it stands; refused with 404 if it is not in the book."""
    found = book.find(order)
    if found is None:
        raise RefusedError(
            HTTPStatus.NOT_FOUND,
            "order",
            f"order {order[:60]!r}",
            "an order in the book",
            "the list of orders has them",
        )
    return found


def zone_of(book: Book, order: str) -> str | None:
    """Give the zone of an order's destination; None where the order cannot be read with today's settings."""
    try:
        return book.order(order).destination.zone
    except ConfigError:
        return None


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ConfigError(f"ship day {text[:20]!r}", "a date as YYYY-MM-DD", "write 2026-03-03") from None


def _back(order: str, done: str) -> Response:
    return RedirectResponse("/order?" + urlencode({"id": order, "done": done}), HTTPStatus.SEE_OTHER)
