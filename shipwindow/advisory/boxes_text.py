"""Boxes and costs for the terminal: a table, then what stands out, in the shop's own units.

For: ``shipwindow fit`` and ``shipwindow cost``. Must not know: how a box or a price was found.
Neighbours: ``boxes`` and ``costs`` make the records.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from rich.console import Console
from rich.table import Table
from rich.text import Text

from shipwindow.advisory.boxes import BoxesSaid, BoxSaid
from shipwindow.advisory.costs import CostRow, CostSaid
from shipwindow.advisory.view import day_words
from shipwindow.decide.explain import percent
from shipwindow.desk.cells import bags_text, money_text


@dataclass(frozen=True)
class Units:
    """The shop's own units: inches and pounds beside degrees Fahrenheit, centimetres and kilograms beside Celsius."""

    scale: str

    @property
    def _imperial(self) -> bool:
        return self.scale == "F"

    def length(self, value_m: float) -> str:
        """Write a length."""
        return f"{value_m / 0.0254:.1f} in" if self._imperial else f"{value_m * 100:.1f} cm"

    def sides(self, values_m: Sequence[float]) -> str:
        """Write sides."""
        unit, factor = ("in", 1 / 0.0254) if self._imperial else ("cm", 100.0)
        return " x ".join(f"{value * factor:.1f}" for value in values_m) + f" {unit}"

    def mass(self, value_kg: float) -> str:
        """Write a mass."""
        return f"{value_kg / 0.45359237:.1f} lb" if self._imperial else f"{value_kg:.2f} kg"

    def bare(self, text: str) -> str:
        """Take the unit off, where the head of the column has it."""
        return text.rpartition(" ")[0]

    @property
    def long_unit(self) -> str:
        """The unit of lengths."""
        return "in" if self._imperial else "cm"

    @property
    def mass_unit(self) -> str:
        """The unit of masses."""
        return "lb" if self._imperial else "kg"


def cents_text(cents: int | None) -> str:
    """Write an amount, or that there is none."""
    return "no price" if cents is None else money_text(cents)


def table(heads: Sequence[tuple[str, bool]], rows: Sequence[Sequence[str]]) -> Table:
    """Draw rows under heads; a head says whether its cells are numbers."""
    drawn = Table(box=None, padding=(0, 2, 0, 0), header_style="dim")
    for at, (head, number) in enumerate(heads):
        drawn.add_column(Text(head), justify="right" if number else "left", no_wrap=at == 0, overflow="fold")
    for row in rows:
        drawn.add_row(*(Text(cell) for cell in row))
    return drawn


def print_boxes(said: BoxesSaid, console: Console) -> None:
    """Print every box that holds the bags, what stands out, and how the order could be shared out."""
    units = Units(said.scale)
    head = f"{sum(count for _, count in said.bags)} bags ({bags_text(said.bags)}), {units.mass(said.water_kg)} of water"
    console.print(Text(head, "bold"))
    if said.place:
        console.print(Text(f"to {said.place}, {said.cargo}"))
    if said.boxes:
        console.print()
        console.print(_boxes(said.boxes, units))
        console.print()
        for line in _choice(said, units):
            console.print(Text(line))
    else:
        console.print(Text("\nno single box holds them"))
    if said.too_small:
        console.print(Text(f"too small: {', '.join(said.too_small)}"))
    if said.shared_because:
        console.print()
        console.print(Text(said.shared_because, "bold"))
        if said.shared:
            console.print(_boxes(said.shared, units, with_bags=True))
            console.print(Text(_sum(said.shared)))
    console.print()
    for note in (*said.notes, *said.cautions):
        console.print(Text(f"- {note}"))


def _boxes(boxes: Sequence[BoxSaid], units: Units, *, with_bags: bool = False) -> Table:
    risk = any(one.risk is not None or one.no_risk for one in boxes)
    priced = any(one.prices for one in boxes)
    heads = [("box", False), ("bags" if with_bags else "fits", False), (f"headroom, {units.long_unit}", True)]
    heads += [(f"weighs, {units.mass_unit}", True), (f"billed, {boxes[0].billed_unit}", True)]
    heads += [] if with_bags else [("full", True), (f"free ballast, {units.mass_unit}", True)]
    heads += [("costs" if risk else "costs from", True)] if priced else []
    heads += [("chance of loss", True)] if risk else []
    rows = []
    for one in boxes:
        bags = f"{bags_text(one.bags)} {one.cargo}".rstrip() if with_bags else _fit_word(one)
        row = [one.box, bags, units.bare(units.length(one.headroom_m)), units.bare(units.mass(one.packed_kg))]
        row.append(f"{one.billed:g}")
        row += [] if with_bags else [f"{one.full_frac:.0%}", units.bare(units.mass(one.free_ballast_kg))]
        row += [cents_text(one.cost_cents)] if priced else []
        row += [percent(one.risk.chance) if one.risk is not None else "not known"] if risk else []
        rows.append(row)
    return table(heads, rows)


def _fit_word(one: BoxSaid) -> str:
    return "yes" if one.fits else "squeezed"


def _sum(boxes: Sequence[BoxSaid]) -> str:
    costs = [one.cost_cents for one in boxes]
    weights = Counter(one.billed for one in boxes)
    billed = " + ".join(f"{number} x {each:g}" if number > 1 else f"{each:g}" for each, number in weights.items())
    known = [cost for cost in costs if cost is not None]
    money = f", together {money_text(sum(known))}" if len(known) == len(costs) else ""
    return f"{len(boxes)} boxes, billed as {billed} {boxes[0].billed_unit}{money}"


