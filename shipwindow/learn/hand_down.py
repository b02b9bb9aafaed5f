"""From what was learned to the record the mornings use: ``make_calibration(...) -> Calibration``.

For: the one place where fits become numbers of the settings, and where it is decided what is sure enough to be one.
Must not know: files, databases. Neighbours: ``fit``, ``late``, ``weather``, ``animals`` (what was learned),
``settings.calibrated`` (what it does to the settings).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from shipwindow.box import HeatPack
from shipwindow.box.weighing import weighed
from shipwindow.learn.animals import Enough, Shift
from shipwindow.learn.arrivals import Weighing
from shipwindow.learn.fit import FAR, NINETEEN_IN_TWENTY, SOME, Fit, Learned
from shipwindow.learn.late import LaneRecord
from shipwindow.learn.weather import PlaceError, pooled
from shipwindow.settings.calibrated import MOST_IRON_SHARE, basis_of
from shipwindow.settings.calibration_file import (
    AnimalsLearned,
    BoxLearned,
    Calibration,
    ForecastLearned,
    LaneLearned,
    PackLearned,
    SupplyLearned,
    VanLearned,
    WallLearned,
)
from shipwindow.settings.models import Settings

ENDS = 2.449  # a doubt is drawn from a triangle that ends here: then it has the deviation that was found. sqrt(6)
INTERVAL = NINETEEN_IN_TWENTY  # of what is told
SUPPLY_ENDS = 1.645  # the mornings read the doubt on the air supply as 5 % to 95 %


@dataclass(frozen=True)
class Lessons:
    """All that was learned; any part may be missing."""

    fit: Fit | None = None
    weighings: Mapping[str, Weighing] | None = None
    lanes: Sequence[LaneRecord] = ()
    places: Sequence[PlaceError] = ()
    animals: Shift | None = None
    enough: Enough | None = None


def with_weighings(settings: Settings, weighings: Mapping[str, Weighing]) -> tuple[Settings, dict[str, float]]:
    """Put the shop's own weighing into its packs, and say how unsure their heat is then (as a logarithm)."""
    heat, spreads = dict(settings.packs.heat), {}
    priors = settings.learn.priors
    for name, one in weighings.items():
        if name not in heat:
            continue
        kind = heat[name]
        pack = weighed(HeatPack(kind.mass_kg, kind.rated_h, kind.iron_share), one.new_kg, one.gain_kg, one.open_h)
        heat[name] = kind.model_copy(update={"mass_kg": pack.mass_kg, "iron_share": pack.iron_share})
        # a gain is a second, independent look at the same heat
        spreads[name] = priors.energy_weighed / (np.sqrt(2.0) if one.gain_kg is not None else 1.0)
    return settings.model_copy(update={"packs": settings.packs.model_copy(update={"heat": heat})}), spreads


def make_calibration(lessons: Lessons, settings: Settings, made_on: date) -> Calibration:
    """Turn lessons into a calibration.

    Parameters
    ----------
    lessons : Lessons
    settings : Settings         As written, without a calibration; its doubts are never widened.
    made_on : date
    """
    fit = lessons.fit
    parts = []
    if fit is not None:
        tests = sum(one.trace.kind == "box-test" for one in fit.ready)
        parts += [_count(tests, "box test"), _count(len(fit.ready) - tests, "trip", " with a logger")]
    parts.append(_count(len(lessons.weighings or ()), "kind", " of pack weighed"))
    parts.append(_count(sum(lane.boxes for lane in lessons.lanes), "arrival"))
    parts.append(_count(len(lessons.places), "place", " with stored forecasts"))
    forecast = pooled(lessons.places, settings) if lessons.places else None
    return Calibration(
        made_on=made_on,
        source=", ".join(filter(None, parts)) or "nothing",
        traces=len(fit.ready) if fit is not None else 0,
        box=_boxes(fit, settings) if fit is not None and fit.box_believed else {},
        pack=_packs(lessons, settings),
        wall=_wall(fit, settings) if fit is not None and fit.box_believed else None,
        supply=_supply(fit, settings) if fit is not None else None,
        van=_van(fit, settings) if fit is not None else None,
        lane=_lanes(lessons.lanes, settings),
        forecast=ForecastLearned(
            factor=round(forecast[0], 3), days=forecast[1], says="stored grids against the latest short-lead grid"
        )
        if forecast is not None
        else None,
        place=tuple(
            ForecastLearned(factor=round(each.factor, 3), place=each.place, days=each.days)
            for each in lessons.places
            if each.days >= settings.learn.forecast.least_days
        ),
        animals=_animals(lessons),
    )


def believed(fit: Fit, name: str) -> Learned | None:
    """Give what the data told of a number; None when they told little, or something no box of this kind does."""
    if not fit.has(name):
        return None
    found = fit.learned(name)
    return found if found.left < SOME and abs(fit.z[fit.index(name)]) <= FAR else None


def _count(count: int, what: str, more: str = "") -> str:
    return f"{count} {what}{'s' if count > 1 else ''}{more}" if count else ""


