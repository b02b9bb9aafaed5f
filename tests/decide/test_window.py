"""What will be decided later: closed forms, and that knowing more opens or closes a day more surely."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from shipwindow.decide import decide
from shipwindow.decide.window import Outlook, seen_then
from shipwindow.settings.models import Settings

Make = Callable[..., Any]


@pytest.mark.parametrize("caught_up", [0.0, 0.5, 1.0])
def test_seen_then_is_exact_on_a_probit_line(caught_up: float) -> None:
    """Z = a + b w exactly, w normal: P(opens) = Phi of where the line, softened by what stays unknown, meets the limit.

    E Phi(a + b X) = Phi((a + b mu) / sqrt(1 + b2 s2)), a standard identity. With w at the quantiles of its law the
    sample's own moments are the law's within 0.5 %, so 1 % is asked.
    """
    a, b, sd_K, limit = -2.0, -0.6, 2.0, 0.05
    w = sd_K * ndtri((np.arange(4000) + 0.5) / 4000)
    outlook = Outlook(seen_then(ndtr(a + b * w), w, caught_up), limit)
    left = b * b * sd_K**2 * (1 - caught_up)
    meets = a - ndtri(limit) * np.sqrt(1 + left)
    spread = abs(b) * sd_K * np.sqrt(caught_up)
    expected = float(ndtr(-meets / spread)) if spread > 0 else float(meets < 0)
    assert outlook.opens == pytest.approx(expected, abs=0.01)
    # whatever will be known, the mean of what will be seen is the chance as it is seen today
    assert outlook.then.mean() == pytest.approx(float(ndtr(a + b * w).mean()), abs=0.003)


def test_other_doubts_stay_doubts(settings: Settings) -> None:
    """Scatter that has nothing to do with the weather is not resolved by waiting for it."""
    rng = np.random.default_rng(3)
    w = rng.standard_normal(2000)
    chances = ndtr(-1.2 + 0.8 * rng.standard_normal(2000))
    then = seen_then(chances, w, 1.0)
    assert then.std() < 0.02
    assert then.mean() == pytest.approx(chances.mean(), abs=0.01)
    assert settings.shop.limits.within < then.mean()


def test_a_window_says_each_day_and_whether_any_opens(
    settings: Settings, ship: Make, weather: Make, now: datetime, tuesday: date
) -> None:
    calendar = settings.shop.calendar.model_copy(update={"window_days": 7})
    week = settings.model_copy(update={"shop": settings.shop.model_copy(update={"calendar": calendar})})
    opens = []
    for air_C in (20.0, 3.0, -25.0):
        found = decide(ship(), weather(hub=air_C, destination=air_C), week, now, tuesday).next_window
        assert found.days[0].ship_day == tuesday
        assert found.days[0].opens is None
        later = found.days[1:]
        assert len(later) >= 3
        assert found.opens is not None
        assert found.opens >= max(day.opens or 0.0 for day in later) - 1e-12, "any day is at least as likely as one"
        assert found.opens <= sum(day.opens or 0.0 for day in later) + 1e-12
        opens.append(found.opens)
    assert opens[0] > 0.9
    assert opens[2] < 0.05
    assert opens[0] >= opens[1] >= opens[2]


def test_nothing_is_said_of_days_that_cannot_be_judged(
    settings: Settings, ship: Make, weather: Make, now: datetime, tuesday: date
) -> None:
    past = decide(ship(latest=tuesday), weather(), settings, now, tuesday).next_window
    assert past.opens is None
    assert all(day.ship_day <= tuesday + timedelta(days=0) for day in past.days)
