"""What is different in a second look at the same day: only what a packer would do differently.

For: ``changes`` between two advisories and the words for them. Must not know: mail, schedules.
"""

from __future__ import annotations

from dataclasses import dataclass

from shipwindow.advisory import view
from shipwindow.advisory.document import Advisory, OrderAdvice

NOTABLE = 0.03
"""A chance of loss that moves by this much is told even if the advice stands. Status: engineering choice, the same
3 points by which waiting for a better day is judged worth it."""


@dataclass(frozen=True)
class Change:
    """One order whose advice has changed, in words."""

    order: str
    before: str
    after: str
    why: str


def changes(before: Advisory, after: Advisory) -> tuple[Change, ...]:
    """List the orders whose advice, packing, way or conditions changed, that are new or gone, or whose risk moved."""
    was = {order.order: order for order in before.orders}
    now = {order.order: order for order in after.orders}
    found = []
    for name, order in now.items():
        old = was.get(name)
        if old is None:
            found.append(Change(name, "not in this morning's advisory", _said(order), _why(after, order)))
        elif _what_to_do(old) != _what_to_do(order):
            found.append(Change(name, _said(old), _said(order), _why(after, order)))
        elif _moved(old, order):
            found.append(Change(name, view.risk_words(old), view.risk_words(order), _why(after, order)))
    gone = [name for name in was if name not in now]
    found += [Change(name, _said(was[name]), "no longer advised on", "not in the orders any more") for name in gone]
    return tuple(found)


def changes_text(found: tuple[Change, ...], after: Advisory) -> str:
    """Write the changes as plain text."""
    lines = [
        f"{after.shop}: second look at {view.day_words(after.day)}, {view.clock_words(after.made_at)}.",
        f"{len(found)} of {len(after.orders)} orders changed since this morning; the rest stand as they were.",
        "",
    ]
    for change in found:
        lines += [change.order, f"  was   {change.before}", f"  is    {change.after}", f"  why   {change.why}", ""]
    lines += [after.details.what_it_is, *(f"- {caution}" for caution in after.details.cautions)]
    return "\n".join(lines) + "\n"


def _what_to_do(order: OrderAdvice) -> tuple[object, ...]:
    return order.advice, order.ship_day, order.commitment, order.pack_plan, order.conditions


def _moved(old: OrderAdvice, new: OrderAdvice) -> bool:
    a, b = old.chance_of_loss, new.chance_of_loss
    if a is None or b is None:
        return (a is None) != (b is None)
    return abs(a.combined - b.combined) >= NOTABLE


def _said(order: OrderAdvice) -> str:
    words = view.ADVICE_WORDS[order.advice]
    if order.advice == "hold":
        return words
    only = f", only {'; '.join(order.conditions)}" if order.conditions else ""
    return f"{words} {order.commitment}, {order.pack_plan}{only}"


def _why(advisory: Advisory, order: OrderAdvice) -> str:
    return view.headline(order, advisory.details.scale)
