"""What a way to ship costs: the label, the packs, and the loss times its chance.

For: expected cost beside the chance, and the choice among options that are all within the limit.
Must not know: limits, where prices come from (``desk`` fills the shipment). Neighbours: ``judge``, ``choose``.
"""

from __future__ import annotations

from shipwindow.decide.plans import Packing
from shipwindow.settings.fields import CommitmentName
from shipwindow.settings.models import Settings
from shipwindow.trip import Shipment


def price_cents(commitment: CommitmentName, packing: Packing, shipment: Shipment, settings: Settings) -> int | None:
    """Give what the label costs, from the shipment's own prices or the commitment's flat price, or None.

    Parameters
    ----------
    commitment : str                What is bought.
    packing : Packing               Its box names the price.
    shipment : Shipment             ``prices`` by commitment and box. [cents]
    settings : Settings             Flat prices of ``lanes.toml``. [cents]

    Returns
    -------
    int or None                     Without packs and materials. [cents]

    References
    ----------
    .. [1] None: a look-up. Status: engineering choice.
    """
    known = shipment.prices.get((commitment, packing.box))
    return known if known is not None else settings.lanes.commitment[commitment].price_cents


def used_cents(packing: Packing, shipment: Shipment, settings: Settings) -> int | None:
    """Give what is used up with a box: materials and packs; None where a pack has no price. [cents]"""
    packs = _pack_cents(packing, settings)
    return None if packs is None else shipment.materials_cents.get(packing.box, 0) + packs


def _pack_cents(packing: Packing, settings: Settings) -> int | None:
    choice = settings.packs.plan.get(packing.name.name)
    if choice is None or choice.count == 0:
        return 0
    kinds = [settings.packs.heat[choice.heat].price_cents if choice.heat is not None else None]
    kinds += [settings.packs.cold[choice.cold].price_cents if choice.cold is not None else None]
    priced = [each for each in kinds if each is not None]
    return choice.count * sum(priced) if priced else None


def expected_cents(price: int | None, chance: float, shipment: Shipment) -> int | None:
    """Give price plus chance times loss; None without a price.

    Parameters
    ----------
    price : int or None             Label, materials and packs. [cents]
    chance : float                  Of loss, 0 to 1. [-]
    shipment : Shipment             ``loss_cents``, or its value where that is not told. [cents]

    Returns
    -------
    int or None                     [cents]

    Notes
    -----
    E = C_label + C_materials + C_pack + p L. The refund of a late label is left out.

    References
    ----------
    .. [1] trade.md 4.1, expected cost of an option. Status: engineering choice.
    """
    if price is None:
        return None
    loss = shipment.loss_cents if shipment.loss_cents is not None else shipment.value_cents
    return round(price + chance * loss)


LEAST_HELD_DAY_CENTS = 100
"""A held day is never counted for less, so that equal days are not waited for. [cents]

Status: engineering choice; the dollar of margin in trade.md 4.1.
"""


def held_cents(later_cents: int | None, days: int, shipment: Shipment) -> int | None:
    """Give what it costs to hold and ship on a later day; None without prices.

    Parameters
    ----------
    later_cents : int or None       Expected cost of that day's option. [cents]
    days : int                      From the day decided for to that day.
    shipment : Shipment             ``hold_day_cents``: what every held day costs the shop.

    Returns
    -------
    int or None                     [cents]

    Notes
    -----
    E(hold d) = d c_hold + E(on day + d). The expected cost of the later day counts its own chance of loss under
    today's longer lead, and that it will be decided on again is worth nothing here: both err towards shipping. That a
    customer may cancel is not counted.

    References
    ----------
    .. [1] trade.md 4.1 and uncertainty.md 2: a hold is neither free nor final. Status: engineering choice.
    """
    if later_cents is None or shipment.hold_day_cents is None:
        return None
    return later_cents + days * max(shipment.hold_day_cents, LEAST_HELD_DAY_CENTS)
