"""Sentences made from a backtest's figures: what differs, what does not, what may be claimed.

For: ``page``. Must not know: how figures were found or where the sentences stand. A difference is called one only if
its interval leaves 0 out.
"""

from __future__ import annotations

from typing import Any

from shipwindow.learn.backtest.ranges import RANGES

Table = dict[str, Any]
TUNED = ("sheet-there", "sheet-way", "one-run")


def percent(value: float) -> str:
    """Write a share; small ones with a digit behind the point."""
    return f"{value:.1%}".replace("%", " %") if value < 0.1 else f"{value:.0%}".replace("%", " %")


def seen(one: Table) -> int:
    """Say whether a difference is seen: 1 more, -1 less, 0 none."""
    return 1 if one["low"] > 0.0 else -1 if one["high"] < 0.0 else 0


def compared(report: Table) -> list[str]:
    """Say of each tuned policy how the tuned model compares with it."""
    return [_one(name, report["against_model"][name]) for name in TUNED]


def _one(name: str, apart: Table) -> str:
    said = []
    for part, words in (("lost", "lost boxes"), ("held", "holds"), ("in_all_cost", "cost")):
        way = seen(apart[part])
        if way:
            said.append(f"{'more' if way > 0 else 'less' if part == 'in_all_cost' else 'fewer'} {words}")
    verdict = ", ".join(said) if said else "no difference seen in lost boxes, holds or cost"
    return f"- Against `model`, tuned likewise, `{name}` has: {verdict}."


def water_said(report: Table) -> list[str]:
    """Say how the water compares."""
    low, high = report["water"]["low"], report["water"]["high"]
    colder = "warmer" if low["bias"] > 0.0 else "colder"
    wide = min(low["coverage"]["90"], high["coverage"]["90"])
    said = (
        f"The coldest water was on average {abs(low['bias']):.1f} K {colder} than the program thought, the warmest "
        f"{abs(high['bias']):.1f} K {'warmer' if high['bias'] > 0 else 'colder'}."
    )
    if wide < 0.85:
        said += (
            f" The members' 90 % band held {percent(wide)} of the boxes: against boxes, vans and buildings that lie "
            "off the defaults to one side, the stated doubts are too narrow. Logging a few trips of one's own moves "
            "the middle; more members do not."
        )
    deep = next(one for one in RANGES if one.name == "bag_m")
    said += (
        f" Most of it is one number: the program lets the water of these bags stand {report['plan']['depth_cm']:g} cm "
        f"deep, the outside simulation {deep.low * 100:g} to {deep.high * 100:g} cm. At the same depth both boxes cool "
        "alike (tests/learn/test_backtest.py)."
    )
    return [said]


def rules_said(report: Table) -> list[str]:
    """Say how often rules and model differ and who was right more often."""
    one = report["agreement"]["all"]
    rules, model = one["only_rules_hold"], one["only_model_holds"]
    apart = rules["days"] + model["days"]
    right_model_own = rules["ship_right_own"] + model["days"] - model["ship_right_own"]
    right_model_out = rules["ship_right_outside"] + model["days"] - model["ship_right_outside"]
    said = [f"Rules and model differ on going or holding on {apart} of {one['days']} mornings."]
    if apart:
        said.append(
            f"By the model's own truth the model was right on {right_model_own} of them, by the outside simulation on "
            f"{right_model_out}."
        )
    return [" ".join(said)]


NOT_CLAIMED = (
    "Not shown by it, and not to be claimed: survival of animals; any carrier's lateness; skill on days 3 to 7; the "
    "error of the grid a shop really uses (a raw grid at a home address is worse than a city forecast); hot deserts "
    "beyond the stations named, or a network as a whole; that the outside simulation is the real world. No figure here "
    "is a promise. Differences under 10 to 15 % of the loss rate cannot be told from chance with one year. Carriers' "
    "terms, local law and licensed advice come first."
)


def claims(report: Table) -> list[str]:
    """Say what may honestly be claimed from these figures."""
    plan, scores = report["plan"], report["policies"]

    def told(name: str) -> str:
        return f"lost {scores[name]['lost']:.1f} and held {scores[name]['held']:.0f}"

    observed = sum(one["kind"] == "observations" for one in plan["stations"].values())
    given = (
        f"In a simulation with one year at each of {len(plan['stations'])} stations ({observed} observed, the others "
        "reanalysis or typical years) and forecast errors matched to measured national-forecast errors at 9 to 47 h, "
        "of 100 mornings:"
    )
    untuned = (
        f"- the program as a new shop has it {told('shipwindow')}, {scores['shipwindow']['needless']:.0f} of the holds "
        f"needless; shipping bare every day {told('always-ship')}; the rules of thumb alone {told('thumb')};"
    )
    tuned = (
        f"- with its limit tuned on odd weeks the model {told('model')}; a cheat sheet on the whole way, tuned "
        f"likewise, {told('sheet-way')}; one on the destination {told('sheet-there')}; one run of the box model with a "
        f"margin {told('one-run')};"
    )
    reliable = _reliable(report["chances"]["measured"])
    return [given, "", untuned, tuned, f"- {_differs(report)}", f"- {reliable}", "", NOT_CLAIMED]


def _differs(report: Table) -> str:
    parts = []
    for name in TUNED:
        apart = report["against_model"][name]["in_all_cost"]
        way = seen(apart)
        words = "costs more than" if way > 0 else "costs less than" if way < 0 else "is not told apart in cost from"
        parts.append(f"`{name}` {words} `model`")
    return "; ".join(parts) + " (orders followed to their end, 95 %);"


def _reliable(found: Table) -> str:
    off = [one for one in found["bins"] if not one["low"] <= one["stated"] <= one["high"]]
    if not off:
        return "stated chances agree with the shares lost in every bin, within 95 %."
    said = [f"stated {percent(one['stated'])}, lost {percent(one['lost'])}" for one in off]
    return f"stated chances lie outside the 95 % of the shares lost in {len(off)} of {len(found['bins'])} bins: " + (
        "; ".join(said) + "."
    )
