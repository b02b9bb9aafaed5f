"""Arrivals in the API: how boxes arrived, and saying so.

For: ``router``. Must not know: how a fact is kept. Neighbours: ``schema_arrivals``, ``order_keys``,
``shipwindow.advisory.arriving`` (the same door as the command line's and the page's).
"""

from __future__ import annotations

from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Header, Query
from starlette.responses import Response

from shipwindow.advisory.arrival_said import recorded
from shipwindow.desk.book import By
from shipwindow.service.web.arrived import keep_arrival
from shipwindow.service.web.desk import WebDesk
from shipwindow.service.web.order_keys import do_once
from shipwindow.service.web.schema import OrderName
from shipwindow.service.web.schema_arrivals import ArrivalAsked, ArrivalSaid, ArrivalsTold, ArrivalTold

KeyHeader = Annotated[
    str | None,
    Header(
        alias="Idempotency-Key",
        min_length=8,
        max_length=200,
        pattern=r"^[\x21-\x7e]+$",
        description="may be left out; with it, a report sent again late does not undo a correction made since",
    ),
]


def router(desk: WebDesk) -> APIRouter:
    """Give the routes."""
    routes = APIRouter()

    @routes.get("/api/arrivals", tags=["arrivals"], summary="How boxes arrived")
    def arrivals(
        order: Annotated[OrderName | None, Query(description="only this order's")] = None,
        limit: Annotated[int, Query(ge=1, le=1000)] = 200,
        offset: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
    ) -> ArrivalsTold:
        """List arrivals by order; the newest word on each fact counts."""
        found = [pair for pair in recorded(desk.shop()) if order is None or pair[0].order == order]
        said = tuple(ArrivalSaid.of(each, logger=logger) for each, logger in found[offset : offset + limit])
        return ArrivalsTold(version="1", arrivals=said, total=len(found), offset=offset)

    @routes.post(
        "/api/arrivals",
        tags=["arrivals"],
        summary="Say how a box arrived",
        status_code=201,
        responses={200: {"model": ArrivalTold, "description": "All of it was known already."}},
    )
    def record(asked: ArrivalAsked, response: Response, key: KeyHeader = None) -> ArrivalTold:
        """Keep what is said; the same again changes nothing, what differs is kept as a correction."""

        def keep() -> int:
            return keep_arrival(desk, asked.order, asked.said()).new

        if key is None:
            new = keep()
        else:
            with desk.book() as book:
                by = By(desk.now(), "the shop's software")
                new = do_once(book, key, asked.order, "arrival " + asked.model_dump_json(), keep, by=by)
        response.status_code = HTTPStatus.CREATED if new else HTTPStatus.OK
        said = next(
            ArrivalSaid.of(each, logger=has) for each, has in recorded(desk.shop()) if each.order == asked.order
        )
        return ArrivalTold(version="1", arrival=said, new=new)

    return routes
