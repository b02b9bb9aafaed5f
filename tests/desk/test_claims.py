"""Claims: minutes by the clock of the world, proof, states, and that a person decides.

The promise (2 h, proof) is the shop's own setting; its default is common practice, no source. Clock changes are those
of the IANA zone database for 2026.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from shipwindow.desk.book import open_book
from shipwindow.desk.claims import Claim, ClaimBook, collection, open_claims, timing, timing_words
from shipwindow.desk.policy import hours_words, promise_lines, report_by
from shipwindow.errors import ConfigError
from shipwindow.settings.models import Settings
from shipwindow.settings.starter import write_starter

NEW_YORK = ZoneInfo("America/New_York")
DELIVERED = datetime(2026, 3, 4, 10, 30, tzinfo=NEW_YORK)
NOW = datetime(2026, 3, 4, 18, 0, tzinfo=UTC)


@pytest.fixture
def claims(tmp_path: Path) -> Iterator[ClaimBook]:
    write_starter(tmp_path / "shop", "33602", "38118")
    with open_claims(tmp_path / "shop") as book:
        yield book


@pytest.mark.parametrize(
    ("delivered", "reported", "minutes", "said"),
    [
        (DELIVERED, datetime(2026, 3, 4, 12, 30, tzinfo=NEW_YORK), 120, "in time"),
        (DELIVERED, datetime(2026, 3, 4, 12, 31, tzinfo=NEW_YORK), 121, "late"),
        (DELIVERED, datetime(2026, 3, 4, 10, 0, tzinfo=ZoneInfo("America/Denver")), 90, "in time"),
        # 01:30 winter time to 03:40 summer time on the night of the change is 70 minutes, not 130.
        (
            datetime(2026, 3, 8, 1, 30, tzinfo=NEW_YORK),
            datetime(2026, 3, 8, 3, 40, tzinfo=NEW_YORK),
            70,
            "in time",
        ),
        # 00:30 summer time to 01:45 winter time, which comes second, is 135 minutes, not 75.
        (
            datetime(2026, 11, 1, 0, 30, tzinfo=NEW_YORK),
            datetime(2026, 11, 1, 1, 45, fold=1, tzinfo=NEW_YORK),
            135,
            "late",
        ),
        (DELIVERED, DELIVERED - timedelta(minutes=5), -5, "reported before delivery"),
        (None, DELIVERED, None, "hour of delivery not known"),
    ],
)
def test_minutes_since_delivery(
    settings: Settings, delivered: datetime | None, reported: datetime, minutes: float | None, said: str
) -> None:
    found, counted = timing(Claim("A-1-1", "A-1", reported, delivered), settings.desk.policy)
    assert found == said
    assert counted == (None if minutes is None else pytest.approx(minutes))


def test_the_last_hour_to_report_passes_a_clock_change(settings: Settings) -> None:
    by = report_by(settings.desk.policy, datetime(2026, 3, 8, 1, 30, tzinfo=NEW_YORK))
    assert f"{by:%H:%M %z}" == "04:30 -0400"


def test_from_report_to_settled(claims: ClaimBook) -> None:
    claim = claims.report(
        "A-1", DELIVERED + timedelta(minutes=50), at=NOW, who="me", delivered_at=DELIVERED, corals=("plate",)
    )
    assert (claim.claim, claim.state) == ("A-1-1", "reported")
    assert "0 h 50 min after delivery, in time" in timing_words(claim, claims.policy)
    for number in range(1, len(claim.needed) + 1):
        claim = claims.add_proof("A-1-1", str(number), f"photo-{number}.jpg", at=NOW, who="me")
    assert claim.state == "ready"
    with pytest.raises(ConfigError, match="who decides, and why"):
        claims.decide("A-1-1", "credit", at=NOW, who="", why="lost")
    claims.decide("A-1-1", "credit", at=NOW, who="Kim", why="one lost", amount_cents=4500)
    assert claims.settle("A-1-1", at=NOW, who="Kim").state == "settled"
    kept = claims.claim("A-1-1")
    assert (kept.gives, kept.amount_cents, kept.decided_by, kept.state) == ("credit", 4500, "Kim", "settled")
    assert [event["kind"] for event in claims.history("A-1-1")] == ["reported", *["proof"] * 3, "decided", "settled"]
    with pytest.raises(ConfigError, match="a claim that is reported or ready"):
        claims.decide("A-1-1", "refund", at=NOW, who="Kim", why="again")


def test_a_person_may_decide_late_and_without_proof(claims: ClaimBook) -> None:
    claims.report("A-1", DELIVERED + timedelta(hours=5), at=NOW + timedelta(days=1), who="me", delivered_at=DELIVERED)
    assert claims.decide("A-1-1", "replacement", at=NOW, who="Kim", why="good customer").state == "decided"


def test_the_same_report_twice_is_one_claim_and_a_second_waits(claims: ClaimBook) -> None:
    first = claims.report("A-1", DELIVERED, at=NOW, who="me", corals=("plate",))
    assert claims.report("A-1", DELIVERED, at=NOW, who="me", corals=("plate",)).claim == first.claim
    with pytest.raises(ConfigError, match="one open claim"):
        claims.report("A-1", DELIVERED + timedelta(minutes=9), at=NOW, who="me")
    claims.withdraw(first.claim, at=NOW, who="me", why="they opened up")
    assert claims.report("A-1", DELIVERED + timedelta(minutes=9), at=NOW, who="me").claim == "A-1-2"
    assert [claim.state for claim in claims.claims()] == ["withdrawn", "reported"]


def test_wrong_input_is_told_and_changes_nothing(claims: ClaimBook) -> None:
    with pytest.raises(ConfigError, match="with its zone"):
        claims.report("A-1", datetime(2026, 3, 4, 12, 0), at=NOW, who="me")  # noqa: DTZ001 - that is the fault
    with pytest.raises(ConfigError, match="later than now"):
        claims.report("A-1", NOW + timedelta(hours=1), at=NOW, who="me")
    with pytest.raises(ConfigError, match="none yet"):
        claims.claim("A-9-1")
    claims.report("A-1", DELIVERED, at=NOW, who="me")
    with pytest.raises(ConfigError, match="give its number"):
        claims.add_proof("A-1-1", "9", "x.jpg", at=NOW, who="me")
    assert len(claims.history("A-1-1")) == 1


def test_the_log_cannot_be_changed_and_the_book_lies_beside_it(claims: ClaimBook) -> None:
    claims.report("A-1", DELIVERED, at=NOW, who="me")
    for change in ("update claim_event set who = 'x'", "delete from claim_event"):
        with pytest.raises(sqlite3.IntegrityError, match="only ever appended"):
            claims.store.conn.execute(change)
    claims.store.conn.rollback()
    with open_book(Path(claims.path).parent) as book:
        assert book.path == claims.path
        assert book.entries() == ()
    assert len(claims.claims()) == 1


def test_the_promise_is_made_from_its_data_or_in_the_shops_words(settings: Settings) -> None:
    policy = settings.desk.policy
    said = " ".join(promise_lines(policy))
    for part in ("within 2 hours", "a credit", "shipping is not included", "first delivery", "is not covered"):
        assert part in said
    covered = policy.model_copy(update={"delay_covered": True, "gives": "refund", "shipping_refunded": True})
    assert "a refund for it, shipping included" in " ".join(promise_lines(covered))
    assert promise_lines(policy.model_copy(update={"says": ("Ours.",)})) == ("Ours.",)
    assert [hours_words(hours) for hours in (1.0, 2.0, 1.5, 0.25)] == ["1 hour", "2 hours", "90 minutes", "15 minutes"]


def test_a_box_at_a_depot_is_timed_twice(claims: ClaimBook) -> None:
    """Ready at 08:00 and collected at 11:30 is late for the 3 h of the promise; the report counts from collection."""
    ready = datetime(2026, 3, 4, 8, 0, tzinfo=NEW_YORK)
    collected = ready + timedelta(hours=3, minutes=30)
    told = ready + timedelta(hours=5)
    claim = claims.report("A-1", told, at=NOW, who="Kim", delivered_at=ready, collected_at=collected)
    assert claims.claim(claim.claim).collected_at == collected
    assert timing(claim, claims.policy) == ("in time", 90.0)
    assert collection(claim, claims.policy) == ("late", 210.0)
    assert timing_words(claim, claims.policy) == (
        "reported 1 h 30 min after collection, in time (promise: 2 hours); "
        "collected 3 h 30 min after it was ready, late (promise: 3 hours)"
    )
    with pytest.raises(ConfigError, match="before it was ready"):
        claims.report("A-2", NOW, at=NOW, who="Kim", delivered_at=ready, collected_at=ready - timedelta(minutes=1))
