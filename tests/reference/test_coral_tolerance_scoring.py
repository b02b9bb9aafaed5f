"""Scoring of twelve histories and five trips, each beside what was seen in the literature.

Anchors (abstracts and excerpts read, no full paper opened): Petersen et al. 2004, Zoo Biol. 23:165; Jokiel & Coles
1977, Mar. Biol. 43:201; Muscatine et al. 1991, Mar. Ecol. Prog. Ser. 77:233; Shinn 1966 and Hudson 1981 as summarised
on a mailing list; Coles et al. 2018, PeerJ; Evensen et al. 2021; Carnegie Papers Dept. Marine Biol. 11 (1 h list of
octocorals); Todinanahary et al. 2021, WIO J. Mar. Sci. 20(2):81.

What kind of check: rows 4-6 and 9-10 were used, loosely, to choose the constants: REGRESSION. Rows 1, 2, 3, 7, 8, 11
are a weak validation of the CLASS only: they say what animals did at a temperature in the sea or in a bag, never
survival against bag temperature, which nobody has published. The dose figures were computed apart from this code with a
step of 0.05 h; ours is exact, hence 2e-3 on doses.
Agreement found: all classes; all doses within 2e-3 relative or the printed digit. Known misses, kept as tests below:
Northern Red Sea Stylophora unharmed for 7-11 days at 32 C (Evensen 2021) and winter-hardened Gulf corals unharmed
after 5 days at or below 14 C (Coles & Fadlallah 1991, Coral Reefs 9:231) are false alarms of this law.
"""

from typing import Literal

import numpy as np
import pytest

from shipwindow.cargo import Chances, Doses, Tolerance, chance_of_loss, doses, loss_band

STONY = Tolerance(36.0, 0.50, 6.0, 0.45)
LARGE = Tolerance(36.5, 0.55, 6.0, 0.50)
SOFT = Tolerance(36.0, 0.60, 5.0, 0.60)
Class = Literal["WITHIN", "NEAR", "OVER"]
Stretches = list[tuple[float, float, float]]


def follow(stretches: Stretches, law: Tolerance) -> tuple[Doses, Chances]:
    """Dose a history of (from C, to C, hours); jumps between stretches are allowed."""
    found = [doses([first, last], hours * 3600.0, None, law) for first, last, hours in stretches]
    whole = Doses(
        heat=np.asarray(sum(one.heat for one in found)),
        cold=np.asarray(sum(one.cold for one in found)),
        bag_h=np.asarray(sum(one.bag_h for one in found)),
        floor_margin_K=np.asarray(min(one.floor_margin_K for one in found)),
    )
    return whole, chance_of_loss(whole, law)


def class_of(chance: float) -> Class:
    return "WITHIN" if chance < 0.05 else "NEAR" if chance < 0.15 else "OVER"


# number, history, law, heat dose, cold dose, bag hours, chance, class
ROWS: list[tuple[str, Stretches, Tolerance, float, float, float, float, Class]] = [
    ("1 Petersen 2004, 100 of 100 alive", [(25, 25, 35)], STONY, 0, 0, 35.0, 0.034, "WITHIN"),
    ("1 the same, massive corals", [(25, 25, 35)], LARGE, 0, 0, 35.0, 0.034, "WITHIN"),
    ("2 Hawaiian winter ambient", [(21, 21, 24)], STONY, 0, 0, 18.2, 0.013, "WITHIN"),
    ("3 18 C: died after 1-2 weeks", [(18, 18, 24)], STONY, 0, 0.096, 14.8, 0.023, "WITHIN"),
    ("4 Muscatine 1991: bleaching", [(12, 12, 4), (22, 22, 20)], STONY, 0, 0.252, 17.9, 0.104, "NEAR"),
    ("5 Shinn 1966: below 14 C killed", [(14, 14, 24)], STONY, 0, 0.603, 11.2, 0.320, "OVER"),
    ("6 Hudson 1981: 9.7 C killed", [(10, 10, 12), (22, 22, 12)], STONY, 0, 1.902, 14.0, 0.736, "OVER"),
    ("7 Coles 2018: first death 3-17 d", [(31, 31, 24)], STONY, 0.128, 0, 36.4, 0.073, "NEAR"),
    ("8 Jokiel & Coles: within days", [(32, 32, 72)], STONY, 1.094, 0, 117.0, 0.82, "OVER"),
    (
        "9 Evensen 2021: necrosis at 34.5 C",
        [(26, 34.5, 3), (34.5, 34.5, 3), (34.5, 26, 1), (26, 26, 17)],
        STONY,
        0.717,
        0,
        29.9,
        0.402,
        "OVER",
    ),
    ("10 octocorals, 1 h list", [(36, 36, 1), (26, 26, 23)], SOFT, 1.000, 0, 26.8, 0.51, "OVER"),
    ("11 Todinanahary 2021: deaths", [(25, 25, 72)], STONY, 0, 0, 72.0, 0.202, "OVER"),
    ("11 the same at 48 h", [(25, 25, 48)], STONY, 0, 0, 48.0, 0.071, "NEAR"),
    ("12 warm half of the pair", [(32.5, 32.5, 24)], STONY, 0.616, 0, 40.0, 0.37, "OVER"),
    ("12 cold half of the pair", [(18.5, 18.5, 24)], STONY, 0, 0.076, 15.0, 0.018, "WITHIN"),
]
TO_THE_HOUR = {"8 Jokiel & Coles: within days", "12 warm half of the pair", "12 cold half of the pair"}
# trips of our own making, scored apart from this code; only the side's dose and the chance were written down
TRIPS: list[tuple[str, Stretches, str, float, float, Class]] = [
    ("summer", [(25.5, 25.5, 8), (25.5, 31.5, 6), (31.5, 31.5, 4), (28, 28, 6)], "heat", 0.044, 0.028, "WITHIN"),
    ("winter", [(25, 17, 14), (17, 17, 6)], "cold", 0.056, 0.014, "WITHIN"),
    ("winter, delayed", [(25, 13, 20), (13, 13, 16)], "cold", 0.775, 0.41, "OVER"),
    ("porch", [(26, 26, 20), (26, 36.5, 3), (36.5, 36.5, 1)], "heat", 2.15, 0.75, "OVER"),
]


