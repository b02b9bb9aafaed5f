"""A page to draw on: fonts, paper sizes, text that always fits, squares to tick, codes.

For: the PDF writers ``as_pdf`` and ``labels_pdf``. Must not know: what a sheet says. One thin layer over ``fpdf2``:
millimetres, black on white only, the same bytes for the same record. Fonts travel with matplotlib: DejaVu Sans for
what is read at arm's length, STIX for what is read first. A letter no font has is drawn as a box and told
(``missing``), never dropped.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from shipwindow.advisory.sheets.codes import code_matrix
from shipwindow.errors import StoreError

if TYPE_CHECKING:
    from fpdf import FPDF

    from shipwindow.settings.desk_paper import Paper

SIZES_MM: dict[str, tuple[float, float]] = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
POINT_MM = 25.4 / 72.0
LEADING = 1.28
CUT_MARK = "…"
Face = Literal["text", "bold", "head", "headbold"]
_FACES: dict[str, tuple[str, str, str]] = {
    "text": ("DejaVu", "", "DejaVuSans.ttf"),
    "bold": ("DejaVu", "B", "DejaVuSans-Bold.ttf"),
    "head": ("Stix", "", "STIXGeneral.ttf"),
    "headbold": ("Stix", "B", "STIXGeneralBol.ttf"),
}


def font_folder() -> Path:
    """Find the fonts without importing the library they travel with."""
    spec = importlib.util.find_spec("matplotlib")
    if spec is not None and spec.origin is not None:
        folder = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf"
        if all((folder / file).is_file() for _, _, file in _FACES.values()):
            return folder
    raise StoreError("no fonts beside matplotlib", "DejaVu and STIX fonts", "install matplotlib again with its data")


@lru_cache(maxsize=4)
def _glyphs(file: str) -> frozenset[int]:
    from fontTools.ttLib import TTFont

    with TTFont(font_folder() / file, lazy=True) as font:
        return frozenset(font.getBestCmap())


def cleaned(text: str) -> str:
    """Make text one printable line: control letters and direction marks become spaces; a degree stays by its number."""
    line = " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
    return line.replace(" °", "\N{NO-BREAK SPACE}°")


class Canvas:
    """A document under way; positions in millimetres from the upper left corner."""

    def __init__(
        self, paper: Paper, title: str, made_at: datetime, margin_mm: float = 12.5, *, wide: bool = False
    ) -> None:
        from fpdf import FPDF

        narrow_mm, long_mm = SIZES_MM[paper]
        self.width_mm, self.height_mm = (long_mm, narrow_mm) if wide else (narrow_mm, long_mm)
        self.margin_mm = margin_mm
        self.missing: dict[str, None] = {}
        self.pdf: FPDF = FPDF(unit="mm", format=(self.width_mm, self.height_mm))
        self.pdf.set_auto_page_break(False)
        self.pdf.set_margins(0, 0, 0)
        self.pdf.c_margin = 0
        self.pdf.set_title(title)
        self.pdf.set_creator("shipwindow")
        self.pdf.set_creation_date(made_at)
        self.pdf.set_lang("en")
        folder = font_folder()
        for family, style, file in _FACES.values():
            self.pdf.add_font(family, style, folder / file)

    @property
    def inner_mm(self) -> float:
        """Width between the margins."""
        return self.width_mm - 2 * self.margin_mm

    def page(self) -> None:
        """Begin a page."""
        self.pdf.add_page()

    def raw(self) -> bytes:
        """Give the finished document and let go of its fonts."""
        raw = bytes(self.pdf.output())
        self.close()
        return raw

    def close(self) -> None:
        """Close the font files, which the library leaves open."""
        for font in self.pdf.fonts.values():
            opened = getattr(font, "ttfont", None)
            if opened is not None:
                opened.close()

    def face(self, face: Face, size_pt: float) -> None:
        """Choose a font."""
        family, style, _ = _FACES[face]
        self.pdf.set_font(family, style, size_pt)

    def resolve(self, text: str, face: Face) -> Face:
        """Take the wider font for a text whose letters the display font lacks."""
        if face in {"head", "headbold"} and not {ord(letter) for letter in cleaned(text)} <= _glyphs(_FACES[face][2]):
            return "bold" if face == "headbold" else "text"
        return face

    def printable(self, text: str, face: Face) -> str:
        """Clean a line and stand a box in for each letter the font lacks."""
        known = _glyphs(_FACES[face][2])
        out = []
        for letter in cleaned(text):
            if ord(letter) in known:
                out.append(letter)
            else:
                self.missing[letter] = None
                out.append("□")
        return "".join(out)

    def lines(self, text: str, width_mm: float, face: Face, size_pt: float) -> list[str]:
        """Break a text into lines no wider than asked; a word too long for one line is broken inside."""
        face = self.resolve(text, face)
        self.face(face, size_pt)
        rows: list[str] = []
        row = ""
        for word in self.printable(text, face).split(" "):
            trial = f"{row} {word}" if row else word
            if self.pdf.get_string_width(trial) <= width_mm:
                row = trial
                continue
            if row:
                rows.append(row)
            row = word
            while self.pdf.get_string_width(row) > width_mm and len(row) > 1:
                cut = self._fitting(row, width_mm)
                rows.append(row[:cut])
                row = row[cut:]
        if row:
            rows.append(row)
        return rows or [""]

    def _fitting(self, word: str, width_mm: float) -> int:
        low, high = 1, len(word)
        while low < high:
            middle = (low + high + 1) // 2
            if self.pdf.get_string_width(word[:middle]) <= width_mm:
                low = middle
            else:
                high = middle - 1
        return low

    def height_of(self, text: str, width_mm: float, face: Face, size_pt: float) -> float:
        """Give the height a text takes. [mm]."""
        return len(self.lines(text, width_mm, face, size_pt)) * line_mm(size_pt)

    def put(self, x_mm: float, y_mm: float, text: str, width_mm: float, face: Face, size_pt: float) -> float:
        """Write a text and give the height under its last line. [mm]."""
        return self.put_lines(x_mm, y_mm, self.lines(text, width_mm, face, size_pt), face, size_pt)

    def put_lines(self, x_mm: float, y_mm: float, rows: list[str], face: Face, size_pt: float) -> float:
        """Write lines broken before."""
        self.face(self.resolve(" ".join(rows), face), size_pt)
        step_mm = line_mm(size_pt)
        for row in rows:
            self.pdf.text(x_mm, y_mm + size_pt * POINT_MM * 0.95, row)
            y_mm += step_mm
        return y_mm

    def put_right(self, right_mm: float, y_mm: float, text: str, face: Face, size_pt: float) -> None:
        """Write one line that ends at the right."""
        self.face(face, size_pt)
        shown = self.printable(text, face)
        self.pdf.text(right_mm - self.pdf.get_string_width(shown), y_mm + size_pt * POINT_MM * 0.95, shown)

    def fitted(
        self, text: str, width_mm: float, height_mm: float, face: Face, sizes_pt: tuple[float, ...]
    ) -> tuple[list[str], float, bool]:
        """Take the largest size at which a text fits; at the smallest it ends with a mark if it still does not."""
        for size_pt in sizes_pt:
            rows = self.lines(text, width_mm, face, size_pt)
            if len(rows) * line_mm(size_pt) <= height_mm + 1e-6:
                return rows, size_pt, True
        kept = rows[: max(int(height_mm / line_mm(size_pt) + 1e-6), 1)]
        last = kept[-1]
        while last and self.pdf.get_string_width(last + CUT_MARK) > width_mm:
            last = last[:-1]
        return [*kept[:-1], last + CUT_MARK], size_pt, False

    def rule(self, x1_mm: float, y_mm: float, x2_mm: float, weight_mm: float = 0.2) -> None:
        """Draw a level line."""
        self.pdf.set_line_width(weight_mm)
        self.pdf.line(x1_mm, y_mm, x2_mm, y_mm)

    def frame(self, x_mm: float, y_mm: float, w_mm: float, h_mm: float, weight_mm: float = 0.3) -> None:
        """Draw a rectangle."""
        self.pdf.set_line_width(weight_mm)
        self.pdf.rect(x_mm, y_mm, w_mm, h_mm)

    def tint(self, x_mm: float, y_mm: float, w_mm: float, h_mm: float, colour: tuple[int, int, int]) -> None:
        """Fill a rectangle; what it means must stand in words too."""
        self.pdf.set_fill_color(*colour)
        self.pdf.rect(x_mm, y_mm, w_mm, h_mm, style="F")

    def put_centred(self, middle_mm: float, y_mm: float, text: str, face: Face, size_pt: float) -> None:
        """Write one line around a middle."""
        face = self.resolve(text, face)
        self.face(face, size_pt)
        shown = self.printable(text, face)
        self.pdf.text(middle_mm - self.pdf.get_string_width(shown) / 2.0, y_mm + size_pt * POINT_MM * 0.95, shown)

    def tick(self, x_mm: float, y_mm: float, size_pt: float) -> None:
        """Draw a square to tick off beside a line of text."""
        side_mm = size_pt * POINT_MM * 0.85
        self.frame(x_mm, y_mm + size_pt * POINT_MM * 0.2, side_mm, side_mm, 0.25)

    def code(self, text: str, x_mm: float, y_mm: float, side_mm: float) -> None:
        """Draw a QR symbol; the caller leaves its quiet zone of four modules white."""
        rows = code_matrix(text)
        module_mm = side_mm / len(rows)
        self.pdf.set_fill_color(0)
        for y, row in enumerate(rows):
            x = 0
            while x < len(row):
                run = x
                while run < len(row) and row[run]:
                    run += 1
                if run > x:  # one bar for neighbouring modules: no hairlines between them
                    self.pdf.rect(
                        x_mm + x * module_mm, y_mm + y * module_mm, (run - x) * module_mm, module_mm * 1.02, style="F"
                    )
                x = max(run, x + 1)

    @contextmanager
    def dashed(self) -> Iterator[None]:
        """Draw dashed lines within."""
        self.pdf.set_dash_pattern(dash=1.2, gap=1.2)
        yield
        self.pdf.set_dash_pattern()


def line_mm(size_pt: float) -> float:
    """Give the step from line to line. [mm]."""
    return size_pt * POINT_MM * LEADING
