"""The advisory as Markdown, for notes, tickets and chat.

For: the same lines as the terminal in a form other tools show. Must not know: files, terminals.
Text from the orders file is escaped: it can neither open a table cell nor a tag.
"""

from __future__ import annotations

import re

from shipwindow.advisory import view
from shipwindow.advisory.document import Advisory, OrderAdvice, Scale

_MARKS = re.compile(r"([\\`*_{}\[\]()#+!|<>~&])")
# Only at the start of a line these would begin a list, a heading or a quote.
_STARTS = re.compile(r"^(\s*)(\d+)?([-.=])")


def plain(text: str) -> str:
    """Escape whatever Markdown would read as markup."""
    escaped = _MARKS.sub(r"\\\1", " ".join(text.split()))
    return _STARTS.sub(lambda m: f"{m[1]}{m[2] or ''}\\{m[3]}", escaped)


def as_markdown(advisory: Advisory) -> str:
    """Write the advisory as Markdown."""
    lines = [
        f"# {plain(advisory.shop)}: advisory for {view.day_words(advisory.day)}",
        "",
        plain(view.summary(advisory)),
        "",
        f"Made {view.clock_words(advisory.made_at)} ({plain(advisory.details.zone)}) · {plain(advisory.model)}",
    ]
    for group in view.groups(advisory):
        lines += [
            "",
            f"## {group.word}: {group.means}",
            "",
            "| order | to | chance of loss | what and why |",
            "|---|---|---|---|",
        ]
        lines += [_row(order, advisory.details.scale) for order in group.orders]
    for order in advisory.orders:
        lines += ["", *_order(advisory, order)]
    if advisory.problems:
        lines += ["", "## Problems in the orders", ""]
        lines += [f"- {plain(view.problem_words(problem))}" for problem in advisory.problems]
    lines += ["", "## Cautions", "", plain(advisory.details.what_it_is), ""]
    lines += [f"- {plain(text)}" for text in (*advisory.details.cautions, *advisory.details.notes)]
    return "\n".join(lines) + "\n"


def _row(order: OrderAdvice, scale: Scale) -> str:
    cells = (order.order, order.details.destination, view.risk_words(order), view.headline(order, scale))
    return f"| {' | '.join(plain(cell) for cell in cells)} |"


def _order(advisory: Advisory, order: OrderAdvice) -> list[str]:
    scale = advisory.details.scale
    lines = [
        f"### {plain(order.order)} to {plain(order.details.destination)}: {view.ADVICE_WORDS[order.advice].lower()}",
        "",
        plain(view.headline(order, scale)),
        "",
    ]
    lines += [f"- {label}: {plain(text)}" for label, text in view.sentences(order, scale)]
    if order.details.legs:
        lines += ["", "| leg | from | until | where |", "|---|---|---|---|"]
        lines += [f"| {' | '.join(plain(cell) for cell in row)} |" for row in view.leg_rows(order.details.legs)]
    return lines