@pytest.mark.parametrize(("name", "stretches", "law", "heat", "cold", "bag_h", "chance", "verdict"), ROWS)
def test_history(
    name: str,
    stretches: Stretches,
    law: Tolerance,
    heat: float,
    cold: float,
    bag_h: float,
    chance: float,
    verdict: Class,
) -> None:
    found, chances = follow(stretches, law)
    assert class_of(float(chances.total)) == verdict, name
    # 2e-3: their step of 0.05 h on ramps and three printed digits
    assert found.heat == pytest.approx(heat, rel=2e-3, abs=6e-4)
    assert found.cold == pytest.approx(cold, rel=2e-3, abs=6e-4)
    assert found.bag_h == pytest.approx(bag_h, abs=0.5 if name in TO_THE_HOUR else 0.051)  # printed to 0.1 h
    assert chances.total == pytest.approx(chance, abs=0.006)  # printed to two or three digits


@pytest.mark.parametrize(("name", "stretches", "side", "dose", "chance", "verdict"), TRIPS)
def test_trip(name: str, stretches: Stretches, side: str, dose: float, chance: float, verdict: Class) -> None:
    found, chances = follow(stretches, STONY)
    assert class_of(float(chances.total)) == verdict, name
    assert getattr(found, side) == pytest.approx(dose, rel=0.01, abs=6e-4)  # two or three digits, their step 0.05 h
    assert chances.total == pytest.approx(chance, abs=0.006)


def test_band_of_a_warm_day() -> None:
    """32 C for 24 h: 0.23, band 0.07 to 0.54.

    The source shifts the water (bag time moves too), we shift the animal: 0.079 instead of 0.073 at the low end,
    hence 0.01.
    """
    found, chances = follow([(32, 32, 24)], STONY)
    low, high = loss_band(found, STONY)
    assert chances.total == pytest.approx(0.23, abs=0.005)
    assert low == pytest.approx(0.07, abs=0.01)
    assert high == pytest.approx(0.54, abs=0.01)


def test_bag_time_alone() -> None:
    """Petersen 2004: 0 of 100 at 35 h (rule of three: below 3 %). Todinanahary 2021: partial deaths after 48 h."""
    expected = {35: 0.025, 48: 0.06, 60: 0.12, 72: 0.19}  # printed to two digits
    for hours, chance in expected.items():
        _, chances = follow([(25, 25, hours)], STONY)
        assert chances.time == pytest.approx(chance, abs=0.006)
    assert follow([(25, 25, 35)], STONY)[1].time < 0.03


def test_known_false_alarms_stay_false_alarms() -> None:
    """Bad news kept in sight: two populations that lived through what this law calls a loss."""
    for days, low, high in [(7, 2.5, 2.7), (11, 3.9, 4.1)]:
        red_sea, chances = follow([(32, 32, 24 * days)], STONY)
        assert low < red_sea.heat < high
        assert class_of(float(chances.total)) == "OVER"
    gulf, chances = follow([(14, 14, 120)], STONY)
    assert gulf.cold == pytest.approx(3.0, abs=0.05)
    assert class_of(float(chances.total)) == "OVER"
