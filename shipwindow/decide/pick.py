"""Choose among judged options: the plan to take, and the cheapest, safest and simplest ones beside it.

For: where prices are known, money chooses among what is within the limit; it never overrides the limit. Must not know:
days, words. Neighbours: ``judge`` (the options), ``costs`` (expected cost), ``search`` (asks).
"""

from __future__ import annotations

from collections.abc import Sequence

from shipwindow.decide.judge import GO_IF, HOLD, Judged
from shipwindow.decide.verdict import Option, Plans
from shipwindow.settings.models import Settings


def pick(ranked: Sequence[Judged], settings: Settings) -> Judged | None:
    """Take the best option of a day.

    Parameters
    ----------
    ranked : sequence of Judged     Best first by grade, chance and simplicity.
    settings : Settings             ``choosing.least-gain``.

    Returns
    -------
    Judged or None                  None if there is no option.

    Notes
    -----
    The first one, unless it goes and prices are known: then, of the options of the same grade that are within the
    limit, the one of least expected cost, price plus chance times loss. Every commitment enters with its own best
    packing and hand-over, as ranked without prices: a pack that gains less than the least gain is not added because it
    is cheap, and the hand-over the customer likes best is not given up for a hair.

    References
    ----------
    .. [1] trade.md 4.1: the welfare ceiling first, then expected cost. Status: engineering choice.
    """
    if not ranked:
        return None
    first = ranked[0]
    if first.grade == HOLD or first.option.expected_cents is None or first.chance.standing != "within":
        return first
    return _cheapest([one for one in ranked if one.grade == first.grade], settings) or first


def list_plans(ranked: Sequence[Judged]) -> Plans:
    """Name the cheapest, the safest and the simplest of what may go.

    Parameters
    ----------
    ranked : sequence of Judged     Of one day.

    Returns
    -------
    Plans                           Cheapest by expected cost, of what is within the limit and has a price.

    References
    ----------
    .. [1] None: three orders of the same list. Status: engineering choice.
    """
    going = [one for one in ranked if one.grade <= GO_IF]
    cheapest = min(_priced(going), key=_expected, default=None)
    safest = min(going, key=lambda one: one.chance.combined, default=None)
    simplest = min(going, key=_to_pack, default=None)
    return Plans(_option(cheapest), _option(safest), _option(simplest))


def rank(judged: Sequence[Judged], settings: Settings) -> tuple[Judged, ...]:
    """Order options: those that may go first, then the lowest chance, then the simplest and coolest packing.

    Notes
    -----
    Chances that differ by less than ``choosing.least-gain`` count as equal, and then fewer packs, less ballast, no
    hole, the hand-over the customer likes better, a lower price and the cooler water win: no pack unless it helps, and
    err cold.
    """
    left = list(judged)
    ordered: list[Judged] = []
    while left:
        grade = min(one.grade for one in left)
        group = [one for one in left if one.grade == grade]
        least = min(one.chance.combined for one in group)
        near = [one for one in group if one.chance.combined <= least + settings.rules.choosing.least_gain]
        best = min(near, key=simplicity)
        ordered.append(best)
        left.remove(best)
    return tuple(ordered)


def simplicity(one: Judged) -> tuple[int, float, float, int, int, float, float]:
    """Order options of like chance: fewer packs, less ballast, no hole, the customer's liking, price, cooler water."""
    option = one.option
    return (
        option.plan.heat_count + option.plan.cold_count,
        option.plan.ballast_kg,
        option.plan.lid_hole_m,
        one.liking,
        option.price_cents or 0,
        option.water.high_C,
        option.chance.combined,
    )


def _cheapest(options: Sequence[Judged], settings: Settings) -> Judged | None:
    """Take the least expected cost of what is within the limit and priced, one packing and hand-over a commitment."""
    by_commitment: dict[str, list[Judged]] = {}
    for one in _priced(options):
        by_commitment.setdefault(one.option.commitment, []).append(one)
    return min((rank(group, settings)[0] for group in by_commitment.values()), key=_expected, default=None)


def _priced(options: Sequence[Judged]) -> list[Judged]:
    return [one for one in options if one.chance.standing == "within" and one.option.expected_cents is not None]


def _expected(one: Judged) -> int:
    return one.option.expected_cents or 0


def _to_pack(one: Judged) -> tuple[int, int, float, float, float]:
    plan = one.option.plan
    return one.grade, plan.heat_count + plan.cold_count, plan.lid_hole_m, plan.ballast_kg, one.chance.combined


def _option(one: Judged | None) -> Option | None:
    return None if one is None else one.option
