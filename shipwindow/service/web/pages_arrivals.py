"""Pages of what came of it: how boxes arrived, a form to say so, the report on what was said against what came.

For: ``router``. Must not know: how a fact is kept or counted. Opening a page computes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from http import HTTPStatus
from typing import cast
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from shipwindow.advisory.arrival_said import Said, find_arrival, recorded
from shipwindow.desk.book import Entry
from shipwindow.desk.cells import one_of
from shipwindow.errors import ConfigError
from shipwindow.learn.arrivals import CHECKS, HEALTH, Arrival, Check, CoralState, Health
from shipwindow.service.web import words
from shipwindow.service.web.arrived import keep_arrival
from shipwindow.service.web.desk import WebDesk
from shipwindow.service.web.forms import read_form
from shipwindow.service.web.pages_orders import find_entry, zone_of
from shipwindow.service.web.rendering import page, with_styles
from shipwindow.settings.desk_file import StateName

MOST_ROWS = 24  # corals with a field of their own; a form has up to 40 fields
WENT: tuple[StateName, ...] = ("handed-over", "arrived", "closed")
MOST_SHOWN = 200
CHECK_WORDS = {"arrival": "on arrival", "day-7": "on day 7", "day-14": "on day 14"}
UNNAMED = "corals"


def router(desk: WebDesk) -> APIRouter:
    """Give the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/arrivals")
    def arrivals(request: Request) -> Response:
        found = sorted((arrival for arrival, _ in recorded(desk.shop())), key=_turn, reverse=True)
        known = {arrival.order for arrival in found}
        with desk.book() as book:
            went = [each for each in book.listing(WENT) if each.order not in known]
            listed = {each.order for each in book.listing()}
            zones = {each.order: zone_of(book, each.order) for each in found[:MOST_SHOWN] if each.order in listed}
        return page(
            desk,
            request,
            "arrivals.html",
            rows=[words.arrival_row(each, zones.get(each.order), _scale(desk)) for each in found[:MOST_SHOWN]],
            total=len(found),
            went=went,
            listed=listed,
        )

    @routes.get("/arrivals/new")
    def new(request: Request, id: str, done: str = "") -> Response:  # noqa: A002 - a short address
        with desk.book() as book:
            entry = find_entry(book, id)
            zone = zone_of(book, id)
            settings = book.settings
        names = named_corals(entry)
        known = find_arrival(desk.shop(), id)
        return page(
            desk,
            request,
            "arrival_new.html",
            entry=entry,
            zone=zone,
            known=None if known is None else words.arrival_row(known, zone, _scale(desk)),
            seen={} if known is None else _seen(known),
            names=names[:MOST_ROWS],
            unnamed=not names or len(names) > MOST_ROWS,
            health=HEALTH,
            checks=list(CHECK_WORDS.items()),
            packs=[(name, name) for name in settings.packs.heat],
            example="74 F" if _scale(desk) == "F" else "23.5 C",
            done=done,
        )

    @routes.post("/arrivals/new")
    async def record(request: Request) -> Response:
        form = await read_form(desk, request)
        order = form.get("order", "")
        found = await run_in_threadpool(keep_arrival, desk, order, _said(form))
        said = "yes" if found.new else "known"
        return RedirectResponse("/arrivals/new?" + urlencode({"id": order, "done": said}), HTTPStatus.SEE_OTHER)

    _add_report(routes, desk)
    return routes


def _add_report(routes: APIRouter, desk: WebDesk) -> None:
    @routes.get("/report")
    def report(request: Request) -> Response:
        from shipwindow.advisory.report.as_text import span_text

        made = desk.reported
        return page(
            desk,
            request,
            "report.html",
            made=made,
            span="" if made is None else span_text(made),
            age=None if made is None else words.age(made.made_at, desk.now()),
        )

    @routes.post("/report")
    async def compute(request: Request) -> Response:
        form = await read_form(desk, request)
        await desk.report(_day(form["since"]) if "since" in form else None)
        return RedirectResponse("/report", HTTPStatus.SEE_OTHER)

    @routes.get("/report/page")
    def whole() -> Response:
        from shipwindow.advisory.report.as_html import as_html

        made = desk.reported
        if made is None:
            return RedirectResponse("/report", HTTPStatus.SEE_OTHER)
        return with_styles(as_html(made), [("/report", "Report")])


def named_corals(entry: Entry) -> list[str]:
    """Name each coral of an order, in its order; none if the order lists none."""
    names = []
    for number, piece in enumerate(entry.pieces, 1):
        names.append(" ".join((piece.get("coral") or f"{piece.get('kind') or 'coral'} {number}").split()))
    return names


def _turn(arrival: Arrival) -> tuple[bool, str]:
    """Put those that still await a look first, then the ones spoken of last."""
    return not arrival.final, "" if arrival.recorded_at is None else arrival.recorded_at.isoformat()


def _seen(arrival: Arrival) -> dict[str, str]:
    """Say for each coral how it was each time it was looked at."""
    found: dict[str, list[str]] = {}
    for state in arrival.corals:
        many = f"{state.count} " if state.count > 1 or state.name == UNNAMED else ""
        found.setdefault(state.name, []).append(f"{many}{state.health} {CHECK_WORDS[state.check]}")
    return {name: ", ".join(texts) for name, texts in found.items()}


def _said(form: Mapping[str, str]) -> Said:
    return Said(
        opened=form.get("opened", ""),
        water=form.get("water", ""),
        days_late=_count(form["days-late"], "days late") if "days-late" in form else None,
        corals=tuple(_corals(form)),
        pack=form.get("pack", ""),
        before=form.get("before", ""),
        after=form.get("after", ""),
        packs=_count(form.get("packs", "1"), "packs weighed together"),
        note=form.get("note", ""),
    )


def _corals(form: Mapping[str, str]) -> Iterator[CoralState]:
    """Read ``coral-N`` as STATE|NAME, and ``count-STATE`` for corals without names."""
    check = cast("Check", one_of(CHECKS, "when they were looked at")(form.get("check", "arrival")))
    health = one_of(HEALTH, "state")
    for number in range(MOST_ROWS):
        if f"coral-{number}" in form:
            state, _, name = form[f"coral-{number}"].partition("|")
            yield CoralState(name, check, cast("Health", health(state)))
    for each in HEALTH:
        count = _count(form.get(f"count-{each}", "0"), f"{each} corals")
        if count:
            yield CoralState(form.get("count-name", UNNAMED), check, each, count)


def _count(text: str, what: str) -> int:
    if not (text.isascii() and text.isdigit()) or len(text) > 5:
        raise ConfigError(f"{what} {text[:20]!r}", "a whole number", "write digits only")
    return int(text)


def _scale(desk: WebDesk) -> str:
    return desk.shop().settings.shop.show.temperature


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ConfigError(f"day {text[:20]!r}", "a date as YYYY-MM-DD", "write 2026-03-03") from None
