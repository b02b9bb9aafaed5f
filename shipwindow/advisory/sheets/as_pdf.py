"""Work list and pack sheets as a PDF: one page a box, black on white, letter or A4.

For: ``as_pdf``. Must not know: files, how a sheet came about. Neighbours: ``canvas`` (drawing), ``record`` (what it
says). A box whose text is longer than a page is set smaller first; what still does not fit goes on to a further page
that says so. Nothing is cut.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shipwindow.advisory import view
from shipwindow.advisory.sheets import words
from shipwindow.advisory.sheets.canvas import Canvas, line_mm
from shipwindow.advisory.sheets.record import BagLine, PackSheet, Section, Sheets, Work
from shipwindow.advisory.sheets.worklist import hours

SCALES = (1.12, 1.06, 1.0, 0.94, 0.88, 0.82)  # of the text; the smallest is still 8 points and more
BODY_PT, SMALL_PT, HEAD_PT, TITLE_PT = 10.5, 8.6, 12.5, 27.0
FOOT_MM = 13.0


@dataclass
class Cursor:
    """Where the next line goes, in one column of the page."""

    x_mm: float
    y_mm: float
    width_mm: float


def as_pdf(sheets: Sheets) -> tuple[bytes, tuple[str, ...]]:
    """Write the work list and every pack sheet; also gives the letters no font has."""
    canvas = Canvas(sheets.paper, f"{sheets.shop}: pack sheets for {view.day_words(sheets.day)}", sheets.made_at)
    _work_pages(canvas, sheets)
    scratch = Canvas(sheets.paper, "", sheets.made_at)
    for sheet in sheets.sheets:
        _sheet_pages(canvas, scratch, sheets, sheet)
    scratch.close()
    return canvas.raw(), tuple(canvas.missing)


def _foot(canvas: Canvas, sheets: Sheets, right: str) -> None:
    y_mm = canvas.height_mm - FOOT_MM
    canvas.rule(canvas.margin_mm, y_mm, canvas.width_mm - canvas.margin_mm)
    made = f"{sheets.shop} · advisory made {view.clock_words(sheets.made_at)} · decision help, you decide"
    rows, size_pt, _ = canvas.fitted(made, canvas.inner_mm - 45.0, line_mm(7.5) + 0.1, "text", (7.5, 7.0, 6.5))
    canvas.put_lines(canvas.margin_mm, y_mm + 1.2, rows, "text", size_pt)
    canvas.put_right(canvas.width_mm - canvas.margin_mm, y_mm + 1.2, right, "text", 7.5)


# ------------------------------------------------------------------ work list


def _work_pages(canvas: Canvas, sheets: Sheets) -> None:
    work = sheets.work_list
    pages = 1
    canvas.page()
    at = Cursor(canvas.margin_mm, canvas.margin_mm, canvas.inner_mm)
    at.y_mm = canvas.put(at.x_mm, at.y_mm, f"Work list for {view.day_words(sheets.day)}", at.width_mm, "headbold", 22.0)
    at.y_mm = canvas.put(at.x_mm, at.y_mm + 1.0, work.says, at.width_mm, "text", BODY_PT) + 2.5
    if work.pick:
        at.y_mm = canvas.put(at.x_mm, at.y_mm, "Fetch first", at.width_mm, "headbold", HEAD_PT) + 0.5
        at.y_mm = canvas.put(at.x_mm, at.y_mm, " · ".join(work.pick), at.width_mm, "text", BODY_PT) + 3.0

    def room(need_mm: float) -> None:
        nonlocal pages
        if at.y_mm + need_mm <= canvas.height_mm - FOOT_MM - 2.0:
            return
        _foot(canvas, sheets, f"work list, page {pages}")
        pages += 1
        canvas.page()
        title = f"Work list for {view.day_words(sheets.day)}, page {pages}"
        at.y_mm = canvas.put(at.x_mm, canvas.margin_mm, title, at.width_mm, "headbold", HEAD_PT) + 2.0

    late_said = False
    for row in work.work:
        if not row.fits and not late_said:
            late_said = True
            room(10.0)
            canvas.rule(at.x_mm, at.y_mm, at.x_mm + at.width_mm, 0.9)
            at.y_mm = canvas.put(
                at.x_mm, at.y_mm + 1.2, "No time left for what stands below this line", at.width_mm, "headbold", HEAD_PT
            )
            at.y_mm += 1.0
        room(_work_row(canvas, at, row, draw=False))
        _work_row(canvas, at, row, draw=True)
    for title, lines in (
        ("Stay in the tank today", [f"{each.order} to {each.destination}: {each.why}" for each in work.held]),
        ("Not served: faults in the orders", list(work.not_served)),
        ("Notes", list(sheets.notes)),
    ):
        if not lines:
            continue
        room(line_mm(HEAD_PT) + canvas.height_of(lines[0], at.width_mm, "text", SMALL_PT) + 4.0)
        at.y_mm = canvas.put(at.x_mm, at.y_mm + 3.0, title, at.width_mm, "headbold", HEAD_PT) + 0.5
        for line in lines:
            for part in canvas.lines(line, at.width_mm, "text", SMALL_PT):
                room(line_mm(SMALL_PT))
                at.y_mm = canvas.put_lines(at.x_mm, at.y_mm, [part], "text", SMALL_PT)
            at.y_mm += 0.8
    _foot(canvas, sheets, f"work list, page {pages}" if pages > 1 else "work list")


def _work_row(canvas: Canvas, at: Cursor, row: Work, *, draw: bool) -> float:
    """Draw one order of the list, or only measure it. [mm]."""
    left_mm, right_mm = 8.0, 30.0
    width_mm = at.width_mm - left_mm - right_mm
    x_mm, y_mm = at.x_mm + left_mm, at.y_mm + 1.6
    first = f"{row.place}. {row.order} to {row.destination}"
    second = f"{row.box} · {row.packing} · {row.corals} {'bag' if row.corals == 1 else 'bags'}"
    third = ("today or not at all: " if row.must_go else "") + row.why
    rows = [
        (canvas.lines(first, width_mm, "bold", 12.0), "bold", 12.0),
        (canvas.lines(second, width_mm, "text", BODY_PT), "text", BODY_PT),
        (canvas.lines(third, width_mm, "text", SMALL_PT), "text", SMALL_PT),
    ]
    height_mm = sum(len(lines) * line_mm(size) for lines, _, size in rows) + 3.0
    if draw:
        canvas.rule(at.x_mm, at.y_mm, at.x_mm + at.width_mm)
        canvas.tick(at.x_mm + 0.5, y_mm, 14.0)
        canvas.put_right(at.x_mm + at.width_mm, y_mm, f"ready {row.ready_at:%H:%M}", "bold", 12.0)
        canvas.put_right(at.x_mm + at.width_mm, y_mm + line_mm(12.0), hours(row.minutes), "text", BODY_PT)
        for lines, face, size in rows:
            y_mm = canvas.put_lines(x_mm, y_mm, lines, "bold" if face == "bold" else "text", size)
        at.y_mm += height_mm
    return height_mm


# ----------------------------------------------------------------- pack sheet


class _Sheet:
    """One box being set at one size; ``overflow`` holds what did not fit on its first page."""

    def __init__(self, canvas: Canvas, sheets: Sheets, sheet: PackSheet, scale: float) -> None:
        self.canvas, self.sheets, self.sheet, self.scale = canvas, sheets, sheet, scale
        self.body_pt, self.small_pt, self.head_pt = (size * scale for size in (BODY_PT, SMALL_PT, HEAD_PT))
        self.bottom_mm = canvas.height_mm - FOOT_MM - 2.0
        self.gap_mm = 7.0
        self.left_mm = canvas.inner_mm * 0.56 - self.gap_mm / 2
        self.right_mm = canvas.inner_mm - self.left_mm - self.gap_mm

    def section_mm(self, section: Section, width_mm: float) -> float:
        """Measure a section. [mm]."""
        inner_mm = width_mm - 6.0 * self.scale
        lines_mm = sum(self.canvas.height_of(line, inner_mm, "text", self.body_pt) + 0.7 for line in section.lines)
        return line_mm(self.head_pt) + 0.8 + lines_mm + 2.6 * self.scale

    def put_section(self, at: Cursor, section: Section) -> None:
        """Draw a section."""
        canvas, indent_mm = self.canvas, 6.0 * self.scale
        at.y_mm = canvas.put(at.x_mm, at.y_mm, section.title, at.width_mm, "headbold", self.head_pt) + 0.8
        for line in section.lines:
            if section.tick:
                canvas.tick(at.x_mm, at.y_mm, self.body_pt)
            else:
                canvas.put(at.x_mm + 0.6, at.y_mm, "–", 4.0, "text", self.body_pt)
            at.y_mm = (
                canvas.put(at.x_mm + indent_mm, at.y_mm, line, at.width_mm - indent_mm, "text", self.body_pt) + 0.7
            )
        at.y_mm += 2.6 * self.scale

    def bag_mm(self, row: tuple[BagLine, str, str], width_mm: float) -> float:
        """Measure a row of the bag list; a name is written by hand on a line no lower than a pen needs. [mm]."""
        bag, title, rest = row
        first_mm = self.canvas.height_of(title, width_mm - 19.0, "bold", self.body_pt)
        first_mm = first_mm if bag.coral else max(first_mm, 5.4)
        return first_mm + (self.canvas.height_of(rest, width_mm - 19.0, "text", self.small_pt) if rest else 0.0) + 1.4

    def put_bag(self, at: Cursor, row: tuple[BagLine, str, str]) -> None:
        """Draw a row of the bag list: two squares, number, coral, bag and water."""
        canvas = self.canvas
        bag, title, rest = row
        canvas.rule(at.x_mm, at.y_mm, at.x_mm + at.width_mm, 0.1)
        y_mm = at.y_mm + 0.5
        canvas.tick(at.x_mm, y_mm, self.body_pt)
        canvas.tick(at.x_mm + 5.0, y_mm, self.body_pt)
        canvas.put_right(at.x_mm + 17.0, y_mm, f"{bag.number}", "text", self.body_pt)
        if bag.coral:
            y_mm = canvas.put(at.x_mm + 19.0, y_mm, title, at.width_mm - 19.0, "bold", self.body_pt)
        else:
            y_mm += max(line_mm(self.body_pt), 5.4)
            if rest:  # with a rest below, the rule of the next row does not serve as the line to write on
                canvas.rule(at.x_mm + 19.0, y_mm - 0.4, at.x_mm + at.width_mm * 0.8, 0.1)
            canvas.put_right(at.x_mm + at.width_mm, at.y_mm + 0.5, bag.size, "text", self.small_pt)
        if rest:
            canvas.put(at.x_mm + 19.0, y_mm, rest, at.width_mm - 19.0, "text", self.small_pt)
        at.y_mm += self.bag_mm(row, at.width_mm)

    def head(self) -> float:
        """Draw what stands over both columns; gives where they begin. [mm]."""
        canvas, sheet = self.canvas, self.sheet
        x_mm, y_mm = canvas.margin_mm, canvas.margin_mm
        code_mm = 23.0
        width_mm = canvas.inner_mm - code_mm - 6.0
        rows, size_pt, _ = canvas.fitted(
            sheet.order, width_mm, 2 * line_mm(TITLE_PT), "headbold", (TITLE_PT, 20, 15, 11, 8)
        )
        y_mm = canvas.put_lines(x_mm, y_mm - 2.0, rows, "headbold", size_pt)
        many = f" · box {sheet.box_number} of {sheet.box_count}" if sheet.box_count > 1 else ""
        y_mm = canvas.put(x_mm, y_mm, f"to {sheet.destination}{many}", width_mm, "text", 12.0)
        second = (
            f"{view.short_day(sheet.ship_day)}, arrives {view.short_day(sheet.arrival_day)} · {sheet.commitment} · "
            f"{sheet.cargo}"
        )
        y_mm = canvas.put(x_mm, y_mm, second, width_mm, "text", BODY_PT)
        canvas.code(sheet.code, canvas.width_mm - canvas.margin_mm - code_mm, canvas.margin_mm, code_mm)
        y_mm = max(y_mm, canvas.margin_mm + code_mm) + 2.5
        return self.hours_bar(y_mm) + 3.5

    def hours_bar(self, y_mm: float) -> float:
        """Draw the bar of what is decided: advice, packing, lid, cut-off."""
        canvas, sheet = self.canvas, self.sheet
        cells = (
            (0.5, view.ADVICE_WORDS[sheet.advice], f"{sheet.box} · {sheet.packing}"),
            (
                0.26,
                f"Lid on by {sheet.clocks.lid_latest_at:%H:%M}",
                f"computed for {sheet.clocks.lid_planned_at:%H:%M}; later shortens the trip",
            ),
            (0.24, f"Closes {sheet.clocks.cut_off_at:%H:%M}", "too late: float the bags again and hold"),
        )
        widths_mm = [share * canvas.inner_mm for share, _, _ in cells]
        heights_mm = [
            canvas.height_of(big, width_mm - 5.0, "headbold", 15.0)
            + canvas.height_of(small, width_mm - 5.0, "text", SMALL_PT)
            for width_mm, (_, big, small) in zip(widths_mm, cells, strict=True)
        ]
        height_mm = max(heights_mm) + 3.0
        x_mm = canvas.margin_mm
        canvas.frame(x_mm, y_mm, canvas.inner_mm, height_mm, 0.5)
        for width_mm, (_, big, small) in zip(widths_mm, cells, strict=True):
            if x_mm > canvas.margin_mm:
                canvas.pdf.set_line_width(0.2)
                canvas.pdf.line(x_mm, y_mm, x_mm, y_mm + height_mm)
            under_mm = canvas.put(x_mm + 2.5, y_mm + 1.2, big, width_mm - 5.0, "headbold", 15.0)
            canvas.put(x_mm + 2.5, under_mm, small, width_mm - 5.0, "text", SMALL_PT)
            x_mm += width_mm
        return y_mm + height_mm

    def picture(self, at: Cursor) -> None:
        """Draw the box from the side, layers to scale, named beside."""
        canvas, sheet = self.canvas, self.sheet
        at.y_mm = (
            canvas.put(at.x_mm, at.y_mm, "The packed box, from the side", at.width_mm, "headbold", self.head_pt) + 1.5
        )
        wall_mm, wide_mm = 2.2, 24.0
        tall_mm = self.picture_mm() - 2 * wall_mm - line_mm(self.head_pt) - 6.0
        x_mm, y_mm = at.x_mm, at.y_mm
        canvas.frame(x_mm, y_mm, wide_mm + 2 * wall_mm, tall_mm + 2 * wall_mm, 0.5)
        canvas.frame(x_mm + wall_mm, y_mm + wall_mm, wide_mm, tall_mm, 0.25)
        whole_m = sum(layer.thickness_m for layer in sheet.layers)
        top_mm, label_mm = y_mm + wall_mm, y_mm
        text_x_mm = x_mm + wide_mm + 2 * wall_mm + 4.0
        for layer in sheet.layers:
            high_mm = tall_mm * layer.thickness_m / whole_m
            self.fill(layer.name, x_mm + wall_mm, top_mm, wide_mm, high_mm)
            middle_mm = top_mm + high_mm / 2
            label = f"{layer.name}, {words.length(layer.thickness_m)}"
            rows = canvas.lines(label, at.x_mm + at.width_mm - text_x_mm, "text", self.small_pt)
            put_mm = max(middle_mm - len(rows) * line_mm(self.small_pt) / 2, label_mm)
            canvas.pdf.set_line_width(0.15)
            canvas.pdf.line(
                x_mm + wall_mm + wide_mm * 0.9, middle_mm, text_x_mm - 1.0, put_mm + line_mm(self.small_pt) / 2
            )
            label_mm = canvas.put_lines(text_x_mm, put_mm, rows, "text", self.small_pt) + 0.4
            top_mm += high_mm
            canvas.rule(x_mm + wall_mm, top_mm, x_mm + wall_mm + wide_mm, 0.2)
        at.y_mm = max(y_mm + tall_mm + 2 * wall_mm, label_mm) + 4.0

    def fill(self, name: str, x_mm: float, y_mm: float, w_mm: float, h_mm: float) -> None:
        """Hatch a layer so that it can be told apart without colour."""
        pdf = self.canvas.pdf
        pdf.set_line_width(0.12)
        if name == "paper":  # loose crosses
            step = 3.0
            count = int(w_mm / step)
            for row in range(int(h_mm / step) + 1):
                for k in range(count):
                    cx = x_mm + (k + 0.5 + 0.4 * (row % 2)) * w_mm / (count + 0.4)
                    cy = y_mm + (row + 0.5) * h_mm / (int(h_mm / step) + 1)
                    pdf.line(cx - 0.5, cy - 0.4, cx + 0.5, cy + 0.4)
        elif name.startswith("ballast"):
            for k in range(1, int(h_mm / 0.9) + 1):
                pdf.line(
                    x_mm, y_mm + k * h_mm / (int(h_mm / 0.9) + 1), x_mm + w_mm, y_mm + k * h_mm / (int(h_mm / 0.9) + 1)
                )
        elif name.endswith("bags"):
            count = 5
            wide = w_mm / count
            for k in range(count):
                pdf.rect(
                    x_mm + k * wide + 0.5,
                    y_mm + 0.6,
                    wide - 1.0,
                    max(h_mm - 1.2, 0.3),
                    round_corners=True,
                    corner_radius=1.2,
                )
                pdf.line(x_mm + k * wide + 0.5, y_mm + h_mm * 0.67, x_mm + (k + 1) * wide - 0.5, y_mm + h_mm * 0.67)
        else:  # the pack, under the lid or on the board, and the board at the foot of its room
            thick = min(1.6, h_mm * 0.4)
            top = y_mm + 0.2 if name.startswith("heat") else y_mm + h_mm - thick - 0.9
            pdf.set_fill_color(0)
            pdf.rect(x_mm + w_mm * 0.3, top, w_mm * 0.4, thick, style="F")
            self.canvas.rule(x_mm + 0.4, y_mm + h_mm - 0.4, x_mm + w_mm - 0.4, 0.6)

    def picture_mm(self) -> float:
        """Height the picture takes. [mm]."""
        return 52.0 * self.scale

    def carton(self) -> str:
        """Join the lines for the carton."""
        return f"On the carton: {' · '.join(self.sheet.carton_lines)}"

    def carton_mm(self) -> float:
        """Height of the lines for the carton. [mm]."""
        text_mm = self.canvas.height_of(self.carton(), self.canvas.inner_mm - 5.0, "bold", self.body_pt)
        return text_mm + 6.0


def _sheet_pages(canvas: Canvas, scratch: Canvas, sheets: Sheets, sheet: PackSheet) -> None:
    """Set a box at the largest size that fits one page, else at the smallest over several."""
    for scale in SCALES:
        if _draw(_Sheet(scratch, sheets, sheet, scale)) == 1:
            break
    _draw(_Sheet(canvas, sheets, sheet, scale))


def _columns(one: _Sheet) -> tuple[list[Section], list[Section]]:
    """Deal the sections: bags on the left, box and pack on the right, the rest where there is more room."""
    sheet = one.sheet
    left = [*_conditions(sheet), *(section for section in sheet.sections if section.place == "bags")]
    right = [section for section in sheet.sections if section.place == "box"]
    left_mm = sum(one.bag_mm(row, one.left_mm) for row in words.bag_rows(sheet.bags)[1])
    left_mm += line_mm(one.head_pt) + line_mm(one.small_pt) + sum(one.section_mm(each, one.left_mm) for each in left)
    right_mm = one.picture_mm() + sum(one.section_mm(each, one.right_mm) for each in right)
    for section in sheet.sections:
        if section.place == "either" and left_mm < right_mm:
            left.append(section)
            left_mm += one.section_mm(section, one.left_mm)
        elif section.place == "either":
            right.append(section)
            right_mm += one.section_mm(section, one.right_mm)
    return left, right


def _conditions(sheet: PackSheet) -> list[Section]:
    found = []
    if sheet.conditions:
        found.append(Section(title="Goes only if", lines=sheet.conditions))
    if sheet.notes:
        found.append(Section(title="Notes", lines=sheet.notes, tick=False))
    return found


def _tail_mm(one: _Sheet) -> float:
    width_mm = one.canvas.inner_mm
    text_mm = sum(one.canvas.height_of(line, width_mm, "text", one.small_pt) for line in one.sheet.cautions)
    return one.carton_mm() + text_mm


def _draw(one: _Sheet) -> int:
    """Draw a box and give the pages it took."""
    canvas, sheet = one.canvas, one.sheet
    pages = 1
    canvas.page()
    top_mm = one.head()
    left = Cursor(canvas.margin_mm, top_mm, one.left_mm)
    right = Cursor(canvas.margin_mm + one.left_mm + one.gap_mm, top_mm, one.right_mm)
    first = canvas.pdf.page

    def turn(at: Cursor, need_mm: float) -> None:
        """Go on to the sheet's next page, made or there already, when a piece does not fit."""
        nonlocal pages
        if at.y_mm + need_mm <= one.bottom_mm or at.y_mm <= canvas.margin_mm + 20.0:
            return
        if canvas.pdf.page - first + 1 == pages:
            pages += 1
            canvas.page()
            title = f"{sheet.order}, page {pages}"
            canvas.put(canvas.margin_mm, canvas.margin_mm, title, canvas.inner_mm, "headbold", one.head_pt)
        else:
            canvas.pdf.page += 1
        at.y_mm = canvas.margin_mm + line_mm(one.head_pt) + 3.0

    def column(at: Cursor, sections: list[Section]) -> None:
        for section in sections:
            turn(at, min(one.section_mm(section, at.width_mm), one.bottom_mm - canvas.margin_mm - 20.0))
            one.put_section(at, section)

    left_sections, right_sections = _columns(one)
    _bag_list(one, left, turn)
    column(left, left_sections)
    left_page = canvas.pdf.page
    canvas.pdf.page = first
    one.picture(right)
    column(right, right_sections)
    right_page = canvas.pdf.page
    # The tail stands under the longer of the two columns.
    if left_page != right_page:
        canvas.pdf.page = max(left_page, right_page)
        foot = Cursor(canvas.margin_mm, left.y_mm if left_page > right_page else right.y_mm, canvas.inner_mm)
    else:
        foot = Cursor(canvas.margin_mm, max(left.y_mm, right.y_mm), canvas.inner_mm)
    turn(foot, _tail_mm(one))
    _tail(one, foot)
    for number in range(pages):
        canvas.pdf.page = first + number
        _foot(canvas, one.sheets, sheet.order[:24] if pages == 1 else f"page {number + 1} of {pages}")
    canvas.pdf.page = len(canvas.pdf.pages)
    return pages


