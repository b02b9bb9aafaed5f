"""``shipwindow messages``: drafts of letters to customers, into the shop's outbox. Nothing is sent.

For: options to ``desk.messages`` and ``advisory.letters``. Must not know: what a letter says.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from shipwindow.advisory.moments import read_moment
from shipwindow.cli.common import (
    ForecastsOption,
    JsonOption,
    NowOption,
    OnOption,
    ShopOption,
    product,
    read_day,
    read_now,
    say,
    show_json,
)
from shipwindow.cli.sheets import AdvisoryOption, OrdersOption, read_advisory, with_advisory
from shipwindow.errors import ConfigError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from shipwindow.advisory.acceptance import Acceptance
    from shipwindow.advisory.document import Advisory, OrderAdvice
    from shipwindow.desk import Order
    from shipwindow.desk.messages import Kind
    from shipwindow.desk.records import Contact
    from shipwindow.settings import Shop

app = typer.Typer(help="Draft letters to customers; you send them.", no_args_is_help=True)
TODAY, ANSWER = "today", "answer"
NEED_VERDICT = (TODAY, "ship-confirmed", "hold")


@app.command("write")
def _write(
    *,
    kind: Annotated[
        str, typer.Argument(metavar="KIND", help="Which letter; today: one for each verdict; answer: as --check says.")
    ],
    order: Annotated[list[str] | None, typer.Argument(metavar="[ORDER]...", help="Only these orders.")] = None,
    shop: ShopOption,
    orders: OrdersOption = None,
    advisory: AdvisoryOption = None,
    on: OnOption = None,
    now: NowOption = None,
    forecasts: ForecastsOption = None,
    check: Annotated[
        Path | None,
        typer.Option(
            "--check", metavar="FILE.json", help="What `shipwindow check --json` answered: accept or decline."
        ),
    ] = None,
    depot: Annotated[str, typer.Option("--depot", metavar="TEXT", help="Where and when to collect it.")] = "",
    tracking: Annotated[str, typer.Option("--tracking", metavar="TEXT", help="Tracking number or address.")] = "",
    delivered: Annotated[
        str | None, typer.Option("--delivered-at", metavar="ISO", help="Hour of delivery, on the customer's clock.")
    ] = None,
    new_arrival: Annotated[
        str | None,
        typer.Option("--new-arrival", metavar="ISO", help="New hour of a late box, on the customer's clock."),
    ] = None,
    reply_by: Annotated[
        str | None, typer.Option("--reply-by", metavar="ISO", help="Until when you wait for an answer, on their clock.")
    ] = None,
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why, in your words.")] = "",
    missing: Annotated[str, typer.Option("--missing", metavar="TEXT", help="What you need to know.")] = "",
    again: Annotated[
        bool, typer.Option("--again", help="Replace drafts that are there and say something else.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Write drafts into the outbox of the shop folder; read them, fill in the blanks, then send them yourself."""
    at, day = read_now(now), read_day(on)
    from shipwindow.advisory.letters import facts_of, kind_for, with_answer
    from shipwindow.advisory.run import origin_of
    from shipwindow.desk.book.parts import boxes_of
    from shipwindow.desk.messages import KINDS, draft
    from shipwindow.desk.outbox import put_drafts
    from shipwindow.settings import load_shop

    if kind not in (TODAY, ANSWER, *KINDS):
        raise ConfigError(f"letter {kind!r}", f"one of {', '.join((TODAY, ANSWER, *KINDS))}", "write one of them")
    opened = load_shop(shop)
    answer = None
    if check is not None or kind == ANSWER:
        kind, answer = _answered(kind, check)
    case = _gather(opened, orders, advisory, forecasts, at, day, verdicts=kind in NEED_VERDICT)
    boxes = boxes_of(case.orders)
    drafts = []
    for each in _wanted(case, order or (), every=kind == TODAY):
        verdict = case.verdicts.get(each.order)
        zone = each.destination.zone
        facts = facts_of(
            each,
            opened.settings,
            verdict,
            case.contacts.get(each.contact_key),
            shop_zone=origin_of(opened.settings).zone,
            depot=depot,
            tracking=tracking,
            delivered_at=read_moment("--delivered-at", delivered, zone) or case.delivered.get(each.order),
            new_delivered_at=read_moment("--new-arrival", new_arrival, zone),
            reason=reason,
            missing_fact=missing,
            reply_by=read_moment("--reply-by", reply_by, zone),
            box=boxes.get(each.order),
        )
        if answer is not None:
            facts = with_answer(facts, answer, opened.settings)
        if kind == TODAY and verdict is None:
            continue
        which: Kind = (
            kind_for(verdict) if kind == TODAY and verdict is not None else next(k for k in KINDS if k == kind)
        )
        if which == "ship-confirmed" and verdict is not None and verdict.advice == "hold":
            raise ConfigError(
                f"ship-confirmed for {each.order}, which is held", "the letter hold, or another day", "write hold"
            )
        settings = opened.settings
        show = settings.shop.show.temperature
        drafts.append(draft(which, facts, settings.desk.messages, settings.desk.policy, opened.folder, show))
    assert opened.folder is not None  # noqa: S101 - a shop read from --shop has one
    put = put_drafts(drafts, opened.folder / opened.settings.desk.messages.outbox, case.day, again=again)
    if as_json:
        rows = [
            {
                "order": p.draft.order,
                "kind": p.draft.kind,
                "file": str(p.path),
                "what": p.what,
                "blanks": p.draft.blanks,
            }
            for p in put
        ]
        show_json(json.dumps(rows, indent=2, ensure_ascii=False))
    else:
        with product():
            for p in put:
                fill = f"; fill in: {', '.join(p.draft.blanks)}" if p.draft.blanks else ""
                print(f"{p.what}  {p.path}{fill}")
    kept = sum(p.what == "kept" for p in put)
    if kept:
        say(f"{kept} kept as they are: another text is there already; --again replaces it")
    say("nothing was sent: read the drafts, fill in the blanks, send them yourself" if put else "no letter to write")


