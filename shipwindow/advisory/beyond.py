"""The answer beyond the forecast: accept, accept if, or decline until, from shares of past days.

For: ``rule``, which ``acceptance`` asks. Must not know: forecasts, terminals. Neighbours: ``climate`` (the shares),
``acceptance`` (the record).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from shipwindow.advisory import view
from shipwindow.advisory.climate import Climate, ClimateSaid, Share, count
from shipwindow.advisory.weather import Progress
from shipwindow.decide.explain import HANDOVER_WORDS, percent
from shipwindow.decide.outlook import DayChance
from shipwindow.settings.fields import HandoverName
from shipwindow.settings.models import ClimateChoice

Answer = Literal["accept", "accept-if", "decline"]
ASKABLE: tuple[HandoverName, ...] = ("met", "depot")
LEAST_DAYS = 7
"""Known days below which nothing is said.  Status: engineering choice; one independent week."""
WORTH_ASKING = 0.1
"""Share of days another hand-over must gain to be asked for.  Status: engineering choice; below, it is noise."""
FREE_DAY = "only if the customer leaves the day to you"
STEP_DAYS = 7  # the year is searched week by week


@dataclass(frozen=True)
class Ruling:
    """An answer with its conditions, or the date to decline until; None for ``until`` means no time of the year.

    No answer means that too few past days are known.
    """

    answer: Answer | None
    says: str
    conditions: tuple[str, ...]
    until: date | None
    climate: ClimateSaid


def rule(climate: Climate, day: date, progress: Progress | None = None) -> Ruling:
    """Answer for a day by the days around it in past years.

    From ``accept-from`` of days within the limit: accept; by fewer commitments, or only with another hand-over: with
    that condition. From ``conditions-from``: only with a free choice of days. Less: decline until the first week of
    the year that reaches ``accept-from``, or at least ``conditions-from``.
    """
    choice = climate.settings.shop.climate
    usual = climate.shipment.handover
    handovers: tuple[HandoverName, ...] = (usual, *(one for one in ASKABLE if one != usual))
    shares = climate.around(day, handovers, progress)
    said = ClimateSaid(
        around=day,
        around_days=choice.around_days,
        stations=climate.stations,
        shares=tuple(shares),
        cautions=(*climate.cautions, *climate.remarks),
    )
    best = _best(shares, usual)
    if best is None or best.days < LEAST_DAYS:
        says = f"does not know: past years hold no {LEAST_DAYS} days around {view.day_words(day)} at all places"
        return Ruling(None, says, (), None, said)
    for handover in handovers:
        here = [share for share in shares if share.handover == handover]
        enough = [share for share in here if (share.share or 0.0) >= choice.accept_from]
        if enough:
            conditions = _only_if(handover, usual) + _only_by(enough, here)
            top = max(enough, key=_rank)
            return Ruling(
                "accept-if" if conditions else "accept",
                "; ".join((f"accept for around {view.day_words(day)}", *conditions, *_counted(top))),
                conditions,
                None,
                said,
            )
    if (best.share or 0.0) >= choice.conditions_from:
        in_ten = max(1, round(10 * (best.share or 0.0)))
        conditions = (
            *_only_if(best.handover, usual),
            f"{FREE_DAY}: about {in_ten} in 10 days can go, by {best.commitment}",
        )
        says = "; ".join((f"accept for around {view.day_words(day)}", *conditions, *_counted(best)))
        return Ruling("accept-if", says, conditions, None, said)
    return _decline(climate, day, handovers, said, best, progress)


def _decline(
    climate: Climate,
    day: date,
    handovers: Sequence[HandoverName],
    said: ClimateSaid,
    best: Share,
    progress: Progress | None,
) -> Ruling:
    until, share = _first_good_day(climate, day, handovers, progress)
    why = "; ".join(_counted(best))
    if until is None:
        return Ruling(
            "decline", f"decline: no time of the year has days enough within the limit; {why}", (), None, said
        )
    says = f"decline until about {view.day_words(until)}, when {percent(share)} of days can go; {why}"
    return Ruling("decline", says, (), until, said)


def _first_good_day(
    climate: Climate, day: date, handovers: Sequence[HandoverName], progress: Progress | None
) -> tuple[date | None, float]:
    """Search the weeks of the year ahead for the first around which enough days can go."""
    choice: ClimateChoice = climate.settings.shop.climate
    reach = choice.around_days
    year = [day + timedelta(days=step) for step in range(365)]
    by_day: dict[tuple[int, int], list[DayChance]] = {}
    for one in climate.days(year, handovers, progress, "the year ahead"):
        by_day.setdefault((one.day.month, one.day.day), []).append(one)
    shares: list[tuple[date, float]] = []
    for start in range(STEP_DAYS, 365, STEP_DAYS):
        middle = day + timedelta(days=start)
        window = [middle + timedelta(days=step) for step in range(-reach, reach + 1)]
        some = [one for at in window for one in by_day.get((at.month, at.day), [])]
        counted = count(some, climate.settings)
        shares.append((middle, max((one.share or 0.0 for one in counted), default=0.0)))
    for least in (choice.accept_from, choice.conditions_from):
        for middle, share in shares:
            if share >= least:
                return middle, share
    return None, 0.0


def _best(shares: Sequence[Share], usual: HandoverName) -> Share | None:
    """Give the best share; another hand-over is asked of the customer only where it clearly gains."""
    known = [share for share in shares if share.share is not None]
    best = max(known, key=_rank, default=None)
    own = max((share for share in known if share.handover == usual), key=_rank, default=None)
    if best is None or own is None:
        return best
    return own if _rank(own) > _rank(best) - WORTH_ASKING else best


def _rank(share: Share) -> float:
    return share.share if share.share is not None else -1.0


def _only_if(handover: HandoverName, usual: HandoverName) -> tuple[str, ...]:
    return () if handover == usual else (f"only if {HANDOVER_WORDS[handover]}",)


def _only_by(enough: Sequence[Share], of: Sequence[Share]) -> tuple[str, ...]:
    if len(enough) == len(of):
        return ()
    return (f"only by {' or '.join(share.commitment for share in enough)}",)


def _counted(share: Share) -> tuple[str, ...]:
    """Say a share with its interval and what it rests on."""
    if share.share is None:
        return ()
    against = f", the others mostly lost to {against_words(share.against)}" if share.against else ""
    weeks = f"{share.weeks} independent weeks" if share.weeks > 1 else "one independent week"
    said = (
        f"by climate {share.good_days} of {share.days} past days had a plan within the limit by {share.commitment} "
        f"({percent(share.share)}; with only {weeks} anything from {percent(share.low)} to {percent(share.high)})"
    )
    return (f"{said}{against}",)


def against_words(against: str) -> str:
    """Say what holds a day."""
    return {"time": "the length of the trip"}.get(against, against)
