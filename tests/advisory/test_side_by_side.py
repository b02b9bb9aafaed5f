"""Processes side by side: the same answers in the same order, whatever becomes of a process."""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from shipwindow.advisory import side_by_side
from shipwindow.advisory.as_json import as_json
from shipwindow.advisory.run import advise
from shipwindow.advisory.side_by_side import Helpers, helpers, usable_cores
from shipwindow.settings import load_shop
from shipwindow.settings.packed import fixtures_folder

COPIED = pytest.mark.skipif(sys.platform != "linux", reason="processes are copied on Linux only")
MANY = side_by_side.WORTH_ORDERS


def whose(number: int) -> tuple[int, int]:
    return number * number, os.getpid()


def lost(number: int) -> int:
    """Die in a helper, at part 3; work in the process that started it."""
    if number == 3 and os.getpid() != PARENT:
        os._exit(1)
    return number


def beyond(number: int) -> int:
    raise ValueError(f"part {number}")


PARENT = os.getpid()


@pytest.fixture
def unready(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let processes start without loading what deciding needs."""
    monkeypatch.setattr(side_by_side, "_make_ready", side_by_side._nothing)


@COPIED
def test_the_advisory_does_not_depend_on_the_cores(tmp_path: Path) -> None:
    home = fixtures_folder()
    shop = load_shop(home / "demo-shop", environ={})
    cargo = ("small-polyp-stony", "soft-coral", "zoanthid")
    places = ("23220", "12207", "85719", "34102", "60614", "97201")  # the last has no forecast for its hub
    rows = [
        f"S-{n},{places[n % 6]},{cargo[n % 3]},bag-6x12:4,box-16x12x10,{90 + n},met,2026-04-22,2026-04-22,next-morning"
        for n in range(MANY)
    ]
    head = "order,destination,cargo,bags,box,value,handover,earliest,latest,commitment"
    (tmp_path / "orders.csv").write_text("\n".join((head, *rows)) + "\n", encoding="utf-8")
    now = datetime(2026, 4, 22, 10, 45, tzinfo=UTC)
    said: list[tuple[str, int, int]] = []
    one, two = (
        advise(
            shop,
            tmp_path / "orders.csv",
            home / "demo-forecasts",
            now,
            progress=lambda *step: said.append(step),
            cores=cores,
        )
        for cores in (1, 2)
    )
    assert as_json(one) == as_json(two)
    assert [order.order for order in two.orders] == [f"S-{n}" for n in range(MANY)]
    half = len(said) // 2
    assert said[:half] == said[half:]


def test_few_orders_or_one_core_need_no_helpers() -> None:
    for orders, cores in ((MANY - 1, 8), (MANY, 1)):
        with helpers(orders, cores) as some:
            assert {pid for _, pid in some.map(whose, range(5))} == {os.getpid()}


@COPIED
@pytest.mark.usefixtures("unready")
def test_answers_come_back_in_order_from_other_processes() -> None:
    with helpers(MANY, 2) as some:
        found = list(some.map(whose, range(20)))
    assert [square for square, _ in found] == [number * number for number in range(20)]
    assert os.getpid() not in {pid for _, pid in found}


@COPIED
@pytest.mark.usefixtures("unready")
def test_a_lost_process_loses_no_part(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.modules[__name__], "PARENT", os.getpid())
    with helpers(MANY, 2) as some:
        assert list(some.map(lost, range(8))) == list(range(8))


@COPIED
@pytest.mark.usefixtures("unready")
def test_what_a_part_raises_is_raised_here() -> None:
    with helpers(MANY, 2) as some, pytest.raises(ValueError, match="part 0"):
        list(some.map(beyond, range(4)))


def test_without_a_pool_parts_are_worked_off_here() -> None:
    assert list(Helpers(None).map(abs, [-1, 2])) == [1, 2]
    assert usable_cores() >= 1
