"""Count in whole cents: what a box is billed as, what is used up, what a loss costs, when an upgrade pays.

For: billed weight by size, materials, expected cost, break-even. Money helps to choose among what may go; it never
moves a limit. Must not know: prices (``rates`` has them), chances (they are handed in), orders.
Neighbours: ``rates``, ``fitted`` (weights and sizes), ``settings.desk_money`` (the shop's numbers).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from shipwindow.box.materials import FOAM_RHO_KG_M3
from shipwindow.errors import DomainError
from shipwindow.settings.desk_file import DeskFile
from shipwindow.settings.desk_money import Money, divisor_parts
from shipwindow.settings.models import BoxesFile, BoxKind

UNIT_M = {"in": 0.0254, "cm": 0.01}
UNIT_KG = {"lb": 0.45359237, "kg": 1.0}
HAIR = 1e-6  # an inch read as 14.0000000001 in is 14 in
FLAPS = 1.4  # area of a folded carton, of its outer surface: its flaps lie double; engineering choice


@dataclass(frozen=True)
class Billing:
    """How a carrier turns size and mass into the weight on the bill."""

    divisor: float
    length: Literal["in", "cm"] = "in"
    weight: Literal["lb", "kg"] = "lb"
    sides: Literal["nearest", "up", "exact"] = "nearest"
    step: float = 1.0
    size_from_m3: float = 0.0


@dataclass(frozen=True)
class Billable:
    """A box on the bill; ``actual`` and ``by_size`` are not yet rounded."""

    weight: float
    unit: Literal["lb", "kg"]
    actual: float
    by_size: float
    sides: tuple[float, float, float]
    length: Literal["in", "cm"]

    @property
    def by(self) -> Literal["size", "weight"]:
        """What decides the bill."""
        return "size" if self.by_size > self.actual else "weight"

    @property
    def weight_kg(self) -> float:
        """The billed weight in kilograms. [kg]"""
        return self.weight * UNIT_KG[self.unit]


def billing_of(money: Money) -> Billing:
    """Read the shop's rule."""
    divisor, length, weight = divisor_parts(money.divisor)
    return Billing(divisor, length, weight, money.sides, money.weight_step, money.size_from_m3)


def _up(value: float) -> int:
    return math.ceil(value - HAIR)


def _side(value: float, rule: Literal["nearest", "up", "exact"]) -> float:
    if rule == "exact":
        return value
    return float(_up(value) if rule == "up" else math.floor(value + 0.5 + HAIR))


def billable(outer_m: Sequence[float], actual_kg: float, billing: Billing) -> Billable:
    """Give the weight a box is billed at: its mass or its size, whichever is more, rounded up to the carrier's step.

    Parameters
    ----------
    outer_m : sequence of float    Three outer sides. [m]
    actual_kg : float              Mass of the packed box. [kg]
    billing : Billing              The carrier's rule.

    Raises
    ------
    DomainError                    A side or a mass that no box has.

    Notes
    -----
    max(ceil(mass), ceil(L W H / divisor)), sides rounded first as the rule says.

    References
    ----------
    .. [1] Published rate guides, see tests/reference/test_billed_weight.py. Status: source.
    """
    if not (min(outer_m) > 0 and math.isfinite(math.prod(outer_m)) and 0 <= actual_kg < math.inf):
        raise DomainError(
            f"sides {tuple(outer_m)} m and {actual_kg} kg", "sides and a mass above zero", "measure again"
        )
    first, second, third = (_side(side / UNIT_M[billing.length], billing.sides) for side in outer_m)
    by_size = first * second * third / billing.divisor if math.prod(outer_m) >= billing.size_from_m3 - HAIR else 0.0
    actual = actual_kg / UNIT_KG[billing.weight]
    steps = max(_up(actual / billing.step), _up(by_size / billing.step), 1)
    return Billable(steps * billing.step, billing.weight, actual, by_size, (first, second, third), billing.length)


