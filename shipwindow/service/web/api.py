"""The API: the same questions as on the pages, for a shop's own software.

For: ``router``. Must not know: how an answer is found. Neighbours: ``schema`` (shapes), ``problems`` (errors),
``openapi`` (its description).
"""

from __future__ import annotations

from contextlib import closing
from datetime import date
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Header, Path, Query
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from shipwindow.desk.book import By
from shipwindow.desk.records import Contact
from shipwindow.service.health import check_health
from shipwindow.service.mornings import store_path
from shipwindow.service.outbox import Outbox
from shipwindow.service.tables import SERVICE
from shipwindow.service.web import words
from shipwindow.service.web.desk import Question, WebDesk
from shipwindow.service.web.metrics import CONTENT_TYPE
from shipwindow.service.web.order_keys import add_once
from shipwindow.service.web.problems import RefusedError
from shipwindow.service.web.schema import (
    AdvisoryTold,
    CheckAsked,
    CheckTold,
    HealthTold,
    OrderAsked,
    OrderName,
    OrderSaid,
    OrdersTold,
    OrderTold,
)
from shipwindow.settings.desk_file import StateName
from shipwindow.store import open_store

KeyHeader = Annotated[
    str,
    Header(
        alias="Idempotency-Key",
        min_length=8,
        max_length=200,
        pattern=r"^[\x21-\x7e]+$",
        description="a fresh random text for each order; sent again with the same one, nothing is added twice",
        examples=["7f3c1f6e-0d7e-4a53-9d2b-55d5a3a7b0c1"],
    ),
]
OrderPath = Annotated[OrderName, Path(description="the order's number; percent-encode what is not a letter or digit")]


def router(desk: WebDesk) -> APIRouter:
    """Give the routes."""
    routes = APIRouter()

    @routes.post("/api/check", tags=["decide"], summary="May an order for a place be accepted?")
    async def check(asked: CheckAsked) -> CheckTold:
        """Accept, accept if, decline until, or not known yet (then ``acceptance.answer`` is null). Takes a second."""
        question = Question(asked.place, asked.cargo or None, asked.value or None, asked.on, asked.handover or None)
        return CheckTold(version="1", acceptance=await desk.check(question))

    @routes.get("/api/advisory/{day}", tags=["decide"], summary="The written advisory of a day")
    def advisory(day: Annotated[date, Path(examples=["2026-04-22"])]) -> AdvisoryTold:
        """Give the advisory as it was written; nothing is computed."""
        found = desk.advisory(day)
        if found is None:
            raise RefusedError(
                HTTPStatus.NOT_FOUND,
                "not-there",
                f"no advisory for {day}",
                "a day for which one was written",
                "POST /api/advisory makes today's",
            )
        return AdvisoryTold(version="1", advisory=found)

    @routes.post("/api/advisory", tags=["decide"], summary="Make today's advisory now")
    async def advise() -> AdvisoryTold:
        """Fetch forecasts, advise on every open order, write the files; after the cut-off it is for tomorrow."""
        return AdvisoryTold(version="1", advisory=await desk.advise())

    _add_orders(routes, desk)

    @routes.get("/api/health", tags=["service"], summary="Is the shop served?")
    def health() -> HealthTold:
        """Look at settings, clock, disk, book, outbox and the last advisory; no other server is asked."""
        return HealthTold.of(check_health(desk.folder, desk.now(), reach=False))

    @routes.get("/metrics", include_in_schema=False)
    def metrics() -> Response:
        with desk.book() as book:
            orders = words.counts(each.state for each in book.listing())
        with closing(open_store(store_path(desk.shop()), SERVICE)) as store:
            items = Outbox(store, desk.shop().settings.service.retry).items()
        last = desk.last_advisory()
        text = desk.metrics.text(
            under_way=desk.work.under_way,
            orders=orders,
            outbox=words.counts(item.state for item in items),
            made_at=None if last is None else last.made_at,
            advised={} if last is None else words.counts(order.advice for order in last.orders),
        )
        return Response(text, media_type=CONTENT_TYPE)

    @routes.get("/api/openapi.json", include_in_schema=False)
    def description(request: Request) -> Response:
        return JSONResponse(request.app.openapi())

    return routes


def _add_orders(routes: APIRouter, desk: WebDesk) -> None:
    @routes.get("/api/orders", tags=["orders"], summary="Orders of the book")
    def orders(
        state: Annotated[list[StateName] | None, Query(description="only these states; all if left out")] = None,
        limit: Annotated[int, Query(ge=1, le=1000)] = 200,
        offset: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
    ) -> OrdersTold:
        """List orders in the order in which they came."""
        with desk.book() as book:
            entries = book.entries(state)
        said = tuple(OrderSaid.of(entry) for entry in entries[offset : offset + limit])
        return OrdersTold(version="1", orders=said, total=len(entries), offset=offset)

    @routes.post(
        "/api/orders",
        tags=["orders"],
        summary="Take an order into the book",
        status_code=201,
        responses={200: {"model": OrderTold, "description": "It was there already: this key, or the same order."}},
    )
    def add(asked: OrderAsked, key: KeyHeader, response: Response) -> OrderTold:
        """Check the order and keep it; the same again changes nothing."""
        contact = None
        if asked.contact is not None:
            contact = Contact("", **{name: " ".join(text.split()) for name, text in asked.contact.model_dump().items()})
        with desk.book() as book:
            new = add_once(book, key, asked.order, asked.cells(), by=_by(desk), pieces=asked.pieces(), contact=contact)
            entry = book.entry(asked.order)
        response.status_code = HTTPStatus.CREATED if new else HTTPStatus.OK
        return OrderTold(version="1", order=OrderSaid.of(entry))

    @routes.get("/api/orders/{order:path}", tags=["orders"], summary="One order and what happened to it")
    def order(order: OrderPath) -> OrderTold:
        """Give an order as it stands, with its events."""
        with desk.book() as book:
            entry = book.find(order)
            if entry is None:
                raise RefusedError(
                    HTTPStatus.NOT_FOUND, "order", f"order {order[:60]!r}", "an order in the book", "list them first"
                )
            return OrderTold(version="1", order=OrderSaid.of(entry, book.events(order)))


def _by(desk: WebDesk) -> By:
    return By(desk.now(), "the shop's software")
