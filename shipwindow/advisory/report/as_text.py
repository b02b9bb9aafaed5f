"""The report as plain text, for terminals and files.

For: ``as_text``. Must not know: how anything was counted. Neighbours: ``record``, ``says``.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from shipwindow.advisory.report.record import Report
from shipwindow.advisory.report.says import off_text, signed
from shipwindow.learn.verify_water import WaterScore

WIDTH = 96


def as_text(report: Report) -> str:
    """Write the report."""
    return "\n".join(_lines(report)) + "\n"


def span_text(report: Report) -> str:
    """Say which boxes it is about."""
    since = report.since or report.first
    about = f"{since} to {report.until}" if since is not None else f"up to {report.until}"
    return f"Boxes sent and days held, {about}"


def _lines(report: Report) -> Iterator[str]:
    yield f"{report.shop}: what was said, and what came"
    yield span_text(report)
    if report.invented:
        yield "INVENTED: nothing here happened to anybody"
    yield ""
    yield report.headline
    yield ""
    for panel in report.panels:
        yield f"  {panel.name:<11} {panel.answer}"
        yield from _wrapped(panel.behind, " " * 14)
    yield from _bins(report)
    yield from _parts(report)
    yield from _waters(report)
    yield from _held(report)
    yield from _places(report)
    yield from _list("What it would take to say more", report.needs)
    yield from _list("Beside this", (*report.notes, *report.cautions))
    yield ""
    yield report.model


def _wrapped(text: str, indent: str) -> Iterator[str]:
    yield from textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)


def _list(title: str, texts: Sequence[str]) -> Iterator[str]:
    if texts:
        yield ""
        yield title
        for text in texts:
            yield from textwrap.wrap(text, WIDTH, initial_indent="  - ", subsequent_indent="    ")


def _bins(report: Report) -> Iterator[str]:
    if not report.bins:
        return
    yield ""
    yield "Stated chance and what came (if the chance is right, 9 seasons in 10 lie in the last column)"
    yield f"  {'stated':<14} {'boxes':>5} {'corals':>6} {'lost':>5} {'came':>7}   {'truth 9 in 10':<16} if right"
    for each in report.bins:
        low, high = each.chances
        mark = "" if each.fits else "  outside"
        yield (
            f"  {_pct(low)} to {_pct(high):<7} {each.boxes:5d} {each.seen:6d} {each.lost:5d} {_pct(each.share):>7}   "
            f"{_pct(each.low)} to {_pct(each.high):<7} {_pct(each.right_low)} to {_pct(each.right_high)}{mark}"
        )


def _parts(report: Report) -> Iterator[str]:
    found = report.parts
    if found is None:
        return
    skill = "not defined, nothing or everything was lost" if found.skill is None else f"{found.skill:+.1%}"
    yield ""
    yield "Brier score (0 is best)"
    yield (
        f"  {found.score:.4f} = reliability {found.reliability:.4f} - resolution {found.resolution:.4f} + uncertainty "
        f"{found.uncertainty:.4f} + within bins {found.within:+.4f}"
    )
    yield f"  right chances would show a reliability of {found.luck:.4f} by luck alone"
    yield f"  skill against always saying {found.base:.1%}: {skill}"


def _waters(report: Report) -> Iterator[str]:
    rows = [
        ("on opening", report.at_arrival),
        ("along trips", report.on_trips),
        ("  by the defaults", report.on_trips_default),
    ]
    told = [(name, score) for name, score in rows if score is not None]
    if told:
        yield ""
        yield "Water read against water said (CRPS: the lower the better, in the same degrees)"
        yield f"  {'':<18} {'boxes':>5} {'bias':>9} {'off':>8} {'CRPS':>8}   inside 50 / 80 / 90 % bands"
        yield from (_water(name, score, report) for name, score in told)
    if report.legs:
        yield ""
        yield "Along the way, by leg (read less said)"
        yield f"  {'leg':<26} {'boxes':>5} {'error':>9} {'arises here':>12}"
        for leg in report.legs:
            yield (
                f"  {leg.leg[:26]:<26} {leg.boxes:5d} {signed(leg.error_K, report.scale):>9} "
                f"{signed(leg.arises_K, report.scale):>12}"
            )


def _water(name: str, score: WaterScore, report: Report) -> str:
    scale, inside = report.scale, " / ".join(f"{share * 100:.0f}" for _, share in score.covered)
    return (
        f"  {name:<18} {score.boxes:5d} {signed(score.bias_K, scale):>9} {off_text(score.off_K, scale):>8} "
        f"{off_text(score.crps_K, scale):>8}   {inside} % (the last {_pct(score.low)} to {_pct(score.high)})"
    )


def _held(report: Report) -> Iterator[str]:
    if not report.held:
        return
    yield ""
    yield "Days held, judged by the model with the weather that came"
    for each in report.held:
        if each.hindsight is None or each.chance is None or each.low is None or each.high is None:
            yield f"  {each.day}  {each.order:<12} stated {_pct(each.stated):>6}   cannot be judged: {each.why_not}"
            continue
        yield (
            f"  {each.day}  {each.order:<12} stated {_pct(each.stated):>6}, came {_pct(each.chance):>6} "
            f"({_pct(each.low)} to {_pct(each.high)}; late {_pct(each.late_chance or 0.0)}): {each.hindsight}"
        )


def _places(report: Report) -> Iterator[str]:
    if not report.places:
        return
    yield ""
    yield "Forecasts of your places (off by, one standard deviation; the published law beside it)"
    for place in report.places:
        yield f"  {place.place}: {place.days} days"
        for lead in place.leads:
            yield (
                f"    {lead.lead_h[0]:.0f} to {lead.lead_h[1]:.0f} h ahead: {off_text(lead.sd_K, report.scale)} in "
                f"{lead.days} days (law {off_text(lead.law_K, report.scale)}), mean {signed(lead.bias_K, report.scale)}"
            )


def _pct(share: float) -> str:
    return f"{share * 100:.1f} %"