def _choice(said: BoxesSaid, units: Units) -> list[str]:
    by_name = {one.box: one for one in said.boxes}
    lines = []
    cheap, safe = by_name.get(said.cheapest), by_name.get(said.safest)
    if cheap is not None:
        lines.append(f"cheapest: {cheap.box}, {_bill(cheap)}{_risk(cheap)}")
    if safe is not None and safe is cheap:
        lines.append("safest: the same")
    elif safe is not None:
        lines.append(f"safest: {safe.box}, {_bill(safe)}{_risk(safe)}")
    shown = safe or cheap
    for one in {id(one): one for one in (cheap, shown) if one is not None}.values():
        lines += _packing(one, units)
    without = {one.no_risk for one in said.boxes if one.no_risk}
    lines += [f"no chance of loss: {reason}" for reason in sorted(without)]
    unpriced = {price.says for one in said.boxes for price in one.prices if price.cents is None}
    lines += sorted(unpriced)[:1]
    return lines


def _bill(one: BoxSaid) -> str:
    cost = one.cost_cents
    word = "" if one.risk is not None else "from "
    return f"billed as {one.billed:g} {one.billed_unit}" + (f", {word}{money_text(cost)}" if cost is not None else "")


def _risk(one: BoxSaid) -> str:
    if one.risk is None:
        return ""
    risk = one.risk
    when = f"{day_words(risk.ship_day)} by {risk.commitment}, {risk.pack}"
    return f", chance of loss {percent(risk.chance)} ({risk.standing} the limit: {when})"


def _packing(one: BoxSaid, units: Units) -> list[str]:
    lines = [f"in {one.box}:"]
    number = len(one.layers)
    for at, layer in enumerate(one.layers, start=1):
        lines.append(f"  {f'layer {at} of {number}, ' if number > 1 else ''}{layer}")
    lines.append(
        f"  board {units.sides(one.shield_m)}; paper for {one.fill_m3 * 1e3:.1f} L ({one.fill_kg * 1e3:.0f} g); "
        f"outside {units.sides(one.outer_m)}, billed by {one.billed_by}"
    )
    if one.free_ballast_kg > 0:
        lines.append(
            f"  {units.mass(one.free_ballast_kg)} of ballast water would cost no freight "
            f"(by weight {units.mass(one.ballast_by_weight_kg)}, by room {units.mass(one.ballast_by_room_kg)})"
        )
    return lines + [f"  {note}" for note in one.notes]


def print_costs(said: CostSaid, console: Console) -> None:
    """Print what each commitment costs, what a loss costs, and what would be worth paying."""
    console.print(Text(f"{bags_text(said.bags)} in {said.box}, billed as {said.billed:g} {said.billed_unit}", "bold"))
    console.print(Text(f"to {said.place}, {said.cargo}, worth {money_text(said.value_cents)}, {day_words(said.day)}"))
    console.print()
    console.print(_costs(said.rows))
    console.print()
    for row in said.rows:
        console.print(Text(f"{row.commitment}: {_worth(row, said)}"))
    console.print()
    parts = ", ".join(f"{money_text(cents)} {what}" for what, cents in said.loss_parts if cents)
    console.print(Text(f"a loss costs {money_text(said.loss_cents)}: {parts}"))
    for what in said.loss_unknown:
        console.print(Text(f"  not counted: {what}"))
    if said.hold_needs_frac is not None:
        needs = f"{said.hold_needs_frac * 100:.1f}"
        console.print(
            Text(
                f"a held day costs {money_text(said.hold_day_cents)}: it pays if it lowers the chance by {needs} points"
            )
        )
    console.print()
    for note in (*said.notes, *said.cautions):
        console.print(Text(f"- {note}"))


def _costs(rows: Sequence[CostRow]) -> Table:
    risk = any(row.chance is not None or row.no_risk for row in rows)
    heads = [("commitment", False), ("freight", True), ("box, bags", True)]
    heads += (
        [("packs", True), ("chance of loss", True), ("expected loss", True), ("all together", True)] if risk else []
    )
    drawn = []
    for row in rows:
        cells = [row.commitment, cents_text(row.price_cents), money_text(row.materials_cents)]
        if risk:
            known = row.chance is not None and row.expected_loss_cents is not None
            cells.append(money_text(row.packs_cents))
            cells.append(percent(row.chance) if row.chance is not None else "not known")
            cells.append(money_text(row.expected_loss_cents or 0) if known else "not known")
            cells.append(money_text(row.total_cents) if row.total_cents is not None else "not known")
        drawn.append(cells)
    return table(heads, drawn)


def _worth(row: CostRow, said: CostSaid) -> str:
    where = row.price_says
    if row.no_risk:
        where += f"; no chance of loss: {row.no_risk}"
    elif row.advice:
        where += f"; {row.advice}, {row.standing} the limit, {row.pack}"
    if row.commitment == said.cheapest:
        return f"{where}; the cheapest that may go" if row.advice else f"{where}; the cheapest"
    if row.extra_cents is None:
        return where
    extra = f"{money_text(row.extra_cents)} more than {said.cheapest}"
    if row.needs_frac is None:
        return f"{where}; {extra}: more than a loss costs, money alone never asks for it"
    if row.extra_cents == 0:
        return f"{where}; costs the same as {said.cheapest}"
    pays = f"{where}; {extra}: pays if it lowers the chance by {row.needs_frac * 100:.1f} points"
    if row.lowers_frac is None:
        return pays
    way = "lowers" if row.lowers_frac >= 0 else "raises"
    return f"{pays}; it {way} it by {abs(row.lowers_frac) * 100:.1f}"
