"""Do the words follow the truth: seasons drawn from known chances, right and halved.

No outside source: how often a report may cry wolf is the module's own promise (5 %), and how often it must notice
halved chances (80 %) is what it calls enough. The statistics themselves stand in ``reference/test_stated_chances``.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipwindow.errors import DomainError
from shipwindow.learn.verify import Stated, Word, bins_of, judge, lateness, parts_of, to_tell
from shipwindow.learn.verify_water import Readings, leg_scores, water_score

DAY = date(2026, 3, 3)
ALIKE = 0.3
SEASONS = 2000


def season(count: int) -> list[Stated]:
    """Boxes as a shop sends them: chances of 1.5 to 6 %, three to eight corals."""
    rng = np.random.default_rng(11)
    chances = rng.choice((0.015, 0.02, 0.03, 0.04, 0.05, 0.06), count)
    return [Stated(f"A-{n}", DAY, float(chance), 0, int(rng.integers(3, 9))) for n, chance in enumerate(chances)]


def words(boxes: list[Stated], truth: float, alike: float, seed: int) -> Counter[Word]:
    """Draw many seasons in which the true chances are ``truth`` times those stated, and count what is said of them."""
    rng = np.random.default_rng(seed)
    worth = (1 - alike) / alike
    p = np.minimum(truth * np.array([box.chance for box in boxes]), 1.0)
    seen = np.array([box.seen for box in boxes])
    lost = rng.binomial(seen, rng.beta(p * worth, (1 - p) * worth, (SEASONS, p.size))).sum(axis=1)

    @lru_cache
    def said(total: int) -> Word:
        """The judgement knows the total only, so the losses may be laid into any boxes."""
        left, spread = total, []
        for box in boxes:
            spread.append(replace(box, lost=min(left, box.seen)))
            left -= spread[-1].lost
        return judge(spread, ALIKE).word

    return Counter(said(int(total)) for total in lost)


@pytest.mark.parametrize("count", [40, 160])
def test_right_chances_are_not_called_wrong(count: int) -> None:
    found = words(season(count), 1.0, ALIKE, seed=1)
    wrong = (found["too sure"] + found["too careful"]) / SEASONS
    assert wrong <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / SEASONS)  # the promise, and three standard errors of the count
    assert found["as stated"] + found["too few"] == SEASONS - found["too sure"] - found["too careful"]


def test_halved_chances_are_called_too_sure() -> None:
    boxes = season(160)
    assert judge(boxes, ALIKE).power >= 0.8
    found = words(boxes, 2.0, ALIKE, seed=2)
    assert found["too sure"] / SEASONS >= 0.8 - 3 * np.sqrt(0.8 * 0.2 / SEASONS)
    assert found["too careful"] == 0


def test_the_power_stated_is_the_power_had() -> None:
    boxes = season(60)
    found = words(boxes, 2.0, ALIKE, seed=3)
    error = 3 * np.sqrt(0.25 / SEASONS)
    assert found["too sure"] / SEASONS == pytest.approx(judge(boxes, ALIKE).power, abs=error)


def test_few_boxes_say_nothing_and_say_how_many_would() -> None:
    found = judge(season(20), ALIKE)
    assert found.word == "too few"
    assert found.boxes_needed is not None
    assert 100 < found.boxes_needed < 400
    # with so many of these boxes, and the truth twice as high, the alarm comes about four times in five
    enough = (season(20) * (found.boxes_needed // 20 + 1))[: found.boxes_needed]
    assert judge(enough, ALIKE).power == pytest.approx(0.8, abs=0.06)  # counted by a mean box: good to some percent


def test_corals_alike_tell_less_than_corals_apart() -> None:
    boxes = season(80)
    assert judge(boxes, 0.6).power < judge(boxes, 0.3).power < judge(boxes, 0.0).power


def test_nothing_to_judge() -> None:
    found = judge([], ALIKE)
    assert (found.word, found.boxes, found.lost) == ("too few", 0, 0)
    assert bins_of([], ALIKE) == ()
    assert parts_of([], ALIKE) is None
    assert lateness([], []) is None
    assert water_score([]) is None
    assert leg_scores([]) == ()


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.0, 1.0), st.integers(1, 6), st.floats(0.0, 1.0)).map(
            lambda row: Stated("A", DAY, row[0], round(row[2] * row[1]), row[1])
        ),
        min_size=1,
        max_size=12,
    )
)
def test_every_box_stands_in_one_bin(boxes: list[Stated]) -> None:
    found = bins_of(boxes, ALIKE)
    assert len(found) <= 8
    assert sum(each.boxes for each in found) == len(boxes)
    assert sum(each.lost for each in found) == sum(box.lost for box in boxes)
    for each in found:
        assert each.chances[0] <= each.stated <= each.chances[1] + 1e-12
        assert each.low - 1e-12 <= each.share <= each.high + 1e-12
        assert each.right_low <= each.right_high
    parts = parts_of(boxes, ALIKE)
    assert parts is not None
    assert parts.score == pytest.approx(
        parts.reliability - parts.resolution + parts.uncertainty + parts.within, abs=1e-9
    )


def test_records_that_cannot_be_are_refused() -> None:
    with pytest.raises(DomainError, match="3 lost of 2"):
        Stated("A-1", DAY, 0.1, 3, 2)
    with pytest.raises(DomainError, match="a lower and a higher one"):
        to_tell(0.1, 0.05)
    with pytest.raises(DomainError, match="pair them"):
        Readings("A-1", np.zeros(2), np.zeros(2), np.zeros(1), np.ones(2))


def test_the_leg_in_which_an_error_arises() -> None:
    hours = np.arange(0.0, 20.5, 0.5)
    # as said on the bench and at the depot; 2 K colder by the end of the flight; no more after it
    error = np.interp(hours, (0.0, 6.0, 12.0, 20.0), (0.0, 0.0, -2.0, -2.0))
    legs = (("depot", 0.0, 6.0), ("flight", 6.0, 12.0), ("van", 12.0, 20.0))
    said = np.full(hours.size, 24.0)
    box = Readings("A-1", hours, said + error, said, np.ones(hours.size), legs)
    found = {leg.leg: leg for leg in leg_scores([box, box])}
    assert list(found) == ["depot", "flight", "van"]
    assert [leg.arises_K for leg in found.values()] == pytest.approx([0.0, -2.0, 0.0])
    assert found["van"].error_K == pytest.approx(-2.0)
    assert found["flight"].boxes == 2
