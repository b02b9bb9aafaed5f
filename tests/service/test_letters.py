"""Letters through a real mail server on loopback (aiosmtpd), well-behaved and not.

Forms checked against RFC 5321 (line length 4.5.3.1.6: 1000 octets; reply codes 4.2.1), RFC 5322 (Message-ID 3.6.4) and
RFC 3834 (Auto-Submitted), read in their published text from memory.
"""

from __future__ import annotations

import stat
from collections.abc import Callable
from datetime import UTC, datetime
from email import message_from_bytes, policy
from html import unescape as html_unescape
from pathlib import Path
from typing import Any

import pytest

from shipwindow.advisory.mail.letter import Letter, address_letter, advisory_letter, plain_letter
from shipwindow.advisory.mail.post import check_server, password_of, post
from shipwindow.advisory.run import advise
from shipwindow.desk.messages import one_line
from shipwindow.errors import ConfigError, MailError
from shipwindow.settings.service_file import MailSettings

AT = datetime(2026, 3, 3, 11, 30, tzinfo=UTC)
SIGN = "<0123@shipwindow.invalid>"


def settings(port: int, **changes: Any) -> MailSettings:
    plain = {
        "on": True, "host": "127.0.0.1", "port": port, "security": "none", "sender": "desk@shop.example",
        "to": ["me@shop.example"], "timeout": "1 s",
    }  # fmt: skip
    return MailSettings.model_validate(plain | changes)


def addressed(letter: Letter) -> Any:
    return address_letter(letter, sender="desk@shop.example", to="me@shop.example", message_id=SIGN, at=AT)


def test_a_whole_advisory_arrives_with_its_plots_and_without_long_lines(
    make_shop: Callable[..., Path], weather: Any, post_server: Any
) -> None:
    folder = make_shop()
    from shipwindow.desk.book import open_book

    with open_book(folder) as book:
        advisory = advise(folder, book.read(), weather, AT)
    letter = advisory_letter(advisory)
    assert post(addressed(letter), settings(post_server.port), "").outcome == "sent"
    raw = post_server.taken[0]
    assert max(len(line) for line in raw.split(b"\r\n")) <= 998
    message = message_from_bytes(raw, policy=policy.default)
    assert message["Message-ID"] == SIGN
    assert message["Auto-Submitted"] == "auto-generated"
    text, html = (message.get_body((kind,)) for kind in ("plain", "html"))
    assert text is not None
    assert html is not None
    for part in (text, html):
        assert "A-1" in part.get_content()
        assert advisory.details.cautions[0] in html_unescape(" ".join(part.get_content().split()))
    images = [part for part in message.walk() if part.get_content_type() == "image/png"]
    assert len(images) == 1
    assert images[0].get_content().startswith(b"\x89PNG")
    assert f"cid:{images[0]['Content-ID'].strip('<>')}" in html.get_content()
    assert "http" not in html.get_content().replace("http-equiv", "")  # nothing is fetched when it is read


def test_a_letter_without_pictures_says_the_same(make_shop: Callable[..., Path], weather: Any) -> None:
    folder = make_shop()
    from shipwindow.desk.book import open_book

    with open_book(folder) as book:
        advisory = advise(folder, book.read(), weather, AT)
    with_them, without = advisory_letter(advisory), advisory_letter(advisory, pictures=False)
    assert with_them.text == without.text
    assert without.pictures == {}
    assert "<img" not in without.html


@pytest.mark.parametrize(
    "text",
    ["A\r\nBcc: all@example.net", "A\nBcc: x", "A\rX", "A\x00B", "A\u2028Bcc: x", "A\x85B"],
)
def test_no_order_can_add_a_header(text: str, post_server: Any) -> None:
    assert "\n" not in one_line(text)
    message = addressed(plain_letter(text, "body"))
    assert message["Bcc"] is None
    assert post(message, settings(post_server.port), "").outcome == "sent"
    assert message_from_bytes(post_server.taken[0], policy=policy.default)["Bcc"] is None
    assert post_server.readers == ["me@shop.example"]


@pytest.mark.parametrize(
    ("answer", "outcome", "doubtful", "words"),
    [
        ("rcpt 550 no such reader", "never", False, "550"),
        ("rcpt 451 greylisted, come back", "later", False, "451"),
        ("452 no room", "later", False, "452"),
        ("554 not wanted", "never", False, "554"),
        ("cut", "later", True, "no answer"),
        ("drop", "later", True, "no answer"),
        ("slow", "later", True, "no answer"),
    ],
)
def test_what_a_server_says_decides_on_another_try(
    answer: str, outcome: str, doubtful: bool, words: str, post_server: Any
) -> None:
    post_server.answers.append(answer)
    posted = post(addressed(plain_letter("s", "t")), settings(post_server.port), "")
    assert (posted.outcome, posted.doubtful) == (outcome, doubtful)
    assert words in posted.said


def test_no_server_no_host_and_no_encryption(post_server: Any) -> None:
    letter = addressed(plain_letter("s", "t"))
    assert post(letter, settings(1), "").outcome == "later"
    assert post(letter, settings(post_server.port, security="starttls"), "").outcome == "never"
    assert post_server.tried == 0
    with pytest.raises(MailError, match="without encryption"):
        check_server(settings(post_server.port, security="starttls"), "")
    with pytest.raises(MailError):
        check_server(settings(1), "")
    check_server(settings(post_server.port), "")


def test_the_password_comes_from_the_environment_or_a_file_that_only_its_owner_reads(tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.write_text("hunter2\n")
    mail = settings(25, **{"password-file": str(secret)})
    secret.chmod(stat.S_IRUSR | stat.S_IWUSR | stat.S_IRGRP)
    with pytest.raises(ConfigError, match="chmod 600"):
        password_of(mail)
    secret.chmod(stat.S_IRUSR | stat.S_IWUSR)
    assert password_of(mail) == "hunter2"
    assert password_of(settings(25, password="other")) == "other"  # noqa: S106 - a test's word
    assert "other" not in repr(settings(25, password="other"))  # noqa: S106 - same
    secret.write_text("")
    with pytest.raises(ConfigError, match="one line"):
        password_of(mail)
    with pytest.raises(ConfigError, match="No such file"):
        password_of(settings(25, **{"password-file": str(tmp_path / "none")}))
