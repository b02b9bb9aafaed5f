"""Orders files as spreadsheets and people write them: good rows served, every fault told."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from shipwindow.desk import Order, OrderBook, Problem, hub_of, read_orders, to_shipment
from shipwindow.desk.orders import canonical, check_order
from shipwindow.desk.records import Written
from shipwindow.errors import ConfigError
from shipwindow.places import find_place
from shipwindow.settings.models import Lane, Settings
from shipwindow.trip import Shipment

Read = Callable[..., OrderBook]
HEAD = "order,destination,cargo,bags,box,value,handover,earliest,latest,commitment\n"
GOOD = "A-1,80521,soft-coral,bag-4x8:3 bag-6x12:1,box-12x10x8,180.50,met,2026-03-03,2026-03-06,next-noon\n"


def only_problem(book: OrderBook) -> Problem:
    assert len(book.problems) == 1
    return book.problems[0]


def test_a_full_row(read: Read) -> None:
    book = read(HEAD + GOOD)
    assert book.problems == ()
    order = book.orders[0]
    assert (order.order, order.cargo, order.box, order.value_cents) == ("A-1", "soft-coral", "box-12x10x8", 18050)
    assert order.bags == (("bag-4x8", 3), ("bag-6x12", 1))
    assert (order.handover, order.commitment) == ("met", "next-noon")
    assert (order.earliest, order.latest) == (date(2026, 3, 3), date(2026, 3, 6))
    assert order.destination.zone == "America/Denver"
    assert order.line == 2


def test_empty_cells_take_the_shops_defaults_and_say_so(read: Read, settings: Settings) -> None:
    book = read("order,destination,cargo\nA-1,80521,\n")
    order = book.orders[0]
    usual = settings.shop.defaults
    assert (order.cargo, order.handover, order.value_cents) == (usual.cargo, usual.handover, usual.value_cents)
    assert (order.box, order.earliest, order.latest, order.commitment) == (None, None, None, None)
    assert order.notes == (f"no cargo named: taken as {usual.cargo}", f"no bags named: taken as {usual.bags}")


BAD_CELLS = [
    ("cargo", "zoas", "'zoas'", "did you mean zoanthid?"),
    ("box", "box-12x10x9", "'box-12x10x9'", "did you mean box-12x10x8?"),
    ("bags", "bag-4x9:2", "'bag-4x9'", "did you mean bag-4x8?"),
    ("bags", "bag-4x8", "'bag-4x8'", "write bag-4x8:COUNT"),
    ("bags", "bag-4x8:0", "'bag-4x8:0'", "correct the count, or leave the cell empty for the usual bags"),
    ("bags", "bag-4x8:-1", "'bag-4x8:-1'", "write bag-4x8:COUNT"),
    ("bags", "bag-4x8:9999", "'bag-4x8:9999'", "split the order"),
    ("value", "-5", "'-5'", "write a plain number without a unit"),
    ("value", "lots", "'lots'", "write a plain number without a unit"),
    ("value", "1e400", "'1e400'", "write a plain number without a unit"),
    ("handover", "porch", "'porch'", "did you mean porch-sun?"),
    ("handover", "doorstep", "'doorstep'", "use a known handover"),
    ("handover", "indoor", "'indoor'", "did you mean indoors?"),
    ("commitment", "next-mornin", "'next-mornin'", "did you mean next-morning?"),
    ("earliest", "3/4/2026", "'3/4/2026'", "write year, month and day in that order"),
    ("latest", "2026-02-30", "'2026-02-30'", "write year, month and day in that order"),
    ("destination", "00000", 'ZIP "00000"', "check the number"),
    ("destination", "2134", '"2134"', 'did you mean "02134"?'),
    ("destination", "", "an empty cell", "fill it in"),
    ("order", "", "an empty cell", "fill it in"),
]


@pytest.mark.parametrize(("column", "cell", "read_as", "do"), BAD_CELLS)
def test_a_bad_cell_is_told_and_the_rest_is_served(read: Read, column: str, cell: str, read_as: str, do: str) -> None:
    row = dict(zip(HEAD.strip().split(","), GOOD.strip().split(","), strict=True)) | {"order": "B-2", column: cell}
    quoted = ",".join(f'"{value}"' for value in row.values())
    book = read(HEAD + GOOD + quoted + "\n" + GOOD.replace("A-1", "A-3"))
    assert [order.order for order in book.orders] == ["A-1", "A-3"]
    problem = only_problem(book)
    assert (problem.line, problem.column) == (3, column)
    assert problem.order == ("" if column == "order" else "B-2")
    assert read_as in problem.read
    assert do in problem.do
    assert problem.expected


def test_every_fault_of_a_row_at_once(read: Read) -> None:
    book = read(HEAD + "A-1,99999,zoas,bag-4x8:0,nobox,-4,porch,soon,later,never\n")
    assert book.orders == ()
    assert [problem.column for problem in book.problems] == [
        "destination",
        "cargo",
        "bags",
        "box",
        "value",
        "handover",
        "commitment",
        "earliest",
        "latest",
    ]
    assert all(str(problem).startswith("line 2 · ") for problem in book.problems)


def test_latest_before_earliest(read: Read) -> None:
    problem = only_problem(read("order,destination,cargo,earliest,latest\nA-1,80521,,2026-03-06,2026-03-05\n"))
    assert (problem.column, problem.read) == ("latest", "2026-03-05 before earliest 2026-03-06")


def test_a_past_latest_day(read: Read) -> None:
    text = "order,destination,cargo,latest\nA-1,80521,,2026-03-05\n"
    problem = only_problem(read(text, on=date(2026, 3, 6)))
    assert problem.read == "2026-03-05, already past on 2026-03-06"
    assert len(read(text, on=date(2026, 3, 5)).orders) == 1


def test_a_past_earliest_day_is_an_order_that_waits(read: Read) -> None:
    book = read("order,destination,cargo,earliest\nA-1,80521,,2020-01-01\n", on=date(2026, 3, 6))
    assert (len(book.orders), book.problems) == (1, ())


def test_a_number_given_twice_serves_the_first_row(read: Read) -> None:
    book = read(HEAD + GOOD + GOOD)
    assert [order.line for order in book.orders] == [2]
    problem = only_problem(book)
    assert problem.line == 3
    assert "line 2" in problem.expected


@pytest.mark.parametrize("column", ["destination", "cargo", "bags", "box", "value", "handover", "latest", "commitment"])
def test_what_a_cell_holds_is_told_tamely(read: Read, column: str) -> None:
    names = ["order", "destination", "cargo", *([column] if column not in {"destination", "cargo"} else [])]
    cells = {"order": "A-1", "destination": "80521", "cargo": "soft-coral", column: "\x1b[2J" + "x" * 10_000}
    book = read(",".join(names) + "\n" + ",".join(cells[name] for name in names) + "\n")
    problem = only_problem(book)
    assert (problem.column, len(problem.read) < 200, problem.read.isprintable()) == (column, True, True)


def test_a_bad_row_does_not_stand_in_the_way_of_its_correction(read: Read) -> None:
    book = read(HEAD + GOOD.replace("80521", "99999") + GOOD)
    assert [order.line for order in book.orders] == [3]
    assert only_problem(book).line == 2


def test_formulas_stay_text(read: Read) -> None:
    book = read("order,destination,cargo\n=1+1,80521,\n@SUM(A1),80521,\n+4,80521,\n-7,80521,\n007,80521,\n")
    assert [order.order for order in book.orders] == ["=1+1", "@SUM(A1)", "+4", "-7", "007"]


def test_control_characters_do_not_reach_a_terminal(read: Read) -> None:
    problem = only_problem(read("order,destination,cargo\nA\x1b[31m1,80521,\n"))
    assert problem.column == "order"
    assert "\x1b" not in str(problem)


ROW = "order,destination,cargo,value\nÄ-1,80521,,10\n"
ENCODED = [
    ("plain", ROW.encode(), 0),
    ("byte order mark", b"\xef\xbb\xbf" + ROW.encode(), 0),
    ("CRLF", ROW.replace("\n", "\r\n").encode(), 0),
    ("CR", ROW.replace("\n", "\r").encode(), 0),
    ("no last line end", ROW.strip().encode(), 0),
    ("semicolons", ROW.replace(",", ";").encode(), 0),
    ("tabs", ROW.replace(",", "\t").encode(), 0),
    ("capitals and blanks", ROW.replace("order,destination", " Order , DESTINATION").encode(), 0),
    ("UTF-16", ROW.encode("utf-16"), 1),
    ("Windows text", ROW.encode("cp1252"), 1),
]


@pytest.mark.parametrize(("name", "raw", "notes"), ENCODED, ids=[name for name, _, _ in ENCODED])
def test_however_the_sheet_was_saved(read: Read, name: str, raw: bytes, notes: int) -> None:
    book = read(raw)
    assert book.problems == ()
    assert [(order.order, order.value_cents) for order in book.orders] == [("Ä-1", 1000)]
    assert len(book.notes) == notes


def test_decimal_commas_where_semicolons_part_the_cells(read: Read) -> None:
    assert read("order;destination;cargo;value\nA-1;80521;;120,50\n").orders[0].value_cents == 12050


def test_line_breaks_inside_quotes_keep_the_line_numbers(read: Read) -> None:
    book = read('order,destination,cargo\n"A\n1",80521,\n\n"B",00000,\n')
    assert book.orders[0].order == "A 1"
    assert only_problem(book).line == 5


def test_a_cell_too_many(read: Read) -> None:
    problem = only_problem(read("order,destination,cargo\nA-1,80521,soft-coral,and more\n"))
    assert (problem.line, problem.column, problem.order) == (2, "row", "A-1")


def test_coordinates_need_quotes_between_commas(read: Read) -> None:
    book = read('order,destination,cargo\nA-1,"35.20,-111.65 America/Phoenix",\n')
    assert book.orders[0].destination.zone == "America/Phoenix"


def test_a_misspelt_optional_column_is_not_lost_in_silence(read: Read) -> None:
    book = read("order,destination,cargo,comitment,colour\nA-1,80521,,next-noon,red\n")
    assert only_problem(book).do == "rename it to commitment: it was not read"
    assert book.notes == ("column 'colour' of the orders file is not used",)
    assert len(book.orders) == 1


def test_only_a_header(read: Read) -> None:
    assert only_problem(read(HEAD)).read == "no rows below the header"


REFUSED = [
    ("empty", b"", "is empty"),
    ("blank", b"\n \n", "is empty"),
    ("wrong header", b"id,town,animal\n1,80521,x\n", "header without order, destination, cargo"),
    ("misspelt", b"order,destnation,cargo\n", "header without destination"),
    ("column twice", b"order,destination,cargo,cargo\n", "column 'cargo' twice"),
    ("a workbook", b"PK\x03\x04rest", "is not a text file"),
    ("bytes", bytes(range(256)), "is not a text file"),
    ("open quote", b'order,destination,cargo\n"A,80521,\n', "unexpected end of data"),
]


@pytest.mark.parametrize(("name", "raw", "says"), REFUSED, ids=[name for name, _, _ in REFUSED])
def test_no_table_at_all(read: Read, name: str, raw: bytes, says: str) -> None:
    with pytest.raises(ConfigError) as caught:
        read(raw)
    assert says in caught.value.read
    assert caught.value.do


def test_the_nearest_column_is_named(read: Read) -> None:
    with pytest.raises(ConfigError, match="'destnation' looks like 'destination'"):
        read("order,destnation,cargo\n")


def test_no_file(settings: Settings, tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="No such file"):
        read_orders(tmp_path / "none.csv", settings)


def shipment_of(order: Order, settings: Settings) -> Shipment | Problem:
    return to_shipment(order, settings, find_place("33602"), find_place("38118"), date(2026, 3, 3))


def test_an_order_becomes_a_shipment(read: Read, settings: Settings) -> None:
    order = read("order,destination,cargo\nA-1,80521,\n").orders[0]
    shipment = shipment_of(order, settings)
    assert not isinstance(shipment, Problem)
    assert shipment.earliest == date(2026, 3, 3)
    assert shipment.hub_name == settings.lanes.default_hub
    assert shipment.boxes[0].name == settings.shop.defaults.box
    assert (shipment.key, shipment.value_cents) == ("A-1", settings.shop.defaults.value_cents)


def test_a_box_too_small_is_a_problem_of_its_row(read: Read, settings: Settings) -> None:
    order = read("order,destination,cargo,bags,box\nA-1,80521,,bag-4x8:8,box-6x6x6\n").orders[0]
    problem = shipment_of(order, settings)
    assert isinstance(problem, Problem)
    assert (problem.line, problem.column) == (2, "box")
    assert "next that fits is box-12x10x8" in problem.read


def test_the_longest_prefix_chooses_the_hub(settings: Settings) -> None:
    lanes = settings.lanes.model_copy(
        update={"lane": (Lane(postcodes=("8", "9"), hub="west"), Lane(postcodes=("805",), hub="mountain"))}
    )
    assert hub_of(find_place("80521"), lanes) == "mountain"
    assert hub_of(find_place("80203"), lanes) == "west"
    assert hub_of(find_place("33602"), lanes) == settings.lanes.default_hub


@pytest.mark.parametrize(
    ("cell", "first", "others"),
    [
        ("met or depot", "met", ("depot",)),
        ("Depot|met", "depot", ("met",)),
        ("porch shade OR indoors or met", "porch-shade", ("indoors", "met")),
        ("indoors", "indoors", ()),
        ("", None, ()),
    ],
)
def test_an_order_may_allow_several_hand_overs_the_liked_one_first(
    read: Read, settings: Settings, cell: str, first: str | None, others: tuple[str, ...]
) -> None:
    [order] = read(f"order,destination,cargo,handover\n1,60614,soft-coral,{cell}\n").orders
    assert order.handover == (first or settings.shop.defaults.handover)
    assert order.handovers == others
    written = Written("1", {"destination": "60614", "cargo": "soft-coral", "handover": cell})
    kept = canonical(written, order)
    again, problems = check_order(kept, settings)
    assert not problems
    assert again is not None
    assert (again.handover, again.handovers) == (order.handover, order.handovers), "the book keeps what the file said"


@pytest.mark.parametrize(
    ("cell", "says"),
    [
        ("met|", "on each side"),
        ("|met", "on each side"),
        ("met or met", "once"),
        ("met or doorstep", "handover: one of"),
        ("met/depot", "handover: one of"),
        ("porch-sun and depot", "handover: one of"),
    ],
)
def test_several_hand_overs_are_read_as_strictly_as_one(read: Read, cell: str, says: str) -> None:
    """No part is guessed at, and no hint names a milder one: "doorstep" must not become "indoors"."""
    book = read(f"order,destination,cargo,handover\n1,60614,soft-coral,{cell}\n")
    assert not book.orders
    [problem] = book.problems
    assert says in problem.expected
    assert "did you mean" not in problem.do
