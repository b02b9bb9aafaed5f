"""Gather what was said and what came of it: order book, arrivals, loggers, claims, stored forecasts -> one ``Report``.

For: ``make_report``, called by the command line and the web desk. ``desk`` and ``learn`` do not know each other: here
their records are laid side by side by order id. Must not know: terminals, pages. Neighbours: ``stories``,
``thermometer``, ``holds``, ``purse`` (a part each), ``says`` (the words), ``learn.verify`` (the statistics).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from shipwindow.advisory.report.holds import held_orders, judge_holds
from shipwindow.advisory.report.purse import count_money
from shipwindow.advisory.report.record import Boxes, Held, Report
from shipwindow.advisory.report.says import CAUTIONS, headline_of, needs_of, notes_of, panels_of
from shipwindow.advisory.report.stories import Story, stories_of
from shipwindow.advisory.report.thermometer import arrival_readings, trace_readings
from shipwindow.advisory.run import check_now, model_of, origin_of
from shipwindow.advisory.weather import Progress
from shipwindow.desk.book import open_book
from shipwindow.desk.claims import Claim, open_claims
from shipwindow.desk.records import Order
from shipwindow.errors import ConfigError
from shipwindow.learn.arrivals import Arrival, arrivals, learn_store, opened
from shipwindow.learn.traces import Trace, traces
from shipwindow.learn.verify import Lateness, Stated, bins_of, judge, lateness, parts_of
from shipwindow.learn.verify_water import LegScore, WaterScore, leg_scores, water_score
from shipwindow.learn.weather import PlaceError, errors_of
from shipwindow.settings import Shop, load_shop

MOST_CELLS = 40  # places whose forecast errors are told, those with the most issues first
INVENTED = "(invented"  # a shop that says so in its name gets it printed on its report


@dataclass(frozen=True)
class Water:
    """Thermometers against what was said."""

    at_arrival: WaterScore | None
    on_trips: WaterScore | None
    on_trips_default: WaterScore | None
    legs: tuple[LegScore, ...]
    left_out: Mapping[str, int]
    not_followed: tuple[str, ...]
    traces: int


def make_report(
    shop: Shop | Path | str, now: datetime, since: date | None = None, progress: Progress | None = None
) -> Report:
    """Report on every box that went, and every day that was held.

    Parameters
    ----------
    shop : Shop, or path            A shop with its folder.
    now : datetime                  Aware; what is not over yet is left out.
    since : date, optional          Leave out boxes that went, and days that were held, before this day.
    progress : callable, optional   Called as ``progress(what, done, total)``.

    Raises
    ------
    ConfigError, StoreError         Settings, book or store cannot be used; or ``since`` is a day to come.
    """
    check_now(now)
    loaded = shop if isinstance(shop, Shop) else load_shop(Path(shop))
    settings = loaded.settings
    made_at = now.astimezone(ZoneInfo(origin_of(settings).zone))
    if since is not None and since > made_at.date():
        raise ConfigError(f"since {since}", f"a day up to {made_at.date()}", "give a day that is past")
    read = _read(loaded, now, since, progress)
    stated = stated_of(read.went, read.came)
    alike = settings.learn.animals.alike
    water = water_of(loaded, read.went, read.came, read.traces)
    name = settings.shop.shop.name
    bare = Report(
        shop=name,
        made_at=made_at,
        until=made_at.date(),
        since=since,
        first=min((*(_day(story) for story in read.went), *(each.day for each in read.held)), default=None),
        scale=settings.shop.show.temperature,
        model=model_of(settings),
        invented=INVENTED in name,
        headline="",
        panels=(),
        needs=(),
        boxes=boxes_of(read.went, read.came),
        judgement=judge(stated, alike),
        bins=bins_of(stated, alike),
        parts=parts_of(stated, alike),
        alike=alike,
        at_arrival=water.at_arrival,
        on_trips=water.on_trips,
        on_trips_default=water.on_trips_default,
        legs=water.legs,
        traces=water.traces,
        held=read.held,
        held_orders=held_orders(read.stories, read.came),
        late=lateness_of(loaded, read.went, read.came),
        money=count_money(loaded, read.went, read.orders, read.came, read.claims, len(read.held)),
        places=tuple(places_of(loaded, progress)),
        notes=(),
        cautions=CAUTIONS,
    )
    return replace(
        bare,
        headline=headline_of(bare),
        panels=panels_of(bare),
        needs=needs_of(bare, settings.shop.limits.within),
        notes=notes_of(bare, water.left_out, water.not_followed, calibrated=settings.calibration is not None),
    )


@dataclass(frozen=True)
class _Read:
    """The shop's records, side by side."""

    stories: tuple[Story, ...]
    went: tuple[Story, ...]
    orders: Mapping[str, Order]
    came: Mapping[str, Arrival]
    traces: Sequence[Trace]
    held: tuple[Held, ...]
    claims: tuple[Claim, ...]


