"""``shipwindow orders``: the order book from the command line.

For: options to ``desk.book`` and its answers to stdout. Must not know: how orders are kept or checked.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, cast

import typer

from shipwindow.cli.common import (
    EXIT_INCOMPLETE,
    JsonOption,
    NowOption,
    ProgressLine,
    ShopOption,
    product,
    read_now,
    say,
    show_json,
)

if TYPE_CHECKING:
    from shipwindow.desk.book import Book, By, Entry, Event
    from shipwindow.desk.book.exports import Leaving
    from shipwindow.desk.book.imports import Imported
    from shipwindow.settings.desk_file import StateName

app = typer.Typer(help="The order book: what is ordered, where each order stands, what happened to it.")

MOST_PROBLEMS = 40
SOON = timedelta(minutes=10)  # a clock may be a little ahead
OrderArgument = Annotated[str, typer.Argument(metavar="ORDER", help="The order's number.")]
WhoOption = Annotated[str | None, typer.Option("--who", metavar="NAME", help="Who does it; the shop if left out.")]
WhyOption = Annotated[str, typer.Option("--why", metavar="TEXT", help="Why; kept beside the event.")]
StatesOption = Annotated[
    str | None,
    typer.Option("--state", metavar="S,S", help="Only these states, such as open,held; all if left out."),
]


def register(program: typer.Typer) -> None:
    """Add the group to the program."""
    from shipwindow.cli import orders_change, orders_split  # noqa: F401 - they add their commands to the group

    program.add_typer(app, name="orders")


def made_by(now: datetime, who: str | None, why: str = "") -> By:
    """Say who does something, when and why."""
    from shipwindow.desk.book import By

    return By(now, (who or "").strip(), why.strip())


def opened(shop: Path) -> Book:
    """Open the order book of a shop folder."""
    from shipwindow.desk.book import open_book

    return open_book(shop)


def read_states(text: str | None) -> tuple[StateName, ...] | None:
    """Read states parted by commas."""
    if text is None:
        return None
    from shipwindow.desk.book import STATES
    from shipwindow.desk.cells import one_of

    read = one_of(STATES, "state")
    return tuple(cast("StateName", read(part.strip())) for part in text.split(",") if part.strip())


@app.command("import")
def _import(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="CSV or JSON; columns in docs/orders.md.")],
    *,
    shop: ShopOption,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say what would happen.")] = False,
    who: WhoOption = None,
    why: WhyOption = "",
    as_json: JsonOption = False,
    now: NowOption = None,
) -> None:
    """Take a file of orders in; the same file again changes nothing, bad rows are kept aside."""
    from shipwindow.desk.book.imports import import_file

    with opened(shop) as book, ProgressLine() as progress:
        found = import_file(book, file, by=made_by(read_now(now), who, why), dry_run=dry_run, progress=progress)
    if as_json:
        show_json(json.dumps(asdict(found), indent=2, ensure_ascii=False))
    else:
        _tell_import(found)
    if found.problems:
        raise typer.Exit(EXIT_INCOMPLETE)


def _tell_import(found: Imported) -> None:
    would = "would be " if found.dry_run else ""
    counts = f"changed {len(found.changed)}, unchanged {len(found.unchanged)}, kept aside {_asides(found)}"
    lines = [f"{would}added {len(found.added)}, {counts}"]
    lines += [f"  {order}: {', '.join(columns)}" for order, columns in found.changed[:MOST_PROBLEMS]]
    lines += [f"  {problem}" for problem in found.problems[:MOST_PROBLEMS]]
    if len(found.problems) > MOST_PROBLEMS:
        lines.append(f"  and {len(found.problems) - MOST_PROBLEMS} more: shipwindow orders aside")
    lines += [f"  note: {note}" for note in found.notes]
    tell("\n".join(lines))
    if _asides(found) and not found.dry_run:
        say("Correct the rows in your file and import it again, or: shipwindow orders aside --csv corrections.csv")


def _asides(found: Imported) -> int:
    return len({problem.line for problem in found.problems})


@app.command("aside")
def _aside(
    *,
    shop: ShopOption,
    csv: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write the rows and reasons, to correct and import.")
    ] = None,
    drop: Annotated[bool, typer.Option("--drop", help="Let go of all of them.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Show the rows that imports kept aside, and why."""
    from shipwindow.desk.book.exports import asides_csv
    from shipwindow.desk.book.imports import asides, drop_asides

    with opened(shop) as book:
        rows = asides(book)
        if csv is not None:
            from shipwindow.store import write_atomically

            write_atomically(csv, asides_csv(rows))
            say(f"written: {csv}; correct it, then: shipwindow orders import {csv} --shop {shop}")
        if drop:
            say(f"let go of {drop_asides(book)} rows")
    if as_json:
        show_json(json.dumps([asdict(row) for row in rows], indent=2, ensure_ascii=False))
    elif csv is None:
        told = [f"{row.file}, {problem}" for row in rows for problem in row.problems]
        tell("\n".join(told) if told else "no rows are kept aside")


# ----------------------------------------------------------------------------- out


