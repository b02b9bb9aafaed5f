"""The outbox keeps its promises: nothing twice, nothing lost; real SQLite, a real killed process."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shipwindow.service.outbox import Item, Outbox, Tried, message_id, open_outbox
from shipwindow.settings.service_file import Retries

NOW = datetime(2026, 3, 3, 11, 30, tzinfo=UTC)


def put(outbox: Outbox, key: str = "advisory/2026-03-03/mail/me", at: datetime = NOW) -> bool:
    return outbox.put(key, channel="mail", target="me", message_id=message_id(key, "s"), body=b"x", now=at)


def deliver(outbox: Outbox, outcome: str, at: datetime) -> list[str]:
    tried: list[str] = []

    def channel(item: Item) -> Tried:
        tried.append(item.key)
        return Tried(outcome, "said")  # type: ignore[arg-type]

    outbox.deliver({"mail": channel}, lambda: at)
    return tried


def test_the_same_key_goes_in_once_and_out_once(tmp_path: Path) -> None:
    with open_outbox(tmp_path / "o.db", Retries()) as outbox:
        assert put(outbox)
        assert not put(outbox)
        assert len(deliver(outbox, "sent", NOW)) == 1
        assert deliver(outbox, "sent", NOW + timedelta(days=3)) == []
        assert not put(outbox)
        [item] = outbox.items()
        assert (item.state, item.sent_at) == ("sent", NOW)


def test_pauses_double_up_to_the_longest_and_end_with_giving_up(tmp_path: Path) -> None:
    with open_outbox(tmp_path / "o.db", Retries()) as outbox:
        put(outbox)
        at, pauses = NOW, []
        while outbox.items("waiting"):
            assert len(deliver(outbox, "later", at)) == 1
            due = outbox.next_due()
            if due is None:
                break
            pauses.append((due - at) / timedelta(minutes=1))
            at = due
        assert pauses[:7] == pytest.approx([1, 2, 4, 8, 16, 32, 60], abs=1e-6)  # microseconds of the clock
        assert set(pauses[7:]) == {60.0}
        [item] = outbox.items("given-up")
        assert timedelta(hours=24) <= at - NOW <= timedelta(hours=25)
        assert outbox.again(item.key, at)
        assert len(deliver(outbox, "sent", at)) == 1


def test_a_lasting_refusal_is_not_repeated(tmp_path: Path) -> None:
    with open_outbox(tmp_path / "o.db", Retries()) as outbox:
        put(outbox)
        deliver(outbox, "never", NOW)
        assert deliver(outbox, "sent", NOW + timedelta(hours=20)) == []
        assert [item.said for item in outbox.items("given-up")] == ["said"]


def test_a_channel_that_breaks_costs_a_try_not_the_letter(tmp_path: Path) -> None:
    def broken(item: Item) -> Tried:
        raise RuntimeError(item.key)

    with open_outbox(tmp_path / "o.db", Retries()) as outbox:
        put(outbox)
        outbox.deliver({"mail": broken}, lambda: NOW)
        [item] = outbox.items("waiting")
        assert "RuntimeError" in item.said
        assert len(deliver(outbox, "sent", NOW + timedelta(minutes=2))) == 1


def test_killed_while_sending_the_letter_is_taken_up_again_under_the_same_id(tmp_path: Path) -> None:
    script = textwrap.dedent(
        """
        import os, signal, sys
        from datetime import UTC, datetime
        from shipwindow.service.outbox import message_id, open_outbox
        from shipwindow.settings.service_file import Retries
        now = datetime(2026, 3, 3, 11, 30, tzinfo=UTC)
        with open_outbox(sys.argv[1], Retries()) as outbox:
            outbox.put("k", channel="mail", target="me", message_id=message_id("k", "s"), body=b"x", now=now)
            outbox.deliver({"mail": lambda item: os.kill(os.getpid(), signal.SIGKILL)}, lambda: now)
        """
    )
    path = tmp_path / "o.db"
    ended = subprocess.run([sys.executable, "-c", script, str(path)], check=False, env={**os.environ})
    assert ended.returncode == -signal.SIGKILL
    with open_outbox(path, Retries()) as outbox:
        [item] = outbox.items("sending")
        assert deliver(outbox, "sent", NOW + timedelta(minutes=1)) == []  # the lease still runs
        assert deliver(outbox, "sent", NOW + timedelta(minutes=6)) == ["k"]
        [sent] = outbox.items("sent")
        assert sent.message_id == item.message_id == message_id("k", "s")


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(st.sampled_from(["put", "sent", "later", "never"]), st.integers(0, 3), st.integers(0, 90)),
        max_size=25,
    )
)
def test_whatever_happens_nothing_is_sent_twice_and_nothing_vanishes(steps: list[tuple[str, int, int]]) -> None:
    at, known, sent = NOW, set[str](), list[str]()
    with open_outbox(":memory:", Retries()) as outbox:
        for what, number, minutes in steps:
            at += timedelta(minutes=minutes)
            if what == "put":
                put(outbox, f"k{number}", at)
                known.add(f"k{number}")
            else:
                tried = deliver(outbox, what, at)
                sent += tried if what == "sent" else []
        assert len(sent) == len(set(sent))
        assert {item.key for item in outbox.items()} == known
        assert {item.key for item in outbox.items("sent")} == set(sent)
