"""All figures of a backtest as one record: plain dictionaries, the same bytes in every run.

For: ``make_report``. Must not know: how it is written or drawn. Neighbours: ``score`` (the figures), ``page``,
``pictures``.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from shipwindow.learn.backtest import score
from shipwindow.learn.backtest.plan import COMMITMENT, LATE_SCALES, MEASURED, TOLD, Plan, plain
from shipwindow.learn.backtest.policies import MOST_TRIES, Money, Packs, Setup
from shipwindow.learn.backtest.product import packings_of
from shipwindow.learn.backtest.week import Rows, library_of
from shipwindow.settings.models import Settings
from shipwindow.trip import Shipment

Table = dict[str, Any]
AGAINST = "shipwindow"
PACK_CENTS, LOSS_SHARE, CANCELLED_SHARE, DAY_CENTS = 200, 1.0, 0.5, 600
"""Taken where the shop names no price: a pack, a loss and a cancelled order as shares of its value, a day's hold."""


def setup_of(shipment: Shipment, settings: Settings) -> Setup:
    """Tell what the policies know: packings, money, safe band."""
    packings = packings_of(shipment, settings)
    names = tuple(packing.name for packing in packings)
    loss = shipment.loss_cents if shipment.loss_cents is not None else round(shipment.value_cents * LOSS_SHARE)
    day = (shipment.hold_day_cents if shipment.hold_day_cents is not None else DAY_CENTS) / 100.0
    kind = settings.cargo.cargo[shipment.cargo]
    money = Money(loss / 100.0, day, PACK_CENTS / 100.0, day, shipment.value_cents * CANCELLED_SHARE / 100.0)
    packs = Packs(
        tuple(one.name for one in names), tuple(one.heat_count for one in names), tuple(one.cold_count for one in names)
    )
    return Setup(packs, money, (kind.safe_low_C, kind.safe_high_C), settings.shop.limits.near)


def make_report(rows: Rows, plan: Plan, shipment: Shipment, settings: Settings, folder: Path | None = None) -> Table:
    """Work out every figure of the page."""
    setup = score.hold_again(rows, setup_of(shipment, plain(settings)))
    odd = score.odd_weeks(rows)
    even = ~odd
    chosen = score.choose_all(rows, setup)
    season = score.season_of(rows)
    names = [told.name for told in plan.told]
    limit = float(chosen["model"].says.removeprefix("ship below ").rstrip("%")) / 100.0
    report: Table = {
        "plan": _plan(rows, plan, shipment, setup, settings, folder),
        "thresholds": {name: one.says for name, one in chosen.items()},
        "policies": score.score_policies(rows, chosen, setup, even),
        "differences": score.differences(rows, chosen, setup, even, AGAINST),
        "against_model": score.differences(rows, chosen, setup, even, "model"),
        "seasons": {
            name: score.score_policies(rows, chosen, setup, even & (season == number))
            for number, name in enumerate(score.SEASONS)
            if (even & (season == number)).any()
        },
        "lanes": {
            lane.name: score.score_policies(rows, chosen, setup, even & (rows["lane"] == number))
            for number, lane in enumerate(plan.lanes)
            if (even & (rows["lane"] == number)).any()
        },
        "worth": score.worths(rows, setup),
        "delays": {
            f"{scale:g}": score.score_policies(rows, chosen, setup, even, number)
            for number, scale in enumerate(LATE_SCALES)
        },
        "chances": {name: score.chances_told(rows, setup, name) for name in names},
        "chances_by_delay": {
            f"{scale:g}": score.chances_told(rows, setup, MEASURED.name, number)
            for number, scale in enumerate(LATE_SCALES)
        },
        "told": score.told_apart(rows, setup, limit, names),
        "water": score.water_told(rows),
        "agreement": score.agreement(rows, setup),
    }
    return report


def _plan(rows: Rows, plan: Plan, shipment: Shipment, setup: Setup, settings: Settings, folder: Path | None) -> Table:
    library = library_of(folder)
    keys = sorted({key for lane in plan.lanes for key in lane.stations.values()})
    stations = {key: library.history(key).station for key in keys}
    first, last = (np.datetime64(int(day) - 719163, "D").astype(str) for day in (rows["day"].min(), rows["day"].max()))
    return {
        "first": first,
        "last": last,
        "stride": plan.stride,
        "mornings": int(rows["day"].size),
        "draws": plan.draws,
        "boxes": int(rows["day"].size) * plan.draws,
        "seed": plan.seed,
        "late_share": float(np.round(rows["late"][:, 0].mean(), 4)),
        "told": {told.name: told.says for told in TOLD if told in plan.told},
        "others_every": plan.others_every,
        "lanes": [{"name": lane.name, **lane.stations} for lane in plan.lanes],
        "stations": {
            key: {"name": one.name, "kind": one.kind, "period": one.period, "source": one.source,
                  "licence": one.licence}
            for key, one in stations.items()
        },
        "box": shipment.boxes[0].name,
        "cargo": settings.cargo.cargo[shipment.cargo].label,
        "handover": shipment.handover,
        "commitment": COMMITMENT,
        "packings": list(setup.packs.names),
        "water_L": round(sum(bag.water_m3 * count for bag, count in shipment.boxes[0].load.bags) * 1000.0, 2),
        "depth_cm": round(shipment.boxes[0].load.wetting.depth_m * 100.0, 1),
        "members": settings.rules.members.count,
        "limits": {"within": settings.shop.limits.within, "near": settings.shop.limits.near},
        "money": {"loss": setup.money.loss, "day": setup.money.day, "pack": setup.money.pack,
                  "cancelled": setup.money.cancelled, "hold": round(setup.money.hold, 2)},
        "most_tries": MOST_TRIES,
    }  # fmt: skip