def _read(shop: Shop, now: datetime, since: date | None, progress: Progress | None) -> _Read:
    file = shop.settings.desk.book.file
    with open_book(shop) as book:
        stories = tuple(story for story in stories_of(book.events()) if _counts(story, since))
        orders = {order.order: order for order in book.read(None).orders}
        held = tuple(
            each for each in judge_holds(shop, book, stories, now, progress) if since is None or each.day >= since
        )
    assert shop.folder is not None  # noqa: S101 - a book was opened in it
    with opened(learn_store(shop.folder, file)) as database:
        came = {arrival.order: arrival for arrival in arrivals(database)}
        every = _since(traces(database), since)
    with open_claims(shop) as claim_book:
        claims = claim_book.claims()
    went = tuple(story for story in stories if story.plan is not None and (since is None or _day(story) >= since))
    return _Read(stories, went, orders, came, every, held, claims)


def _day(story: Story) -> date:
    day = story.went_on
    assert day is not None  # noqa: S101 - only asked of boxes that went
    return day


def _counts(story: Story, since: date | None) -> bool:
    """Leave out orders whose last word lies before the first day asked for."""
    if since is None:
        return True
    days = [*(each.day for each in story.advised), *([story.went_on] if story.went_on is not None else [])]
    return bool(days) and max(days) >= since


def _since(every: Sequence[Trace], since: date | None) -> list[Trace]:
    return [
        trace for trace in every if since is None or trace.start_at.astimezone(ZoneInfo(trace.zone)).date() >= since
    ]


def stated_of(went: Iterable[Story], came: Mapping[str, Arrival]) -> list[Stated]:
    """Pair the chances stated of the ways boxes went with what became of their corals, where both are final."""
    found = []
    for story in went:
        arrival = came.get(story.order)
        counted = arrival.lost() if arrival is not None and arrival.final else None
        if not story.scored or counted is None or story.said is None or story.said.chance is None:
            continue
        found.append(Stated(story.order, _day(story), story.said.chance, *counted))
    return found


def boxes_of(went: Sequence[Story], came: Mapping[str, Arrival]) -> Boxes:
    """Count the boxes that can be scored, and the others by what they lack."""
    counts = dict.fromkeys(("scored", "not_seen", "not_final", "unsaid", "otherwise", "against", "against_lost"), 0)
    for story in went:
        arrival = came.get(story.order)
        counted = None if arrival is None else arrival.lost()
        if story.against:
            counts["against"] += 1
            counts["against_lost"] += int(counted is not None and counted[0] > 0)
        if counted is None or arrival is None:
            counts["not_seen"] += 1
        elif story.said is None or story.said.chance is None:
            counts["unsaid"] += 1
        elif story.otherwise:
            counts["otherwise"] += 1
        elif not arrival.final:
            counts["not_final"] += 1
        else:
            counts["scored"] += 1
    return Boxes(sent=len(went), **counts)


def water_of(shop: Shop, went: Sequence[Story], came: Mapping[str, Arrival], every: Sequence[Trace]) -> Water:
    """Score thermometers on arrival against what was said, and loggers against the model, calibrated and not."""
    settings = shop.settings
    here, left_out = arrival_readings(went, came, settings)
    along, not_followed = trace_readings(every, settings)
    default = None
    if settings.calibration is not None and along:
        plain = load_shop(shop.folder, use_calibration=False).settings
        default = water_score(trace_readings(every, plain)[0])
    return Water(
        water_score(here), water_score(along), default, leg_scores(along), left_out, tuple(not_followed), len(along)
    )


def lateness_of(shop: Shop, went: Sequence[Story], came: Mapping[str, Arrival]) -> Lateness | None:
    """Hold late boxes against the chance assumed of each: the one stated that morning, else the shop's ordinary one."""
    late, assumed = [], []
    for story in went:
        arrival = came.get(story.order)
        if arrival is None or arrival.days_late is None:
            continue
        said = None if story.said is None else story.said.late
        late.append(arrival.days_late > 0)
        assumed.append(shop.settings.shop.late.ordinary if said is None else said)
    return lateness(late, assumed)


def places_of(shop: Shop, progress: Progress | None = None) -> Iterable[PlaceError]:
    """Tell how far the stored forecasts of each place were off."""
    from shipwindow.forecast.cache import open_cache
    from shipwindow.forecast.history import issues_of

    assert shop.folder is not None  # noqa: S101 - an opened book has a folder
    path = shop.folder / shop.settings.shop.forecast.cache
    if not path.is_file():
        return
    with closing(open_cache(path)) as cache:
        most = sorted((cell for cell in cache.cells() if cell[2] > 1), key=lambda cell: -cell[2])[:MOST_CELLS]
        for number, (source, cell, _, _) in enumerate(most, 1):
            found = errors_of(f"{source} {cell}", issues_of(cache, cell, source), shop.settings)
            if progress is not None:
                progress("forecasts", number, len(most))
            if found is not None:
                yield found
