"""Work list and pack sheets: what they say, in which order, by which clock.

Minutes (12 a box, 3 a coral) and the layers of a box are common practice, no source, as the settings say; the checks
here are on our own arithmetic with them, worked by hand.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import Any

import pytest

from shipwindow.advisory.sheets.build import build_sheets
from shipwindow.advisory.sheets.codes import code_matrix, order_code, read_code
from shipwindow.advisory.sheets.worklist import clocks_of
from shipwindow.errors import ConfigError
from shipwindow.settings.models import Settings

NOW = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)
CORALS = ("green staghorn", "orange plate", "pink chalice")


def test_fourteen_boxes_with_forty_corals_take_four_hours_and_forty_eight_minutes(
    settings: Settings, order: Any, advice: Any, advisory: Any
) -> None:
    # 14 x 12 + 40 x 3 = 288 min = 4.8 h: the worked example of the project's sheet on the trade, section 1.3.
    sizes = [3] * 13 + [1]
    orders = [order(f"A-{n}", [f"coral {k}" for k in range(size)]) for n, size in enumerate(sizes)]
    sheets = build_sheets(advisory(*[advice(each.order) for each in orders]), orders, settings, NOW)
    work = sheets.work_list
    assert work.minutes_needed == pytest.approx(288.0)
    # 07:00 to 16:10 (17:00 less 30 min of drive and 20 min spare) is 550 min.
    assert work.minutes_left == pytest.approx(550.0)
    assert f"{work.start_latest_at:%H:%M}" == "11:22"
    assert f"{work.work[-1].ready_at:%H:%M}" == "16:10"
    assert all(row.fits for row in work.work)


def test_what_has_no_time_left_is_marked_and_two_people_are_twice_as_fast(
    settings: Settings, order: Any, advice: Any, advisory: Any
) -> None:
    orders = [order(f"A-{n}", CORALS) for n in range(3)]  # 21 min each
    day = advisory(*[advice(each.order) for each in orders])
    late = datetime(2026, 3, 3, 20, 30, tzinfo=UTC)  # 15:30 at the shop: 40 min left
    alone = build_sheets(day, orders, settings, late).work_list
    assert [row.fits for row in alone.work] == [True, False, False]
    assert "2 of 3 orders do not fit" in alone.says
    two = settings.model_copy(
        update={
            "desk": settings.desk.model_copy(update={"sheets": settings.desk.sheets.model_copy(update={"people": 2})})
        }
    )
    assert [row.fits for row in build_sheets(day, orders, two, late).work_list.work] == [True, True, True]


def test_today_or_not_at_all_goes_first_then_what_waiting_costs_most(
    settings: Settings, order: Any, advice: Any, advisory: Any
) -> None:
    soon, later = date(2026, 3, 4), date(2026, 3, 9)
    worse = advice("X").details.way.model_copy(update={"ship_day": soon, "chance": 0.11})
    orders = [order("cheap", CORALS), order("risky", CORALS), order("promised", CORALS, latest=date(2026, 3, 5))]
    day = advisory(
        advice("cheap", next_window=soon),  # one day: 6.00
        advice("risky", next_window=soon, alternatives=(worse,)),  # 6.00 + 0.10 x 200 = 26.00
        advice("promised", next_window=later),
    )
    work = build_sheets(day, orders, settings, NOW).work_list.work
    assert [row.order for row in work] == ["promised", "risky", "cheap"]
    assert [row.waiting_cents for row in work] == [None, 2600, 600]
    assert work[0].must_go
    assert "promised by Thu 5 Mar" in work[0].why


@pytest.mark.parametrize(
    ("day", "latest_utc"),
    # The clocks of New York go forward on 2026-03-08 and back on 2026-11-01, both at 02:00 (IANA zone database).
    [(date(2026, 3, 7), "21:10"), (date(2026, 3, 8), "20:10"), (date(2026, 11, 1), "21:10")],
)
def test_the_latest_lid_keeps_to_the_cut_off_through_clock_changes(
    settings: Settings, day: date, latest_utc: str
) -> None:
    clocks = clocks_of(settings, "America/New_York", day)
    assert f"{clocks.lid_latest_at.astimezone(UTC):%H:%M}" == latest_utc
    assert f"{clocks.lid_latest_at:%H:%M}" == "16:10"


def test_a_night_drop_off_counts_real_hours_over_a_clock_change(settings: Settings) -> None:
    # Cut-off at 03:30 summer time, an hour after the clocks jumped 02:00 -> 03:00: 50 min before is 01:40 winter time.
    drop = settings.shop.drop_off.model_copy(update={"cut_off": time(3, 30)})
    shifted = settings.model_copy(update={"shop": settings.shop.model_copy(update={"drop_off": drop})})
    clocks = clocks_of(shifted, "America/New_York", date(2026, 3, 8))
    assert f"{clocks.lid_latest_at:%H:%M}" == "01:40"


@pytest.mark.parametrize("kind", ["go", "pack-with-heat", "pack-with-cold"])
def test_a_sheet_says_what_the_box_needs(settings: Settings, order: Any, advice: Any, advisory: Any, kind: str) -> None:
    sheet = build_sheets(advisory(advice("A-1", kind)), [order("A-1", CORALS)], settings, NOW).sheets[0]
    said = " ".join(line for section in sheet.sections for line in section.lines)
    assert [bag.coral for bag in sheet.bags] == list(CORALS)
    assert sheet.water_m3 == pytest.approx(3 * 80e-6)
    for always in ("Leak test", "outer bag", "raft", "crumpled paper", "about 75 %"):
        assert always in said
    # 68 to 84 degF is 20 to 29 degC: the kind's safe band in cargo.toml.
    assert sheet.temperature_line == "Keep between 68 and 84 °F (20 to 29 °C)"
    assert sheet.carton_lines[0] == "LIVE ANIMALS"
    assert any("dry ice" in line for line in sheet.cautions)
    assert ("burn" in " ".join(sheet.cautions)) == (kind == "pack-with-heat")
    # Shield of a 12 x 10 in box: half an inch less each way (trade sheet 3.4: 11.5 x 9.5 in, 29 x 24 cm).
    assert ("11.5 × 9.5 in (29 × 24 cm)" in said) == (kind != "go")
    assert ("20 mm" in said) == (kind == "pack-with-heat")
    assert ("never against a bag" in said) == (kind != "go")


def test_the_layers_fill_the_box_and_ballast_lies_at_the_bottom(
    settings: Settings, order: Any, advice: Any, advisory: Any
) -> None:
    pack = advice("A-1", "pack-with-heat").details.way.pack.model_copy(update={"ballast_kg": 1.5})
    sheet = build_sheets(
        advisory(advice("A-1", "pack-with-heat", pack=pack)), [order("A-1", CORALS)], settings, NOW
    ).sheets[0]
    assert sum(layer.thickness_m for layer in sheet.layers) == pytest.approx(sheet.inner_m[2], abs=1e-4)  # rounding
    assert [layer.name.split()[0] for layer in sheet.layers] == ["heat", "paper", "3", "ballast", "paper"]
    # 1.5 kg of sea water (1.023 kg/L) on 12 x 10 in (774.19 cm2) stands 1.89 cm high.
    assert sheet.layers[3].thickness_m == pytest.approx(0.01894, abs=2e-5)


def test_an_older_advisory_that_no_longer_fits_is_told_and_makes_no_sheet(
    settings: Settings, order: Any, advice: Any, advisory: Any
) -> None:
    gone = advice("A-1", "pack-with-heat").details.way.pack.model_copy(update={"name": "three-heat"})
    day = advisory(advice("A-1", "pack-with-heat", pack=gone), advice("A-2"), advice("A-3"))
    sheets = build_sheets(day, [order("A-1", CORALS), order("A-3", CORALS)], settings, NOW)
    assert [sheet.order for sheet in sheets.sheets] == ["A-3"]
    assert len(sheets.notes) == 2
    with pytest.raises(ConfigError, match="an order of this advisory"):
        build_sheets(day, [], settings, NOW, only=["Z-9"])


def test_bags_without_names_get_a_line_to_write_on_and_bags_beyond_the_corals_are_listed(
    settings: Settings, order: Any, advice: Any, advisory: Any
) -> None:
    mixed = order("A-1", CORALS, bags=(("bag-4x8", 4), ("bag-6x12", 1)))
    sheet = build_sheets(advisory(advice("A-1")), [mixed], settings, NOW).sheets[0]
    assert [(bag.coral, bag.bag) for bag in sheet.bags[3:]] == [("", "bag-4x8"), ("", "bag-6x12")]
    assert any("Write the name" in line for section in sheet.sections for line in section.lines)


@pytest.mark.parametrize("name", ["A-101", "7/B 12", "Ø%20?", "x" * 80])
def test_a_code_leads_back_to_its_order(name: str) -> None:
    assert read_code(order_code(name, 1, 12)) == name
    assert read_code(name) == name
    assert len(code_matrix(order_code(name, 1, 12))) >= 21  # version 1 of ISO/IEC 18004 has 21 modules a side


def test_a_code_of_something_else_is_refused() -> None:
    with pytest.raises(ConfigError, match="a code such as"):
        read_code("shipwindow:box/3")
