"""A webhook on loopback, a folder, and log lines; the signature against RFC 4231's published HMAC-SHA256 case."""

from __future__ import annotations

import hashlib
import hmac
import io
import json
import logging
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest

from shipwindow.errors import ConfigError
from shipwindow.service.logs import JsonLines
from shipwindow.service.outbox import open_outbox
from shipwindow.service.targets import SENT_AT, SIGNATURE, channels, check_webhook, sign
from shipwindow.settings.service_file import Retries, ServiceFile, Webhook

AT = datetime(2026, 3, 3, 11, 30, tzinfo=UTC)
SECRET = "a secret of enough characters"  # noqa: S105 - a test's word


@pytest.fixture
def listener() -> Iterator[tuple[int, list[tuple[dict[str, str], bytes]], list[int]]]:
    """Answer POSTs with the statuses given, then 200; keep what came."""
    came: list[tuple[dict[str, str], bytes]] = []
    answers: list[int] = []

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            came.append(({name.lower(): value for name, value in self.headers.items()}, body))
            status = answers.pop(0) if answers else 200
            self.send_response(status)
            if status == 302:
                self.send_header("Location", "http://127.0.0.1:1/elsewhere")
            self.end_headers()

        def log_message(self, *args: Any) -> None:
            del args

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server.server_address[1], came, answers
    server.shutdown()
    server.server_close()
    thread.join(5)


def settings(**parts: Any) -> ServiceFile:
    """Make settings of the service with some parts switched on."""
    hours = {"advisory": "06:30", "fetch-ahead": "20 min", "jitter": "1 min", "second-look": "2 h", "night": "03:30"}
    web = {"host": "127.0.0.1", "port": 8377, "per-minute": 1, "largest-body-kB": 1}
    return ServiceFile.model_validate({"schedule": hours | {"latest-start": "8 h"}, "web": web, "out": "x"} | parts)


def test_the_signature_is_the_hmac_of_rfc_4231() -> None:
    # RFC 4231, test case 2: key "Jefe", data "what do ya want for nothing?" (published digest, from memory of the RFC).
    digest = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    assert hmac.new(b"Jefe", b"what do ya want for nothing?", hashlib.sha256).hexdigest() == digest
    # Ours is that primitive over the instant, a full stop and the body.
    assert sign("Jefe", "what do ya", b"want") == hmac.new(b"Jefe", b"what do ya.want", hashlib.sha256).hexdigest()


def test_a_webhook_is_told_once_signed_and_never_follows_a_redirect(listener: Any, tmp_path: Path) -> None:
    port, came, answers = listener
    hook = {"on": True, "address": f"http://127.0.0.1:{port}/told", "allow": ["127.0.0.1"], "secret": SECRET}
    service = settings(webhook=hook)
    ways = channels(service, tmp_path)
    answers += [503, 302]
    with open_outbox(":memory:", Retries()) as outbox:
        for key in ("a", "b"):
            outbox.put(key, channel="webhook", target="t", message_id=f"<{key}@x>", body=b'{"day": 1}', now=AT)
        outcomes = [tried.outcome for _, tried in outbox.deliver(ways, lambda: AT)]
        assert outcomes == ["later", "never"]
        later = datetime(2026, 3, 3, 11, 40, tzinfo=UTC)
        assert [tried.outcome for _, tried in outbox.deliver(ways, lambda: later)] == ["sent"]
    assert len(came) == 3
    for headers, body in came:
        signed = hmac.new(SECRET.encode(), headers[SENT_AT.lower()].encode() + b"." + body, hashlib.sha256).hexdigest()
        assert headers[SIGNATURE.lower()] == signed
    assert came[0][0]["idempotency-key"] == came[2][0]["idempotency-key"] == "a@x"


@pytest.mark.parametrize(
    "changes",
    [
        {"address": "http://example.net/x", "allow": ["example.net"]},  # readable on the way
        {"address": "https://other.example/x", "allow": ["example.net"]},  # not in the list
        {"address": "https://user:pw@example.net/x", "allow": ["example.net"]},
        {"address": "file:///etc/passwd", "allow": [""]},
        {"address": "https://example.net/x", "allow": ["example.net"], "secret": "short"},
        {"address": "http://169.254.169.254/latest", "allow": ["169.254.169.254"]},  # a cloud's own address book
    ],
)
def test_a_webhook_elsewhere_is_refused(changes: dict[str, Any]) -> None:
    with pytest.raises(ConfigError):
        check_webhook(Webhook.model_validate({"on": True, "secret": SECRET} | changes))


def test_a_folder_gets_the_letter_as_a_file_and_only_inside(tmp_path: Path) -> None:
    service = settings(folder={"on": True, "path": "letters"})
    with open_outbox(":memory:", Retries()) as outbox:
        outbox.put("k", channel="folder", target="../../evil.eml", message_id="<1@x>", body=b"hello", now=AT)
        outbox.deliver(channels(service, tmp_path), lambda: AT)
    assert [path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*.eml")] == ["letters/evil.eml"]


def written(say: Callable[[logging.Logger], None]) -> dict[str, Any]:
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(JsonLines())
    logger = logging.getLogger("test.json")
    logger.propagate = False
    logger.handlers = [handler]
    logger.setLevel(logging.INFO)
    say(logger)
    [line] = stream.getvalue().splitlines()
    found = json.loads(line)
    assert isinstance(found, dict)
    return found


def test_a_log_line_is_one_object_with_its_fields() -> None:
    line = written(lambda log: log.info("order.advised order=%r advice=%s ms=%d", "A 1", "go", 12))
    assert (line["event"], line["order"], line["advice"], line["ms"]) == ("order.advised", "A 1", "go", "12")
    assert written(lambda log: log.info("just words = here"))["text"] == "just words = here"
    many = written(lambda log: log.warning("x.failed day=%s reason=%s", "2026-03-03", "read a=b · do c"))
    assert many["reason"] == "read a=b · do c"


def test_addresses_are_masked_and_a_trace_stays_one_line() -> None:
    def fail(log: logging.Logger) -> None:
        try:
            int("550 no such reader jo.doe@customer.example")
        except ValueError:
            log.exception("mail.failed reason=%s", "for <jo.doe@customer.example>")

    line = written(fail)
    assert "customer.example" not in json.dumps(line)
    assert line["error"] == "ValueError"
