"""Read the seller's own table of carrier prices, and look prices up in it.

For: ``read_rates(path, settings) -> Rates`` and ``Rates.price(...)``. No price is ever made up: what the table does not
say has no price, and says why. Must not know: what a box weighs (``money``), what a loss costs, verdicts.
Neighbours: ``table`` (splits the file), ``money`` (billed weight, surcharges).

Columns: commitment, price | to, up-to, per-weight. ``to`` is empty for anywhere, or one of: zones of desk.toml, hubs
of lanes.toml, first digits of postcodes ("85 86" or "850-865"). ``up-to`` is the heaviest billed weight of a row, empty
for any. A box costs price + per-weight x billed weight, and then the shop's surcharges.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TypeVar, cast

from shipwindow.desk.cells import money, nearest, one_of, tame
from shipwindow.desk.money import Billable, billing_of, surcharged_cents
from shipwindow.desk.records import Problem
from shipwindow.desk.table import Row, read_table
from shipwindow.errors import ConfigError
from shipwindow.places import Place
from shipwindow.settings.fields import CommitmentName
from shipwindow.settings.models import Settings

COLUMNS = ("commitment", "price", "to", "up-to", "per-weight")
REQUIRED = ("commitment", "price")
ANYWHERE = ("", "any", "*")
HEAVIEST = 10_000.0
WHAT = "table of prices"
_PREFIX = re.compile(r"[0-9A-Za-z]{1,10}")
_SPAN = re.compile(r"(\d{1,5})-(\d{1,5})")
_WEIGHT = re.compile(r"(\d+(?:\.\d+)?)\s*([A-Za-z]*)")

T = TypeVar("T")


@dataclass(frozen=True)
class Rate:
    """One good row; ``up_to`` and ``per_weight_cents`` count in the carrier's own unit of weight."""

    line: int
    commitment: CommitmentName
    to: str
    up_to: float
    price_cents: int
    per_weight_cents: int
    prefixes: tuple[str, ...] = ()
    hub: str = ""

    def reach(self, destination: Place, hub: str) -> int | None:
        """Say how closely the row names a destination: None not at all, 0 anywhere, 1 its hub, 2 and more its code."""
        if not self.prefixes and not self.hub:
            return 0
        if self.hub:
            return 1 if self.hub == hub else None
        fitting = [len(prefix) for prefix in self.prefixes if destination.postcode.startswith(prefix)]
        return 1 + max(fitting) if fitting and destination.postcode else None


@dataclass(frozen=True)
class Price:
    """What the carrier takes, with where that is from; without cents it has no price and ``says`` tells why."""

    cents: int | None
    says: str


@dataclass(frozen=True)
class Rates:
    """A shop's prices: rows of its table and flat prices of lanes.toml; faults of the table beside them."""

    settings: Settings
    rows: tuple[Rate, ...] = ()
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()
    found: bool = False

    def price(self, commitment: CommitmentName, destination: Place, hub: str, bill: Billable) -> Price:
        """Look up one box: the rows that name its destination most closely, then the lightest that holds it."""
        near = [(rate, rate.reach(destination, hub)) for rate in self.rows if rate.commitment == commitment]
        closest = max((reach for _, reach in near if reach is not None), default=None)
        money_set = self.settings.desk.money
        if closest is not None:
            rows = [rate for rate, reach in near if reach == closest]
            holding = [rate for rate in rows if bill.weight <= rate.up_to]
            if holding:
                rate = min(holding, key=lambda one: (one.up_to, one.line))
                base = rate.price_cents + rate.per_weight_cents * bill.weight
                return Price(surcharged_cents(base, money_set), f"{money_set.rates} line {rate.line}")
            most = max(rate.up_to for rate in rows)
            return Price(
                None, f"no price: {money_set.rates} ends at {most:g} {bill.unit}, the box bills as {bill.weight:g}"
            )
        flat = self.settings.lanes.commitment.get(commitment)
        if flat is not None and flat.price_cents is not None:
            return Price(surcharged_cents(flat.price_cents, money_set), "flat price of lanes.toml")
        if self.rows:
            return Price(None, f"no price: {money_set.rates} has no row for {commitment} to this destination")
        return Price(None, f"no price: write {money_set.rates}, or price under [commitment.{commitment}] of lanes.toml")


def read_rates(folder: Path | None, settings: Settings) -> Rates:
    """Read the table of a shop folder; a shop without one has its flat prices, or none.

    A bad row is kept aside with its line and told, and so is a file that is no table; neither stops a morning. The
    prices of good rows stand.
    """
    path = folder / settings.desk.money.rates if folder is not None else None
    if path is None or not path.exists():
        return Rates(settings)
    try:
        table = read_table(path, COLUMNS, REQUIRED, what=WHAT, each="price")
    except ConfigError as error:  # no table at all costs the prices, never the morning
        fault = Problem(1, "file", "", error.read, error.expected, error.do)
        return Rates(settings, problems=(fault,), found=True)
    problems = [Problem(1, name, "", repr(name), expected, do) for name, expected, do in table.header_faults]
    rows: list[Rate] = []
    known: dict[tuple[str, str, float], int] = {}
    for row in table.rows:
        read = _Row(row, settings, table.separator)
        rate = read.rate()
        if rate is not None:
            key = (rate.commitment, " ".join(sorted(rate.prefixes)) or rate.hub, rate.up_to)
            if key in known:
                read.fault("row", "the same commitment, to and up-to again", "each once", f"see line {known[key]}")
            else:
                known[key] = row.line
                rows.append(rate)
        problems += read.problems
    if not table.rows:
        problems.append(Problem(table.lines + 1, "row", "", "no rows below the header", "one row a price", "add them"))
    return Rates(settings, tuple(rows), tuple(problems), (*table.notes, *_odd(rows)), found=True)


