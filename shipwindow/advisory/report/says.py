"""The report in words: a headline, five short answers, and what it would take to say more.

For: every writer shows these same sentences. Must not know: how anything was counted, pages. Neighbour: ``record``.
Losses are told plainly, luck is named as luck, and no answer is given where the numbers carry none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shipwindow.advisory.boxes_text import cents_text
from shipwindow.advisory.document import Scale
from shipwindow.advisory.report.record import Held, Panel, Report
from shipwindow.decide.explain import percent
from shipwindow.learn.verify import Judgement, Lateness, to_tell

CAUTIONS = (
    "Corals also die of what no chance here knows: old wounds, pests, the move itself. Day 14 counts them all.",
    "Only boxes that were recorded can speak. Recording only those that went wrong makes every chance look too sure.",
    "A held day is judged by the same model that held it, with the weather that came: its own word, no proof.",
    "Your carrier's terms, local law and licensed veterinary advice come first.",
)
LEAST_WATER = 5  # boxes below which the share inside a band says nothing
BAND_SHARE, BAND_POOR = 0.1, 0.25  # outside a good band of nine in ten, and outside one that holds three in four


def headline_of(report: Report) -> str:
    """Say in one sentence whether the stated chances can be trusted."""
    found = report.judgement
    if not found.boxes:
        return "Nothing can be said of the chances yet."
    return {
        "as stated": "The stated chances have held.",
        "too sure": "The stated chances were too sure: more corals were lost than they allow.",
        "too careful": "The stated chances were too careful: fewer corals were lost than they say.",
        "too few": "Too few boxes to tell whether the stated chances are right.",
    }[found.word]


def panels_of(report: Report) -> tuple[Panel, ...]:
    """Write the five answers."""
    return (_chances(report), _water(report), _holds(report.held), _late(report.late), _money(report))


def _chances(report: Report) -> Panel:
    found, boxes = report.judgement, report.boxes
    if not found.boxes:
        why = "No box has gone yet." if not boxes.sent else _unscored(report)
        return Panel("Corals", "no box to judge", f"{why} {_how(report)}".strip())
    answer = f"{found.lost} of {_many(found.seen, 'coral')} lost in {_boxes(found.boxes)}"
    said = (
        f"By the stated chances {_count(found.expected)} were to be expected, and {found.expected_low} to "
        f"{found.expected_high} nine times in ten."
    )
    return Panel("Corals", answer, f"{said} {_so(found)}")


def _so(found: Judgement) -> str:
    if found.word == "too sure":
        return (
            f"So many come by luck in {_times(found.so_many)} if the chances are right. Until you know why, ship only "
            "what is well within your limit; test a box (shipwindow calibrate recipe) and look at the water below."
        )
    if found.word == "too careful":
        return f"So few come by luck in {_times(found.so_few)}. Your limit holds back boxes that could go."
    if found.word == "too few":
        need = "more than can be counted" if found.boxes_needed is None else f"about {found.boxes_needed}"
        return f"Chances half as high as the truth would be missed with so few; it takes {need} boxes like these."
    return "That fits; chances half as high as the truth would have been noticed."


def _times(chance: float) -> str:
    return "fewer than 1 season in 1000" if chance < 0.001 else f"1 season in {round(1.0 / chance)}"


def _unscored(report: Report) -> str:
    boxes = report.boxes
    parts = {
        "whose corals nobody has recorded": boxes.not_seen,
        "not yet seen on day 14": boxes.not_final,
        "without a stated chance for their day": boxes.unsaid,
        "sent another way than advised": boxes.otherwise,
    }
    told = ", ".join(f"{count} {what}" for what, count in parts.items() if count)
    return f"{_boxes(boxes.sent)} went: {told}." if told else ""


def _how(report: Report) -> str:
    if report.boxes.sent and not report.boxes.scored:
        return "Record each box: shipwindow arrivals record, and once more on day 14."
    return "Work from the order book, so that each morning's chances are kept, and record each box that arrives."


def _water(report: Report) -> Panel:
    here, along = report.at_arrival, report.on_trips
    found = here if here is not None and (along is None or here.boxes >= along.boxes) else along
    if found is None:
        return Panel("Water", "not measured yet", "A thermometer in a bag on opening, or a logger, tells it.")
    how = "on opening" if found is here else "along the way"
    side = "warmer" if found.bias_K > 0 else "cooler"
    answer = f"{off_text(found.off_K, report.scale)} off {how}, in {_boxes(found.boxes)}"
    share = found.covered[-1][1]
    mean = off_text(abs(found.bias_K), report.scale)
    said = "On the mean as said." if mean.startswith("0.0") else f"On the mean {mean} {side} than said."
    if found.boxes < LEAST_WATER:
        return Panel("Water", answer, f"{said} Too few boxes to judge the stated bands.")
    band = f"The band meant for nine in ten held {share * 100:.0f} in 100"
    fits = found.low <= found.covered[-1][0] <= found.high
    verdict = "as it should" if fits else ("too narrow" if share < found.covered[-1][0] else "wider than it need be")
    return Panel("Water", answer, f"{said} {band}: {verdict}.{_leg(report)}")


def _leg(report: Report) -> str:
    worst = max(report.legs, key=lambda leg: abs(leg.arises_K), default=None)
    if worst is None or worst.boxes < LEAST_WATER:
        return ""
    side = "warmer" if worst.arises_K > 0 else "cooler"
    return f" Most arises in the leg {worst.leg}: {off_text(abs(worst.arises_K), report.scale)} {side}."


def _holds(held: Sequence[Held]) -> Panel:
    if not held:
        return Panel("Held days", "none", "No order was held for its chance of loss.")
    counts = {word: sum(each.hindsight == word for each in held) for word in ("needed", "needless", "close", None)}
    judged = len(held) - counts[None]
    answer = f"{_many(len(held), 'day')}: " + (
        f"{counts['needed']} needed, {counts['needless']} needless, {counts['close']} close"
        if judged
        else "none can be judged"
    )
    said = "By the model's own word with the weather that then came"
    said += "; close: over your limit only if a doubt falls on its bad side." if counts["close"] else "."
    if counts[None]:
        said += f" {counts[None]} cannot be judged: {_reasons(held)}."
    return Panel("Held days", answer, said)


def _reasons(held: Sequence[Held]) -> str:
    reasons: dict[str, int] = {}
    for each in held:
        if each.hindsight is None:
            reasons[each.why_not] = reasons.get(each.why_not, 0) + 1
    worst = max(reasons, key=lambda reason: reasons[reason])
    return worst if len(reasons) == 1 else f"mostly {worst}"


def _late(late: Lateness | None) -> Panel:
    if late is None:
        return Panel("Late boxes", "not recorded", "Say --days-late when you record a box, 0 for on time.")
    answer = f"{late.late} of {late.boxes} late; {_count(late.expected)} were assumed"
    said = {
        "as stated": "That fits what was assumed.",
        "too sure": "More than luck explains: your lanes are slower than assumed.",
        "too careful": "Fewer than luck explains: your lanes are better than assumed.",
        "too few": f"Too few to tell: the truth may be {percent(late.low)} to {percent(late.high)}.",
    }[late.word]
    if late.word in {"too sure", "too careful"}:
        said += " shipwindow calibrate fit learns it lane by lane."
    return Panel("Late boxes", answer, said)


def _money(report: Report) -> Panel:
    money = report.money
    freight = "no price" if money.freight_cents is None else cents_text(money.freight_cents)
    answer = f"freight {freight}, claims {cents_text(money.claims_cents)}"
    more = [f"Materials {cents_text(money.materials_cents)}"]
    more.append(f"packs {cents_text(money.packs_cents)}")
    more.append(f"corals lost {cents_text(money.lost_value_cents)} at list price")
    more.append(f"{_many(money.held_days, 'held day')} {cents_text(money.held_cents)}")
    said = ", ".join(more) + "."
    if money.unpriced and money.freight_cents is not None:
        said += f" {_boxes(money.unpriced)} without a price not counted."
    if money.claims_open:
        said += f" {_many(money.claims_open, 'claim')} without an amount yet."
    return Panel("Money", answer, said)


def needs_of(report: Report, limit: float) -> tuple[str, ...]:
    """Say what it takes to say more."""
    found = []
    for low in dict.fromkeys((limit, 0.01)):
        high = min(2.0 * low, 1.0)
        if 0.0 < low < high:
            boxes = to_tell(low, high)
            count = "more than 100,000" if boxes is None else f"{boxes}"
            found.append(
                f"To tell a chance of {percent(low)} from {percent(high)} takes {count} boxes (wrong 1 time in 20 when "
                "it is right, noticed 4 times in 5 when it is not)."
            )
    scored = report.judgement
    if scored.boxes and scored.boxes_needed is not None:
        found.append(
            f"With boxes like yours, chances half as high as the truth are noticed after about {scored.boxes_needed}; "
            f"{scored.boxes} count so far."
        )
    band = to_tell(BAND_SHARE, BAND_POOR)
    found.append(
        f"To notice that a band of nine in ten holds only three in four takes {band} boxes with a thermometer or "
        "logger."
    )
    return tuple(found)


def notes_of(
    report: Report, left_out: Mapping[str, int], not_followed: Sequence[str], *, calibrated: bool
) -> tuple[str, ...]:
    """Say what was left out and what to bear in mind."""
    boxes, notes = report.boxes, []
    if boxes.sent > boxes.scored and boxes.scored:
        notes.append(f"{_unscored(report)} {boxes.scored} could be judged.")
    if boxes.against:
        notes.append(f"{_boxes(boxes.against)} went though advised to hold; {boxes.against_lost} of them lost corals.")
    if report.judgement.boxes:
        notes.append(
            f"Corals of one box share its trip: two of them are taken to be alike by {report.alike:g} "
            "(alike under [animals] of learn.toml; nobody has measured it)."
        )
    waited = [each for each in report.held_orders if each.went_on is not None]
    seen = [each for each in waited if each.seen]
    if waited:
        lost, of = sum(each.lost or 0 for each in seen), sum(each.seen or 0 for each in seen)
        told = f"; {lost} of {_many(of, 'coral')} lost among the {len(seen)} that were recorded" if seen else ""
        notes.append(f"{_many(len(waited), 'order')} went later after waiting{told}.")
    if left_out:
        told = ", ".join(f"{count} {reason}" for reason, count in left_out.items())
        notes.append(f"Thermometers on opening not scored: {told}.")
    if not_followed:
        notes.append(f"Loggers that the model cannot follow: {', '.join(not_followed)}.")
    if calibrated and report.on_trips is not None:
        notes.append("The calibration in use may have been fitted to some of these very loggers: a friendly test.")
    notes.extend(report.money.says if report.money.boxes else ())
    return tuple(notes)


def off_text(value_K: float, scale: Scale) -> str:
    """Write a temperature difference with a digit behind the point."""
    return f"{value_K * 1.8:.1f} °F" if scale == "F" else f"{value_K:.1f} °C"


def signed(value_K: float, scale: Scale) -> str:
    """Write a temperature difference with its sign."""
    said = off_text(abs(value_K), scale)
    return said if said.startswith("0.0") else f"{'+' if value_K >= 0 else '-'}{said}"


def _count(value: float) -> str:
    return f"{value:.1f}" if value < 10.0 else f"{value:.0f}"


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _boxes(count: int) -> str:
    return "1 box" if count == 1 else f"{count} boxes"