def _boxes(fit: Fit, settings: Settings) -> dict[str, BoxLearned]:
    common = fit.learned("wall")
    between = settings.learn.priors.between_boxes * INTERVAL
    found = {}
    for name, kind in settings.boxes.box.items():
        if fit.has(f"wall {name}"):
            one, two = fit.index("wall"), fit.index(f"wall {name}")
            slopes = np.zeros(fit.z.size)
            slopes[one], slopes[two] = fit.unknowns[one].spread, fit.unknowns[two].spread
            middle, sd = float(slopes @ fit.z), float(np.sqrt(slopes @ fit.covariance @ slopes))
            low, high, says = middle - INTERVAL * sd, middle + INTERVAL * sd, "tested"
        else:
            middle = float(np.log(common.value))
            low, high = float(np.log(common.low)) - between, float(np.log(common.high)) + between
            says = "not tested itself: what the other boxes have in common"
        found[name] = BoxLearned(
            ua_factor=_round(np.exp(middle)), ua_low=_round(np.exp(low)), ua_high=_round(np.exp(high)),
            basis=basis_of(kind), tested=fit.has(f"wall {name}"), says=says,
        )  # fmt: skip
    return found


def _wall(fit: Fit, settings: Settings) -> WallLearned:
    doubts = settings.rules.doubts
    spreads = [loss.spread for loss in fit.losses]
    untested = [name for name in settings.boxes.box if not fit.has(f"wall {name}")]
    if untested:
        one = fit.ready[0]
        _, slopes = fit.log_loss(one.load, None)
        shared = float(slopes @ fit.covariance @ slopes)
        spreads.append(float(np.sqrt(shared + settings.learn.priors.between_boxes**2)))
    spread = max(spreads)
    names = (
        f"held up by boxes that were not tested ({', '.join(untested)}): test them, or drop those you do not use with "
        "NAME = false in boxes.toml"
        if untested
        else "every box was tested"
    )
    return WallLearned(
        low=_round(max(doubts.wall_low, float(np.exp(-ENDS * spread)))),
        high=_round(min(doubts.wall_high, float(np.exp(ENDS * spread)))),
        contact_factor=_round(fit.learned("contact").value),
        fill_factor=_round(fit.learned("fill").value),
        says=names,
    )


def _supply(fit: Fit, settings: Settings) -> SupplyLearned | None:
    if believed(fit, "supply") is None:
        return None
    found = fit.learned("supply", SUPPLY_ENDS)
    doubts = settings.rules.doubts
    return SupplyLearned(
        factor=_round(found.value),
        low=_round(max(doubts.supply_low, found.low / found.value)),
        high=_round(min(doubts.supply_high, found.high / found.value)),
        says=found.told,
    )


def _van(fit: Fit, settings: Settings) -> VanLearned | None:
    if believed(fit, "van") is None:
        return None
    van = settings.lanes.surroundings["van"]
    found = fit.learned("van", ENDS)
    gain_K = van.gain_K * found.value
    return VanLearned(
        gain_K=_round(gain_K),
        low_K=_round(max(van.gain_K * found.low, gain_K * van.gain_low_K / van.gain_K)),
        high_K=_round(min(van.gain_K * found.high, gain_K * van.gain_high_K / van.gain_K, 40.0)),
        says=found.told,
    )


def _packs(lessons: Lessons, settings: Settings) -> dict[str, PackLearned]:
    weighings = lessons.weighings or {}
    own, _ = with_weighings(settings, weighings)
    found = {}
    for name, kind in settings.packs.heat.items():
        fitted = believed(lessons.fit, f"energy {name}") if lessons.fit is not None else None
        if name not in weighings and fitted is None:
            continue
        share = own.packs.heat[name].iron_share / kind.iron_share * (fitted.value if fitted is not None else 1.0)
        found[name] = PackLearned(
            mass_kg=_round(own.packs.heat[name].mass_kg) if name in weighings else None,
            energy_factor=_round(min(share, MOST_IRON_SHARE / kind.iron_share)),
            basis=basis_of(kind),
            says=", ".join(
                filter(None, ("weighed" if name in weighings else "", fitted.told if fitted is not None else ""))
            ),
        )
    return found


def _lanes(lanes: Sequence[LaneRecord], settings: Settings) -> tuple[LaneLearned, ...]:
    both: dict[tuple[str, str], dict[bool, LaneRecord]] = {}
    for lane in lanes:
        both.setdefault((lane.hub, lane.region), {})[lane.peak] = lane
    late = settings.shop.late
    return tuple(
        LaneLearned(
            hub=hub,
            region=region,
            ordinary=_round(seasons[False].chance if False in seasons else late.ordinary),
            peak=_round(seasons[True].chance if True in seasons else late.peak),
            boxes=sum(each.boxes for each in seasons.values()),
            late=sum(each.late for each in seasons.values()),
            says=f"what is assumed counts like {settings.learn.late.strength:g} boxes",
        )
        for (hub, region), seasons in sorted(both.items())
    )


def _animals(lessons: Lessons) -> AnimalsLearned | None:
    shift, rule = lessons.animals, lessons.enough
    if shift is None or rule is None or not rule.ready:
        return None
    return AnimalsLearned(
        heat_K=_round(float(np.clip(shift.heat_K, -5.0, 5.0))),
        cold_K=_round(float(np.clip(shift.cold_K, -8.0, 8.0))),
        bag_factor=_round(shift.bag_factor),
        boxes=rule.boxes,
        losses=rule.losses,
        says=f"heat mark +-{shift.heat_sd_K:.1f} K, cold mark +-{shift.cold_sd_K:.1f} K",
    )


def _round(value: float) -> float:
    return float(f"{value:.4g}")
