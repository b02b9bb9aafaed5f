"""The way in and out where a token is asked for.

For: ``router``. Must not know: pages behind it. The log-in form carries no key: the token itself proves who sends it,
and the guard refuses forms of other sites.
"""

from __future__ import annotations

import re
from http import HTTPStatus

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from shipwindow.service.web.desk import WebDesk
from shipwindow.service.web.forms import read_form
from shipwindow.service.web.keys import LOGIN_COOKIE, LOGIN_S
from shipwindow.service.web.rendering import bare_page, secure

_OURS = re.compile(r"/(?:[a-z]+)?")


def router(desk: WebDesk) -> APIRouter:
    """Give the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/login")
    def ask(to: str = "/") -> Response:
        return bare_page("login.html", to=_own(to), refused=False)

    @routes.post("/login")
    async def enter(request: Request) -> Response:
        form = await read_form(desk, request, keyed=False)
        to = _own(form.get("to", "/"))
        if not desk.keys.is_token(form.get("token", "")):
            return bare_page("login.html", HTTPStatus.UNAUTHORIZED, to=to, refused=True)
        answer = RedirectResponse(to, HTTPStatus.SEE_OTHER)
        answer.set_cookie(
            LOGIN_COOKIE,
            desk.keys.login_cookie(),
            max_age=LOGIN_S,
            httponly=True,
            samesite="strict",
            secure=secure(request),
            path="/",
        )
        return answer

    @routes.post("/logout")
    async def leave(request: Request) -> Response:
        await read_form(desk, request)
        answer = RedirectResponse("/login", HTTPStatus.SEE_OTHER)
        answer.delete_cookie(LOGIN_COOKIE, path="/")
        return answer

    return routes


def _own(path: str) -> str:
    """Lead only to a page of this desk, never to an address that somebody wrote into a link."""
    return path if _OURS.fullmatch(path) else "/"
