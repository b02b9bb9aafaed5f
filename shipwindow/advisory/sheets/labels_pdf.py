"""Labels for bags and cartons as PDFs, side by side on letter or A4, cut along the lines.

For: ``bag_labels_pdf``, ``carton_labels_pdf``. Must not know: files, orders. Neighbours: ``canvas``, ``record``.
A long coral name is set smaller and wrapped; a name that still does not fit ends with "…" and is told to the caller,
and the pack sheet holds it whole.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shipwindow.advisory import view
from shipwindow.advisory.sheets import words
from shipwindow.advisory.sheets.canvas import SIZES_MM, Canvas, line_mm
from shipwindow.advisory.sheets.record import BagLine, PackSheet, Sheets
from shipwindow.errors import ConfigError
from shipwindow.settings.desk_paper import Labels

NAME_PT = (18.0, 15.0, 13.0, 11.5, 10.0, 9.0, 8.0, 7.0, 6.2)
PAD_MM = 2.6
CODE_MM = 15.0
LEAST_MM = (55.0, 28.0)  # below this a name cannot be read beside the code
CARTON_MM = 118.0  # height of a carton label: two on a page


@dataclass(frozen=True)
class Grid:
    """How many labels a page takes, and where."""

    columns: int
    rows: int
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float

    def place(self, number: int) -> tuple[int, float, float]:
        """Give page, left and top of a label, counted from 0."""
        page, on_page = divmod(number, self.columns * self.rows)
        row, column = divmod(on_page, self.columns)
        return page, self.left_mm + column * self.width_mm, self.top_mm + row * self.height_mm


def grid_for(labels: Labels, page_mm: tuple[float, float]) -> Grid:
    """Fit as many labels as go on a page inside its white edge, centred; raises ``ConfigError`` if none does."""
    width_mm, height_mm = (side * 1000.0 for side in labels.size_m)
    edge_mm = labels.edge_m * 1000.0
    columns = int((page_mm[0] - 2 * edge_mm) / width_mm + 1e-9)
    rows = int((page_mm[1] - 2 * edge_mm) / height_mm + 1e-9)
    if columns < 1 or rows < 1 or width_mm < LEAST_MM[0] or height_mm < LEAST_MM[1]:
        raise ConfigError(
            f"labels of {width_mm:.0f} x {height_mm:.0f} mm in desk.toml",
            f"at least {LEAST_MM[0]:.0f} x {LEAST_MM[1]:.0f} mm and no larger than the paper inside its edge",
            "correct size or edge under [labels]",
        )
    return Grid(
        columns,
        rows,
        (page_mm[0] - columns * width_mm) / 2,
        (page_mm[1] - rows * height_mm) / 2,
        width_mm,
        height_mm,
    )


def bag_labels_pdf(sheets: Sheets, labels: Labels, skip: int = 0) -> tuple[bytes, tuple[str, ...]]:
    """Write the labels of every bag; ``skip`` leaves the first ones of a used sheet free.

    Also gives what could not be printed whole, in words.
    """
    grid = grid_for(labels, SIZES_MM[sheets.paper])
    if not 0 <= skip < grid.columns * grid.rows:
        raise ConfigError(
            f"{skip} labels to leave free", f"0 to {grid.columns * grid.rows - 1}", "count the used labels of the page"
        )
    canvas = Canvas(sheets.paper, f"{sheets.shop}: bag labels for {view.day_words(sheets.day)}", sheets.made_at)
    told: dict[str, None] = {}
    number = skip
    page = -1
    for sheet in sheets.sheets:
        for bag in sheet.bags:
            for copy in range(labels.copies):
                at_page, x_mm, y_mm = grid.place(number)
                if at_page != page:
                    canvas.page()
                    page = at_page
                which = {0: "inner bag", 1: "outer bag"}.get(copy, f"copy {copy + 1}")
                whole = _bag_label(canvas, grid, x_mm, y_mm, sheet, bag, which, labels.live_line)
                if not whole:
                    told[f"{sheet.order}, bag {bag.number}: the name is too long for its label; the sheet holds it"] = (
                        None
                    )
                number += 1
    if page < 0:
        canvas.page()
        canvas.put(canvas.margin_mm, canvas.margin_mm, "No labels: nothing is packed today.", 150.0, "text", 11.0)
    return canvas.raw(), (*told, *_letters(canvas))


def _letters(canvas: Canvas) -> tuple[str, ...]:
    if not canvas.missing:
        return ()
    return (f"no font here has {' '.join(canvas.missing)}: printed as □, write them by hand",)


def _bag_label(
    canvas: Canvas, grid: Grid, x_mm: float, y_mm: float, sheet: PackSheet, bag: BagLine, which: str, live: str
) -> bool:
    """Draw one label; says whether the coral's name stands on it whole."""
    with canvas.dashed():
        canvas.frame(x_mm, y_mm, grid.width_mm, grid.height_mm, 0.1)
    inner_mm = grid.width_mm - 2 * PAD_MM
    code_mm = min(CODE_MM, grid.height_mm - 2 * PAD_MM - 10.0)
    code_x_mm = x_mm + grid.width_mm - PAD_MM - code_mm
    canvas.code(bag.code, code_x_mm, y_mm + PAD_MM, code_mm)
    text_mm = inner_mm - code_mm - 3.0
    x_mm += PAD_MM
    top_mm = y_mm + PAD_MM - 0.6
    # From the foot upwards: the range to keep, the bag; what is left is the name's.
    foot = f"{live} · {sheet.temperature_line}"
    foot_rows, foot_pt, _ = canvas.fitted(foot, inner_mm, 2 * line_mm(7.0) + 0.1, "bold", (8.4, 7.6, 7.0, 6.2, 5.6))
    foot_mm = y_mm + grid.height_mm - PAD_MM + 0.8 - len(foot_rows) * line_mm(foot_pt)
    rest = " · ".join(part for part in (bag.size, bag.kind, f"{words.volume(bag.water_m3)} water") if part)
    rest_rows, rest_pt, _ = canvas.fitted(
        rest, inner_mm, 2 * line_mm(7.5) + 0.1, "text", (9.0, 8.2, 7.5, 6.8, 6.2, 5.6)
    )
    rest_mm = foot_mm - 0.5 - len(rest_rows) * line_mm(rest_pt)
    head = f"{sheet.order} · bag {bag.number} of {len(sheet.bags)} · {which}"
    head_rows, head_pt, _ = canvas.fitted(head, text_mm, 2 * line_mm(8.5) + 0.1, "text", (9.5, 8.5, 7.5, 6.5, 5.6))
    name_mm = canvas.put_lines(x_mm, top_mm, head_rows, "text", head_pt) + 0.6
    whole = True
    if bag.coral:
        rows, size_pt, whole = canvas.fitted(bag.coral, text_mm, rest_mm - name_mm - 0.4, "headbold", NAME_PT)
        canvas.put_lines(x_mm, name_mm, rows, "headbold", size_pt)
    else:
        canvas.rule(x_mm, min(name_mm + 12.0, rest_mm - 1.5), x_mm + text_mm, 0.25)
    canvas.put_lines(x_mm, rest_mm, rest_rows, "text", rest_pt)
    canvas.put_lines(x_mm, foot_mm, foot_rows, "bold", foot_pt)
    return whole


