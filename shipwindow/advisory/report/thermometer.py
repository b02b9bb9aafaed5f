"""Water read beside water said: on arrival, and along the loggers of trips.

For: records that ``learn.verify_water`` scores. Must not know: scores, pages. Neighbours: ``stories`` (what was said),
``learn.band`` (what the model says of a traced trip).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from shipwindow.advisory.report.stories import Story
from shipwindow.desk.boxfit import load_box
from shipwindow.errors import ConfigError
from shipwindow.learn.arrivals import Arrival
from shipwindow.learn.band import NINE_IN_TEN, expected
from shipwindow.learn.traces import Trace
from shipwindow.learn.verify_water import Readings
from shipwindow.settings.models import Settings


def arrival_readings(
    stories: Sequence[Story], arrivals: Mapping[str, Arrival], settings: Settings
) -> tuple[list[Readings], dict[str, int]]:
    """Pair thermometers on arrival with the water said for that hour; also count those left out, by reason."""
    worth = settings.learn.readings
    found, left_out = [], dict.fromkeys(("late", "another way", "another hour", "nothing said"), 0)
    for story in stories:
        arrival = arrivals.get(story.order)
        if arrival is None or arrival.water_C is None or story.plan is None:
            continue
        if (arrival.days_late or 0) > 0:
            left_out["late"] += 1
        elif story.otherwise and story.said is not None:
            left_out["another way"] += 1
        elif story.said is None or story.said.water is None or arrival.opened_at is None:
            left_out["nothing said"] += 1
        else:
            said = story.said.water.at(arrival.opened_at)
            if said is None:
                left_out["another hour"] += 1
                continue
            middle, low, high = said
            sd_K = math.hypot((high - low) / (2.0 * NINE_IN_TEN), worth.noise_K, worth.bias_K)
            found.append(
                Readings(story.order, np.zeros(1), np.array([arrival.water_C]), np.array([middle]), np.array([sd_K]))
            )
    return found, {reason: count for reason, count in left_out.items() if count}


def trace_readings(traces: Sequence[Trace], settings: Settings) -> tuple[list[Readings], list[str]]:
    """Pair loggers of trips with what the model says under these settings; also name those it cannot follow."""
    found, not_followed = [], []
    for trace in traces:
        if trace.kind != "trip" or not trace.usable:
            continue
        try:
            band = expected(trace, settings, load_box)
        except ConfigError:
            not_followed.append(trace.key)
            continue
        hours, read = trace.thinned(settings.learn.readings.every_h)
        if not hours.size:
            continue
        middle, low, high = band.at(hours)
        sd_K = np.hypot((high - low) / (2.0 * NINE_IN_TEN), settings.learn.readings.noise_K)
        found.append(Readings(trace.key, hours, read, middle, sd_K, trace.legs))
    return found, not_followed
