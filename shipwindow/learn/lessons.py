"""Everything the shop's record can teach, learned in one go: ``learn(...) -> Lessons``, kept as a candidate.

For: ``shipwindow calibrate fit`` and the service. Must not know: terminals, orders. Neighbours: ``fit``, ``late``,
``weather``, ``animals`` (each lesson), ``hand_down`` (the record), ``report`` (the words).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from shipwindow.cargo import Tolerance
from shipwindow.errors import ConfigError
from shipwindow.forecast.grid import Forecast
from shipwindow.learn.animals import boxes_of, enough, fit_animals
from shipwindow.learn.arrivals import PackMass, arrivals, weighings
from shipwindow.learn.fit import Fit, Progress, fit
from shipwindow.learn.hand_down import Lessons, make_calibration, with_weighings
from shipwindow.learn.late import lane_records
from shipwindow.learn.predict import Loader
from shipwindow.learn.report import as_text
from shipwindow.learn.traces import Trace, traces
from shipwindow.learn.unknowns import warmer_of
from shipwindow.learn.weather import errors_of
from shipwindow.settings.calibrated import calibration_text
from shipwindow.settings.calibration_file import Calibration
from shipwindow.settings.models import Settings
from shipwindow.store import atomic

if TYPE_CHECKING:
    from shipwindow.tables import Database


@dataclass(frozen=True)
class Source:
    """What a lesson needs from above: how a load is built, and what a cargo bears."""

    loader: Loader
    tolerance_of: Callable[[str], Tolerance]


def learn(
    database: Database,
    settings: Settings,
    source: Source,
    places: Iterable[tuple[str, Iterable[Forecast]]] = (),
    progress: Progress | None = None,
) -> Lessons:
    """Learn from every trace, arrival, weighing and stored forecast of a shop.

    Parameters
    ----------
    database : Database         The shop's, with the tables of this package.
    settings : Settings         As written, without a calibration.
    source : Source
    places : iterable           Cells and their stored issues, oldest first.
    progress : callable         Called as ``progress(what, done, total)``.
    """
    came, every = arrivals(database), traces(database)
    weighed = {name: one for name, one in weighings(database).items() if name in settings.packs.heat}
    own, spreads = with_weighings(settings, weighed)
    usable = [_with_gain(trace, {each.order: each.pack for each in came}, own) for trace in every if trace.usable]
    found: Fit | None = None
    if usable:
        found = fit(usable, own, source.loader, energy_spread=spreads, progress=progress)
    errors = []
    for place, issues in places:
        error = errors_of(place, issues, settings)
        if error is not None:
            errors.append(error)
    boxes, lacking = boxes_of(came, every, settings)
    rule = enough(boxes, lacking, settings)
    return Lessons(
        fit=found,
        weighings=weighed or None,
        lanes=lane_records(came, settings),
        places=tuple(errors),
        animals=fit_animals(boxes, settings, source.tolerance_of) if rule.ready else None,
        enough=rule,
    )


def _with_gain(trace: Trace, packs: dict[str, PackMass | None], settings: Settings) -> Trace:
    """Let the pack masses of an arrival speak in the fit of its logger."""
    from dataclasses import replace

    pack = packs.get(trace.key)
    gain_kg = pack.gain_kg if pack is not None else None
    if trace.packed.gain_kg is not None or gain_kg is None or gain_kg <= 0.0 or warmer_of(trace, settings) is None:
        return trace
    return replace(trace, packed=replace(trace.packed, gain_kg=gain_kg))


@dataclass(frozen=True)
class Candidate:
    """A calibration that was fitted and may be used."""

    made_at: datetime
    calibration: Calibration
    report: str
    worse: bool


def keep_candidate(database: Database, lessons: Lessons, settings: Settings, on: date, now: datetime) -> Candidate:
    """Keep what was learned as the newest candidate; the same lessons again are kept once."""
    calibration = make_calibration(lessons, settings, on)
    said = as_text(lessons, calibration, settings)
    worse = lessons.fit is not None and lessons.fit.worse
    record = json.dumps({"calibration": calibration.model_dump(mode="json"), "worse": worse}, sort_keys=True)
    digest = hashlib.sha256((calibration_text(calibration) + said).encode()).hexdigest()
    with atomic(database):
        newest = list(database.query("select digest from learn_calibration order by id desc limit 1"))
        if not newest or newest[0]["digest"] != digest:
            database.table("learn_calibration").insert(
                {
                    "made_at": now.astimezone(UTC).isoformat(timespec="seconds"),
                    "digest": digest,
                    "record": record,
                    "report": said,
                }
            )
    return Candidate(now, calibration, said, worse)


def newest_candidate(database: Database) -> Candidate:
    """Give the newest fit; raises ``ConfigError`` when there is none."""
    for row in database.query("select * from learn_calibration order by id desc limit 1"):
        record = json.loads(row["record"])
        return Candidate(
            datetime.fromisoformat(row["made_at"]),
            Calibration.model_validate(record["calibration"]),
            row["report"],
            bool(record["worse"]),
        )
    raise ConfigError("no fit yet", "one made by `shipwindow calibrate fit`", "run it first")
