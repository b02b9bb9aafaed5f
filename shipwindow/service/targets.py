"""Where letters go: the mail server, a folder, an address that is told by signed JSON. All are written to, never read.

For: one ``Deliver`` function a channel, and ``put_letter``, which puts a letter into the outbox for all of them. Must
not know: schedules, when to try again. Neighbours: ``outbox``, ``advisory.mail``.

An order's data never chooses an address: the only hosts written to are those of ``[mail]`` and ``[webhook]`` of the
shop's own settings, and the second must stand in its own list of allowed hosts too.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
from collections.abc import Mapping
from datetime import datetime
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from urllib.parse import urlsplit

from shipwindow.advisory.mail.letter import Letter, address_letter
from shipwindow.advisory.mail.post import password_of, post
from shipwindow.errors import ConfigError, StoreError
from shipwindow.service.outbox import Deliver, Item, Outbox, Tried, message_id
from shipwindow.settings.service_file import FolderTarget, MailSettings, ServiceFile, Webhook
from shipwindow.store import write_atomically

SIGNATURE = "X-Shipwindow-Signature"
SENT_AT = "X-Shipwindow-Sent-At"
SHORTEST_SECRET = 20  # characters; engineering choice


def put_letter(
    outbox: Outbox, key: str, letter: Letter, document: bytes, *, shop: str, settings: ServiceFile, now: datetime
) -> int:
    """Put a letter into the outbox for every target that is on; say how many are new.

    Parameters
    ----------
    key : str           What it is, such as "advisory/2026-03-03"; the same key is never sent twice to one target.
    document : bytes    The JSON that a webhook gets.
    """
    new = 0
    if settings.mail.on and settings.mail.sender:
        for reader in settings.mail.to:
            its_key = f"{key}/mail/{reader}"
            sign = message_id(its_key, shop)
            message = address_letter(letter, sender=settings.mail.sender, to=reader, message_id=sign, at=now)
            new += outbox.put(its_key, channel="mail", target=reader, message_id=sign, body=message.as_bytes(), now=now)
    if settings.folder.on:
        its_key = f"{key}/folder"
        sign = message_id(its_key, shop)
        sender = settings.mail.sender or "shipwindow@localhost.invalid"
        message = address_letter(letter, sender=sender, to=sender, message_id=sign, at=now)
        name = key.replace("/", "-") + ".eml"
        new += outbox.put(its_key, channel="folder", target=name, message_id=sign, body=message.as_bytes(), now=now)
    if settings.webhook.on:
        its_key = f"{key}/webhook"
        sign = message_id(its_key, shop)
        target = settings.webhook.address
        new += outbox.put(its_key, channel="webhook", target=target, message_id=sign, body=document, now=now)
    return new


def channels(settings: ServiceFile, folder: Path) -> Mapping[str, Deliver]:
    """Give the channels that are on; raise ``ConfigError`` for one that cannot work as it is set."""
    found: dict[str, Deliver] = {}
    if settings.mail.on:
        found["mail"] = _by_mail(settings.mail)
    if settings.folder.on:
        found["folder"] = _into_folder(settings.folder, folder)
    if settings.webhook.on:
        found["webhook"] = _by_webhook(settings.webhook)
    return found


def read_message(body: bytes) -> EmailMessage:
    """Read a letter back from the outbox."""
    return message_from_bytes(body, policy=policy.default)


def _by_mail(mail: MailSettings) -> Deliver:
    password = password_of(mail)

    def deliver(item: Item) -> Tried:
        posted = post(read_message(item.body), mail, password)
        return Tried(posted.outcome, posted.said, posted.doubtful)

    return deliver


def _into_folder(target: FolderTarget, folder: Path) -> Deliver:
    if not target.path:
        raise ConfigError("[folder] on without a path", "a folder to write to", "set path, or on = false")
    where = (folder / Path(target.path).expanduser()).resolve()

    def deliver(item: Item) -> Tried:
        try:
            write_atomically(where / Path(item.target).name, item.body)
        except StoreError as error:
            return Tried("later", error.read)
        return Tried("sent", "written")

    return deliver


def check_webhook(hook: Webhook) -> str:
    """Check where a webhook points; give its address.

    Raises
    ------
    ConfigError
        Not HTTPS (but for this computer itself), a host outside the list, a user in the address, or no secret.
    """
    parts = urlsplit(hook.address)
    host = parts.hostname or ""
    if parts.scheme not in {"https", "http"} or not host or parts.username or parts.password or parts.fragment:
        raise ConfigError(f"webhook address {hook.address[:80]!r}", "https://host/path", "correct [webhook] address")
    if parts.scheme == "http" and not _is_here(host):
        raise ConfigError(
            f"webhook address {hook.address[:80]!r}", "https", "what is sent must not be readable on the way"
        )
    if host not in {each.lower() for each in hook.allow}:
        raise ConfigError(
            f"webhook host {host}", f"one of allow = {list(hook.allow)}", "add the host to allow if you meant it"
        )
    if len(hook.secret.get_secret_value()) < SHORTEST_SECRET:
        raise ConfigError(
            "a webhook without a secret, or a short one",
            f"{SHORTEST_SECRET} characters or more",
            "set SHIPWINDOW__SERVICE__WEBHOOK__SECRET in the environment",
        )
    return hook.address


def sign(secret: str, sent_at: str, body: bytes) -> str:
    """Sign a document: HMAC-SHA256 (RFC 2104) over the instant, a full stop and the body, in hexadecimal."""
    return hmac.new(secret.encode(), sent_at.encode() + b"." + body, hashlib.sha256).hexdigest()


def _is_here(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _by_webhook(hook: Webhook) -> Deliver:
    address = check_webhook(hook)
    secret = hook.secret.get_secret_value()

    def deliver(item: Item) -> Tried:
        import requests

        sent_at = item.put_at.isoformat()
        headers = {
            "Content-Type": "application/json",
            "Idempotency-Key": item.message_id.strip("<>"),
            SENT_AT: sent_at,
            SIGNATURE: sign(secret, sent_at, item.body),
        }
        try:
            with requests.post(
                address,
                data=item.body,
                headers=headers,
                timeout=hook.timeout_h * 3600.0,
                allow_redirects=False,
                stream=True,
            ) as reply:
                status = reply.status_code
        except requests.ConnectionError:
            return Tried("later", "no answer")
        except requests.RequestException as error:
            return Tried("later", f"no whole answer: {type(error).__name__}", doubtful=True)
        if 200 <= status < 300:
            return Tried("sent", f"answered {status}")
        passing = status >= 500 or status in {408, 425, 429}
        return Tried("later" if passing else "never", f"answered {status}")

    return deliver
