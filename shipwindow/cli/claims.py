"""``shipwindow claims``: what a customer reported, in time or late, which proof is there, what a person decided.

For: options to ``desk.claims``. Must not know: how a claim is kept.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from shipwindow.advisory.moments import read_moment
from shipwindow.cli.common import JsonOption, NowOption, ShopOption, product, read_now, show_json
from shipwindow.errors import ConfigError

if TYPE_CHECKING:
    from shipwindow.desk.claims import Claim
    from shipwindow.settings import Shop
    from shipwindow.settings.desk_paper import Policy

app = typer.Typer(help="Claims: reports, proof, decisions. A person decides.", no_args_is_help=True)
ClaimArgument = Annotated[str, typer.Argument(metavar="CLAIM", help="The claim, such as A-101-1.")]
ByOption = Annotated[str, typer.Option("--by", metavar="NAME", help="Who does this.")]
WhyOption = Annotated[str, typer.Option("--why", metavar="TEXT", help="Why.")]


@app.command("report")
def _report(
    *,
    order: Annotated[str, typer.Argument(metavar="ORDER", help="The order, or its scanned code.")],
    shop: ShopOption,
    reported: Annotated[
        str | None, typer.Option("--reported-at", metavar="ISO", help="When the customer told you; now if left out.")
    ] = None,
    delivered: Annotated[
        str | None,
        typer.Option("--delivered-at", metavar="ISO", help="When the carrier delivered, if the book has no scan."),
    ] = None,
    opened: Annotated[str | None, typer.Option("--opened-at", metavar="ISO", help="When the box was opened.")] = None,
    collected: Annotated[
        str | None,
        typer.Option("--collected-at", metavar="ISO", help="When a box kept at a depot was collected."),
    ] = None,
    lost: Annotated[
        list[str] | None, typer.Option("--lost", metavar="CORAL", help="A coral that is lost; repeat.")
    ] = None,
    says: Annotated[str, typer.Option("--says", metavar="TEXT", help="The customer's words.")] = "",
    by: ByOption = "",
    now: NowOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write down what a customer reports; hours without an offset are read on the clock of the destination."""
    at = read_now(now)
    from shipwindow.advisory.sheets.codes import read_code
    from shipwindow.desk.claims import open_claims

    name = read_code(order)
    read, zone, seen_at = _of_book(shop, name)
    with open_claims(read) as book:
        claim = book.report(
            name,
            read_moment("--reported-at", reported, zone) or at,
            at=at,
            who=by or read.settings.desk.book.who,
            delivered_at=read_moment("--delivered-at", delivered, zone) or seen_at,
            opened_at=read_moment("--opened-at", opened, zone),
            collected_at=read_moment("--collected-at", collected, zone),
            corals=tuple(lost or ()),
            says=says,
        )
        _show([claim], book.policy, as_json=as_json, full=True)


@app.command("proof")
def _proof(
    *,
    claim: ClaimArgument,
    item: Annotated[str, typer.Argument(metavar="ITEM", help="Number of the proof, as `claims show` lists it.")],
    where: Annotated[str, typer.Argument(metavar="WHERE", help="File or mail in which it lies.")],
    shop: ShopOption,
    by: ByOption = "",
    now: NowOption = None,
    as_json: JsonOption = False,
) -> None:
    """Note that a piece of proof has come."""
    at = read_now(now)
    from shipwindow.desk.claims import open_claims

    with open_claims(shop) as book:
        _show([book.add_proof(claim, item, where, at=at, who=by)], book.policy, as_json=as_json, full=True)


