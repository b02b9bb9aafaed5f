"""Headless Chromium opens every page at the width of a phone and of a desk; the keyboard alone gets the work done.

Chromium is needed here (.ci/run installs it); without it these tests fail and say so.
"""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

PAGES = [
    "/",
    "/check",
    "/window",
    "/orders",
    "/orders/new",
    "/order?id=A-101",
    "/order?id=A-107",
    "/order?id=%7B%7B7*7%7D%7D%3Cscript%3Ealert(1)%3C%2Fscript%3E",
    "/watch",
    "/arrivals",
    "/arrivals/new?id=A-107",
    "/arrivals/new?id=%7B%7B7*7%7D%7D%3Cscript%3Ealert(1)%3C%2Fscript%3E",
    "/report",
    "/claims",
    "/sheets",
    "/sheets/page?day=2026-04-22",
    "/advisory",
    "/season",
    "/card",
    "/forecasts",
    "/outbox",
    "/health",
    "/settings",
    "/login",
]
PHONE, DESK = 360, 1280
# What a screen reader needs of every page (WCAG 2.2: 1.3.1, 2.4.1, 2.4.2, 2.4.6, 3.1.1, 4.1.2), and of a finger (2.5.8:
# at least 24 CSS px). Links inside a sentence are exempt there, so only buttons and fields are measured.
SCRIPT = """
(() => {
  const seen = (e) => e.getClientRects().length > 0;
  const fields = [...document.querySelectorAll('input:not([type=hidden]), select, textarea')];
  return {
    wide: document.documentElement.scrollWidth - window.innerWidth,
    title: document.title, lang: document.documentElement.lang,
    headings: document.querySelectorAll('h1').length, mains: document.querySelectorAll('main').length,
    unnamed: fields.filter(f => !(f.labels && f.labels.length)).map(f => f.name),
    empty: [...document.querySelectorAll('a, button')].filter(e => !e.textContent.trim()).length,
    blind: [...document.querySelectorAll('img')].filter(e => !e.alt).length
      + [...document.querySelectorAll('main svg')].filter(e => !e.closest('[aria-label]')
        && !e.querySelector('title')).length,
    small: [...document.querySelectorAll('button, select, input:not([type=hidden]), .button')].filter(seen)
      .filter(e => e.getBoundingClientRect().height < 24).length,
    twice: [...document.querySelectorAll('[id]')].map(e => e.id).filter((id, n, all) => all.indexOf(id) !== n),
  };
})()
"""


@pytest.mark.parametrize("width", [PHONE, DESK])
@pytest.mark.parametrize("path", PAGES)
def test_a_page_at_a_width(browser: Any, served: str, path: str, width: int) -> None:
    browser.told.clear()
    browser.open(served + path, width)
    found = browser.run(SCRIPT)
    assert found.pop("wide") <= 0
    assert found.pop("title")
    assert found == {
        "lang": "en", "headings": 1, "mains": 1, "unnamed": [], "empty": 0, "blind": 0, "small": 0, "twice": []
    }  # fmt: skip
    assert browser.told == []
    # Letters on paper: a page that did not come is one colour, one whose styles did not come is still white and black.
    assert 0.005 < browser.ink() < 0.6
    assert browser.run("getComputedStyle(document.documentElement).backgroundColor") == "rgb(251, 250, 246)"


def _focused(browser: Any) -> str:
    script = """(() => { const e = document.activeElement; const s = getComputedStyle(e);
      return (e.textContent.trim() || e.name || e.id) + (s.outlineStyle === 'none' ? ' WITHOUT OUTLINE' : ''); })()"""
    return str(browser.run(script))


def test_the_keyboard_gets_to_the_work(browser: Any, served: str) -> None:
    browser.open(served + "/", DESK)
    path = []
    for _ in range(15):
        browser.key("Tab", 9)
        path.append(_focused(browser))
    assert path[0] == "Skip to the page"
    assert path[2:10] == ["Today", "Ask a place", "Window", "Orders", "Sheets", "On the way", "Arrivals", "Claims"]
    assert "Make it again now" in path
    assert not [each for each in path if "WITHOUT" in each]
    browser.open(served + "/", DESK)
    browser.key("Tab", 9)
    browser.key("Enter", 13)
    browser.key("Tab", 9)
    assert _focused(browser) == "The whole advisory"  # the skip link led past the head of the page


def test_a_place_is_asked_by_keyboard_alone(browser: Any, served: str) -> None:
    browser.told.clear()
    browser.open(served + "/check", PHONE)
    browser.run("document.getElementById('f-place').focus()")
    browser.ask("Input.insertText", text="23220")
    browser.seen.discard("Page.loadEventFired")
    browser.key("Enter", 13)
    while "Page.loadEventFired" not in browser.seen:
        browser._next()
    assert "Richmond, VA 23220" in browser.run("document.querySelector('#answer').textContent")
    assert browser.run("document.querySelector('[role=status]').textContent").strip()
    assert browser.run("document.documentElement.scrollWidth - window.innerWidth") <= 0
    assert browser.told == []


def test_a_script_of_a_page_would_not_run(browser: Any, served: str) -> None:
    """The policy itself, asked of the browser: inline script and foreign pictures are refused."""
    browser.told.clear()
    browser.open(served + "/", DESK)
    browser.run(
        "(() => { const s = document.createElement('script'); s.textContent = 'window.ran = 1';"
        " document.body.append(s); const i = document.createElement('img');"
        " i.src = 'http://127.0.0.1:1/x.png'; document.body.append(i); })()"
    )
    assert browser.run("typeof window.ran") == "undefined"
    told = " ".join(browser.told)
    assert "Content Security Policy" in told
    browser.told.clear()


def test_a_page_prints_without_its_buttons(browser: Any, served: str) -> None:
    browser.open(served + "/", DESK)
    text = "\n".join(page.extract_text() for page in PdfReader(BytesIO(browser.printed())).pages)
    assert "Richmond" in text
    for word in ("Make it again now", "Ask a place", "Outbox"):
        assert word not in text
