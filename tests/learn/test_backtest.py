"""The backtest: the same bytes however it is spread, thresholds from odd weeks only, scores against hand cases."""

from __future__ import annotations

import ast
import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import shipwindow.learn.backtest as package
from shipwindow.box import Bag, Box, Exposure, Load, PackPlan, simulate
from shipwindow.errors import ConfigError
from shipwindow.forecast.histories import as_forecast, open_library
from shipwindow.learn.backtest import run as running
from shipwindow.learn.backtest import score
from shipwindow.learn.backtest.hindcast import PastOrder, look_back, summarise
from shipwindow.learn.backtest.issue import issue
from shipwindow.learn.backtest.outside import STEP_S, Around
from shipwindow.learn.backtest.page import rules_table, summary, write_page
from shipwindow.learn.backtest.pictures import draw
from shipwindow.learn.backtest.plan import FIRST, LANES, MEASURED, TOLD, Plan, check_weeks, plain, read_lane
from shipwindow.learn.backtest.policies import HELD, MOST_TRIES, Money, Packs, Setup, choose, followed, oracle
from shipwindow.learn.backtest.ranges import likeliest
from shipwindow.learn.backtest.report import make_report
from shipwindow.learn.backtest.run import run_backtest
from shipwindow.learn.backtest.truebox import Packed, follow
from shipwindow.learn.backtest.week import Job, Rows, try_week
from shipwindow.settings.models import Settings
from shipwindow.trip import BoxChoice, Shipment

SMALL = Plan(lanes=LANES[1:2], days=8, stride=7, draws=2, told=TOLD[:1])
LOAD = Load(Box((0.305, 0.254, 0.203), 0.0254), ((Bag((0.10, 0.20), 80e-6), 6),))


@pytest.fixture(scope="module")
def shipment() -> Shipment:
    place = open_library().history("us-ny-lga").station.place
    box = BoxChoice("box", LOAD, 0.12)
    return Shipment(
        key="any", origin=place, hub=place, hub_name="main", destination=place, cargo="small-polyp-stony", boxes=(box,),
        value_cents=18000, handover="porch-shade", earliest=FIRST, loss_cents=10600, hold_day_cents=600,
    )  # fmt: skip


@pytest.fixture(scope="module")
def rows(shipment: Shipment, settings: Settings, tmp_path_factory: pytest.TempPathFactory) -> Rows:
    """One process, keeping its weeks."""
    return run_backtest(SMALL, shipment, settings, keep=tmp_path_factory.getbasetemp() / "kept")


def _bytes(rows: Rows, shipment: Shipment, settings: Settings) -> bytes:
    report = make_report(rows, SMALL, shipment, settings)
    parts = [json.dumps(report, sort_keys=True), write_page(report, "command"), *draw(report).values()]
    return "\n".join([*parts, summary(report), rules_table(report)]).encode()


def _same(one: Rows, other: Rows) -> bool:
    return one.keys() == other.keys() and all(one[name].tobytes() == other[name].tobytes() for name in one)


def test_two_workers_give_the_same_bytes_as_one(
    rows: Rows, shipment: Shipment, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(score, "COST_LOSS", (0.1, 0.3))  # fewer ratios to tune to: quicker
    two = run_backtest(SMALL, shipment, settings, workers=2)
    assert _same(rows, two)
    assert _bytes(rows, shipment, settings) == _bytes(two, shipment, settings)


@pytest.mark.filterwarnings("default")  # the cluster's own
def test_a_dask_cluster_gives_the_same_bytes(rows: Rows, shipment: Shipment, settings: Settings) -> None:
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None, protocol="tcp", host="127.0.0.1"
    ) as cluster:
        found = run_backtest(SMALL, shipment, settings, scheduler=cluster.scheduler_address)
    assert _same(rows, found)


