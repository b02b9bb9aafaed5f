"""What was learned, in plain words and as plain values.

For: ``shipwindow calibrate fit`` and ``show``. Must not know: how it was found. Neighbour: ``lessons``.
"""

from __future__ import annotations

from typing import Any

from shipwindow.learn.fit import NINETEEN_IN_TWENTY, OUTLIER, BoxLoss, Fit
from shipwindow.learn.hand_down import Lessons
from shipwindow.settings.calibration_file import Calibration
from shipwindow.settings.models import Settings


def as_text(lessons: Lessons, calibration: Calibration, settings: Settings) -> str:
    """Write the report."""
    parts = [f"Learned on {calibration.made_on} from {calibration.source}"]
    if lessons.fit is not None:
        parts += _box(lessons.fit)
        parts += _tells(lessons.fit)
        parts += _checks(lessons.fit)
    else:
        parts += ["", "No box test and no trip with a logger yet: `shipwindow calibrate recipe` tells how to make one."]
    parts += _doubts(lessons, calibration, settings)
    parts += _lanes(lessons, settings)
    parts += _places(lessons, settings)
    if lessons.enough is not None:
        parts += ["", "What the animals bear", f"  {lessons.enough.says}"]
        if lessons.enough.without_logger:
            parts.append(f"  {lessons.enough.without_logger} more boxes were seen on day 14 but had no logger")
        if calibration.animals is not None:
            shift = calibration.animals
            parts.append(
                f"  heat mark {shift.heat_K:+.1f} K, cold mark {shift.cold_K:+.1f} K, time in the bag "
                f"x {shift.bag_factor:.2f} ({shift.says})"
            )
    return "\n".join(parts) + "\n"


def _box(fit: Fit) -> list[str]:
    said = ["", "How fast your boxes lose heat (water to still air)"]
    said += [
        f"  {loss.box}: {loss.found_W_K:.3f} W/K, {_change(loss)} than its sizes say "
        f"(+-{NINETEEN_IN_TWENTY * loss.spread:.0%}; before +-{NINETEEN_IN_TWENTY * loss.prior_spread:.0%})"
        for loss in fit.losses
    ]
    return said


def _change(loss: BoxLoss) -> str:
    change = loss.found_W_K / loss.computed_W_K - 1.0
    return f"{abs(change):.0%} {'more' if change > 0 else 'less'}"


def _tells(fit: Fit) -> list[str]:
    said = ["", "What the data tell, and what not (a factor on the default; 19 times in 20 in the range)"]
    said += [
        f"  {each.name:<24} x {each.value:.2f}  ({each.low:.2f} to {each.high:.2f}; "
        f"before {each.prior_low:.2f} to {each.prior_high:.2f})  {each.told}"
        for each in fit.shared
    ]
    for one, two, r in fit.traded():
        how = "only their product" if r < 0 else "only their ratio"
        said.append(f"  {one} and {two} cannot be told apart: {how} shows (correlation {r:+.2f})")
    said += [
        f"  {each.name} came out x {each.value:.2f}, where none is expected: a trace or its description must be wrong, "
        "so nothing is made of it"
        for each in fit.far
    ]
    quiet = [each.name for each in fit.shared if each.told.startswith("not")]
    if quiet:
        said.append(f"  Not told, so left near the default: {', '.join(quiet)}")
    return said


def _checks(fit: Fit) -> list[str]:
    said = ["", "How well each trace is foretold (root mean square, K)"]
    said.append(f"  {'':<24} {'defaults':>9} {'fitted':>9} {'without it':>11} {'noise':>7}")
    for each in fit.checked:
        left = "-" if each.left_out_K is None else f"{each.left_out_K:.2f}"
        said.append(f"  {each.key[:24]:<24} {each.default_K:9.2f} {each.fitted_K:9.2f} {left:>11} {each.noise_K:7.2f}")
        if each.mean_square > OUTLIER:
            said.append(
                f"    {each.key} does not fit what it is said to be: check box, bags, pack, lid and the logger's clock"
            )
    if fit.worse:
        said.append("  Traces left out come out WORSE than by the defaults: do not use this before you know why")
    elif any(each.left_out_K is not None for each in fit.checked):
        said.append("  Traces left out come out no worse than by the defaults")
    else:
        said.append("  One trace alone cannot be checked against another: make a second test")
    return said


