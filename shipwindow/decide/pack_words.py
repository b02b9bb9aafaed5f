"""What the packs of the chosen plan can give and what they cannot, in the packer's words.

For: one sentence under a verdict with packs: what air a warmer gets and what hole it would need, or how cold the cold
packs could make the water by themselves. Must not know: chances, how the plan was chosen. Neighbours: ``box`` (the
reports), ``compose`` (asks).
"""

from __future__ import annotations

from shipwindow import units
from shipwindow.box import chill_report, supply_report
from shipwindow.decide.risk import Assessed
from shipwindow.settings.models import CargoKind, Settings


def say_packs(assessed: Assessed, kind: CargoKind, settings: Settings) -> list[str]:
    """Say what the packs of a plan can and cannot give; nothing without a pack.

    Parameters
    ----------
    assessed : Assessed             The chosen way and packing.
    kind : CargoKind                Of the cargo; its safe band has the floor. [degC]
    settings : Settings             Bench water and the scale of temperatures.

    Returns
    -------
    list of str                     One sentence, or none.

    Notes
    -----
    A warmer is judged between the mean of the water's extremes and the mean air of the on-time trip; a cold pack by
    the water on the bench, with no heat from outside.

    References
    ----------
    .. [1] ``box.supply_report`` and ``box.chill_report``. Status: engineering choice.
    """
    packing, scale = assessed.packing, settings.shop.show.temperature
    if packing.plan.heat is not None:
        water = assessed.on_time_water
        air_C = float(assessed.way.weather["on-time"].air_C.mean())
        report = supply_report(packing.load, packing.plan, 0.5 * (water.low_C + water.high_C), air_C)
        return [f"the heat packs of this plan are {report.says}"]
    if packing.plan.cold is not None:
        start_C = settings.shop.bench.water_C
        floor_C = min(kind.safe_low_C, start_C - 0.1)
        chill = chill_report(packing.load, packing.plan, start_C, floor_C)
        rest, floor = (units.show_temperature(each, scale) for each in (chill.rest_C, floor_C))
        if chill.safe:
            return [f"if the heat does not come, the cold packs alone cannot bring the water below {floor}"]
        bear = "none of them" if not chill.most else f"at most {chill.most} of them"
        down = f"could bring the water down to {rest}, below the safe {floor}; {bear} would keep it above"
        return [f"if the heat does not come, the cold packs alone {down}"]
    return []
