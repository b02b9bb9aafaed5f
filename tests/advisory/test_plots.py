"""The pictures: repeatable, readable, honest about which line is which.

Lettering is measured by matplotlib, with the font's own file: an outside check of our table of widths.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise
from xml.etree import ElementTree as ET

import matplotlib as mpl
import pytest
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath
from matplotlib.transforms import Bbox

from shipwindow.advisory.document import Advisory, OrderAdvice
from shipwindow.advisory.picture import text_width_pt
from shipwindow.advisory.plots import COLD, NARROW, WARM, WIDE, Size, _figure, plot_png, plot_svg
from shipwindow.decide.verdict import History, Verdict


@pytest.fixture
def order(gather: Callable[..., Advisory], verdict: Callable[..., Verdict]) -> OrderAdvice:
    return gather(verdict()).orders[0]


def test_same_order_same_bytes(order: OrderAdvice) -> None:
    assert plot_svg(order, "F") == plot_svg(order, "F")
    assert plot_png(order, "F") == plot_png(order, "F")
    assert plot_png(order, "F").startswith(b"\x89PNG")


def test_nobodys_own_style_changes_the_picture(order: OrderAdvice) -> None:
    plain = plot_png(order, "F")
    with mpl.rc_context({"axes.grid": True, "lines.linewidth": 9.0, "axes.facecolor": "red", "savefig.dpi": 30}):
        assert plot_png(order, "F") == plain


def test_svg_carries_no_date_and_no_foreign_identifiers(order: OrderAdvice) -> None:
    svg = plot_svg(order, "F", WIDE, "k7")
    assert "dc:date" not in svg
    assert "<metadata" not in svg
    assert svg.startswith("<svg ")
    assert all(name.startswith("k7-") for name in re.findall(r'\bid="([^"]*)"', svg))
    head = svg[: svg.index(">")]
    assert "viewBox" in head
    assert "width=" not in head


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
def test_every_leg_is_named_and_no_names_touch(order: OrderAdvice, size: Size) -> None:
    figure = _figure(order, "F", size)
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    names = [text for text in figure.axes[0].texts if str(text.get_gid()).startswith("leg")]
    assert [text.get_text() for text in names] == [leg.name for leg in order.details.legs]
    boxes = [text.get_window_extent(renderer) for text in names]
    legend = figure.axes[0].get_legend()
    assert legend is not None
    boxes.append(legend.get_window_extent(renderer))
    width, height = figure.canvas.get_width_height()
    for number, box in enumerate(boxes):
        assert box.x0 >= 0
        assert box.x1 <= width
        assert box.y1 <= height
        for other in boxes[:number]:
            apart = box.x1 <= other.x0 or other.x1 <= box.x0 or box.y1 <= other.y0 or other.y1 <= box.y0
            assert apart


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
def test_hours_do_not_touch(order: OrderAdvice, size: Size) -> None:
    figure = _figure(order, "F", size)
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    labels = [label.get_window_extent(renderer) for label in figure.axes[0].get_xticklabels()]
    assert len(labels) >= 3
    assert all(left.x1 < right.x0 for left, right in pairwise(labels))


def lettering(svg: str, size: Size) -> list[tuple[str, str, Bbox]]:
    """Every text of a picture with its identifier and the room it takes, in points from the top left."""
    font = FontProperties(family="DejaVu Sans", size=size.text_pt)
    found = []
    for element in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text"):  # noqa: S314 - our own drawing
        text = element.text or ""
        inked = TextPath((0, 0), text, prop=font).get_extents()
        x, y = float(element.attrib["x"]), float(element.attrib["y"])
        left = x - {"middle": 0.5, "end": 1.0}.get(element.get("text-anchor", "start"), 0.0) * inked.width
        box = Bbox.from_extents(left, y - 0.75 * size.text_pt, left + inked.width, y + 0.2 * size.text_pt)
        found.append((element.get("id", ""), text, box))
    return found


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
def test_page_names_every_leg_and_no_lettering_touches(order: OrderAdvice, size: Size) -> None:
    texts = lettering(plot_svg(order, "F", size, "k"), size)
    assert [text for name, text, _ in texts if name.startswith("k-leg-")] == [leg.name for leg in order.details.legs]
    assert {"safe band", "air around box"} <= {text for _, text, _ in texts}
    for number, (_, text, box) in enumerate(texts):
        assert box.x0 >= 0
        assert box.x1 <= size.width_pt
        assert box.y0 >= 0
        assert box.y1 <= size.height_pt
        for _, other, there in texts[:number]:
            assert not box.overlaps(there), (text, other)


def test_widths_are_the_fonts_own() -> None:
    font = FontProperties(family="DejaVu Sans", size=10.0)
    for text in ("hub ramp, unloading", "depot, waiting for the customer", "Mon 12", "09:00"):
        inked = TextPath((0, 0), text, prop=font).get_extents().width
        # the advance counts the room at both sides of the ink: a tenth of an em here
        assert 0.0 <= text_width_pt(text, 10.0) - inked <= 2.0


def test_page_and_mail_show_the_same_hours_and_degrees(order: OrderAdvice) -> None:
    texts = [text for _, text, _ in lettering(plot_svg(order, "F"), WIDE)]
    figure = _figure(order, "F", WIDE)
    marks = [*figure.axes[0].get_xticklabels(), *figure.axes[0].get_yticklabels()]
    assert {line for mark in marks for line in mark.get_text().split("\n")} <= set(texts)


def test_water_stands_where_its_degrees_say(order: OrderAdvice) -> None:
    """The first and last point of the water, read back from the picture by its own axis marks."""
    svg = plot_svg(order, "C")
    curve = order.details.curve
    assert curve is not None
    marks = {
        float(text): box.y0 + 0.75 * WIDE.text_pt - 0.35 * WIDE.text_pt
        for _, text, box in lettering(svg, WIDE)
        if re.fullmatch(r"-?\d+", text)
    }
    (low, low_y), *_, (high, high_y) = sorted(marks.items())
    thick = next(path for path in re.findall(r"<path [^>]*>", svg) if 'stroke-width="2"' in path and "Z" not in path)
    points = re.findall(r"([\d.]+) ([\d.]+)", thick[: thick.index("fill")])
    for index in (0, -1):
        shown_C = low + (float(points[index][1]) - low_y) / (high_y - low_y) * (high - low)
        # a tenth of a point at 3 points a degree
        assert shown_C == pytest.approx(curve.water_C[index], abs=0.15)


def test_axis_is_the_destinations_clock(order: OrderAdvice) -> None:
    svg = plot_svg(order, "F")
    assert "clock at the destination (America/Denver)" in svg
    figure = _figure(order, "F", WIDE)
    labels = [label.get_text() for label in figure.axes[0].get_xticklabels()]
    # The lid is shut at 17:30Z, 10:30 in Denver in winter: the first full three hours are noon.
    assert labels[0] == "12:00\nTue 3"
    assert figure.axes[0].get_xticks()[0] == pytest.approx(1.5, abs=1e-9)  # hours after 10:30, exact


@pytest.mark.parametrize(("shift_K", "colours"), [(-15.0, {COLD}), (14.0, {COLD, WARM}), (40.0, {WARM})])
def test_cold_is_blue_and_warm_is_orange(
    gather: Callable[..., Advisory],
    verdict: Callable[..., Verdict],
    history: Callable[[float], History],
    shift_K: float,
    colours: set[str],
) -> None:
    svg = plot_svg(gather(verdict(history=history(shift_K))).orders[0], "F")
    assert {colour for colour in (COLD, WARM) if colour in svg} == colours


def test_no_trip_no_picture(gather: Callable[..., Advisory], missing: Verdict) -> None:
    order = gather(missing).orders[0]
    assert plot_svg(order, "F") == ""
    assert plot_png(order, "F") == b""


def test_leg_names_are_escaped(gather: Callable[..., Advisory], verdict: Callable[..., Verdict]) -> None:
    made = verdict()
    legs = (
        type(made.legs[0])("<b>x</b>", "origin", "bench", made.legs[0].start_at, made.legs[0].end_at),
        *made.legs[1:],
    )
    svg = plot_svg(gather(verdict(legs=legs)).orders[0], "F")
    assert "<b>" not in svg
    assert "&lt;b&gt;x" in svg
