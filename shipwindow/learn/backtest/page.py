"""The page of a backtest: Markdown with tables, figures beside it, and what may be claimed.

For: ``write_page`` and ``summary``. Sentences are made from the figures, so they cannot disagree with them. Must not
know: how figures were found. Neighbours: ``report``, ``pictures``, ``sentences``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from shipwindow.learn.backtest.ranges import RANGES
from shipwindow.learn.backtest.sentences import claims, compared, percent, rules_said, water_said

Table = dict[str, Any]
ORDER = (
    "always-ship", "thumb", "sheet-there", "sheet-way", "one-run", "shipwindow", "model-alone", "model", "always-hold",
    "oracle",
)  # fmt: skip
WHAT = {
    "always-ship": "bare box, every day",
    "thumb": "the shop's rules of thumb as they stand",
    "sheet-there": "cheat sheet on the destination's forecast low and high",
    "sheet-way": "cheat sheet on the coldest and warmest hour anywhere on the way",
    "one-run": "one run of the box model on the forecast as it stands, on time, with a margin",
    "shipwindow": "the program's verdict, limits and rules of thumb as a new shop has them",
    "model-alone": "its verdict without the rules of thumb",
    "model": "its chance of loss, with the limit tuned",
    "always-hold": "never",
    "oracle": "knows everything, also the luck of each box",
}
KINDS = {"observations": "observed", "reanalysis": "computed from satellites and a model", "typical-year": "typical"}


def write_page(report: Table, command: str, pictures: str = "images") -> str:
    """Write the page; ``command`` is the line that makes it, ``pictures`` the folder of its figures."""
    parts = [
        *_head(report, command),
        *_policies(report, pictures),
        *_by_season_and_lane(report, pictures),
        *_worth(report, pictures),
        *_chances(report, pictures),
        *_water(report, pictures),
        *_other_worlds(report),
        *_rules(report),
        *_truth(report),
        "## What may be claimed, and what not", "", *claims(report), "",
    ]  # fmt: skip
    return "\n".join(parts).rstrip() + "\n"


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> list[str]:
    """Write a Markdown table."""
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    return [*lines, *("| " + " | ".join(str(cell) for cell in row) + " |" for row in rows), ""]


def _head(report: Table, command: str) -> list[str]:
    plan = report["plan"]
    money, limits = plan["money"], plan["limits"]
    lanes = [
        (one["name"].replace(">", " to "), *(plan["stations"][one[role]]["name"] for role in ("origin", "hub",
         "destination")))
        for one in plan["lanes"]
    ]  # fmt: skip
    stations = [
        (one["name"], KINDS[one["kind"]], one["period"], one["source"], one["licence"])
        for one in plan["stations"].values()
    ]
    return [
        "# Backtest: would better have been decided?", "",
        "Made by the program itself; do not edit. Run again, it gives the same bytes:", "",
        f"    {command}", "",
        (f"{plan['mornings']} mornings ({plan['first']} to {plan['last']}, {len(plan['lanes'])} lanes), "
        f"{plan['draws']} boxes a morning: {plan['boxes']} boxes. One box, the {plan['box']} with "
        f"{plan['water_L']:g} L of water, {plan['cargo']}, hand-over {plan['handover']}, {plan['commitment']}. "
        "Every calendar day counts as an ordinary working day: weather knows no weekends."), "",
        ("Each morning a forecast is made from what then happened, with errors drawn from the measured law "
        "(docs/model.md): size by lead, season and place, lasting as long as real ones do, heavy tails. Rain is missed "
        "one time in five and promised in vain one time in twelve; wind and cloud are told as they were. Every policy "
        "sees the same forecast, and its choice meets the same weather, box, delay and animals."), "",
        *table(("lane", "from", "hub", "to"), lanes),
        *table(("station", "kind", "period", "source", "licence"), stations),
        ("The three New York stations are one real year, observed at the same hours. The others are typical years, "
        "spliced from ordinary months and laid on the same calendar: cold snaps and heat waves are under-represented, "
        "and weather at the two ends of a lane does not belong together. Lanes are scored one by one and added up; "
        "nothing is said of a whole day's loss. Lanes under 250 km go by road; the hub is then not passed."), "",
        (f"A lost box costs {money['loss']:g}, a day's hold {money['day']:g}, a pack {money['pack']:g}; an order that "
        f"could not go on {plan['most_tries']} days running is cancelled and costs {money['cancelled']:g} (half its "
        "value; assumption). Thresholds were chosen on odd weeks for least cost of orders followed to their end; "
        f"everything about policies below is of even weeks. The shop's limits are {percent(limits['within'])} and "
        f"{percent(limits['near'])}; chances come from {plan['members']} joint members."), "",
    ]  # fmt: skip


def _policies(report: Table, pictures: str) -> list[str]:
    scores, thresholds = report["policies"], report["thresholds"]
    rows = [
        (name, f"{one['lost']:.1f}", f"{one['held']:.1f}", f"{one['needless']:.1f}", f"{one['packs']:.0f}",
         f"{one['in_all_lost']:.1f}", f"{one['in_all_cancelled']:.1f}", f"{one['in_all_waited']:.2f}",
         f"{one['in_all_cost']:.1f}")
        for name in ORDER if (one := scores.get(name))
    ]  # fmt: skip
    head = (
        "policy", "lost", "held", "of these needless", "packs", "orders lost", "cancelled", "days waited",
        "cost an order",
    )  # fmt: skip
    apart = [
        (name, *(_interval(report["differences"][name][part]) for part in ("lost", "held", "in_all_lost",
         "in_all_cost")))
        for name in ORDER if name in report["differences"]
    ]  # fmt: skip
    return [
        "## Policies", "",
        *table(("policy", "what it does", "thresholds"), [(n, WHAT[n], thresholds[n]) for n in ORDER]),
        ("Lost, held and packs are per 100 mornings, each counted alone. The last four columns follow an order from "
        "its first morning until it goes or is cancelled, per 100 orders; a hold is needless where some packing had, "
        "in the outside simulation, a chance of loss under the upper limit."), "",
        *table(head, rows),
        f"![policies]({pictures}/backtest-policies.svg)", "",
        ("Marks: the table. Lines: the same policies tuned to other ratios of cost and loss (those of the section on "
        "value); the lower a line, the fewer losses for the same holds."), "",
        "### Compared with the program as a new shop has it", "",
        ("Other policy less `shipwindow`, on the same boxes; in brackets 95 % from whole weeks drawn anew. An interval "
        "that holds 0 means: no difference seen."), "",
        *table(("policy", "lost", "held", "orders lost", "cost an order"), apart),
        *compared(report), "",
    ]  # fmt: skip


def _interval(one: Table) -> str:
    return f"{one['mean']:+.1f} ({one['low']:+.1f} to {one['high']:+.1f})"


def _by_season_and_lane(report: Table, pictures: str) -> list[str]:
    shown = ("always-ship", "thumb", "sheet-way", "one-run", "shipwindow", "model")
    rows = [
        (group.replace(">", " to "), some["model"]["orders"], *(f"{some[name]['lost']:.1f} / {some[name]['held']:.0f}"
         for name in shown))
        for groups in (report["seasons"], report["lanes"])
        for group, some in groups.items()
    ]  # fmt: skip
    return [
        "## By season and lane", "",
        "Lost / held of 100 mornings, even weeks.", "",
        *table(("", "boxes", *shown), rows),
        f"![seasons]({pictures}/backtest-seasons.svg)", "",
    ]  # fmt: skip


def _value(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}".replace("-0.00", "0.00")


def _worth(report: Table, pictures: str) -> list[str]:
    worth = report["worth"]
    names = ("model", "one-run", "sheet-way", "sheet-there", "shipwindow", "thumb")
    rows = [
        (f"{share:g}", *(_value(worth["worth"][name][at]) for name in names))
        for at, share in enumerate(worth["cost_loss"])
    ]  # fmt: skip
    return [
        "## Value by cost and loss", "",
        ("Each morning alone: a hold costs C and prevents a loss of L, packs are free. 1 is the oracle, 0 the best "
        "single habit (hold every day, or one packing every day). Tuned policies are tuned anew for every ratio."), "",
        *table(("C/L", *names), rows),
        f"![value]({pictures}/backtest-worth.svg)", "",
    ]  # fmt: skip


def _chances(report: Table, pictures: str) -> list[str]:
    found = report["chances"]["measured"]
    bins = [
        (f"{percent(one['from'])} to {percent(one['to'])}", one["orders"], percent(one["stated"]),
         percent(one["lost"]), f"{percent(one['low'])} to {percent(one['high'])}")
        for one in found["bins"]
    ]  # fmt: skip
    return [
        "## Are stated chances true?", "",
        ("The chance stated for the packing the model would take, every morning of the year, whether it would have "
        "gone or not; and the share lost in the outside simulation."), "",
        *table(("stated", "boxes", "mean stated", "lost", "95 %"), bins),
        f"![reliability]({pictures}/backtest-reliability.svg)", "",
        (f"Brier score {found['brier']:.4f}; in these bins reliability {found['reliability']:.4f}, resolution "
        f"{found['resolution']:.4f}, uncertainty {found['uncertainty']:.4f}; skill against always stating the base "
        f"rate {found['skill']:.2f}. Stated on average {percent(found['stated'])}, lost {percent(found['happened'])} "
        f"({found['lost']} of {found['orders']})."), "",
    ]  # fmt: skip


def _water(report: Table, pictures: str) -> list[str]:
    rows = [
        (side, f"{one['bias']:+.2f}", f"{one['mae']:.2f}", f"{one['crps']:.2f}",
         *(percent(one["coverage"][share]) for share in ("50", "80", "90")))
        for side, one in (("coldest", report["water"]["low"]), ("warmest", report["water"]["high"]))
    ]  # fmt: skip
    return [
        "## Is the water as predicted?", "",
        ("Bare box, on time. Error: outside simulation less the members' mean. Coverage of the members' central "
        "intervals."), "",
        *table(("water", "bias K", "mean error K", "CRPS K", "50 %", "80 %", "90 %"), rows),
        f"![water]({pictures}/backtest-water.svg)", "",
        *water_said(report), "",
    ]  # fmt: skip


def _other_worlds(report: Table) -> list[str]:
    plan = report["plan"]
    said = {**plan["told"]}
    told = [
        (said[name], report["told"][name]["orders"], f"{report['told'][name]['lost']:.1f}",
         f"{report['told'][name]['held']:.1f}", *_brier(report["chances"][name]))
        for name in said if name in report["told"]
    ]  # fmt: skip
    delays = [
        (f"x {scale}", percent(report["chances_by_delay"][scale]["happened"]),
         *(f"{report['delays'][scale][name]['lost']:.1f}" for name in ("always-ship", "sheet-way", "one-run",
           "shipwindow", "model")))
        for scale in ("0.5", "1", "2")
    ]  # fmt: skip
    return [
        "## If the world is not as measured", "",
        (f"Forecasts with other errors, every {plan['others_every']} days; the program still assumes the measured "
        "ones. Lost and held of 100 mornings by `model` with its limit as tuned above."), "",
        *table(("forecasts", "boxes", "lost", "held", "Brier", "stated", "lost of the packing taken"), told),
        ("Late boxes half and twice as often as in the table the truth is drawn from (which the program does not see); "
        "nothing is tuned anew. Lost of 100 mornings."), "",
        *table(("late", "lost of the packing taken", "always-ship", "sheet-way", "one-run", "shipwindow", "model"),
               delays),
    ]  # fmt: skip


def _brier(found: Table) -> tuple[str, str, str]:
    return f"{found['brier']:.4f}", percent(found["stated"]), percent(found["happened"])


def _agreement(report: Table) -> tuple[tuple[str, ...], list[tuple[object, ...]]]:
    rows: list[tuple[object, ...]] = []
    for name, one in report["agreement"].items():
        rules, model = one["only_rules_hold"], one["only_model_holds"]
        rows.append(
            (name, one["days"], one["both_ship"], one["other_pack"], one["both_hold"], rules["days"],
             f"{rules['ship_right_own']} / {rules['ship_right_outside']}", model["days"],
             f"{model['ship_right_own']} / {model['ship_right_outside']}")
        )  # fmt: skip
    head = (
        "mornings", "all", "both ship", "of these another pack", "both hold", "only the rules hold",
        "shipping was right", "only the model holds", "shipping was right",
    )  # fmt: skip
    return head, rows


def _rules_mean(report: Table) -> str:
    return (
        "The shop's rules as they stand, and the model's verdict without them, all weeks. Where one would have held "
        "and the other shipped: on how many of those mornings shipping was right, by the model's own truth (its chance "
        "with the weather as it was, doubts and delays still drawn) / by the outside simulation (mean of its boxes). "
        f"Right: chance of loss under {percent(report['plan']['limits']['near'])}."
    )


def _rules(report: Table) -> list[str]:
    head, rows = _agreement(report)
    return ["## Rules of thumb and model", "", _rules_mean(report), "", *table(head, rows), *rules_said(report), ""]


def rules_table(report: Table) -> str:
    """Write the agreement of rules and model for the terminal."""
    head, rows = _agreement(report)
    widths = [max(len(str(cell)) for cell in column) for column in zip(*rows, strict=True)]
    lines = [f"{'abcdefghi'[number]}  {words}" for number, words in enumerate(head)]
    lines += ["", "  ".join("abcdefghi"[number].rjust(width) for number, width in enumerate(widths))]
    lines += ["  ".join(str(cell).rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    return "\n".join([*lines, "", _rules_mean(report), *rules_said(report)]) + "\n"


def _truth(report: Table) -> list[str]:
    rows = [
        (one.says, f"{one.low:g}", f"{one.mode:g}", f"{one.high:g}", one.unit, one.product or "-") for one in RANGES
    ]
    return [
        "## What really happened: the outside simulation", "",
        ("Written apart from the program, sharing no code or constant with its box, surroundings, delays or tolerance "
        "(`shipwindow/learn/backtest/`: `outside`, `truebox`, `harm`, `delays`); only the hours of the trip, sizes and "
        "labels of box and packs, and the temperatures half of the animals survive for an hour are the same. Outer and "
        "inner bags, four stretches of foam in four slices, backward Euler; held against the 3-D model of "
        "network-against-3d.md by a test. Each box has every number below drawn anew, triangular from least to "
        "greatest. The ranges were written before the first run and not touched after; all are engineering "
        "choices."), "",
        (f"{percent(report['plan']['late_share'])} of the boxes came late: 4 % (5 % from 28 November), more where it "
        "rained (5 %) or rain froze (20 %) in the hours of sorting; 80 % of them one day, 15 % two, 5 % three."), "",
        *table(("", "least", "likeliest", "greatest", "unit", "the program takes"), rows),
    ]  # fmt: skip


def summary(report: Table) -> str:
    """Say the figures that matter in a few lines, for the terminal."""
    scores = report["policies"]
    lines = [
        f"{report['plan']['mornings']} mornings, {report['plan']['boxes']} boxes; even weeks, of 100 mornings:",
        "",
    ]
    lines += [f"{'policy':<14}{'lost':>7}{'held':>8}{'needless':>10}{'cost an order':>15}"]
    lines += [
        f"{name:<14}{scores[name]['lost']:>7.1f}{scores[name]['held']:>8.1f}{scores[name]['needless']:>10.1f}"
        f"{scores[name]['in_all_cost']:>15.1f}"
        for name in ORDER
    ]
    return "\n".join([*lines, "", *claims(report)]) + "\n"
