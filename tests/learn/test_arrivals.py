"""Arrivals: the newest word counts, the same word twice changes nothing, nothing is lost."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from shipwindow.errors import ConfigError
from shipwindow.learn.arrivals import (
    CHECKS,
    HEALTH,
    CoralState,
    Facts,
    PackMass,
    Weighing,
    arrivals,
    opened,
    read_corals,
    record,
    record_weighing,
    weighings,
)

NOW = datetime(2026, 4, 23, 18, 0, tzinfo=UTC)
STATES = st.builds(
    CoralState,
    st.sampled_from(["frag-1", "zoa, green", "acan"]),
    st.sampled_from(CHECKS),
    st.sampled_from(HEALTH),
    st.integers(1, 5),
)
FACTS = st.builds(
    Facts,
    opened_at=st.none() | st.integers(0, 10**8).map(lambda minutes: NOW - timedelta(seconds=minutes)),
    water_C=st.none() | st.floats(0, 40),
    days_late=st.none() | st.integers(0, 5),
    corals=st.lists(STATES, max_size=3, unique_by=lambda state: (state.name, state.check)).map(tuple),
)  # fmt: skip


@given(FACTS, FACTS)
@hypothesis_settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_what_was_said_last_is_what_counts(tmp_path: Path, first: Facts, second: Facts) -> None:
    with opened(":memory:") as database:
        record(database, "A-1", first, NOW)
        record(database, "A-1", second, NOW + timedelta(days=7))
        assert record(database, "A-1", second, NOW + timedelta(days=8)) == 0  # repeatable
        found = arrivals(database)
        for name in ("opened_at", "water_C", "days_late"):
            said = getattr(second, name) if getattr(second, name) is not None else getattr(first, name)
            assert not found or getattr(found[0], name) == said
        newest = {(s.name, s.check): s for s in (*first.corals, *second.corals)}
        assert not found or set(found[0].corals) == set(newest.values())
        assert bool(found) == (first != Facts() or second != Facts())


def test_a_correction_is_kept_beside_what_it_corrects(database: Any) -> None:
    for water_C in (20.0, 22.0, 20.0):
        assert record(database, "A-1", Facts(water_C=water_C), NOW) == 1
    assert arrivals(database)[0].water_C == pytest.approx(20.0)
    assert arrivals(database)[0].corrections == 2
    assert database.table("learn_event").count == 3


def test_losses_are_counted_by_the_last_look() -> None:
    def box(*said: str, check: str = "arrival") -> tuple[CoralState, ...]:
        return read_corals(said, check)

    with opened(":memory:") as database:
        record(database, "A-1", Facts(corals=box("frag-1:well", "zoa:stressed:2", "acan:dead")), NOW)
        one = arrivals(database)[0]
        assert one.lost() == (1, 4)
        assert not one.final
        record(database, "A-1", Facts(corals=box("frag-1:dying", "zoa:well:2", check="day-14")), NOW)
        one = arrivals(database)[0]
        assert one.lost() == (2, 4)  # frag-1 was lost later, the dead one stays dead
        assert one.final


def test_packs_weighed_before_and_after_meet(database: Any) -> None:
    record(database, "A-1", Facts(pack=PackMass("heat-40h", before_kg=0.101)), NOW)
    assert arrivals(database)[0].pack == PackMass("heat-40h", 0.101, None)
    record(database, "A-1", Facts(pack=PackMass("heat-40h", after_kg=0.1072)), NOW)
    pack = arrivals(database)[0].pack
    assert pack is not None
    assert pack.gain_kg == pytest.approx(0.0062)  # own subtraction
    assert record_weighing(database, Weighing("heat-40h", 0.104, 0.006, 12.0), NOW)
    assert not record_weighing(database, Weighing("heat-40h", 0.104, 0.006, 12.0), NOW)
    assert weighings(database) == {"heat-40h": Weighing("heat-40h", 0.104, 0.006, 12.0)}
    assert len(arrivals(database)) == 1  # a weighing is no arrival


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"water_C": 131.1}, "268 degF"),
        ({"days_late": -1}, "on time"),
        ({"opened_at": datetime(2026, 4, 23)}, "zone"),  # noqa: DTZ001 - that is the fault
        ({"pack": PackMass("heat-40h", before_kg=101.0)}, "unit"),
    ],
)
def test_what_no_box_shows_is_refused(facts: dict, said: str) -> None:
    with pytest.raises(ConfigError, match=said):
        Facts(**facts)


@pytest.mark.parametrize("text", ["frag", "frag:fine", "frag:dead:0", ":dead", "frag:dead:two"])
def test_a_coral_that_cannot_be_read(text: str) -> None:
    with pytest.raises(ConfigError, match="NAME:STATE"):
        read_corals([text], "arrival")
    with pytest.raises(ConfigError, match="day-14"):
        read_corals(["frag:dead"], "day-3")
