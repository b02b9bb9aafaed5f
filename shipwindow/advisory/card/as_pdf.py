"""The bench card as one wide page, letter or A4, to hang above the bench.

For: ``as_pdf``. Must not know: how an answer is found. Neighbour: ``sheets.canvas`` (drawing). Large type: the
answers read from a metre away; every tint is said in words too, so that it prints in black and white.
"""

from __future__ import annotations

from shipwindow.advisory.card.record import BenchCard, CellSaid
from shipwindow.advisory.sheets.canvas import Canvas, line_mm
from shipwindow.settings.desk_paper import Paper

HEAD_MM = 27.0  # the column of nights
SHORT_MM = 19.0  # the short words of the legend
ANSWER_PT = (17.0, 15.5, 14.0, 12.5, 11.0)
TINTS = {"pack-with-heat": (214, 228, 240), "pack-with-cold": (247, 226, 203), "hold": (226, 226, 222)}


def as_pdf(card: BenchCard, paper: Paper) -> bytes:
    """Draw the card; the same card gives the same bytes."""
    canvas = Canvas(paper, f"{card.shop}: bench card", card.made_at, 10.0, wide=True)
    canvas.page()
    left_mm, right_mm = canvas.margin_mm, canvas.width_mm - canvas.margin_mm
    y_mm = canvas.put(left_mm, canvas.margin_mm - 2.0, f"Bench card · {card.title}", canvas.inner_mm, "headbold", 20.0)
    y_mm = canvas.put(left_mm, y_mm, f"{card.subtitle} · {card.shop}", canvas.inner_mm, "text", 10.0) + 1.5
    foot_mm = _foot_height(canvas, card)
    _table(canvas, card, y_mm, canvas.height_mm - canvas.margin_mm - foot_mm)
    _foot(canvas, card, canvas.height_mm - canvas.margin_mm - foot_mm + 2.0, left_mm, right_mm)
    return canvas.raw()


def _table(canvas: Canvas, card: BenchCard, top_mm: float, bottom_mm: float) -> None:
    left_mm = canvas.margin_mm
    column_mm = (canvas.inner_mm - HEAD_MM) / len(card.days)
    head_mm = 12.5
    row_mm = (bottom_mm - top_mm - head_mm) / len(card.nights)
    degree = f"°{card.scale}"
    canvas.put_centred(
        left_mm + HEAD_MM + column_mm * len(card.days) / 2.0, top_mm, "warmest day on the way", "text", 9.5
    )
    canvas.put(left_mm, top_mm + 1.0, "coldest night on the way", HEAD_MM - 3.0, "text", 9.5)
    for number, day in enumerate(card.days):
        middle_mm = left_mm + HEAD_MM + (number + 0.5) * column_mm
        canvas.put_centred(middle_mm, top_mm + 5.0, f"{day} {degree}", "bold", 14.0)
    for row, (night, cells) in enumerate(zip(card.nights, card.rows, strict=True)):
        y_mm = top_mm + head_mm + row * row_mm
        canvas.put_right(left_mm + HEAD_MM - 4.0, y_mm + row_mm / 2.0 - 3.4, f"{night} {degree}", "bold", 14.0)
        for number, cell in enumerate(cells):
            if cell is not None:
                _cell(canvas, cell, left_mm + HEAD_MM + number * column_mm, y_mm, column_mm, row_mm)


def _cell(canvas: Canvas, cell: CellSaid, x_mm: float, y_mm: float, w_mm: float, h_mm: float) -> None:
    if cell.advice in TINTS:
        canvas.tint(x_mm + 0.4, y_mm + 0.4, w_mm - 0.8, h_mm - 0.8, TINTS[cell.advice])
    canvas.pdf.set_draw_color(60)
    if cell.firm:
        canvas.frame(x_mm + 0.4, y_mm + 0.4, w_mm - 0.8, h_mm - 0.8, 0.25)
    else:
        with canvas.dashed():
            canvas.frame(x_mm + 0.7, y_mm + 0.7, w_mm - 1.4, h_mm - 1.4, 0.7)
    word = cell.short.upper() if cell.advice == "hold" else cell.short
    rows, size_pt, _ = canvas.fitted(word, w_mm - 2.0, line_mm(ANSWER_PT[0]), "bold", ANSWER_PT)
    middle_mm = x_mm + w_mm / 2.0
    text_mm = line_mm(size_pt) + line_mm(8.0)
    top_mm = y_mm + (h_mm - text_mm) / 2.0
    canvas.put_centred(middle_mm, top_mm, rows[0], "bold", size_pt)
    canvas.put_centred(middle_mm, top_mm + line_mm(size_pt), cell.chance_words, "text", 8.0)


def _meanings(card: BenchCard) -> list[tuple[str, str]]:
    return [(plan.short, plan.says) for plan in card.plans] + [("HOLD", "not today; see the day's advisory")]


def _foot_height(canvas: Canvas, card: BenchCard) -> float:
    width_mm = (canvas.inner_mm - 6.0) / 2.0
    left = sum(canvas.height_of(says, width_mm - SHORT_MM, "text", 8.5) + 0.6 for _, says in _meanings(card))
    right = sum(canvas.height_of(text, width_mm, "text", 8.5) + 0.6 for text in card.how_to_read)
    return max(left, right) + canvas.height_of(_cautions(card), canvas.inner_mm, "text", 7.0) + 4.0


def _cautions(card: BenchCard) -> str:
    return f"{card.what_it_is} {' '.join(card.cautions)} Made {card.made_at:%d %b %Y}, {card.model}."


def _foot(canvas: Canvas, card: BenchCard, y_mm: float, left_mm: float, right_mm: float) -> None:
    width_mm = (canvas.inner_mm - 6.0) / 2.0
    one_mm = two_mm = y_mm
    for short, says in _meanings(card):
        canvas.put(left_mm, one_mm, short, SHORT_MM, "bold", 8.5)
        one_mm = canvas.put(left_mm + SHORT_MM, one_mm, says, width_mm - SHORT_MM, "text", 8.5) + 0.6
    for text in card.how_to_read:
        two_mm = canvas.put(left_mm + width_mm + 6.0, two_mm, text, width_mm, "text", 8.5) + 0.6
    rule_mm = max(one_mm, two_mm) + 0.6
    canvas.rule(left_mm, rule_mm, right_mm)
    canvas.put(left_mm, rule_mm + 0.8, _cautions(card), canvas.inner_mm, "text", 7.0)
