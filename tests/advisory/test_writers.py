"""Text, Markdown and page say the same, escape what they are given, and repeat byte for byte."""

from __future__ import annotations

import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from shipwindow.advisory.as_html import as_html
from shipwindow.advisory.as_json import as_json, from_json
from shipwindow.advisory.as_markdown import as_markdown, plain
from shipwindow.advisory.as_text import as_text
from shipwindow.advisory.document import CAUTIONS, Advisory
from shipwindow.advisory.writing import write_advisory
from shipwindow.decide.verdict import Verdict
from shipwindow.errors import StoreError

Gather = Callable[..., Advisory]
Make = Callable[..., Verdict]
WRITERS = {"text": as_text, "markdown": as_markdown, "html": as_html, "json": as_json}


def words(text: str) -> str:
    """Take the line breaks of wrapping and the marks of escaping out."""
    return " ".join(re.sub(r"\\(.)", r"\1", text).split())


@pytest.mark.parametrize("name", WRITERS)
def test_same_advisory_same_bytes(name: str, advisory: Advisory) -> None:
    first = WRITERS[name](advisory)
    assert WRITERS[name](from_json(as_json(advisory))) == first


@pytest.mark.parametrize("name", ["text", "markdown", "html"])
def test_every_advice_every_order_every_caution(name: str, advisory: Advisory) -> None:
    page = WRITERS[name](advisory)
    if name == "html":
        page = visible(page)
    said = words(page)
    for word in ("Go", "Pack with heat", "Pack with cold", "Hold"):
        assert word in said
    for order in advisory.orders:
        assert order.order in said
    for caution in CAUTIONS:
        assert caution in said
    assert "line 7, cargo, order A-107: read 'zoas'; expected a known cargo; did you mean soft-coral?" in said
    assert "5 orders: 1 go, 1 pack with heat, 1 pack with cold, 2 hold · 1 problem in the orders" in said


@pytest.mark.parametrize("name", ["text", "markdown", "html"])
def test_promises_of_every_verdict(name: str, gather: Gather, verdict: Make) -> None:
    made = gather(verdict())
    page = as_text(made, width=300) if name == "text" else WRITERS[name](made)
    said = words(visible(page) if name == "html" else page)
    for promised in (
        "2 % · limit 5 % · within",  # risk beside the limit, in words
        "On time 2 %; one day late 10 %",  # both, always
        "from 1 % to 5 % within the stated uncertainty",
        "hub ramp out (hub), Wed 4 Mar 01:30 there",  # worst leg, worst hour, its own clock
        "Model: go. Rules of thumb: pack with heat (the coldest end is 28 °F).",  # both voices
        "the model says go, the rules of thumb say pack-with-heat",  # a disagreement is shown
        "a wall one fifth leakier: 6 %, flips the verdict",
        "met at the door: 1 %",  # what would change it
        "Thu 5 Mar by next-noon, no pack: 1 %",  # next window
        "stale · warning in force: Winter Storm Watch",
    ):
        assert promised in said


@pytest.mark.parametrize("name", ["text", "markdown", "html"])
def test_a_held_order_without_weather_says_why(name: str, gather: Gather, missing: Verdict) -> None:
    page = WRITERS[name](gather(missing))
    said = words(visible(page) if name == "html" else page)
    assert "no forecast for the hub" in said
    assert "Chance of loss not known" in said
    assert "hub Memphis, TN 38118: no usable forecast" in said


def test_the_shops_scale(gather: Gather, verdict: Make) -> None:
    assert "Water 71 °F to 78 °F on time; safe band 75 °F to 82 °F." in words(as_text(gather(verdict(), scale="F")))
    assert "Water 21.4 °C to 25.5 °C on time; safe band 24.0 °C to 27.5 °C." in words(
        as_text(gather(verdict(), scale="C"))
    )


HOSTILE = "<script>alert(1)</script> [bold]x[/bold] | a & b \"quoted\" 'x' *star* `tick`"


def test_page_escapes_what_an_order_says(gather: Gather, verdict: Make) -> None:
    page = as_html(gather(verdict(HOSTILE, "hold"), verdict("B")))
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert HOSTILE in visible(page)


