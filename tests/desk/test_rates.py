"""The seller's own table of prices: read with its faults, looked up by commitment, destination and billed weight.

All prices are made up for these tests.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from shipwindow.desk.money import Billable
from shipwindow.desk.orders import read_orders
from shipwindow.desk.rates import Rates, read_rates
from shipwindow.desk.shipments import to_shipment
from shipwindow.places import find_place
from shipwindow.settings.desk_money import Zone
from shipwindow.settings.fields import CommitmentName
from shipwindow.settings.models import Settings
from shipwindow.trip import Shipment

TABLE = """commitment,to,up-to,price,per-weight
next-morning,,10,40,
next-morning,,20,55.50,
next-morning,85 860-862,20,71,
next-morning,8571,20,80,
next-noon,,,30,1.25
next-evening,far,20,66,
second-day,main,20,19,
"""


def bill(weight: float) -> Billable:
    return Billable(weight, "lb", weight, 0.0, (10.0, 10.0, 10.0), "in")


@pytest.fixture
def priced(tmp_path: Path, settings: Settings) -> Callable[..., Rates]:
    def run(text: str | bytes, **money: object) -> Rates:
        path = tmp_path / "rates.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        desk = settings.desk
        zone = {"far": Zone(postcodes=("59", "990-994"))}
        own = desk.model_copy(update={"money": desk.money.model_copy(update={"zone": zone} | money)})
        return read_rates(tmp_path, settings.model_copy(update={"desk": own}))

    return run


# commitment, destination, billed lb, cents or None, what the reason names
LOOKED_UP = [
    ("next-morning", "60614", 4.0, 4000, "line 2"),
    ("next-morning", "60614", 10.0, 4000, "line 2"),
    ("next-morning", "60614", 11.0, 5550, "line 3"),
    ("next-morning", "60614", 21.0, None, "ends at 20 lb, the box bills as 21"),
    ("next-morning", "85001", 4.0, 7100, "line 4"),
    ("next-morning", "86001", 4.0, 7100, "line 4"),
    ("next-morning", "86301", 4.0, 4000, "line 2"),
    ("next-morning", "85719", 4.0, 8000, "line 5"),
    ("next-noon", "60614", 13.0, 4625, "line 6"),
    ("next-evening", "59417", 13.0, 6600, "line 7"),
    ("next-evening", "99201", 13.0, 6600, "line 7"),
    ("next-evening", "60614", 13.0, None, "has no row for next-evening to this destination"),
    ("second-day", "60614", 13.0, 1900, "line 8"),
]


@pytest.mark.parametrize(("commitment", "place", "weight", "cents", "says"), LOOKED_UP)
def test_looked_up(
    priced: Callable[..., Rates], commitment: CommitmentName, place: str, weight: float, cents: int | None, says: str
) -> None:
    rates = priced(TABLE)
    assert rates.problems == ()
    found = rates.price(commitment, find_place(place), "main", bill(weight))
    assert found.cents == cents
    assert says in found.says


def test_another_hub_and_a_place_without_postcode(priced: Callable[..., Rates]) -> None:
    rates = priced(TABLE)
    assert rates.price("second-day", find_place("60614"), "other", bill(5)).cents is None
    bare = find_place("35.20,-111.65 America/Phoenix")
    assert rates.price("next-morning", bare, "main", bill(5)).cents == 4000


def test_surcharges_are_on_every_price(priced: Callable[..., Rates]) -> None:
    rates = priced(TABLE, surcharge=0.1, per_parcel_cents=300)
    assert rates.price("next-morning", find_place("60614"), "main", bill(5)).cents == 4700


# row, column, part of what was read, part of what to do
FAULTS = [
    ("next-dawn,,10,40,", "commitment", "'next-dawn'", "did you mean next-noon?"),
    ("next-noon,,10,,", "price", "an empty cell", "fill it in"),
    ("next-noon,,10,forty,", "price", "'forty'", "write a plain number"),
    ("next-noon,,10,-4,", "price", "'-4'", "write a plain number"),
    ("next-noon,,6 kg,40,", "up-to", "'6 kg'", "in lb"),
    ("next-noon,,heavy,40,", "up-to", "'heavy'", "a number above zero"),
    ("next-noon,,0,40,", "up-to", "'0'", "a number above zero"),
    ("next-noon,main street,10,40,", "to", "'main street'", "did you mean main?"),
    ("next-noon,899-850,10,40,", "to", "'899-850'", "as many digits"),
    ("next-noon,,10,40,x", "per-weight", "'x'", "plain number"),
    ("next-noon,,10,40,,9,9", "row", "cells more", "quotes"),
    ("next-morning,any,10 lb,41,", "row", "again", "see line 2"),
]


@pytest.mark.parametrize(("row", "column", "read", "do"), FAULTS)
def test_a_bad_row_is_told_with_its_line_and_the_good_ones_stand(
    priced: Callable[..., Rates], row: str, column: str, read: str, do: str
) -> None:
    rates = priced(TABLE + row + "\n")
    assert [(problem.line, problem.column) for problem in rates.problems] == [(9, column)]
    assert read in rates.problems[0].read
    assert do in rates.problems[0].do
    assert len(rates.rows) == 7
    assert rates.price("next-morning", find_place("60614"), "main", bill(4)).cents == 4000


def test_semicolons_and_decimal_commas(priced: Callable[..., Rates]) -> None:
    rates = priced("commitment;up-to;price\nnext-noon;10,5;41,20\n")
    assert rates.problems == ()
    assert (rates.rows[0].up_to, rates.rows[0].price_cents) == (10.5, 4120)


def test_heavier_and_cheaper_is_noted(priced: Callable[..., Rates]) -> None:
    rates = priced("commitment,up-to,price\nnext-noon,10,40\nnext-noon,20,4\n")
    assert rates.notes == ("line 3 of the table of prices: heavier than line 2 and cheaper; check both",)


def test_a_table_without_rows_or_with_a_misspelt_column(priced: Callable[..., Rates]) -> None:
    assert "one row a price" in priced("commitment,price\n").problems[0].expected
    rates = priced("commitment,price,upto\nnext-noon,40,10\n")
    assert rates.problems[0].column == "upto"


@pytest.mark.parametrize(
    "text", [b"", b"\xff\xfe", b"foo,bar\n1,2\n", b"PK\x03\x04 a workbook", b'commitment,price\n"x,1\n']
)
def test_a_file_that_is_no_table_costs_the_prices_and_nothing_else(priced: Callable[..., Rates], text: bytes) -> None:
    rates = priced(text)
    assert (rates.found, rates.rows, len(rates.problems)) == (True, (), 1)
    assert rates.problems[0].column == "file"
    assert rates.price("next-morning", find_place("60614"), "main", bill(5)).cents is None


def test_no_table_no_price_and_flat_prices_of_the_lanes(settings: Settings, tmp_path: Path) -> None:
    rates = read_rates(tmp_path, settings)
    assert not rates.found
    found = rates.price("next-morning", find_place("60614"), "main", bill(5))
    assert (found.cents, found.says) == (
        None,
        "no price: write rates.csv, or price under [commitment.next-morning] of lanes.toml",
    )
    flat = settings.lanes.commitment["next-morning"].model_copy(update={"price_cents": 6200})
    lanes = settings.lanes.model_copy(update={"commitment": {**settings.lanes.commitment, "next-morning": flat}})
    own = settings.model_copy(update={"lanes": lanes})
    assert read_rates(None, own).price("next-morning", find_place("60614"), "main", bill(5)).cents == 6200


def test_shipments_carry_prices_materials_and_the_loss(priced: Callable[..., Rates], tmp_path: Path) -> None:
    rates = priced(TABLE)
    path = tmp_path / "orders.csv"
    path.write_text("order,destination,cargo,bags,value\nA-1,60614,soft-coral,bag-4x8:12,300\n", "utf-8")
    (order,) = read_orders(path, rates.settings).orders
    here = find_place("33602")
    shipment = to_shipment(order, rates.settings, here, here, date(2026, 4, 22), rates)
    assert isinstance(shipment, Shipment)
    assert [choice.name for choice in shipment.boxes] == ["box-12x10x8", "box-12x10x8-thick"]
    # 13 lb and 16 lb billed: the same rows of the table, but next-noon grows with each pound
    assert shipment.prices == {
        ("next-morning", "box-12x10x8"): 5550,
        ("next-noon", "box-12x10x8"): 4625,
        ("second-day", "box-12x10x8"): 1900,
        ("next-morning", "box-12x10x8-thick"): 5550,
        ("next-noon", "box-12x10x8-thick"): 5000,
        ("second-day", "box-12x10x8-thick"): 1900,
    }
    assert shipment.materials_cents == {"box-12x10x8": 380, "box-12x10x8-thick": 380}
    assert shipment.hold_day_cents == 600
    assert shipment.loss_cents == 16000  # credit: 0.45 x 300 + 10 + 15
    bare = to_shipment(order, rates.settings, here, here, date(2026, 4, 22))
    assert isinstance(bare, Shipment)
    assert bare.prices == {}
