"""The forecast cache: every issue once, the newest answer, points, and damage."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipwindow.errors import StoreError
from shipwindow.forecast.cache import ForecastCache, Point, open_cache, open_memory

T0 = datetime(2026, 3, 4, 12, tzinfo=UTC)
H = timedelta(hours=1)


def keep(cache: ForecastCache, hour: float, body: bytes = b"{}", cell: str = "TST/1,2", after_h: float = 0.5) -> None:
    at = T0 + hour * H
    headers = {"etag": f'"{hour}"'}
    cache.keep("nws", cell, at, body, headers=headers, fetched_at=at + after_h * H, fresh_until=at + (after_h + 1) * H)


def test_every_issue_is_kept_once_oldest_first() -> None:
    cache = open_memory()
    for hour in (6, 0, 3, 0, 6):
        keep(cache, hour, f"issue {hour}".encode())
    keep(cache, 0, cell="TST/9,9")
    found = list(cache.history("TST/1,2"))
    assert [issue.issued_at for issue in found] == [T0, T0 + 3 * H, T0 + 6 * H]
    assert [issue.body for issue in found] == [b"issue 0", b"issue 3", b"issue 6"]
    assert found[0].headers == {"etag": '"0"'}
    assert list(cache.history("TST/1,2", "other")) == []
    assert cache.cells() == (("nws", "TST/1,2", 3, T0 + 6 * H), ("nws", "TST/9,9", 1, T0))


def test_a_corrected_body_of_one_issue_is_kept_beside_the_first() -> None:
    cache = open_memory()
    keep(cache, 0, b"first")
    keep(cache, 0, b"second", after_h=0.75)
    assert [issue.body for issue in cache.history("TST/1,2")] == [b"first", b"second"]
    newest = cache.latest("nws", "TST/1,2")
    assert newest is not None
    assert newest.body == b"second"


def test_the_newest_not_after_an_instant() -> None:
    cache = open_memory()
    keep(cache, 0)
    keep(cache, 6)
    found = [cache.latest("nws", "TST/1,2", T0 + hour * H) for hour in (-1, 0, 5.9, 6, 99)]
    assert [issue and issue.issued_at for issue in found] == [None, T0, T0, T0 + 6 * H, T0 + 6 * H]
    assert cache.latest("files", "TST/1,2") is None


def test_the_last_answer_and_its_refreshing() -> None:
    cache = open_memory()
    assert cache.last_answer("nws", "TST/1,2") is None
    keep(cache, 6, b"newer")
    keep(cache, 0, b"older answer, fetched later", after_h=9.0)
    answer = cache.last_answer("nws", "TST/1,2")
    assert answer is not None
    assert answer.issue.body == b"older answer, fetched later"
    assert (answer.checked_at, answer.fresh_until) == (T0 + 9 * H, T0 + 10 * H)
    cache.refresh("nws", "TST/1,2", headers={"etag": "new"}, checked_at=T0 + 10 * H, fresh_until=T0 + 11 * H)
    answer = cache.last_answer("nws", "TST/1,2")
    assert answer is not None
    assert (answer.headers, answer.fresh_until) == ({"etag": "new"}, T0 + 11 * H)
    assert answer.issue.headers == {"etag": '"0"'}


def test_points_are_replaced_forgotten_and_pruned() -> None:
    cache = open_memory()
    old, new = Point("TST/1,2", "/gridpoints/TST/1,2", "America/Chicago", T0), Point("TST/3,4", "/x", "", T0 + 48 * H)
    cache.keep_point("nws", "40,-90", old)
    assert cache.point("nws", "40,-90") == old
    cache.keep_point("nws", "40,-90", new)
    assert cache.point("nws", "40,-90") == new
    cache.forget_point("nws", "40,-90")
    assert cache.point("nws", "40,-90") is None
    cache.keep_point("nws", "old", old)
    cache.keep_point("nws", "new", Point("TST/3,4", "/x", "", T0 + timedelta(days=31)))
    assert cache.point("nws", "old") is None


def test_it_lasts_and_is_small(tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "forecasts.db"
    cache = open_cache(path)
    keep(cache, 0, b"0123456789" * 20_000)
    cache.close()
    cache = open_cache(path)
    assert [len(issue.body) for issue in cache.history("TST/1,2")] == [200_000]
    assert len(next(cache.history("TST/1,2")).packed) < 2_000
    cache.close()


def test_damage_is_told_and_never_taken_for_weather(tmp_path: Path) -> None:
    path = tmp_path / "forecasts.db"
    cache = open_cache(path)
    keep(cache, 0, b"good")
    cache.close()
    with sqlite3.connect(path) as raw:
        raw.execute("update forecast_issue set body = x'00'")
    raw.close()
    cache = open_cache(path)
    issue = cache.latest("nws", "TST/1,2")
    assert issue is not None
    with pytest.raises(StoreError, match="damaged"):
        _ = issue.body
    cache.close()
    path.write_bytes(b"this is no database, however one looks at it" * 100)
    with pytest.raises(StoreError, match="not a database"):
        open_cache(path)


def test_a_write_that_fails_half_way_leaves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    cache = open_memory()
    keep(cache, 0)
    with pytest.raises(StoreError):  # the second of the two rows is refused
        cache.keep(
            "nws", "TST/1,2", T0 + H, b"x", headers={}, fetched_at=T0, fresh_until=_Never(2026, 3, 4, tzinfo=UTC)
        )
    assert [issue.issued_at for issue in cache.history("TST/1,2")] == [T0]


class _Never(datetime):
    """An instant that the database cannot store: it writes itself as nothing."""

    def astimezone(self, tz: object = None) -> _Never:  # noqa: ARG002 - shape given by the library
        return self

    def strftime(self, format: str) -> str:  # noqa: A002, ARG002 - shape given by the library
        return None  # type: ignore[return-value]


@given(body=st.binary(max_size=400), seconds=st.integers(-(10**9), 10**9))
def test_what_goes_in_comes_out(body: bytes, seconds: int) -> None:
    cache = open_memory()
    at = T0 + timedelta(seconds=seconds)
    cache.keep("nws", "TST/1,2", at, body, headers={"etag": "é\u2028"}, fetched_at=at, fresh_until=at)
    issue = cache.latest("nws", "TST/1,2")
    assert issue is not None
    assert (issue.body, issue.issued_at, issue.headers) == (body, at, {"etag": "é\u2028"})
    cache.close()
