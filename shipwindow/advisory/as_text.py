"""The advisory for the terminal and for ``advisory.txt``.

For: a list of orders by advice, one reason each, then what lies behind every order; or the list alone, for a
terminal. Must not know: files, HTML.
Nothing an order says is read as markup: names go in as plain text.
"""

from __future__ import annotations

import io
import textwrap
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.rule import Rule
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from shipwindow.advisory import view
from shipwindow.advisory.document import Advisory, OrderAdvice, Scale
from shipwindow.decide.explain import HANDOVER_WORDS

if TYPE_CHECKING:
    from shipwindow.advisory.acceptance import Acceptance
    from shipwindow.advisory.climate import ClimateSaid, Share

FILE_WIDTH = 96
NARROW_WIDTH = 78
LABEL_WIDTH = 10
PLAIN = frozenset(chr(code) for code in (*range(0x20, 0x7F), *range(0xA1, 0x300))) - {"\u00ad"} | frozenset(
    "–—…→−≤≥’“”"
)
"""Characters that take one column of a terminal, no more and no less."""

STYLES = {
    "go": "bold",
    "pack-with-heat": "bold dark_orange3",
    "pack-with-cold": "bold steel_blue",
    "hold": "bold reverse",
}


def as_text(advisory: Advisory, width: int = FILE_WIDTH) -> str:
    """Write the advisory as plain text of a given width."""
    return plain(lambda console: print_text(advisory, console), width)


def plain(draw: Callable[[Console], None], width: int) -> str:
    """Give what a function draws as plain text of a given width, without blanks at the ends of lines."""
    stream = io.StringIO()
    console = Console(
        file=stream, width=width, color_system=None, force_terminal=False, legacy_windows=False, _environ={}
    )
    draw(console)
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines()) + "\n"


def print_text(advisory: Advisory, console: Console) -> None:
    """Print the whole advisory on a console of any width."""
    _print_lists(advisory, console)
    for order in advisory.orders:
        console.print()
        console.print(_order(advisory, order))
    _print_problems(advisory, console)
    console.print()
    console.print(Rule(style="dim", characters="-" if console.color_system is None else "─"))
    for note in advisory.details.notes:
        console.print(_hanging("", note, 0))
    console.print(_hanging("", advisory.details.what_it_is, 0))
    for caution in advisory.details.cautions:
        console.print(_hanging("-", caution, 2))


def print_summary(advisory: Advisory, console: Console, details: str) -> None:
    """Print what to do with each order and why, the faults and notes, and where the details are."""
    _print_lists(advisory, console)
    _print_problems(advisory, console)
    console.print()
    for note in advisory.details.notes:
        console.print(_hanging("", note, 0))
    console.print(Text(advisory.details.what_it_is, "dim"))
    console.print(Text(f"details: {details}"), soft_wrap=True)


def _print_lists(advisory: Advisory, console: Console) -> None:
    console.print(_head(advisory))
    for group in view.groups(advisory):
        console.print()
        console.print(Text.assemble((group.word, STYLES[group.advice]), f" ({len(group.orders)}) · {group.means}"))
        console.print(_list(group.orders, advisory.details.scale, narrow=console.width < NARROW_WIDTH))


def _print_problems(advisory: Advisory, console: Console) -> None:
    if not advisory.problems:
        return
    console.print()
    console.print(Text(view.PROBLEMS, "bold"))
    for problem in advisory.problems:
        console.print(_hanging("-", view.problem_words(problem), 2))


def _head(advisory: Advisory) -> RenderableType:
    return Group(
        Text.assemble((advisory.shop, "bold"), f" · advisory for {view.day_words(advisory.day)}"),
        Text(view.summary(advisory)),
        Text(f"made {view.clock_words(advisory.made_at)} ({advisory.details.zone}) · {advisory.model}", "dim"),
    )


def _list(orders: tuple[OrderAdvice, ...], scale: Scale, narrow: bool) -> RenderableType:
    if narrow:
        lines: list[RenderableType] = []
        for order in orders:
            lines.append(
                Text.assemble(
                    "  ", (order.order, "bold"), f" to {order.details.destination} · {view.risk_words(order)}"
                )
            )
            lines.append(Padding(Text(view.headline(order, scale)), (0, 0, 0, 4)))
        return Group(*lines)
    table = Table(box=None, padding=(0, 2, 0, 0), show_header=True, header_style="dim", expand=True)
    table.add_column("  order", ratio=2, overflow="fold")
    table.add_column("to", ratio=3, overflow="fold")
    table.add_column("chance of loss", ratio=4)
    table.add_column("what and why", ratio=8)
    for order in orders:
        table.add_row(
            Text(f"  {order.order}", "bold"),
            Text(order.details.destination),
            Text(view.risk_words(order)),
            Text(view.headline(order, scale)),
        )
    return table