def _answered(kind: str, check: Path | None) -> tuple[str, Acceptance]:
    """Read the answer of a check, and the letter it calls for."""
    from pydantic import ValidationError

    from shipwindow.advisory.acceptance import Acceptance
    from shipwindow.advisory.letters import kind_for_answer

    do = "save one: shipwindow check PLACE --shop DIR --json > answer.json"
    if check is None:
        raise ConfigError("letter 'answer' without --check", "the answer of a check", do)
    try:
        answer = Acceptance.model_validate_json(check.read_bytes())
    except OSError as error:
        raise ConfigError(f"{check}: {error.strerror or error}", "the answer of a check", do) from None
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "the file"
        raise ConfigError(f"{check}: {where}: {first['msg']}", "the answer of a check, as JSON", do) from None
    called = kind_for_answer(answer)
    if kind in ("accept", "decline") and kind != called:
        raise ConfigError(f"letter {kind} with an answer that says {answer.answer}", called, "write answer or that one")
    if kind not in (ANSWER, called):
        raise ConfigError(f"letter {kind} with --check", f"the letter {called}, or answer", "leave --check out")
    return called, answer


@app.command("kinds")
def _kinds(*, shop: ShopOption, as_json: JsonOption = False) -> None:
    """List the letters and the template each is made from."""
    from shipwindow.desk.messages import KINDS, template_folders

    folders = template_folders(_folder(shop))
    rows = []
    for kind in KINDS:
        path = next(folder / f"{kind}.txt" for folder in folders if (folder / f"{kind}.txt").is_file())
        own = path.parent == folders[0] and len(folders) > 1
        rows.append({"kind": kind, "template": str(path) if own else "packed", "own": own})
    if as_json:
        show_json(json.dumps(rows, indent=2))
        return
    with product():
        for row in rows:
            print(f"{row['kind']:<15} {row['template']}")


@app.command("templates")
def _templates(*, shop: ShopOption) -> None:
    """Copy the packed templates into the shop folder to edit; nothing there is overwritten."""
    from shipwindow.desk.messages import template_folders
    from shipwindow.store import write_atomically

    own, packed = template_folders(_folder(shop))
    with product():
        for source in sorted(packed.glob("*.txt")):
            target = own / source.name
            there = target.exists()
            if not there:
                write_atomically(target, source.read_bytes())
            print(f"{'kept' if there else 'made'}  {target}")


def _folder(shop: Path) -> Path:
    from shipwindow.settings import load_shop

    folder = load_shop(shop).folder
    assert folder is not None  # noqa: S101 - a shop read from --shop has one
    return folder


@dataclass(frozen=True)
class _Case:
    """What letters are written from."""

    orders: Sequence[Order]
    verdicts: Mapping[str, OrderAdvice]
    contacts: Mapping[str, Contact]
    delivered: Mapping[str, datetime]
    day: date


def _gather(
    shop: Shop,
    orders: Path | None,
    advisory: Path | None,
    forecasts: Path | None,
    at: datetime,
    day: date | None,
    *,
    verdicts: bool,
) -> _Case:
    """Read orders, verdicts where the letter needs them, and what the book knows of customers and deliveries."""
    from zoneinfo import ZoneInfo

    from shipwindow.advisory.run import origin_of
    from shipwindow.desk import read_orders
    from shipwindow.desk.book import open_book

    taken: Advisory | None = None
    found: Sequence[Order] = ()
    if verdicts:
        taken, found = with_advisory(shop, orders, advisory, forecasts, at, day)
    elif advisory is not None:
        taken = read_advisory(advisory)
    contacts: dict[str, Contact] = {}
    delivered: dict[str, datetime] = {}
    if orders is not None:
        found = found or read_orders(orders, shop.settings).orders
    else:
        with open_book(shop) as book:
            found = found or book.read(None).orders
            for each in found:
                contact = book.contact(each.contact_key) if each.contact_key else None
                if contact is not None:
                    contacts[each.contact_key] = contact
                for point, seen_at in book.scans(each.order):
                    if point == "delivered":
                        delivered[each.order] = seen_at
    here = at.astimezone(ZoneInfo(origin_of(shop.settings).zone)).date()
    return _Case(
        found,
        {advice.order: advice for advice in taken.orders} if taken is not None else {},
        contacts,
        delivered,
        taken.day if taken is not None else (day or here),
    )


def _wanted(case: _Case, names: Sequence[str], *, every: bool) -> list[Order]:
    from shipwindow.advisory.sheets.codes import read_code

    asked = [read_code(name) for name in names]
    if not asked:
        if every:
            return list(case.orders)
        raise ConfigError("no order", "the orders to write for", "name them after the letter")
    known = {each.order: each for each in case.orders}
    for name in asked:
        if name not in known:
            raise ConfigError(f"order {name!r}", f"one of {', '.join(known) or 'none'}", "check the id")
    return [known[name] for name in asked]
