"""Tolerances that cannot be meant are refused."""

from typing import Any

import pytest

from shipwindow.cargo import Tolerance
from shipwindow.errors import DomainError


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"heat_spread": 0.0}, "heat_spread"),
        ({"cold_spread": -1.0}, "cold_spread"),
        ({"heat_per_decade_K": float("nan")}, "heat_per_decade_K"),
        ({"bag_scale_h": 0.0}, "bag_scale_h"),
        ({"base_chance": 1.0}, "base_chance"),
        ({"cold_from_C": 30.0}, "harmless band"),
    ],
)
def test_a_number_out_of_range_is_named(wrong: dict[str, Any], says: str) -> None:
    fine = {"heat_1h_C": 36.0, "heat_spread": 0.5, "cold_1h_C": 6.0, "cold_spread": 0.45}
    with pytest.raises(DomainError, match=says):
        Tolerance(**(fine | wrong))