def test_markdown_escapes_what_an_order_says(gather: Gather, verdict: Make) -> None:
    page = as_markdown(gather(verdict(HOSTILE, "hold")))
    assert "<script" not in page.replace("\\<", "")
    row = next(line for line in page.splitlines() if line.startswith("| ") and "script" in line)
    assert len(re.findall(r"(?<!\\)\|", row)) == 5  # four cells
    assert plain("- one") == "\\- one"
    assert plain("1. one") == "1\\. one"


def test_text_reads_nothing_as_markup(gather: Gather, verdict: Make) -> None:
    assert "[bold]x[/bold]" in words(as_text(gather(verdict(HOSTILE, "hold")), width=200))


@pytest.mark.parametrize("width", [40, 60, 78, 96, 160])
def test_text_keeps_to_its_width(width: int, advisory: Advisory) -> None:
    lines = as_text(advisory, width).splitlines()
    assert max(map(len, lines)) <= width
    assert not any(line != line.rstrip() for line in lines)


class Page(HTMLParser):
    """Collects what a reader sees, the identifiers, the links, and whatever would be fetched."""

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.fetched: list[str] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._hidden += tag in {"style", "title"}
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            if name in {"href", "xlink:href"} and (value or "").startswith("#"):
                self.links.append((value or "")[1:])
            elif name in {"src", "href", "xlink:href", "action"}:
                self.fetched.append(value or "")

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in {"style", "title"}

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.text.append(data)


def parse(page: str) -> Page:
    parser = Page()
    parser.feed(page)
    parser.close()
    return parser


def visible(page: str) -> str:
    return " ".join(" ".join(parse(page).text).split())


def test_page_stands_alone(advisory: Advisory) -> None:
    page = parse(as_html(advisory))
    assert page.fetched == []
    assert len(set(page.ids)) == len(page.ids)
    assert set(page.links) <= set(page.ids)
    assert "@import" not in as_html(advisory)
    assert re.findall(r"url\((?!#)", as_html(advisory)) == []


def test_page_has_two_pictures_an_order_with_a_trip(advisory: Advisory) -> None:
    with_trip = sum(order.details.curve is not None for order in advisory.orders)
    assert as_html(advisory).count("<svg ") == 2 * with_trip == 8
    assert "<svg " not in as_html(advisory, plots=False)


def test_page_lists_legs_on_the_clock_of_their_place(gather: Gather, verdict: Make) -> None:
    said = visible(as_html(gather(verdict()), plots=False))
    # Shut 17:30Z: 12:30 at the origin (-5); the van leaves 20:30 h later at 07:00 mountain time (-7).
    assert "bench Tue 3 Mar 12:30 Tue 3 Mar 13:30 origin, bench" in said
    assert "hub sort Tue 3 Mar 22:15 Wed 4 Mar 01:15 hub, building" in said
    assert "porch Wed 4 Mar 08:00 Wed 4 Mar 10:00 destination, porch-shade" in said


def test_no_traffic_lights(advisory: Advisory) -> None:
    page = as_html(advisory).lower()
    for colour in ("red", "green", "amber", "#f00", "#0f0", "#ff0000", "#00ff00"):
        assert not re.search(rf"(?:color|background|fill|stroke)\s*:\s*{re.escape(colour)}\b", page)


def test_files_appear_under_the_day(tmp_path: Path, advisory: Advisory) -> None:
    paths = write_advisory(advisory, tmp_path / "out")
    assert [path.relative_to(tmp_path).as_posix() for path in paths] == [
        f"out/2026-03-03/advisory.{kind}" for kind in ("txt", "md", "html", "json")
    ]
    first = {path: path.read_bytes() for path in paths}
    assert write_advisory(advisory, tmp_path / "out") == paths
    assert {path: path.read_bytes() for path in paths} == first
    assert sorted(path.name for path in paths[0].parent.iterdir()) == sorted(path.name for path in paths)
    assert from_json(paths[-1].read_text(encoding="utf-8")) == advisory


def test_a_folder_that_cannot_be_made(tmp_path: Path, advisory: Advisory) -> None:
    (tmp_path / "out").write_text("a file", encoding="utf-8")
    with pytest.raises(StoreError):
        write_advisory(advisory, tmp_path / "out")