def _doubts(lessons: Lessons, calibration: Calibration, settings: Settings) -> list[str]:
    before = settings.rules.doubts
    said = ["", "What changes for the mornings once you use it"]
    if lessons.fit is not None and calibration.box:
        said += [
            f"  box {loss.box}: computed to lose {_change(loss)} than its sizes say" for loss in lessons.fit.losses
        ]
    if calibration.wall is not None:
        wall = calibration.wall
        said.append(
            f"  doubt on the wall {wall.low:.2f} to {wall.high:.2f} (was {before.wall_low:.2f} to "
            f"{before.wall_high:.2f}); {wall.says}"
        )
    if calibration.supply is not None:
        supply = calibration.supply
        said.append(
            f"  air to a heat pack x {supply.factor:.2f}, doubt {supply.low:.2f} to {supply.high:.2f} "
            f"(was {before.supply_low:.2f} to {before.supply_high:.2f})"
        )
    if calibration.van is not None:
        van = calibration.van
        said.append(f"  van in full sun +{van.gain_K:.1f} K ({van.low_K:.1f} to {van.high_K:.1f})")
    for name, pack in calibration.pack.items():
        mass = "" if pack.mass_kg is None else f"{pack.mass_kg * 1000:.0f} g, "
        said.append(f"  pack {name}: {mass}heat a gram x {pack.energy_factor:.2f} ({pack.says})")
    if len(said) == 2:
        said.append("  boxes, packs and van stay as they are")
    return said


def _lanes(lessons: Lessons, settings: Settings) -> list[str]:
    strength = settings.learn.late.strength
    said = ["", f"Boxes that came late (what is assumed counts like {strength:g} boxes: lanes differ that much)"]
    for lane in lessons.lanes:
        season = "peak weeks" if lane.peak else "ordinary weeks"
        region = f" to {lane.region}..." if lane.region else ""
        said.append(
            f"  hub {lane.hub}{region}, {season}: {lane.late} of {lane.boxes}; chance {lane.chance:.1%} "
            f"({lane.low:.1%} to {lane.high:.1%}), assumed {lane.prior:.1%}"
        )
    if not lessons.lanes:
        said.append("  no arrival with its days late recorded yet")
    return said


def _places(lessons: Lessons, settings: Settings) -> list[str]:
    rule = settings.learn.forecast
    truth = f"truth: the latest grid of at most {rule.analysis_h:g} h lead, its own error added"
    said = ["", f"Forecast errors from your own store of grids ({truth})"]
    for place in lessons.places:
        few = "" if place.days >= rule.least_days else f"; fewer than {rule.least_days} days, nothing is changed"
        said.append(
            f"  {place.place}: {place.days} days, {place.own:.2f} of the published law by itself, "
            f"{place.factor:.2f} with the law's {rule.strength_days:g} days{few}"
        )
        said += [
            f"    lead {lead.lead_h[0]:.0f} to {lead.lead_h[1]:.0f} h: {lead.sd_K:.2f} K in {lead.days} days "
            f"(law {lead.law_K:.2f} K), mean {lead.bias_K:+.2f} K"
            for lead in place.leads
        ]
    if not lessons.places:
        said.append("  none yet: every morning's run keeps its grids; two days are the least")
    return said


def as_record(lessons: Lessons, calibration: Calibration) -> dict[str, Any]:
    """Give the report as plain values."""
    fit = lessons.fit
    return {
        "calibration": calibration.model_dump(mode="json"),
        "boxes": [vars(loss) for loss in fit.losses] if fit is not None else [],
        "numbers": [{**vars(each), "told": each.told} for each in fit.shared] if fit is not None else [],
        "cannot_be_told_apart": [list(pair) for pair in fit.traded()] if fit is not None else [],
        "traces": [vars(each) for each in fit.checked] if fit is not None else [],
        "worse_than_defaults": fit.worse if fit is not None else False,
        "lanes": [vars(lane) for lane in lessons.lanes],
        "places": [{**vars(place), "leads": [vars(lead) for lead in place.leads]} for place in lessons.places],
        "animals": {**vars(lessons.enough), "says": lessons.enough.says} if lessons.enough is not None else None,
    }
