"""Read the forms of our own pages: their key, their fields, nothing else.

For: ``read_form``. Must not know: what the fields mean. Neighbour: ``keys``.
"""

from __future__ import annotations

from collections.abc import Mapping
from http import HTTPStatus
from typing import TYPE_CHECKING

from starlette.requests import Request

from shipwindow.service.web.keys import VISIT_COOKIE
from shipwindow.service.web.problems import RefusedError

if TYPE_CHECKING:
    from shipwindow.service.web.desk import WebDesk

FIELD = "form-key"
MOST_FIELDS = 40
LONGEST_FIELD = 2000


async def read_form(desk: WebDesk, request: Request, *, keyed: bool = True) -> Mapping[str, str]:
    """Give the fields of a form that one of our pages has sent; empty ones are left out.

    Raises
    ------
    RefusedError    Not a form, too many or too long fields, or without the key of this visit.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/x-www-form-urlencoded":
        raise RefusedError(
            HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
            "form",
            "something that is not a form",
            "a form of this desk",
            "use the page",
        )
    form = await request.form(max_files=0, max_fields=MOST_FIELDS)
    found: dict[str, str] = {}
    for name, value in form.multi_items():
        if not isinstance(value, str) or len(value) > LONGEST_FIELD:
            raise RefusedError(
                HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
                "form",
                f"a long text in {name[:40]!r}",
                f"up to {LONGEST_FIELD} characters",
                "shorten it",
            )
        text = " ".join(value.split())
        if text:
            found[name] = text
    key = found.pop(FIELD, "")
    if keyed and not desk.keys.is_form_key(key, request.cookies.get(VISIT_COOKIE, "")):
        raise RefusedError(
            HTTPStatus.FORBIDDEN,
            "form",
            "a form without its key, or one from before the desk was started again",
            "a form of this page, sent within a day",
            "go back, load the page anew and send it again; cookies must be allowed for this address",
        )
    return found
