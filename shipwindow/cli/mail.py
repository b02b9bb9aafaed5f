"""``shipwindow mail``: try the mail server, see what waits, send what waits, send a draft.

For: options to ``service.outbox`` and ``advisory.mail``. Nothing is sent to a customer but by ``mail send`` with the
draft named by the person at the keyboard.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from shipwindow.cli.common import JsonOption, ShopOption, product, say, show_json
from shipwindow.errors import ConfigError, MailError

if TYPE_CHECKING:
    from shipwindow.service.outbox import Outbox
    from shipwindow.settings import Shop

app = typer.Typer(help="Letters: try the mail server, see the outbox, send what waits.", no_args_is_help=True)

ToOption = Annotated[str | None, typer.Option("--to", metavar="ADDRESS", help="Who gets it; your own if left out.")]


@app.command("test")
def _test(*, shop: ShopOption, to: ToOption = None) -> None:
    """Greet the mail server, sign in, and send one trial letter to yourself."""
    from shipwindow.advisory.mail.letter import address_letter, plain_letter
    from shipwindow.advisory.mail.post import check_server, password_of, post
    from shipwindow.service.outbox import message_id

    now = datetime.now(UTC)
    opened = _open(shop, now)
    mail = opened.settings.service.mail
    if not mail.on or mail.sender is None:
        raise ConfigError("[mail] on = false", "mail switched on", "set on, host, sender and to in service.toml")
    password = password_of(mail)
    check_server(mail, password)
    say(f"{mail.host}:{mail.port} answers ({mail.security})")
    name = opened.settings.shop.shop.name
    for reader in (to,) if to else mail.to:
        letter = plain_letter(f"{name}: trial letter", "The mail of shipwindow works.\n")
        sign = message_id(f"trial/{now.isoformat()}/{reader}", name)
        posted = post(address_letter(letter, sender=mail.sender, to=reader, message_id=sign, at=now), mail, password)
        if posted.outcome != "sent":
            raise MailError(posted.said, "a letter taken by the server", "check service.toml, then try again")
        say(f"sent to {reader}")


@app.command("list")
def _list(*, shop: ShopOption, as_json: JsonOption = False) -> None:
    """Show what is in the outbox and what came of it."""
    opened = _open(shop, datetime.now(UTC))
    with _outbox(opened) as outbox:
        items = outbox.items()
    if as_json:
        rows = [
            {
                "key": item.key,
                "channel": item.channel,
                "state": item.state,
                "tries": item.tries,
                "put_at": item.put_at.isoformat(),
                "sent_at": item.sent_at.isoformat() if item.sent_at else None,
                "said": item.said,
            }
            for item in items
        ]
        show_json(json.dumps(rows, indent=2, ensure_ascii=False))
        return
    with product():
        for item in items:
            print(f"{item.state:<9}  {item.put_at:%Y-%m-%d %H:%M}Z  {item.key}  {item.said}")
        if not items:
            print("the outbox is empty")


@app.command("deliver")
def _deliver(*, shop: ShopOption) -> None:
    """Try what is due in the outbox now."""
    from shipwindow.service.targets import channels

    now = datetime.now(UTC)
    opened = _open(shop, now)
    with _outbox(opened) as outbox:
        done = outbox.deliver(channels(opened.settings.service, shop), lambda: datetime.now(UTC))
    for item, tried in done:
        say(f"{item.key}: {tried.outcome}, {tried.said}")
    if not done:
        say("nothing is due")
    if any(tried.outcome != "sent" for _, tried in done):
        raise MailError("not everything was sent", "all sent", "see shipwindow mail list; it is tried again")


@app.command("again")
def _again(
    *, shop: ShopOption, key: Annotated[str, typer.Argument(metavar="KEY", help="As `mail list` shows it.")]
) -> None:
    """Take up a letter that was given up."""
    now = datetime.now(UTC)
    with _outbox(_open(shop, now)) as outbox:
        if not outbox.again(key, now):
            raise ConfigError(f"{key!r}", "a letter that was given up", "shipwindow mail list shows them")
    say("it waits again; shipwindow mail deliver tries it now")


@app.command("send")
def _send(
    *,
    shop: ShopOption,
    draft: Annotated[Path, typer.Argument(metavar="DRAFT.eml", help="A draft of `shipwindow messages`.")],
) -> None:
    """Send one draft to the customer it is addressed to; the only way a letter leaves for a customer."""
    from shipwindow.service.drafts import put_draft
    from shipwindow.service.targets import channels

    now = datetime.now(UTC)
    opened = _open(shop, now)
    with _outbox(opened) as outbox:
        key = put_draft(outbox, draft, opened, now)
        done = outbox.deliver(channels(opened.settings.service, shop), lambda: datetime.now(UTC))
    mine = [tried for item, tried in done if item.key == key]
    if not mine or mine[0].outcome != "sent":
        raise MailError(mine[0].said if mine else "not tried", "a letter taken by the server", "it is tried again")
    say(f"sent: {draft.name}")


def _open(shop: Path, now: datetime) -> Shop:
    from shipwindow.advisory.run import open_shop

    return open_shop(shop, now)


@contextlib.contextmanager
def _outbox(opened: Shop) -> Iterator[Outbox]:
    from shipwindow.service.mornings import store_path
    from shipwindow.service.outbox import open_outbox

    with open_outbox(store_path(opened), opened.settings.service.retry) as outbox:
        yield outbox