class _Row:
    """One row while it is checked; all its faults are told at once."""

    def __init__(self, row: Row, settings: Settings, separator: str) -> None:
        self.row, self.settings, self.separator = row, settings, separator
        self.problems: list[Problem] = []

    def fault(self, column: str, read: str, expected: str, do: str) -> None:
        self.problems.append(Problem(self.row.line, column, "", tame(read), expected, do))

    def take(self, column: str, read: Callable[[str], T]) -> T | None:
        try:
            return read(self.row.cells.get(column, ""))
        except ConfigError as error:
            self.fault(column, error.read, error.expected, error.do)
        return None

    def rate(self) -> Rate | None:
        """Give the row as a price, or None with faults."""
        if self.row.extra:
            self.fault(
                "row",
                f"{self.row.extra} cells more than the header has columns",
                f"{self.row.width} cells",
                "put quotes round a cell that holds the separator",
            )
        lanes = self.settings.lanes
        commitment = self.take("commitment", one_of(lanes.commitment, "commitment"))
        price = self.take("price", self._price)
        up_to = self.take("up-to", self._up_to)
        per_weight = self.take("per-weight", lambda text: money(self.separator)(text) if text else 0)
        to = self.take("to", lambda text: _where(text, self.settings))
        if self.problems or commitment is None or price is None or up_to is None or per_weight is None or to is None:
            return None
        prefixes, hub = to
        said = self.row.cells.get("to", "")
        return Rate(self.row.line, cast("CommitmentName", commitment), said, up_to, price, per_weight, prefixes, hub)

    def _price(self, text: str) -> int:
        if not text:
            raise ConfigError("an empty cell", "a price, such as 42.10", "fill it in, or remove the row")
        return money(self.separator)(text)

    def _up_to(self, text: str) -> float:
        unit = billing_of(self.settings.desk.money).weight
        if not text:
            return math.inf
        if self.separator == ";":
            text = text.replace(",", ".")
        found = _WEIGHT.fullmatch(text)
        if found is None or not 0 < float(found.group(1)) <= HEAVIEST:
            raise ConfigError(repr(text), f"a billed weight in {unit}, such as 13", "write a number above zero")
        said = found.group(2).lower().removesuffix("s")
        if said not in {"", unit}:
            raise ConfigError(
                repr(text),
                f"a weight in {unit}, as the divisor of desk.toml bills",
                f"write the weight in {unit}, or give divisor in the carrier's unit",
            )
        return float(found.group(1))


def _where(text: str, settings: Settings) -> tuple[tuple[str, ...], str]:
    """Read ``to``: postcode prefixes (none means anywhere), or a hub."""
    if text.casefold() in ANYWHERE:
        return (), ""
    zones, hubs = settings.desk.money.zone, settings.lanes.hub
    if text in hubs and text not in zones:
        return (), text
    prefixes: list[str] = []
    for part in zones[text].postcodes if text in zones else re.split(r"[\s,;+]+", text):
        found = prefixes_in(part)
        prefixes += found
        if not found:
            like = nearest(part, (*zones, *hubs))
            raise ConfigError(
                repr(text),
                'empty for anywhere, a zone, a hub, or first digits of postcodes, such as "85 860-865"',
                f"did you mean {like}?" if like else "correct it, or add [money.zone.NAME] to desk.toml",
            )
    return tuple(prefixes), ""


def prefixes_in(part: str) -> list[str]:
    """Give the first digits of postcodes that "85" or the span "860-865" stands for; nothing for anything else."""
    span = _SPAN.fullmatch(part)
    if span is not None:
        return _span(part, span.group(1), span.group(2))
    return [part] if _PREFIX.fullmatch(part) and any(letter.isdigit() for letter in part) else []


def _span(text: str, first: str, last: str) -> list[str]:
    if len(first) != len(last) or int(last) < int(first):
        raise ConfigError(
            repr(text), "a span of first digits of one length, such as 850-865", "write both ends with as many digits"
        )
    return [str(number).zfill(len(first)) for number in range(int(first), int(last) + 1)]


def _odd(rows: list[Rate]) -> list[str]:
    """Find prices that fall as boxes grow heavier: nearly always a slip."""
    groups: Mapping[tuple[str, str], list[Rate]] = {}
    for rate in rows:
        cast("dict[tuple[str, str], list[Rate]]", groups).setdefault((rate.commitment, rate.to), []).append(rate)
    said = []
    for group in groups.values():
        ordered = sorted(group, key=lambda one: one.up_to)
        for light, heavy in pairwise(ordered):
            if heavy.price_cents < light.price_cents and heavy.per_weight_cents <= light.per_weight_cents:
                said.append(f"line {heavy.line} of the {WHAT}: heavier than line {light.line} and cheaper; check both")
    return said
