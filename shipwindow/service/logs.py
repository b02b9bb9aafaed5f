"""Log lines for machines: one JSON object a line, with the name of the event and its fields.

For: ``use_json_logs``, called by ``run`` and ``serve``. Must not know: what is logged. Mail addresses that slip into a
text, such as a server's answer that repeats one, are masked; nothing else about a person is ever logged.
"""

from __future__ import annotations

import json
import logging
import re
import sys
from datetime import UTC, datetime
from typing import TextIO

_ADDRESS = re.compile(r"[^\s@<>\"'=]+@[^\s@<>\"',;]+")
_FIELD = re.compile(r"(\w+)=('(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\"|\S+)")
_LAST = re.compile(r"\b(reason|said)=(.*)$", re.DOTALL)


class JsonLines(logging.Formatter):
    """Turn "order.advised advice=go ms=12" into an event with fields; "reason" and "said" take the rest of the line."""

    def format(self, record: logging.LogRecord) -> str:
        """Give one line."""
        message = _ADDRESS.sub("…@…", record.getMessage())
        event, _, rest = message.partition(" ")
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
        }
        if re.fullmatch(r"[\w-]+(\.[\w-]+)+", event):
            line["event"] = event
            last = _LAST.search(rest)
            if last is not None:
                rest = rest[: last.start()]
            line.update({name: value.strip("'\"") for name, value in _FIELD.findall(rest)})
            if last is not None:
                line[last.group(1)] = last.group(2).strip("'\"")
        else:
            line["event"] = "text"
            line["text"] = message
        if record.exc_info and record.exc_info[0] is not None:
            line["error"] = record.exc_info[0].__name__
            line["trace"] = _ADDRESS.sub("…@…", self.formatException(record.exc_info))
        return json.dumps(line, ensure_ascii=False)


def use_json_logs(stream: TextIO | None = None, level: int = logging.INFO) -> None:
    """Write every log line of this process as JSON to a stream; None means standard error."""
    handler = logging.StreamHandler(stream or sys.stderr)
    handler.setFormatter(JsonLines())
    root = logging.getLogger()
    for old in list(root.handlers):
        root.removeHandler(old)
    root.addHandler(handler)
    root.setLevel(level)
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