def test_a_run_that_was_stopped_goes_on(
    rows: Rows, shipment: Shipment, settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run_backtest(replace(SMALL, days=1), shipment, settings, keep=tmp_path)
    worked: list[int] = []

    def noted(job: Job) -> Rows:
        worked.append(job.week)
        return try_week(job)

    monkeypatch.setattr(running, "try_week", noted)
    # a kept file that was cut short is worked again
    kept = sorted(tmp_path.rglob("*.npz"))
    assert len(kept) == 1
    kept[0].write_bytes(kept[0].read_bytes()[:100])
    assert _same(rows, run_backtest(SMALL, shipment, settings, keep=tmp_path))
    assert worked == [0, 1]
    worked.clear()
    assert _same(rows, run_backtest(SMALL, shipment, settings, keep=tmp_path))
    assert worked == []


def test_another_seed_is_another_world_and_the_shop_counts(rows: Rows, shipment: Shipment, settings: Settings) -> None:
    short = replace(SMALL, days=1, seed=2)
    other = run_backtest(short, shipment, settings)
    assert not np.array_equal(rows["true_chance"][:1], other["true_chance"])
    assert not np.array_equal(rows["chance_measured"][:1], other["chance_measured"])
    # the model's own truth has no forecast error in it: the seed does not touch it
    assert rows["chance_known"][:1].tobytes() == other["chance_known"].tobytes()


def test_the_outside_simulation_imports_nothing_of_the_box_the_animals_or_the_exposure() -> None:
    folder = Path(package.__file__).parent
    for name in ("outside", "truebox", "harm", "ranges", "delays"):
        tree = ast.parse((folder / f"{name}.py").read_text(encoding="utf-8"))
        used = [node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
        used += [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
        barred = ("shipwindow.box", "shipwindow.cargo", "shipwindow.decide", "shipwindow.trip.around",
                  "shipwindow.trip.exposure", "shipwindow.trip.sun", "shipwindow.trip.many")  # fmt: skip
        assert [one for one in used if one.startswith(barred)] == []


def test_a_wider_error_is_the_same_error_wider() -> None:
    history = open_library().history("us-fl-miami").filled()
    start_at = history.start_at.replace(year=2013, month=2, day=1)
    happened = {"origin": as_forecast(history, start_at, 72)}
    errors = {
        told.name: issue(happened, told, 1, "lane", date(2013, 2, 1))["origin"].air_C - happened["origin"].air_C  # type: ignore[arg-type]
        for told in TOLD[:3]
    }
    # the site's own bias of 0.3 K is drawn apart and not widened: take it off by the difference of two hours
    steps = {name: np.diff(error) for name, error in errors.items()}
    np.testing.assert_allclose(steps["narrow"], 0.7 * steps["measured"], atol=1e-9)  # rounding of sums
    np.testing.assert_allclose(steps["wide"], 1.5 * steps["measured"], atol=1e-9)
    assert np.abs(errors["measured"]).max() > 0.3


def test_told_alike_the_outside_box_cools_as_the_program_s() -> None:
    """What the page says of the depth of the water: at the same depth both boxes cool alike."""
    hours = 24
    program = simulate([LOAD], [PackPlan()], [Exposure.hourly([0.0] * hours, film_W_m2K=8.0)], start_C=25.0)
    steps = int(hours * 3600 / STEP_S)
    around = Around(np.zeros((1, steps)), np.full((1, steps), 8.0), np.zeros((1, steps)))
    packed = Packed(LOAD.box.inner_m, LOAD.box.wall_m, LOAD.water_m3, 25.0)

    def water_C(deep_m: float) -> list[float]:
        drawn = likeliest() | {"bag_m": np.array([deep_m]), "start_K": np.zeros(1)}
        found = follow([packed], drawn, around, np.array([steps])).outer_C[0]
        return [float(found[int(hour * 3600 / STEP_S)]) for hour in (3, 6, 12)]

    theirs = [float(program.water_C[0, 0, int(hour * 3600 / 600)]) for hour in (3, 6, 12)]
    # 0.6 K of 25: two networks with films, contact and edges of their own
    assert water_C(LOAD.wetting.depth_m) == pytest.approx(theirs, abs=0.6)
    assert water_C(0.04)[1] > theirs[1] + 2.0  # deeper water cools more slowly: the difference on the page


PACKS = Packs(("none", "one-heat", "cold"), (0, 1, 0), (0, 0, 1))
SETUP = Setup(PACKS, Money(loss=100.0, hold=10.0, pack=2.0, day=5.0, cancelled=50.0), (20.0, 29.0))


def _made(chances: Any, **more: Any) -> Rows:
    true = np.asarray(chances, dtype=np.float64)[:, None, None, :].repeat(3, axis=1)
    days = true.shape[0]
    rows: Rows = {
        "lane": np.zeros(days, dtype=int), "week": np.arange(days) // 7, "day": FIRST.toordinal() + np.arange(days),
        "true_chance": true, "coin": np.full((days, 1), 0.5), "late": np.zeros((days, 3, 1), dtype=bool),
    }  # fmt: skip
    return rows | {name: np.asarray(value) for name, value in more.items()}


def test_an_order_is_followed_until_it_goes() -> None:
    rows = _made([[0.9, 0.1, 0.9]] * 8)
    # held, held, ships bare and is lost; ships with a pack and lives; then held to the end of the list and round again
    choices = np.array([HELD, HELD, 0, 1, HELD, HELD, HELD, HELD])
    found = followed(rows, choices, SETUP)
    assert found["waited"][:, 0].tolist() == [2, 1, 0, 0, 6, 5, 4, 3]
    assert found["lost"][:, 0].tolist() == [1, 1, 1, 0, 1, 1, 1, 1]
    # own arithmetic: two days of 5 and a loss of 100; a pack of 2
    assert found["cost"][0, 0] == pytest.approx(110.0)
    assert found["cost"][3, 0] == pytest.approx(2.0)
    never = followed(rows, np.full(8, HELD), SETUP)
    assert never["cost"][:, 0] == pytest.approx([5.0 * MOST_TRIES + 50.0] * 8)


def test_thresholds_come_from_odd_weeks_alone() -> None:
    rng = np.random.default_rng(3)
    low = rng.uniform(-10.0, 25.0, 700)
    # below 5 degC a bare box is lost, a warmer saves it down to -4
    chances = np.stack((low < 5.0, low < -4.0, low < 8.0), axis=1).astype(float)
    rows = _made(chances, way_low=low, way_high=low + 5.0, there_low=low, there_high=low + 5.0)
    odd = score.odd_weeks(rows)
    tuned = choose("sheet-way", rows, odd, SETUP)
    assert "hold below -4" in tuned.says
    assert "one-heat below 6" in tuned.says  # the first step of the grid that lies above 5
    upside_down = _made(np.where(odd[:, None], chances, 1.0 - chances), way_low=low, way_high=low + 5.0)
    assert choose("sheet-way", upside_down, odd, SETUP).says == tuned.says
    # tuned on the other weeks of that world it says something else: the split is real
    assert choose("sheet-way", upside_down, ~odd, SETUP).says != tuned.says


def test_the_oracle_is_worth_one_and_the_best_habit_nothing() -> None:
    rng = np.random.default_rng(4)
    chances = (rng.random((280, 3)) < 0.3).astype(float)
    more: dict[str, Any] = {
        name: rng.uniform(0.0, 20.0, 280) for name in ("way_low", "way_high", "there_low", "there_high")
    }
    water = {name: rng.uniform(18.0, 30.0, (280, 3)) for name in ("low", "high")}
    said = {name: np.zeros(280, dtype=int) for name in ("advice", "model_advice", "rules_advice", "packed")}
    # a forecast that knows everything: chance 0 or 1
    rows = _made(chances, chance_measured=chances, **more, **water, **said)
    worth = score.worths(rows, SETUP)["worth"]
    assert worth["model"] == pytest.approx([1.0] * len(score.COST_LOSS))
    assert all(value <= 0.0 for value in worth["always-ship"])
    costs = score.score_policies(rows, {"oracle": oracle(rows, SETUP)}, SETUP, ~score.odd_weeks(rows))
    assert costs["oracle"]["lost"] == 0.0


def test_a_policy_does_not_differ_from_itself() -> None:
    rows = _made([[0.9, 0.1, 0.9], [0.1, 0.1, 0.9]] * 14)
    bare = choose("always-ship", rows, score.odd_weeks(rows), SETUP)
    found = score.differences(rows, {"a": bare, "b": bare}, SETUP, ~score.odd_weeks(rows), "a")
    assert found["b"]["lost"] == {"mean": 0.0, "low": 0.0, "high": 0.0}
    hold = choose("always-hold", rows, score.odd_weeks(rows), SETUP)
    apart = score.differences(rows, {"a": bare, "b": hold}, SETUP, ~score.odd_weeks(rows), "a")
    assert apart["b"]["lost"]["mean"] == pytest.approx(
        -600.0 / 14.0, abs=5e-5
    )  # six of the fourteen even days were lost, bare


def test_stated_chances_are_held_against_what_happened() -> None:
    # the hand case of tests/reference/test_scores.py: 0.1 ten times with one event, 0.5 six (3), 0.9 four (3)
    stated = np.array([0.1] * 10 + [0.5] * 6 + [0.9] * 4)
    lost = np.array([1] + [0] * 9 + [1] * 3 + [0] * 3 + [1] * 3 + [0])
    rows = _made(np.stack([lost] * 3, axis=1), chance_measured=np.stack([stated] * 3, axis=1))
    found = score.chances_told(rows, SETUP, "measured")
    assert found is not None
    parts = [found[name] for name in ("brier", "reliability", "resolution", "uncertainty")]
    assert parts == pytest.approx([0.1620, 0.0045, 0.0700, 0.2275], abs=5e-5)  # rounded to four digits
    assert [one["orders"] for one in found["bins"]] == [10, 6, 4]


def test_past_orders_are_looked_back_at_only_where_hours_were_observed(shipment: Shipment, settings: Settings) -> None:
    library = open_library()
    newark, kennedy, miami = (library.history(key).station.place for key in ("us-ny-ewr", "us-ny-jfk", "us-fl-miami"))
    by_road = replace(shipment, origin=newark, hub=newark, destination=kennedy)
    orders = [
        PastOrder("W", by_road, date(2013, 1, 23), lost=True),  # the coldest days of that year in New York
        PastOrder("M", by_road, date(2013, 5, 21), lost=False),
        PastOrder("T", replace(by_road, origin=miami), date(2013, 5, 21), lost=None),  # a typical year only
        PastOrder("Y", by_road, date(2014, 5, 21), lost=None),
    ]
    cold, mild, typical, later = look_back(orders, library, settings, mornings=2)
    assert cold.held
    assert cold.advice == "hold"
    assert mild.held_share == pytest.approx(0.0)
    assert "no hours observed" in typical.reason
    assert "2014-05-21" in later.reason
    lines = " ".join(summarise([cold, mild, typical, later]))
    assert "1 of 1 lost orders would have been held" in lines
    assert "nothing can be said of 2" in lines


@pytest.mark.parametrize("wrong", [{"days": 0}, {"stride": 0}, {"days": 400}, {"draws": 0}])
def test_a_plan_without_days_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ConfigError):
        replace(SMALL, **wrong)


def test_thresholds_need_weeks_of_their_own() -> None:
    check_weeks(SMALL)
    with pytest.raises(ConfigError, match="1 week"):
        check_weeks(replace(SMALL, days=7, stride=1))
    with pytest.raises(ConfigError, match="2 week"):
        check_weeks(replace(SMALL, days=15, stride=14))


def test_wrong_lanes_and_schedulers_are_refused_in_words(shipment: Shipment, settings: Settings) -> None:
    with pytest.raises(ConfigError, match="--lane"):
        read_lane("us-fl-miami,us-ny-lga")
    unknown = replace(SMALL, lanes=(read_lane("nowhere,us-nc-greensboro,us-ny-lga"),))
    with pytest.raises(ConfigError, match="no station 'nowhere'"):
        run_backtest(unknown, shipment, settings)
    with pytest.raises(ConfigError, match="workers"):
        run_backtest(SMALL, shipment, settings, workers=0)


def test_all_policies_share_one_calendar(settings: Settings) -> None:
    ordinary = plain(settings)
    assert ordinary.shop.calendar.window_days == 1
    assert ordinary.rules.choosing.ballast_kg == pytest.approx(0.0)
    assert MEASURED in TOLD