def outer_m(box: BoxKind) -> tuple[float, float, float]:
    """Give the outer sides: as measured, else inner + two walls + two sheets of carton. [m]."""
    if box.outer_m is not None:
        return box.outer_m
    length, breadth, height = (side + 2.0 * (box.wall_m + box.carton_m) for side in box.inner_m)
    return length, breadth, height


def empty_kg(box: BoxKind, board_kg_m2: float) -> float:
    """Give the mass of an empty box with its carton: as weighed, else dense foam and board, erring heavy. [kg]."""
    if box.empty_kg is not None:
        return box.empty_kg
    foam = [side + 2.0 * box.wall_m for side in box.inner_m]
    length, breadth, height = outer_m(box)
    board_m2 = 2.0 * (length * breadth + length * height + breadth * height) * FLAPS
    return (math.prod(foam) - math.prod(box.inner_m)) * FOAM_RHO_KG_M3.high + board_m2 * board_kg_m2


def materials_cents(box: str, bags: Sequence[tuple[str, int]], boxes: BoxesFile, money: Money) -> int:
    """Add up what is used up with a box, packs aside: the box, if its price is told, bags, paper, tape. [cents]."""
    return (boxes.box[box].price_cents or 0) + money.supplies_cents + money.bag_cents * sum(n for _, n in bags)


def whole_cents(cents: float) -> int:
    """Round to a cent, half up. [cents]."""
    return math.floor(cents + 0.5 + HAIR)


def surcharged_cents(base: float, money: Money) -> int:
    """Add the carrier's surcharges to a price of its table. [cents]."""
    return whole_cents(base * (1.0 + money.surcharge)) + money.per_parcel_cents


@dataclass(frozen=True)
class Loss:
    """What a loss costs the shop, and of what it is made. All in cents."""

    goods_cents: int
    again_cents: int  # freight and box of the replacement
    refunded_cents: int  # freight the customer gets back
    handling_cents: int
    goodwill_cents: int
    unknown: tuple[str, ...] = ()  # what could not be counted

    @property
    def total_cents(self) -> int:
        """All of it. [cents]"""
        return self.goods_cents + self.again_cents + self.refunded_cents + self.handling_cents + self.goodwill_cents


def loss_of(value_cents: int, again_cents: int | None, desk: DeskFile) -> Loss:
    """Count a loss by the shop's own promise.

    Parameters
    ----------
    value_cents : int              Price of the goods. [cents]
    again_cents : int or None      A second label with its box; None when there is no price. [cents]
    desk : DeskFile                ``[policy]`` says what is given, ``[money]`` what it costs.

    Notes
    -----
    L = r V + reship + handling + goodwill; r is the replacement share, but 1 where the money is given back.

    References
    ----------
    .. [1] Project reference sheet on the trade, section 4.1. Status: common practice.
    """
    money, policy = desk.money, desk.policy
    share = 1.0 if policy.gives == "refund" else money.replace_share
    unknown = []
    again = refunded = 0
    if policy.gives == "replacement":
        again = again_cents or 0
        if again_cents is None:
            unknown.append("freight of the replacement: no price")
    if policy.shipping_refunded:
        refunded = money.charged_cents or 0
        if money.charged_cents is None:
            unknown.append("shipping given back: write charged under [money] of desk.toml")
    return Loss(
        whole_cents(value_cents * share), again, refunded, money.handling_cents, money.goodwill_cents, tuple(unknown)
    )


def expected_cents(chance: float, loss_cents: int) -> int:
    """Give chance times loss. [cents]."""
    if not 0.0 <= chance <= 1.0:
        raise DomainError(f"a chance of {chance}", "0 to 1", "correct the chance")
    return whole_cents(chance * loss_cents)


def break_even(extra_cents: int, loss_cents: int) -> float | None:
    """Give by how much something must lower the chance of loss to be worth its price; None when nothing could.

    Notes
    -----
    A faster commitment, a held day or a pack pays when (chance without - chance with) x loss > price.

    References
    ----------
    .. [1] Cost-loss ratio: act when p > C/L. Project reference sheet on the trade, section 4.1. Status: source.
    """
    if extra_cents <= 0:
        return 0.0
    return extra_cents / loss_cents if 0 < extra_cents <= loss_cents else None
