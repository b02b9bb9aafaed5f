"""The pictures: repeatable, readable, honest about which line is which."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise

import matplotlib as mpl
import pytest

from shipwindow.advisory.document import Advisory, OrderAdvice
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
    plain = plot_svg(order, "F")
    with mpl.rc_context({"axes.grid": True, "lines.linewidth": 9.0, "axes.facecolor": "red", "savefig.pad_inches": 3}):
        assert plot_svg(order, "F") == plain


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
    figure = _figure(order, "F", size, "salt")
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
    figure = _figure(order, "F", size, "salt")
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    labels = [label.get_window_extent(renderer) for label in figure.axes[0].get_xticklabels()]
    assert len(labels) >= 3
    assert all(left.x1 < right.x0 for left, right in pairwise(labels))


def test_axis_is_the_destinations_clock(order: OrderAdvice) -> None:
    svg = plot_svg(order, "F")
    assert "clock at the destination (America/Denver)" in svg
    figure = _figure(order, "F", WIDE, "salt")
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
