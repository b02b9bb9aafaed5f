"""Labelled texts: wrapped by us, exactly as a table of rich would print them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import RenderableType

from shipwindow.advisory.as_text import _grid, _table, plain

LINES = st.lists(
    st.tuples(
        st.sampled_from(["Way", "Water", "Hardest", "", "Next window"]),
        st.lists(st.text(st.sampled_from("ab-°·–/,.(5%)日\x1b́"), max_size=11), max_size=20).map(" ".join),
    ),
    max_size=5,
)


def printed(drawn: RenderableType, width: int) -> str:
    return plain(lambda console: console.print(drawn), width)


@given(LINES, st.sampled_from([24, 40, 78, 96]))
@settings(max_examples=150, deadline=None)
def test_labelled_texts_are_printed_as_a_table_prints_them(lines: list[tuple[str, str]], width: int) -> None:
    assert printed(_grid(lines), width) == printed(_table(lines), width)


@pytest.mark.parametrize(
    "text", ["日本" * 40, "two  blanks", " one before", "one\ntwo", "tab\there", "[bold]no markup[/bold]"]
)
def test_odd_texts_too(text: str) -> None:
    assert printed(_grid([("Note", text)]), 60) == printed(_table([("Note", text)]), 60)


def test_a_word_longer_than_the_line_is_folded_and_not_cut_off() -> None:
    assert printed(_grid([("Note", "x" * 100)]), 40).count("x") == 100
