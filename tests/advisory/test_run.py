"""One run: an order beyond the model's range costs itself and no other."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from shipwindow.advisory import run
from shipwindow.decide import decide_many
from shipwindow.errors import DomainError
from shipwindow.settings.starter import write_starter

NOW = datetime(2026, 4, 22, 10, 45, tzinfo=UTC)


@pytest.fixture
def morning(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """Advise on orders A to H without any weather, in a model that cannot take some of them."""
    write_starter(tmp_path / "shop", "33125", "27409")
    rows = "".join(f"{name},23220,soft-coral\n" for name in "ABCDEFGH")
    (tmp_path / "orders.csv").write_text("order,destination,cargo\n" + rows, encoding="utf-8")
    decide = decide_many

    def advise(beyond: str) -> Any:
        def guarded(pairs: Any, *rest: Any) -> Any:
            found = [shipment.key for shipment, _ in pairs if shipment.key in beyond]
            if found:
                raise DomainError(f"water of {found[0]}", "less of it", "take some out")
            return decide(pairs, *rest)

        monkeypatch.setattr("shipwindow.advisory.run.decide_many", guarded)
        return run.advise(tmp_path / "shop", tmp_path / "orders.csv", {}, NOW)

    return advise


def test_one_order_beyond_the_model_is_a_problem_and_the_rest_is_served(morning: Callable[..., Any]) -> None:
    found = morning("CG")
    assert [order.order for order in found.orders] == list("ABDEFH")
    assert [(problem.line, problem.order, problem.read) for problem in found.problems] == [
        (4, "C", "water of C"),
        (8, "G", "water of G"),
    ]
    assert found.incomplete


def test_a_model_that_takes_no_order_at_all_is_the_shops_fault(morning: Callable[..., Any]) -> None:
    with pytest.raises(DomainError, match="water of A"):
        morning("ABCDEFGH")