@app.command("list")
def _list(*, shop: ShopOption, state: StatesOption = None, as_json: JsonOption = False) -> None:
    """List the orders with their state and what was last advised."""
    from shipwindow.desk.book.exports import Leaving, record

    with opened(shop) as book:
        wanted = read_states(state)
        if as_json:
            entries = book.entries(wanted)
            said = {listed.order: listed.advice or None for listed in book.listing(wanted)}
            records = [record(Leaving(entry)) | {"advice": said[entry.order]} for entry in entries]
            show_json(json.dumps(records, indent=2, ensure_ascii=False))
            return
        listing = book.listing(wanted)
        words = {name: each.says for name, each in book.settings.desk.state.items()}
    rows = [
        (each.order, words[each.state], each.destination, each.cargo or _corals(each.corals), each.advice)
        for each in listing
    ]
    tell(_table(("order", "state", "to", "cargo", "last advised"), rows) if rows else "no orders")


def _corals(count: int) -> str:
    return f"{count} coral{'s' if count > 1 else ''}" if count else ""


def _table(head: Iterable[str], rows: Iterable[tuple[str, ...]]) -> str:
    """Set columns side by side; a library's table takes seconds for ten thousand rows."""
    every = [tuple(head), *rows]
    widths = [max(len(cell) for cell in column) for column in zip(*every, strict=True)]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in every
    )


@app.command("show")
def _show(order: OrderArgument, *, shop: ShopOption, as_json: JsonOption = False) -> None:
    """Show one order, its corals, its contact, and everything that happened to it."""
    from shipwindow.desk.book.exports import record

    with opened(shop) as book:
        entry = book.entry(order)
        leaving = _leaving(book, entry, contacts=True)
        events = book.events(order)
        words = {name: each.says for name, each in book.settings.desk.state.items()}
    if as_json:
        document = record(leaving, contacts=True) | {
            "plan": None if entry.plan is None else entry.plan.as_body(),
            "advice": entry.advice,
            "events": [_event(event) for event in events],
        }
        show_json(json.dumps(document, indent=2, ensure_ascii=False))
        return
    lines = [f"{entry.order} · {words.get(entry.state, entry.state)} · since {entry.since:%Y-%m-%d %H:%M}Z"]
    lines += [f"  {name}: {cell}" for name, cell in {**entry.cells, **leaving.contact_cells}.items()]
    lines += [f"  coral {n}: " + ", ".join(piece.values()) for n, piece in enumerate(entry.pieces, start=1)]
    if entry.plan is not None:
        told = ", ".join(f"{key} {value}" for key, value in entry.plan.as_body().items() if value)
        lines.append(f"  plan: {told}")
    lines.append("")
    lines += [_event_line(event) for event in events]
    tell("\n".join(lines))


def _event(event: Event) -> dict[str, Any]:
    return {
        "seq": event.seq,
        "at": event.at.isoformat(),
        "kind": event.kind,
        "who": event.who,
        "why": event.why,
        "body": dict(event.body),
    }


def _event_line(event: Event) -> str:
    body = event.body
    says = {
        "moved": lambda: f"{body.get('from', '')} to {body.get('to', '')}",
        "advised": lambda: f"{body.get('advice', '')} for {body.get('day', '')}",
        "edited": lambda: ", ".join((*body.get("cells", {}), *(("lines",) if "pieces" in body else ()))),
        "scanned": lambda: " ".join(str(value) for value in body.values()),
    }.get(event.kind, lambda: "")()
    why = f" ({event.why})" if event.why else ""
    return f"  {event.at:%Y-%m-%d %H:%M}Z  {event.kind}  {says}  {event.who}{why}".rstrip()


def _leaving(book: Book, entry: Entry, *, contacts: bool) -> Leaving:
    from shipwindow.desk.book.exports import Leaving

    contact = book.contact(entry.contact_key) if contacts and entry.contact_key else None
    return Leaving(entry, contact)


@app.command("export")
def _export(
    file: Annotated[
        Path | None, typer.Argument(metavar="FILE", help="A .csv or .json; the screen if left out.")
    ] = None,
    *,
    shop: ShopOption,
    state: StatesOption = None,
    contacts: Annotated[bool, typer.Option("--contacts", help="With names and addresses of customers.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Write the orders as CSV or JSON that `orders import` reads back."""
    from shipwindow.desk.book.exports import as_csv
    from shipwindow.desk.book.exports import as_json as as_json_text

    with opened(shop) as book:
        leaving = [_leaving(book, entry, contacts=contacts) for entry in book.entries(read_states(state))]
    as_document = as_json or (file is not None and file.suffix.casefold() == ".json")
    text = as_json_text(leaving, contacts=contacts) if as_document else as_csv(leaving, contacts=contacts)
    if file is not None:
        from shipwindow.store import write_atomically

        write_atomically(file, text)
        say(f"written: {file}, {len(leaving)} orders")
    elif as_document:
        show_json(text)
    else:
        tell(text.rstrip("\n"))


@app.command("rebuild")
def _rebuild(
    *,
    shop: ShopOption,
    check: Annotated[bool, typer.Option("--check", help="Only say whether the states are what the log says.")] = False,
) -> None:
    """Make the states of all orders anew from the log of events."""
    with opened(shop) as book:
        wrong = book.differences() if check else book.rebuild()
    told = f"not as the log says: {', '.join(wrong)}" if wrong else "every order is as the log says"
    tell(told if check or not wrong else f"corrected from the log: {', '.join(wrong)}")
    if check and wrong:
        raise typer.Exit(EXIT_INCOMPLETE)


def tell(text: str) -> None:
    """Print the product."""
    with product():
        print(text)
