"""Letters: the facts of the project's trade sheet section 5 in the customer's clock and units, templates in a sandbox.

Clock checks use the IANA zone database (2026: New York changes on 8 March and 1 November; Arizona never). What a letter
must contain is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from shipwindow.desk.messages import BLANK, FOLDER, KINDS, Facts, as_email, draft
from shipwindow.desk.outbox import file_stem, put_drafts
from shipwindow.errors import ConfigError
from shipwindow.settings.models import Settings

FACTS = Facts(
    order="A-101",
    shop="Lagoon Bench",
    zone="America/Denver",
    shop_zone="America/New_York",
    us=True,
    name="Anna Example",
    email="anna@example.org",
    destination="Fort Collins, CO 80521",
    corals=("green staghorn", "orange plate"),
    ship_day=date(2026, 3, 3),
    arrival_day=date(2026, 3, 4),
    delivered_at=datetime(2026, 3, 4, 17, 30, tzinfo=UTC),  # 10:30 in Denver
    commitment="next-morning",
    handover="depot",
    depot="12 Sample Road",
    tracking="T-77",
    reasons=("air of 5 °F at the sort hub",),
    next_day=date(2026, 3, 5),
    missing_fact="who meets the driver?",
    reply_by=datetime(2026, 3, 3, 0, 0, tzinfo=UTC),
    safe_low_C=20.0,
    safe_high_C=29.0,
    new_delivered_at=datetime(2026, 3, 5, 20, 0, tzinfo=UTC),
    from_day=date(2026, 4, 14),
    likely_days=(date(2026, 3, 5),),
)

# What each letter must hold, beside the order, who writes and how to reach them.
MUST = {
    "accept": (
        "Fort Collins",
        "Thursday, 5 March",
        "within 2 hours of delivery",
        "who can take the box in",
        "telephone",
    ),
    "ask": ("who meets the driver?", "Monday, 2 March at 5:00 pm", "we keep your corals in our tank"),
    "ship-confirmed": (
        "Tuesday, 3 March",
        "Wednesday, 4 March",
        "10:30 am",
        "next morning",
        "depot",
        "proof of identity",
        "HOLD before 7:00 am",
    ),
    "hold": ("not shipping your corals today", "5 °F", "Thursday, 5 March", "safe in our tank", "cancel"),
    "shipped": ("T-77", "10:30 am", "within 1 hour", "photo"),
    "delayed": ("Thursday, 5 March at 1:00 pm", "T-77", "shut and indoors", "does not cover delays"),
    "decline": ("Fort Collins", "Tuesday, 14 April", "nothing you did"),
    "arrival": (
        "68 °F to 84 °F",
        "photo",
        "dim light",
        "float",
        "Thursday, 5 March at 3:00 pm",
        "qualified",
        "heat pack",
    ),
    "day-7": ("green staghorn", "alive, stressed, or lost"),
    "day-14": ("two weeks", "orange plate"),
}


@pytest.fixture
def write(settings: Settings, tmp_path: Path) -> Any:
    def run(kind: Any, facts: Facts = FACTS, **changes: Any) -> Any:
        messages = settings.desk.messages.model_copy(
            update={"from_address": "bench@example.org", "reach_us": "555 0100", **changes}
        )
        return draft(kind, facts, messages, settings.desk.policy, tmp_path, "F")

    return run


@pytest.mark.parametrize("kind", KINDS)
def test_each_letter_holds_what_it_must(write: Any, kind: Any) -> None:
    letter = write(kind)
    for part in (*MUST[kind], "Hello Anna Example", "Order A-101", "555 0100", "Lagoon Bench"):
        assert part in letter.body, part
    assert "A-101" in letter.subject
    assert letter.blanks == ()
    assert BLANK not in letter.body
    assert "\n\n\n" not in letter.body
    assert "DOA" not in letter.body  # trade sheet, section 5: written as "arrived dead"


@pytest.mark.parametrize("kind", KINDS)
def test_without_facts_or_contact_the_draft_is_written_with_blanks(write: Any, kind: Any) -> None:
    letter = write(kind, Facts(order="A-1", shop="Lagoon Bench", zone="UTC"), from_address="", reach_us="")
    assert "Hello there" in letter.body
    assert "the customer's address" in letter.blanks
    assert BLANK in letter.body
    assert "None" not in letter.body


@pytest.mark.parametrize(
    ("zone", "at", "shown"),
    [
        ("America/New_York", datetime(2026, 3, 7, 15, 30, tzinfo=UTC), "10:30 am"),  # winter time, -5 h
        ("America/New_York", datetime(2026, 3, 9, 14, 30, tzinfo=UTC), "10:30 am"),  # summer time, -4 h
        ("America/Phoenix", datetime(2026, 7, 9, 17, 30, tzinfo=UTC), "10:30 am"),  # -7 h all year
        ("Pacific/Honolulu", datetime(2026, 7, 9, 22, 0, tzinfo=UTC), "12:00 pm"),
        ("America/Denver", datetime(2026, 7, 10, 6, 5, tzinfo=UTC), "12:05 am"),
    ],
)
def test_hours_are_on_the_customers_clock(write: Any, zone: str, at: datetime, shown: str) -> None:
    letter = write("shipped", replace(FACTS, zone=zone, delivered_at=at))
    assert f"by {shown} your time" in letter.body


def test_units_follow_the_customer_unless_the_shop_says_otherwise(write: Any) -> None:
    abroad = replace(FACTS, us=False)
    assert "68 °F to 84 °F" in write("arrival").body
    assert "20.0 °C to 29.0 °C" in write("arrival", temperature="C").body
    assert "at 13:00, your time" in write("arrival", abroad).body
    assert "at 1:00 pm, your time" in write("arrival", abroad, clock="12").body


def test_a_shops_own_template_comes_first_and_can_include_the_packed_foot(write: Any, tmp_path: Path) -> None:
    own = tmp_path / FOLDER
    own.mkdir(parents=True)
    (own / "hold.txt").write_text('Subject: Wait, {{ order }}\n\nDear {{ name }}{% include "foot.txt" %}', "utf-8")
    letter = write("hold")
    assert letter.subject == "Wait, A-101"
    assert letter.body.startswith("Dear Anna Example")
    assert "555 0100" in letter.body
    assert letter.template.endswith("hold.txt")


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("Subject: x\n\n{% if order %}\n", ":3", "Jinja"),
        ("Subject: x\n\nfine\n{{ ordr }}\n", ":4", "ordr"),
        ("Subject: x\n{{ order.__class__.__mro__ }}\n", ":2", "unsafe"),
        ("Subject: x\n{{ corals.append(1) }}\n", ":2", "append"),
        ("Subject: x\n{{ 1 / 0 }}\n", ":2", "division"),
        ("Hello\n", ":1", "first line"),
        ('Subject: x\n{% include "../../secret.txt" %}\n', ":2", "secret"),
    ],
)
def test_template_faults_are_told_with_file_and_line(
    write: Any, tmp_path: Path, text: str, line: str, said: str
) -> None:
    own = tmp_path / FOLDER
    own.mkdir(parents=True)
    (tmp_path / "secret.txt").write_text("secret", "utf-8")
    (own / "hold.txt").write_text(text, "utf-8")
    with pytest.raises(ConfigError) as caught:
        write("hold")
    assert f"hold.txt{line}" in caught.value.read
    assert said in str(caught.value)


def test_what_an_order_says_is_never_run_and_breaks_no_header(write: Any) -> None:
    evil = "{{ 7 * 7 }} {% include 'x' %}\r\nBcc: everybody@example.org"
    letter = write("hold", replace(FACTS, order=evil, name=evil, reasons=(evil,)))
    assert "{{ 7 * 7 }}" in letter.body
    assert "49" not in letter.body
    mail = as_email(letter)
    assert set(mail.keys()) == {
        "Subject",
        "From",
        "To",
        "Content-Type",
        "Content-Transfer-Encoding",
        "MIME-Version",
    }
    assert "\n" not in str(mail["Subject"])
    assert "Bcc" not in mail


def test_a_mail_can_be_read_back(write: Any) -> None:
    import email
    from email import policy

    letter = write("arrival", replace(FACTS, name="Zoë Ångström, Jr."))
    raw = as_email(letter).as_bytes(policy=policy.SMTP)
    back = email.message_from_bytes(raw, policy=policy.default)
    assert back["To"].addresses[0].addr_spec == "anna@example.org"
    assert back["To"].addresses[0].display_name == "Zoë Ångström, Jr."
    assert back.get_content().replace("\r\n", "\n") == letter.body
    with pytest.raises(ConfigError, match="an address such as"):
        as_email(write("arrival", replace(FACTS, email="nobody at all")))


def test_the_outbox_keeps_what_the_seller_has_edited(write: Any, tmp_path: Path) -> None:
    day = date(2026, 3, 3)
    first = put_drafts([write("hold")], tmp_path / "outbox", day)[0]
    assert first.what == "written"
    assert put_drafts([write("hold")], tmp_path / "outbox", day)[0].what == "same"
    first.path.write_text("my own words", "utf-8")
    assert put_drafts([write("hold")], tmp_path / "outbox", day)[0].what == "kept"
    assert first.path.read_text("utf-8") == "my own words"
    assert put_drafts([write("hold")], tmp_path / "outbox", day, again=True)[0].what == "written"


def test_file_names_are_safe_and_apart() -> None:
    names = ["A-1", "A/1", "A 1", "../../etc", "ä", "ö", "x" * 200]
    stems = [file_stem(name, "hold") for name in names]
    assert len(set(stems)) == len(names)
    assert all(stem.replace("-", "").replace("_", "").isalnum() and len(stem) < 90 for stem in stems)