def carton_labels_pdf(sheets: Sheets) -> tuple[bytes, tuple[str, ...]]:
    """Write a large label for the outside of each box, two on a page. Plain words; no official mark is drawn."""
    canvas = Canvas(sheets.paper, f"{sheets.shop}: carton labels for {view.day_words(sheets.day)}", sheets.made_at)
    for number, sheet in enumerate(sheets.sheets):
        if number % 2 == 0:
            canvas.page()
        top_mm = 12.0 + (number % 2) * (canvas.height_mm / 2 - 2.0)
        _carton_label(canvas, top_mm, sheet)
    if not sheets.sheets:
        canvas.page()
        canvas.put(canvas.margin_mm, canvas.margin_mm, "No labels: nothing is packed today.", 150.0, "text", 11.0)
    return canvas.raw(), _letters(canvas)


def _carton_label(canvas: Canvas, top_mm: float, sheet: PackSheet) -> None:
    x_mm, width_mm = canvas.margin_mm, canvas.inner_mm
    canvas.frame(x_mm, top_mm, width_mm, CARTON_MM, 0.8)
    pad_mm, code_mm = 7.0, 27.0
    inner_mm = width_mm - 2 * pad_mm
    live, what, up, temperature, open_line = sheet.carton_lines
    y_mm = canvas.put(x_mm + pad_mm, top_mm + 3.0, live, inner_mm - 26.0, "headbold", 50.0)
    y_mm = canvas.put(x_mm + pad_mm, y_mm - 1.0, what, inner_mm - 26.0, "head", 21.0)
    _arrows(canvas, x_mm + width_mm - pad_mm - 20.0, top_mm + 7.0)
    y_mm += 4.0
    put: Callable[[str, float], float] = lambda text, size: canvas.put(  # noqa: E731 - three lines alike
        x_mm + pad_mm, y_mm, text, inner_mm, "bold", size
    )
    y_mm = put(up, 28.0)
    y_mm = put(temperature, 19.0) + 1.0
    y_mm = put(f"{open_line}, {view.short_day(sheet.arrival_day)}", 17.0)
    foot_mm = top_mm + CARTON_MM - code_mm - 6.0
    canvas.code(sheet.code, x_mm + width_mm - pad_mm - code_mm, foot_mm, code_mm)
    text_mm = inner_mm - code_mm - 6.0
    rows, size_pt, _ = canvas.fitted(sheet.order, text_mm, 2 * line_mm(15.0) + 0.1, "headbold", (20.0, 15.0, 11.0, 8.0))
    at_mm = canvas.put_lines(x_mm + pad_mm, foot_mm + 4.0, rows, "headbold", size_pt)
    many = f"box {sheet.box_number} of {sheet.box_count}, {len(sheet.bags)} bags"
    canvas.put(x_mm + pad_mm, at_mm + 1.0, f"{many} · {view.short_day(sheet.ship_day)}", text_mm, "text", 11.0)


def _arrows(canvas: Canvas, x_mm: float, y_mm: float) -> None:
    """Draw two plain arrows that point up."""
    canvas.pdf.set_fill_color(0)
    for shift in (0.0, 11.0):
        left = x_mm + shift
        canvas.pdf.polygon([(left, y_mm + 8), (left + 4, y_mm), (left + 8, y_mm + 8)], style="F")
        canvas.pdf.rect(left + 2.6, y_mm + 7.9, 2.8, 12.0, style="F")
