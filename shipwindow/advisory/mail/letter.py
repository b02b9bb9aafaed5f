"""Write letters: multipart text and HTML with the plots inside, complete without them too.

For: turning an ``Advisory``, or what has changed in it since the morning, into an ``EmailMessage``. Must not know: mail
servers, outboxes, the clock (``at`` is handed in). Neighbours: ``as_text``, ``plots``, ``templates/letter.html``.

What an order says goes into headers only as one line without control characters, so no order can add a header.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from email.utils import format_datetime

from shipwindow.advisory import view
from shipwindow.advisory.as_text import as_text
from shipwindow.advisory.document import Advisory
from shipwindow.advisory.pages import page
from shipwindow.advisory.plots import WIDE, plot_png
from shipwindow.desk.messages import one_line

TEXT_WIDTH = 78
SUBJECT_LENGTH = 120
MOST_PICTURES = 40  # about 40 kB each; servers commonly refuse letters over 10 to 25 MB, from memory


@dataclass(frozen=True)
class Letter:
    """One letter before it has an address: subject, two forms of the text, and pictures by their content id."""

    subject: str
    text: str
    html: str
    pictures: Mapping[str, bytes]


def advisory_letter(advisory: Advisory, *, pictures: bool = True) -> Letter:
    """Write the morning's letter."""
    images = _pictures(advisory) if pictures and advisory.details.plots else {}
    return Letter(
        subject=one_line(f"{advisory.shop}, {view.short_day(advisory.day)}: {view.summary(advisory)}", SUBJECT_LENGTH),
        text=as_text(advisory, TEXT_WIDTH),
        html=page(
            "letter.html",
            advisory=advisory,
            groups=view.groups(advisory),
            images=_by_order(advisory, images),
        ),
        pictures=images,
    )


def plain_letter(subject: str, text: str) -> Letter:
    """Write a letter of text alone, such as a trial or a report of changes."""
    from markupsafe import escape

    html = f'<pre style="font-family:inherit;white-space:pre-wrap">{escape(text)}</pre>'
    return Letter(one_line(subject, SUBJECT_LENGTH), text if text.endswith("\n") else text + "\n", html, {})


def address_letter(letter: Letter, *, sender: str, to: str, message_id: str, at: datetime) -> EmailMessage:
    """Put a letter into an envelope for one reader.

    Raises
    ------
    ValueError
        An address with a line break in it; the settings refuse those before.
    """
    message = EmailMessage()
    message["From"] = sender
    message["To"] = to
    message["Subject"] = letter.subject
    message["Date"] = format_datetime(at)
    message["Message-ID"] = message_id
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834: keeps holiday replies away
    message.set_content(letter.text)
    message.add_alternative(letter.html, subtype="html")
    html_part = message.get_payload()[1]  # type: ignore[index]
    for content_id, data in letter.pictures.items():
        html_part.add_related(  # type: ignore[union-attr]
            data,
            "image",
            "png",
            cid=f"<{content_id}>",
            filename=f"{content_id.partition('@')[0]}.png",
            disposition="inline",
        )
    return message


def _pictures(advisory: Advisory) -> dict[str, bytes]:
    drawn: dict[str, bytes] = {}
    for number, order in enumerate(advisory.orders):
        if order.details.curve is not None and len(drawn) < MOST_PICTURES:
            drawn[f"trip{number}@{advisory.day}.shipwindow"] = plot_png(order, advisory.details.scale, WIDE)
    return drawn


def _by_order(advisory: Advisory, images: Mapping[str, bytes]) -> dict[str, str]:
    """Give the picture of each order by its name; a letter may hold fewer pictures than orders."""
    found = {}
    for number, order in enumerate(advisory.orders):
        key = f"trip{number}@{advisory.day}.shipwindow"
        if key in images:
            found[order.order] = key
    return found
