"""The PDFs and the page: one page a box, nothing cut, on letter and on A4. No outside source; words are read back."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any

import pytest

from shipwindow.advisory.sheets.as_html import as_html
from shipwindow.advisory.sheets.as_pdf import as_pdf
from shipwindow.advisory.sheets.build import build_sheets
from shipwindow.advisory.sheets.canvas import SIZES_MM, Canvas
from shipwindow.advisory.sheets.codes import read_code
from shipwindow.advisory.sheets.labels_pdf import bag_labels_pdf, carton_labels_pdf, grid_for
from shipwindow.advisory.sheets.record import Sheets
from shipwindow.advisory.sheets.writing import write_sheets
from shipwindow.errors import ConfigError
from shipwindow.settings.models import Settings

from datetime import UTC, datetime  # isort: skip

NOW = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)
LONG = "Lagoon Bench's own orange plating coral with a name that goes on and on, third generation, cut in March"
ODD = "Æthelstan’s “Größe” № 4 · ünïcode βeta"
WORD = "Pseudo" * 22  # one word wider than any column


@pytest.fixture
def day(settings: Settings, order: Any, advice: Any, advisory: Any) -> Any:
    def make(count: int = 3, corals: tuple[str, ...] = (LONG, ODD, "plug"), paper: Any = "letter") -> Sheets:
        kinds = ("go", "pack-with-heat", "pack-with-cold")
        orders = [order(f"A-{n}", corals) for n in range(count)]
        conditions = ("the customer is home from 10:00 to 14:00",)
        day = advisory(
            *[advice(each.order, kinds[n % 3], conditions=conditions) for n, each in enumerate(orders)],
            advice("H-1", "hold", why=("too cold at the hub",)),
        )
        return build_sheets(day, orders, settings, NOW, paper=paper)

    return make


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_one_page_a_box_and_every_word_on_it(day: Any, pages: Any, paper: str) -> None:
    sheets = day(paper=paper)
    raw, missing = as_pdf(sheets)
    read = pages(raw)
    assert missing == ()
    assert len(read) == 1 + len(sheets.sheets)
    assert "H-1 to Fort Collins" in read[0]
    for sheet, text in zip(sheets.sheets, read[1:], strict=True):
        wanted = [bag.coral for bag in sheet.bags] + [line for part in sheet.sections for line in part.lines]
        wanted += [*sheet.cautions, *sheet.conditions, sheet.temperature_line, sheet.order]
        # Columns come out one after the other; a line is looked for by its words, in order, wherever it was broken.
        squeezed = text.replace(" ", "")
        for line in wanted:
            assert line.replace(" ", "") in squeezed, line


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_nothing_is_drawn_outside_the_page(day: Any, paper: str) -> None:
    from pypdf import PdfReader

    raw, _ = as_pdf(day(paper=paper, corals=(WORD, LONG)))
    wide_mm, tall_mm = SIZES_MM[paper]
    for page in PdfReader(io.BytesIO(raw)).pages:
        assert float(page.mediabox.width) == pytest.approx(wide_mm / 25.4 * 72, abs=0.1)  # two decimals in the file
        spots: list[tuple[float, float]] = []

        def note(text: str, cm: Any, tm: Any, font: Any, size: Any, spots: Any = spots) -> None:
            if text.strip():
                spots.append((tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5]))

        page.extract_text(visitor_text=note)
        assert spots
        assert all(28 < x < wide_mm / 25.4 * 72 - 28 and 20 < y < tall_mm / 25.4 * 72 - 28 for x, y in spots)


def test_more_bags_than_a_page_holds_go_on_to_the_next(day: Any, pages: Any) -> None:
    corals = tuple(f"{n:02d} {LONG}" for n in range(60))
    sheets = day(count=1, corals=corals)
    read = pages(as_pdf(sheets)[0])
    assert len(read) > 2
    assert all("page" in text for text in read[1:])
    whole = "".join(read).replace(" ", "")
    assert all(coral.replace(" ", "") in whole for coral in corals)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_labels_name_each_coral_twice_and_fill_the_sheet(day: Any, settings: Settings, pages: Any, paper: str) -> None:
    sheets = day(paper=paper)
    raw, told = bag_labels_pdf(sheets, settings.desk.labels)
    assert told == ()
    read = pages(raw)
    assert len(read) == 2  # 18 labels, ten a page
    whole = "".join(read).replace(" ", "")
    for bag in sheets.sheets[0].bags:
        assert whole.count(bag.coral.replace(" ", "")) == 6  # two bags each, three boxes
    assert whole.count("LIVECORAL·Keepbetween68and84°F(20to29°C)") == 18
    assert len(pages(bag_labels_pdf(sheets, settings.desk.labels, skip=9)[0])) == 3
    with pytest.raises(ConfigError, match="0 to 9"):
        bag_labels_pdf(sheets, settings.desk.labels, skip=10)


def test_a_name_that_fits_no_label_ends_with_a_mark_and_is_told(day: Any, settings: Settings, pages: Any) -> None:
    endless = " ".join([LONG] * 12)
    sheets = day(count=1, corals=(endless,))
    raw, told = bag_labels_pdf(sheets, settings.desk.labels)
    assert told == ("A-0, bag 1: the name is too long for its label; the sheet holds it",)
    assert "…" in pages(raw)[0]
    assert endless.replace(" ", "") in "".join(pages(as_pdf(sheets)[0])).replace(" ", "")


def test_a_letter_without_a_font_becomes_a_box_and_is_told(day: Any, settings: Settings, pages: Any) -> None:
    sheets = day(count=1, corals=("星 star",))
    raw, missing = as_pdf(sheets)
    assert missing == ("星",)
    assert "□ star" in pages(raw)[1]
    assert any("星" in line for line in bag_labels_pdf(sheets, settings.desk.labels)[1])


def test_labels_too_small_or_too_large_are_refused(settings: Settings) -> None:
    for size_m in ((0.03, 0.02), (0.5, 0.05)):
        with pytest.raises(ConfigError, match=r"\[labels\]"):
            grid_for(settings.desk.labels.model_copy(update={"size_m": size_m}), SIZES_MM["letter"])


def test_carton_labels_two_a_page(day: Any, pages: Any) -> None:
    read = pages(carton_labels_pdf(day())[0])
    assert len(read) == 2
    assert read[0].count("THIS WAY UP") == 2
    assert "Keep between 68 and 84 °F (20 to 29 °C)" in read[1].replace("\N{NO-BREAK SPACE}", " ")


def test_lines_are_never_wider_than_asked() -> None:
    canvas = Canvas("a4", "t", NOW)
    for width_mm in (12.0, 40.0, 150.0):
        for text in (LONG, ODD, WORD, "", "a"):
            rows = canvas.lines(text, width_mm, "bold", 10.0)
            assert all(canvas.pdf.get_string_width(row) <= width_mm for row in rows if len(row) > 1)
            assert "".join(rows).replace(" ", "") == text.replace(" ", "")
    canvas.close()


def test_the_page_escapes_what_an_order_says_and_fetches_nothing(day: Any, order: Any) -> None:
    page = as_html(day(corals=('<script>alert("x")</script>', LONG)))
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert re.findall(r'(?:src|href)="(?!#)', page) == []
    assert page.count("<article") == 3
    assert "@page { size: letter" in page


def test_files_are_written_whole_and_again(day: Any, settings: Settings, tmp_path: Path) -> None:
    first = write_sheets(day(), settings.desk.labels, tmp_path)
    before = {path.name: path.read_bytes() for path in first.paths}
    assert set(before) == {"sheets.pdf", "bag-labels.pdf", "carton-labels.pdf", "sheets.html", "sheets.json"}
    again = write_sheets(day(), settings.desk.labels, tmp_path)
    assert {path.name: path.read_bytes() for path in again.paths} == before
    assert Sheets.model_validate_json(before["sheets.json"]) == day()


def scanned(raw: bytes, dpi: int) -> list[list[str]]:
    """Render every page as a scanner would see it and read its codes with an independent library."""
    import pypdfium2
    import zxingcpp

    found = []
    with pypdfium2.PdfDocument(raw) as document:
        for page in document:
            picture = page.render(scale=dpi / 72, grayscale=True).to_numpy()
            found.append(sorted(code.text for code in zxingcpp.read_barcodes(picture)))
    return found


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_codes_on_paper_lead_back_to_their_order(day: Any, settings: Settings, paper: str) -> None:
    """ISO/IEC 18004 symbols, read back from the rendered pages by ZXing-C++, which knows nothing of ours."""
    sheets = day(count=2, paper=paper)
    assert scanned(as_pdf(sheets)[0], 110) == [[], *([sheet.code] for sheet in sheets.sheets)]
    labels = scanned(bag_labels_pdf(sheets, settings.desk.labels, 0)[0], 300)
    both = [bag.code for sheet in sheets.sheets for bag in sheet.bags] * 2  # inner and outer bag
    assert sorted(code for page in labels for code in page) == sorted(both)
    assert {read_code(code) for code in both} == {sheet.order for sheet in sheets.sheets}