def _order(advisory: Advisory, order: OrderAdvice) -> RenderableType:
    scale = advisory.details.scale
    parts: list[RenderableType] = [
        Text.assemble(
            (order.order, "bold"),
            f" to {order.details.destination}, {order.details.cargo}: ",
            (view.ADVICE_WORDS[order.advice].lower(), STYLES[order.advice]),
        ),
    ]
    if order.advice == "hold":  # the others say it again below, in Way and Provided
        parts.append(_hanging("", view.headline(order, scale), 2))
    parts.append(Padding(_grid(view.sentences(order, scale)), (0, 0, 0, 2)))
    return Group(*parts)


def _grid(lines: Sequence[tuple[str, str]]) -> RenderableType:
    return _Labelled(lines)


class _Labelled:
    """Texts with a label before each, where it changes.

    What a table of rich would print, in a third of its time; a table it still is where a text or label is out of the
    ordinary. A word longer than the line is folded, where the table would cut it off.
    """

    def __init__(self, lines: Sequence[tuple[str, str]]) -> None:
        self._lines = lines

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Wrap as a table with a narrow first column would."""
        width = options.max_width - LABEL_WIDTH - 1
        if width < LABEL_WIDTH or not all(_ordinary(label, text) for label, text in self._lines):
            yield _table(self._lines)
            return
        last, dim = "", console.get_style("dim")
        for label, text in self._lines:
            shown = f"{label if label != last else '':<{LABEL_WIDTH}.{LABEL_WIDTH}} "
            last = label
            for line in textwrap.wrap(text, width, break_on_hyphens=False) or [""]:
                yield Segment(shown, dim)
                yield Segment(line + "\n")
                shown = " " * len(shown)


def _ordinary(label: str, text: str) -> bool:
    """Whether every character takes one column, and every blank stands between two words."""
    return len(label) <= LABEL_WIDTH and PLAIN.issuperset(text) and " ".join(text.split()) == text


def _table(lines: Sequence[tuple[str, str]]) -> RenderableType:
    grid = Table.grid(padding=(0, 1, 0, 0))
    grid.add_column(width=LABEL_WIDTH, style="dim", justify="left")
    grid.add_column(ratio=1)
    last = ""
    for label, text in lines:
        grid.add_row(Text(label if label != last else ""), Text(text))
        last = label
    return grid


def _hanging(mark: str, text: str, indent: int) -> RenderableType:
    if not mark:
        return Padding(Text(text), (0, 0, 0, indent))
    grid = Table.grid(padding=(0, 1, 0, 0))
    grid.add_column(width=1)
    grid.add_column(ratio=1)
    grid.add_row(mark, Text(text))
    return Padding(grid, (0, 0, 0, indent))


def share_words(share: Share) -> str:
    """Write a share of days with its interval: "90 % (42-99)"."""
    if share.share is None:
        return "not known"
    return f"{100 * share.share:.0f} % ({100 * share.low:.0f}-{100 * share.high:.0f})"


def print_climate(climate: ClimateSaid, console: Console) -> None:
    """Print shares of past days, and the stations they come from."""
    console.print()
    span = f"{climate.around_days} days before and after {view.short_day(climate.around)}"
    console.print(_hanging("", f"Past days with a plan within the limit, {span}, 95 % interval:", 2))
    handovers = tuple(dict.fromkeys(share.handover for share in climate.shares))
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False, header_style="")
    for heading in ("by", *(HANDOVER_WORDS[handover] for handover in handovers), "weeks", "against it"):
        table.add_column(heading)
    for commitment in dict.fromkeys(share.commitment for share in climate.shares):
        row = [share for share in climate.shares if share.commitment == commitment]
        against = dict.fromkeys(share.against for share in row if share.against)
        weeks = max(share.weeks for share in row)
        table.add_row(commitment, *(share_words(share) for share in row), str(weeks), ", ".join(against))
    console.print(Padding(table, (0, 0, 0, 2)))
    console.print(_hanging("", "Stations:", 2))
    for station in climate.stations:
        console.print(_hanging("-", station.says, 2))


def print_acceptance(found: Acceptance, console: Console) -> None:
    """Print the answer to "may this order be accepted"."""
    word = {"accept": "accept", "accept-if": "accept if", "decline": "decline", None: "not known yet"}[found.answer]
    console.print(Text.assemble((word, "bold"), f" · {found.place} · asked for {view.day_words(found.asked_on)}"))
    console.print(_hanging("", found.says, 2))
    order = found.order
    if order is not None:
        scale = found.scale
        lines = [line for line in view.sentences(order, scale) if line[0] not in {"Provided", "Note"}]
        console.print(Padding(_grid(lines), (1, 0, 0, 2)))
    if found.climate is not None:
        print_climate(found.climate, console)
    console.print()
    climate_cautions = found.climate.cautions if found.climate is not None else ()
    for text in (*found.notes, *climate_cautions, *found.cautions):
        console.print(_hanging("-", text, 0))
