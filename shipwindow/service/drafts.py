"""Put a draft to a customer into the outbox, because the seller asked for this one.

For: ``put_draft``. Must not know: templates, orders. A draft is the ``.txt`` the seller has read and perhaps edited
or the ``.eml`` beside it. The same text to the same reader is sent once, however often it is asked for.
"""

from __future__ import annotations

import hashlib
from datetime import datetime
from email import message_from_bytes, policy
from email.message import EmailMessage
from email.utils import parseaddr
from pathlib import Path

from shipwindow.advisory.mail.letter import SUBJECT_LENGTH
from shipwindow.desk.messages import one_line
from shipwindow.errors import ConfigError
from shipwindow.service.outbox import Outbox, message_id
from shipwindow.settings import Shop

LARGEST = 2_000_000  # bytes; a letter is a few kilobytes


def put_draft(outbox: Outbox, path: Path, shop: Shop, now: datetime) -> str:
    """Put it in and give its key.

    Raises
    ------
    ConfigError     No such file, no one reader, blanks left to fill in, or mail is off.
    """
    mail = shop.settings.service.mail
    if not mail.on or mail.sender is None:
        raise ConfigError("[mail] on = false", "mail switched on", "set on, host, sender and to in service.toml")
    to, subject, body = _read(path)
    digest = hashlib.sha256(f"{to}\n{subject}\n{body}".encode()).hexdigest()[:16]
    key = f"draft/{path.stem}/{digest}"
    name = shop.settings.shop.shop.name
    sign = message_id(key, name)
    message = EmailMessage()
    message["From"] = mail.sender
    message["To"] = to
    message["Subject"] = subject
    message["Date"] = now
    message["Message-ID"] = sign
    message.set_content(body)
    if not outbox.put(key, channel="mail", target=to, message_id=sign, body=message.as_bytes(), now=now):
        raise ConfigError(
            f"{path.name} to this reader",
            "a letter not sent before",
            "it is in the outbox already: shipwindow mail list",
        )
    return key


def _read(path: Path) -> tuple[str, str, str]:
    try:
        if path.stat().st_size > LARGEST:
            raise ConfigError(f"{path} of {path.stat().st_size} bytes", "a letter", "name the draft itself")
        raw = path.read_bytes()
        text = raw.decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "not UTF-8"
        raise ConfigError(f"{path}: {why}", "a draft that can be read", "write one with: shipwindow messages") from None
    if path.suffix == ".eml":
        message = message_from_bytes(raw, policy=policy.default)
        part = message.get_body(("plain",))
        head = {name: str(message[name] or "") for name in ("To", "Subject")}
        body = part.get_content() if part is not None else ""
    else:
        top, _, body = text.partition("\n\n")
        pairs = (line.partition(":")[::2] for line in top.splitlines())
        head = {name.strip(): value.strip() for name, value in pairs}
    _, to = parseaddr(head.get("To", ""))
    local, at, domain = to.partition("@")
    if not (local and at and domain) or any(letter.isspace() for letter in to) or "," in head.get("To", ""):
        raise ConfigError(f"{path.name} without one reader", "To: with one address", "fill in the address, then send")
    if "____" in body or "____" in head.get("Subject", ""):
        raise ConfigError(f"{path.name} with blanks", "a finished letter", "fill in or delete what reads ____")
    if not body.strip():
        raise ConfigError(f"{path.name} without a text", "a letter", "write one with: shipwindow messages")
    return to, one_line(head.get("Subject", ""), SUBJECT_LENGTH) or "(no subject)", body
