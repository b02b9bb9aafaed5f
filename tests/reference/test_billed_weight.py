"""Billed weight against worked examples that carriers and their customers publish.

Source of the rows, all read as stored text of public pages; the pages' owners sell parcels and are not named here by
the house's rule on names, so each row says what kind of page it stands on:
[a] freight forwarder's fact sheet on air cargo, as quoted in the project's reference sheet on the trade, section 3.5
[b] air cargo page, same section
[c] express parcel guide of the years of the divisor 194, same section
[d] mail agent's question page: "25X6X43/139 = 46.40 ... charged 47"
[e] supplement shop's explanation: 8 x 8 x 8 in, 2.75 lb, divisor 166: 3.08, so 4 lb by size, 3 lb by weight, billed 4
[f] fulfilment firm's page: 14 x 10 x 10 in, 3 lb, divisor 166: billed 9
[g] parcel carrier's rule: "1.00 to 1.49 will be considered 1, and 1.50 to 1.99 will be considered 2"; "increase any
    fraction to the next whole number"
Status: source. Agreement: all rows; 41 x 51 x 61 cm of [b] is given as 21 kg, unrounded it is 21.26: the page rounds to
the nearest, the rule of [g] bills 22. One page met in the search gives 8 x 8 x 6 = 288 in3; it is 384: left out.
"""

from __future__ import annotations

import pytest

from shipwindow.desk.money import Billing, billable

IN, CM, LB = 0.0254, 0.01, 0.45359237

# (source, sides, unit, actual, billing, unrounded by size or None, billed)
CASES = [
    ("a", (30, 45, 65), CM, 14.0, Billing(6000, "cm", "kg"), 14.625, 15),
    ("b", (16, 20, 24), IN, 5.0, Billing(366, "in", "kg"), 20.98, 21),
    ("c", (12, 12, 14), IN, 1 * LB, Billing(194), 10.39, 11),
    ("d", (25, 6, 43), IN, 1 * LB, Billing(139), 46.40, 47),
    ("e", (8, 8, 8), IN, 2.75 * LB, Billing(166), 3.08, 4),
    ("f", (14, 10, 10), IN, 3 * LB, Billing(166), 8.43, 9),
]
# The same section of the project's sheet, computed there (outer sides of boxes, divisors 139, 166, 5000, 6000).
COMPUTED = [
    ((30, 12, 12), IN, Billing(139), 31.08, 32),
    ((14, 12, 10), IN, Billing(139), 12.09, 13),
    ((14, 12, 10), IN, Billing(166), 10.12, 11),
    ((19, 19, 13), IN, Billing(139), 33.76, 34),
    ((19, 19, 13), IN, Billing(166), 28.27, 29),
    ((8, 8, 8), IN, Billing(139), 3.68, 4),
]


@pytest.mark.parametrize(("source", "sides", "unit", "actual_kg", "billing", "by_size", "billed"), CASES)
def test_published_examples(
    source: str, sides: tuple, unit: float, actual_kg: float, billing: Billing, by_size: float, billed: int
) -> None:
    found = billable([side * unit for side in sides], actual_kg, billing)
    assert found.by_size == pytest.approx(by_size, abs=0.006)  # two decimals in the sources
    assert found.weight == pytest.approx(billed, abs=1e-9)  # whole units
    assert found.by == "size"


def test_example_rounded_to_the_nearest_by_its_page() -> None:
    found = billable([41 * CM, 51 * CM, 61 * CM], 5.0, Billing(6000, "cm", "kg"))
    assert round(found.by_size) == 21
    assert found.weight == pytest.approx(22)


@pytest.mark.parametrize(("sides", "unit", "billing", "by_size", "billed"), COMPUTED)
def test_rows_of_the_reference_sheet(sides: tuple, unit: float, billing: Billing, by_size: float, billed: int) -> None:
    found = billable([side * unit for side in sides], 0.5, billing)
    assert found.by_size == pytest.approx(by_size, abs=0.006)  # two decimals there
    assert found.weight == pytest.approx(billed, abs=1e-9)  # whole units


@pytest.mark.parametrize(
    ("side_in", "rule", "counts"),
    [
        (1.49, "nearest", 1),
        (1.5, "nearest", 2),
        (1.99, "nearest", 2),
        (1.01, "up", 2),
        (14.0, "up", 14),
        (1.49, "exact", 1.49),
    ],
)
def test_sides_are_rounded_as_the_rule_says(side_in: float, rule: str, counts: float) -> None:
    found = billable([side_in * IN, 10 * IN, 10 * IN], 0.1, Billing(100, sides=rule))  # type: ignore[arg-type]
    assert found.sides[0] == pytest.approx(counts, abs=1e-6)  # the unit conversion's hair


def test_weight_decides_a_small_heavy_box_and_size_counts_only_from_a_limit() -> None:
    small = billable([8 * IN] * 3, 4.2 * LB, Billing(139))
    assert (small.weight, small.by) == (5.0, "weight")
    # A postal rule: size counts only above 1 ft3 (1728 in3). Source: the sheet's section 3.5.
    postal = Billing(166, size_from_m3=1728 * IN**3)
    assert billable([14 * IN, 12 * IN, 10 * IN], 6 * LB, postal).weight == pytest.approx(6)
    assert billable([14 * IN, 12 * IN, 11 * IN], 6 * LB, postal).weight == pytest.approx(12)