def _bag_list(one: _Sheet, at: Cursor, turn: Callable[[Cursor, float], None]) -> None:
    """Draw the bags of the box, a row each."""
    canvas, sheet = one.canvas, one.sheet
    count = len(sheet.bags)
    title = f"{count} {'bag' if count == 1 else 'bags'}, {words.volume(sheet.water_m3)} of water"
    at.y_mm = canvas.put(at.x_mm, at.y_mm, title, at.width_mm, "headbold", one.head_pt)
    shared, rows = words.bag_rows(sheet.bags)
    said = " · ".join(part for part in (shared, "squares: bagged, leak-tested") if part)
    at.y_mm = canvas.put(at.x_mm, at.y_mm, said, at.width_mm, "text", one.small_pt) + 0.6
    for row in rows:
        turn(at, one.bag_mm(row, at.width_mm))
        one.put_bag(at, row)
    canvas.rule(at.x_mm, at.y_mm, at.x_mm + at.width_mm, 0.1)
    at.y_mm += 3.0


def _tail(one: _Sheet, at: Cursor) -> None:
    """Draw the lines for the carton and the cautions across the page."""
    canvas, sheet = one.canvas, one.sheet
    height_mm = one.carton_mm() - 3.0
    canvas.frame(at.x_mm, at.y_mm, at.width_mm, height_mm, 0.3)
    canvas.put(at.x_mm + 2.5, at.y_mm + 1.2, one.carton(), at.width_mm - 5.0, "bold", one.body_pt)
    at.y_mm += height_mm + 2.0
    for line in sheet.cautions:
        at.y_mm = canvas.put(at.x_mm, at.y_mm, line, at.width_mm, "text", one.small_pt)
