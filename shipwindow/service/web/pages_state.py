"""Pages on how things stand: forecasts and problems, claims, outbox, health, settings.

For: ``router``. Must not know: how any of it is kept. Nothing here asks a weather or mail server.
"""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from http import HTTPStatus

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from shipwindow.advisory import view
from shipwindow.advisory.document import Advisory, WeatherSaid
from shipwindow.desk.book import ADVISED
from shipwindow.desk.claims import OPEN, open_claims, timing_words
from shipwindow.service.health import check_health
from shipwindow.service.mornings import store_path
from shipwindow.service.outbox import Outbox
from shipwindow.service.runs import Runs
from shipwindow.service.tables import SERVICE
from shipwindow.service.timetable import ORDER
from shipwindow.service.web import words
from shipwindow.service.web.desk import WebDesk
from shipwindow.service.web.forms import read_form
from shipwindow.service.web.rendering import page
from shipwindow.store import open_store

MOST_ITEMS = 200
OUTBOX_WORDS = {"waiting": "waits", "sending": "being sent", "sent": "sent", "given-up": "given up"}


@dataclass(frozen=True)
class PlaceWeather:
    """The forecast of one place, as the last advisory used it."""

    weather: WeatherSaid
    age: str
    orders: tuple[str, ...]


def places_of(advisory: Advisory, now: datetime) -> tuple[PlaceWeather, ...]:
    """List the places of an advisory once, those without a forecast first, then the oldest."""
    used: dict[tuple[str, str], tuple[WeatherSaid, list[str]]] = {}
    for order in advisory.orders:
        for weather in order.details.weather:
            used.setdefault((weather.role, weather.place), (weather, []))[1].append(order.order)
    found = sorted(used.values(), key=lambda pair: (pair[0].issued_at is not None, pair[0].issued_at or now))
    return tuple(
        PlaceWeather(
            weather,
            "no usable forecast" if weather.issued_at is None else words.age(weather.issued_at, now),
            tuple(orders),
        )
        for weather, orders in found
    )


def router(desk: WebDesk) -> APIRouter:
    """Give the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/forecasts")
    def forecasts(request: Request) -> Response:
        advisory = desk.last_advisory()
        with desk.book() as book:
            problems = book.read(ADVISED).problems
            with closing(open_store(store_path(desk.shop()), SERVICE)) as store:
                runs = [run for what in ORDER if (run := Runs(store).last(what)) is not None]
        return page(
            desk,
            request,
            "forecasts.html",
            advisory=advisory,
            places=() if advisory is None else places_of(advisory, desk.now()),
            said=() if advisory is None else [view.problem_words(each) for each in advisory.problems],
            problems=[str(each) for each in problems],
            runs=runs,
            zone=desk.zone(),
            warnings=desk.shop().warnings,
        )

    @routes.get("/claims")
    def claims(request: Request, every: bool = False) -> Response:
        with open_claims(desk.shop()) as book:
            found = [(claim, timing_words(claim, book.policy)) for claim in book.claims(None if every else OPEN)]
        return page(desk, request, "claims.html", claims=found, every=every, zone=desk.zone())

    @routes.get("/outbox")
    def outbox(request: Request) -> Response:
        with closing(open_store(store_path(desk.shop()), SERVICE)) as store:
            items = Outbox(store, desk.shop().settings.service.retry).items()[::-1]
        return page(
            desk,
            request,
            "outbox.html",
            items=items[:MOST_ITEMS],
            total=len(items),
            counts=words.counts(OUTBOX_WORDS[item.state] for item in items),
            state_words=OUTBOX_WORDS,
            zone=desk.zone(),
        )

    @routes.post("/outbox/again")
    async def again(request: Request) -> Response:
        form = await read_form(desk, request)
        await run_in_threadpool(_again, desk, form.get("key", ""))
        return RedirectResponse("/outbox", HTTPStatus.SEE_OTHER)

    @routes.get("/health")
    def health(request: Request) -> Response:
        return page(desk, request, "health.html", health=check_health(desk.folder, desk.now(), reach=False))

    @routes.get("/settings")
    def settings(request: Request) -> Response:
        return page(desk, request, "settings.html", files=words.settings_rows(desk.shop()))

    return routes


def _again(desk: WebDesk, key: str) -> None:
    with closing(open_store(store_path(desk.shop()), SERVICE)) as store:
        Outbox(store, desk.shop().settings.service.retry).again(key, desk.now())