@app.command("decide")
def _decide(
    *,
    claim: ClaimArgument,
    gives: Annotated[str, typer.Argument(metavar="GIVES", help="replacement, credit, refund or nothing.")],
    shop: ShopOption,
    by: ByOption = "",
    why: WhyOption = "",
    amount: Annotated[str | None, typer.Option("--amount", metavar="N", help="Worth of what is given.")] = None,
    now: NowOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write down what a person has decided: --by and --why are required."""
    at = read_now(now)
    from shipwindow import units
    from shipwindow.desk.claims import GIVES, open_claims

    given = next((each for each in GIVES if each == gives.strip().casefold()), None)
    if given is None:
        raise ConfigError(f"{gives!r}", f"one of {', '.join(GIVES)}", "write what is given")
    amount_cents = units.cents(amount) if amount is not None else None
    with open_claims(shop) as book:
        found = book.decide(claim, given, at=at, who=by, why=why, amount_cents=amount_cents)
        _show([found], book.policy, as_json=as_json, full=True)


@app.command("settle")
def _settle(
    *, claim: ClaimArgument, shop: ShopOption, by: ByOption = "", now: NowOption = None, as_json: JsonOption = False
) -> None:
    """Note that what was decided has been given."""
    at = read_now(now)
    from shipwindow.desk.claims import open_claims

    with open_claims(shop) as book:
        _show([book.settle(claim, at=at, who=by)], book.policy, as_json=as_json, full=True)


@app.command("withdraw")
def _withdraw(
    *, claim: ClaimArgument, shop: ShopOption, by: ByOption = "", now: NowOption = None, as_json: JsonOption = False
) -> None:
    """Note that the customer takes the claim back."""
    at = read_now(now)
    from shipwindow.desk.claims import open_claims

    with open_claims(shop) as book:
        _show([book.withdraw(claim, at=at, who=by)], book.policy, as_json=as_json, full=True)


@app.command("list")
def _list(
    *,
    shop: ShopOption,
    every: Annotated[bool, typer.Option("--all", help="Settled and withdrawn ones too.")] = False,
    as_json: JsonOption = False,
) -> None:
    """List the claims that wait for somebody."""
    from shipwindow.desk.claims import OPEN, open_claims

    with open_claims(shop) as book:
        _show(book.claims(None if every else OPEN), book.policy, as_json=as_json, full=False)


@app.command("show")
def _show_one(*, claim: ClaimArgument, shop: ShopOption, as_json: JsonOption = False) -> None:
    """Show one claim with its proof."""
    from shipwindow.desk.claims import open_claims

    with open_claims(shop) as book:
        _show([book.claim(claim)], book.policy, as_json=as_json, full=True)


def _of_book(shop: Path, order: str) -> tuple[Shop, str | None, datetime | None]:
    """Find what the order book knows: the destination's zone and the scan of the delivery. An order must be in it."""
    from shipwindow.desk.book import open_book
    from shipwindow.settings import load_shop

    read = load_shop(shop)
    with open_book(read) as book:
        book.entry(order)  # says so if it is not there
        known = book.read(None)
        zone = next((each.destination.zone for each in known.orders if each.order == order), None)
        seen = [at for point, at in book.scans(order) if point == "delivered"]
    return read, zone, seen[-1] if seen else None


def _show(claims: list[Claim] | tuple[Claim, ...], policy: Policy, *, as_json: bool, full: bool) -> None:
    from shipwindow.desk.claims import collection, timing, timing_words

    if as_json:
        rows: list[dict[str, Any]] = []
        for claim in claims:
            said, minutes = timing(claim, policy)
            kept = collection(claim, policy)
            row = {**asdict(claim), "lacking": claim.lacking, "timing": said, "minutes": minutes}
            rows.append(row | {"collection": kept[0] if kept else None})
        show_json(json.dumps(rows, indent=2, ensure_ascii=False, default=datetime.isoformat))
        return
    with product():
        if not claims:
            print("no claims")
        for claim in claims:
            print(f"{claim.claim}  {claim.state}  {timing_words(claim, policy)}")
            if full:
                _print_full(claim)


def _print_full(claim: Claim) -> None:
    if claim.corals:
        print(f"  lost: {'; '.join(claim.corals)}")
    if claim.says:
        print(f"  says: {claim.says}")
    there = dict(claim.proof)
    for number, item in enumerate(claim.needed, 1):
        print(f"  proof {number}: {item}: {there.get(item, 'not here yet')}")
    if claim.gives is not None:
        amount = "" if claim.amount_cents is None else f" {claim.amount_cents / 100:.2f}"
        print(f"  decided by {claim.decided_by}: {claim.gives}{amount}; {claim.why}")
    elif claim.state in {"reported", "ready"}:
        print("  a person decides: shipwindow claims decide")
