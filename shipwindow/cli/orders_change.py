"""``shipwindow orders add | edit | move | scan | forget``: one order at a time.

For: options to ``desk.book`` and its answers to stdout. Must not know: how orders are kept or checked. Neighbour:
``orders`` (files and lists).
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from datetime import time as clock_time
from typing import TYPE_CHECKING, Annotated, Any, cast, get_args
from zoneinfo import ZoneInfo

import typer

from shipwindow.cli.common import NowOption, ShopOption, read_day, read_now
from shipwindow.cli.orders import OrderArgument, WhoOption, WhyOption, app, made_by, opened, read_states, tell
from shipwindow.errors import ConfigError

if TYPE_CHECKING:
    from shipwindow.desk.book import Book, Entry, Plan
    from shipwindow.desk.records import Contact, Order
    from shipwindow.settings.desk_file import ScanPoint, StateName

SOON = timedelta(minutes=10)  # a clock may be a little ahead


def _cell(option: str, metavar: str, says: str) -> Any:  # noqa: ANN401 - the library's own class
    return typer.Option(f"--{option}", metavar=metavar, help=says)


CargoOption = Annotated[str | None, _cell("cargo", "K", "Kind of animals, as in cargo.toml.")]
BagsOption = Annotated[str | None, _cell("bags", "LIST", "Bags with counts, such as bag-4x8:3.")]
BoxOption = Annotated[str | None, _cell("box", "BOX", "Box of boxes.toml.")]
ValueOption = Annotated[str | None, _cell("value", "N", "Worth of the order.")]
HandoverOption = Annotated[str | None, _cell("handover", "H", "How it is handed over, such as met or depot.")]
EarliestOption = Annotated[str | None, _cell("earliest", "DATE", "First ship day.")]
LatestOption = Annotated[str | None, _cell("latest", "DATE", "Last ship day.")]
CommitmentOption = Annotated[str | None, _cell("commitment", "C", "Delivery promise, such as next-morning.")]
BlackoutOption = Annotated[
    str | None, _cell("blackout", "DAYS", "Days on which the customer cannot take it: 2026-04-24..2026-04-26.")
]
WishesOption = Annotated[str | None, _cell("wishes", "TEXT", "The customer's wishes, without names.")]
CoralOption = Annotated[
    list[str] | None,
    _cell("coral", "TEXT", 'One coral, "name; kind; size; bag; value"; once for each. Later parts may be left out.'),
]
NameOption = Annotated[str | None, _cell("name", "TEXT", "The customer's name; kept apart from the order.")]
EmailOption = Annotated[str | None, _cell("email", "TEXT", "The customer's mail address; kept apart.")]
PhoneOption = Annotated[str | None, _cell("phone", "TEXT", "The customer's telephone; kept apart.")]
StreetOption = Annotated[str | None, _cell("street", "TEXT", "The customer's street; kept apart.")]
NoteOption = Annotated[str | None, _cell("handover-note", "TEXT", "What to know at the door; kept apart.")]


def _pieces(corals: list[str] | None) -> list[dict[str, str]] | None:
    if corals is None:
        return None
    from shipwindow.desk.columns import PIECE_COLUMNS

    found = []
    for text in corals:
        parts = [part.strip() for part in text.split(";")]
        if len(parts) > len(PIECE_COLUMNS):
            raise ConfigError(
                f"--coral {text!r}", '"name; kind; size; bag; value"', "write at most five parts, parted by semicolons"
            )
        found.append({name: part for name, part in zip(PIECE_COLUMNS, parts, strict=False) if part})
    return [piece for piece in found if piece]


def _contact(before: Contact | None, key: str, cells: dict[str, str | None]) -> Contact | None:
    """Lay what was given over what is known; None if nothing was given."""
    from shipwindow.desk.records import Contact

    given = {name: " ".join(cell.split()) for name, cell in cells.items() if cell is not None}
    return replace(before or Contact(key), **given) if given else None


@app.command("add")
def _add(
    order: OrderArgument,
    *,
    destination: Annotated[str, _cell("to", "PLACE", 'ZIP code, or "lat,lon Zone/Name".')],
    shop: ShopOption,
    cargo: CargoOption = None,
    bags: BagsOption = None,
    box: BoxOption = None,
    value: ValueOption = None,
    handover: HandoverOption = None,
    earliest: EarliestOption = None,
    latest: LatestOption = None,
    commitment: CommitmentOption = None,
    blackout: BlackoutOption = None,
    wishes: WishesOption = None,
    coral: CoralOption = None,
    name: NameOption = None,
    email: EmailOption = None,
    phone: PhoneOption = None,
    street: StreetOption = None,
    handover_note: NoteOption = None,
    who: WhoOption = None,
    why: WhyOption = "",
    now: NowOption = None,
) -> None:
    """Take one order into the book."""
    cells = {
        "destination": destination,
        "cargo": cargo,
        "bags": bags,
        "box": box,
        "value": value,
        "handover": handover,
        "earliest": earliest,
        "latest": latest,
        "commitment": commitment,
        "blackout": blackout,
        "wishes": wishes,
    }
    given = {key: " ".join(cell.split()) for key, cell in cells.items() if cell}
    people = {"name": name, "email": email, "phone": phone, "street": street, "handover_note": handover_note}
    with opened(shop) as book:
        there = book.find(order)
        contact = _contact(None, order, people)
        taken = book.add(
            order, given, by=made_by(read_now(now), who, why), pieces=_pieces(coral) or (), contact=contact
        )
        tell(f"{'already in the book' if there else 'added'}: {_summary(taken)}")


def _summary(order: Order) -> str:
    from shipwindow.desk.cells import bags_text

    notes = "".join(f"\n  {note}" for note in order.notes)
    return f"{order.order} to {order.destination.label}, {order.cargo}, {bags_text(order.bags)}{notes}"


@app.command("edit")
def _edit(
    order: OrderArgument,
    *,
    shop: ShopOption,
    destination: Annotated[str | None, _cell("to", "PLACE", 'ZIP code, or "lat,lon Zone/Name".')] = None,
    cargo: CargoOption = None,
    bags: BagsOption = None,
    box: BoxOption = None,
    value: ValueOption = None,
    handover: HandoverOption = None,
    earliest: EarliestOption = None,
    latest: LatestOption = None,
    commitment: CommitmentOption = None,
    blackout: BlackoutOption = None,
    wishes: WishesOption = None,
    coral: CoralOption = None,
    name: NameOption = None,
    email: EmailOption = None,
    phone: PhoneOption = None,
    street: StreetOption = None,
    handover_note: NoteOption = None,
    who: WhoOption = None,
    why: WhyOption = "",
    now: NowOption = None,
) -> None:
    """Change an order that is not packed yet; an empty value, such as --box "", takes one back."""
    cells = {
        "destination": destination,
        "cargo": cargo,
        "bags": bags,
        "box": box,
        "value": value,
        "handover": handover,
        "earliest": earliest,
        "latest": latest,
        "commitment": commitment,
        "blackout": blackout,
        "wishes": wishes,
    }
    changes = {key: " ".join(cell.split()) for key, cell in cells.items() if cell is not None}
    people = {"name": name, "email": email, "phone": phone, "street": street, "handover_note": handover_note}
    by = made_by(read_now(now), who, why)
    with opened(shop) as book:
        changed = book.edit(order, changes, by=by, pieces=_pieces(coral)) if changes or coral else ()
        told = [*changed]
        entry = book.entry(order)
        key = entry.contact_key or order
        contact = _contact(book.contact(key), key, people)
        if contact is not None and book.set_contact(order, contact, by=by):
            told.append("contact")
        tell(f"changed {order}: {', '.join(told)}" if told else f"nothing changed: {order} says that already")


@app.command("move")
def _move(
    order: OrderArgument,
    state: Annotated[
        str,
        typer.Argument(metavar="STATE", help="open, held, planned, packed, handed-over, arrived, closed or cancelled."),
    ],
    *,
    shop: ShopOption,
    day: Annotated[str | None, _cell("day", "DATE", "Ship day; the one last advised if left out.")] = None,
    commitment: CommitmentOption = None,
    handover: HandoverOption = None,
    box: BoxOption = None,
    plan: Annotated[str | None, _cell("plan", "P", "Pack plan of packs.toml.")] = None,
    ballast: Annotated[str | None, _cell("ballast", "MASS", 'Ballast water in the box, such as "2 kg".')] = None,
    who: WhoOption = None,
    why: WhyOption = "",
    now: NowOption = None,
) -> None:
    """Move an order to another state; the way it goes is the one last advised unless you say otherwise."""
    at = read_now(now)
    with opened(shop) as book:
        (to,) = read_states(state) or ("open",)
        entry = book.entry(order)
        told = {
            "day": day,
            "commitment": commitment,
            "handover": handover,
            "box": box,
            "plan": plan,
            "ballast": ballast,
        }
        new = _plan(book, entry, to, told, at)
        after = book.move(order, to, by=made_by(at, who, why), plan=new)
        says = book.settings.desk.state[after.state].says
        if after.seq == entry.seq:
            tell(f"{order} stays as it is: {says}")
            return
        way = ", ".join(str(value) for value in after.plan.as_body().values() if value) if after.plan else ""
        tell(f"{order} is now {says}" + (f" ({way})" if way and to in {"planned", "packed", "handed-over"} else ""))


def _plan(book: Book, entry: Entry, to: StateName, told: dict[str, str | None], now: datetime) -> Plan | None:
    """Read the plan that goes with a move."""
    from shipwindow.advisory.run import origin_of
    from shipwindow.desk.book.plans import plan_of_move

    given = {name: text for name, text in told.items() if text is not None}
    today = now.astimezone(ZoneInfo(origin_of(book.settings).zone)).date()
    return plan_of_move(entry, to, given, book.settings, day=read_day(given.get("day")), today=today)


@app.command("scan")
def _scan(
    order: OrderArgument,
    *,
    shop: ShopOption,
    at: Annotated[
        str | None,
        _cell("at", "POINT", "lid-shut, drop-off, hub, hub-left, depot, van, delivered or opened."),
    ] = None,
    time: Annotated[
        str | None, _cell("time", "WHEN", "HH:MM on the clock of that place, or an instant with zone; now if left out.")
    ] = None,
    delay: Annotated[
        str, _cell("delay", "D", "A delay the carrier has told: late-at-hub, late-at-destination, or on-time again.")
    ] = "",
    who: WhoOption = None,
    why: WhyOption = "",
    now: NowOption = None,
) -> None:
    """Record where a box was seen and when, or a delay."""
    from shipwindow.desk.cells import one_of
    from shipwindow.settings.desk_file import ScanPoint as Points
    from shipwindow.trip.legs import DELAYS

    if at is None and not delay:
        raise ConfigError("neither --at nor --delay", "where it was seen, or a delay", "give --at hub --time 23:40")
    instant = read_now(now)
    point = None if at is None else cast("ScanPoint", one_of(get_args(Points), "point")(at))
    told = one_of(DELAYS, "delay")(delay) if delay else ""
    with opened(shop) as book:
        seen_at = None if point is None else _seen_at(book, order, point, time, instant)
        new = book.scan(order, by=made_by(instant, who, why), point=point, seen_at=seen_at, delay=told)
    seen = "" if seen_at is None else f" {point} {seen_at.astimezone(UTC):%Y-%m-%d %H:%M}Z"
    tell(f"{'noted' if new else 'already noted'}: {order}{seen}{' ' + told if told else ''}")


def _seen_at(book: Book, order: str, point: ScanPoint, text: str | None, now: datetime) -> datetime:
    """Read when a box was seen: a bare hour is the last one on the clock of the point's place."""
    if text is None:
        return now
    if not re.fullmatch(r"([01]?\d|2[0-3]):[0-5]\d", text.strip()):
        return _not_ahead(read_now(text), text, now)
    from shipwindow.advisory.run import hub_place, origin_of
    from shipwindow.desk import hub_of

    checked = book.order(order)
    if point in {"lid-shut", "drop-off"}:
        zone = origin_of(book.settings).zone
    elif point in {"hub", "hub-left"}:
        zone = hub_place(book.settings, hub_of(checked.destination, book.settings.lanes)).zone
    else:
        zone = checked.destination.zone
    hour, minute = text.strip().split(":")
    here = now.astimezone(ZoneInfo(zone))
    found = datetime.combine(here.date(), clock_time(int(hour), int(minute)), ZoneInfo(zone))
    if found > here + SOON:
        found = datetime.combine(here.date() - timedelta(days=1), found.time(), ZoneInfo(zone))
    return found.astimezone(UTC)


def _not_ahead(found: datetime, text: str, now: datetime) -> datetime:
    if found > now + SOON:
        raise ConfigError(
            f"--time {text}, which is to come", f"not after {now:%Y-%m-%d %H:%M %Z}", "correct the time or its zone"
        )
    return found


@app.command("forget")
def _forget(order: OrderArgument, *, shop: ShopOption, who: WhoOption = None, now: NowOption = None) -> None:
    """Delete what is known of the order's customer; the order itself stays."""
    with opened(shop) as book:
        done = book.forget(order, by=made_by(read_now(now), who))
    tell(f"deleted the contact of {order}" if done else f"nothing is known of the customer of {order}")
