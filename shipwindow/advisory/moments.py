"""Read an instant that somebody on the telephone has told: with an offset, or on the clock of a place.

For: ``claims``, ``messages`` and arrivals. Must not know: orders, letters, options. A clock reading that does not
exist, or comes twice, in the night of a clock change is refused rather than guessed.
"""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from shipwindow.errors import ConfigError

EXAMPLE = "2026-03-03T10:12"


def read_moment(option: str, text: str | None, zone: str | None) -> datetime | None:
    """Read the value of an option; without an offset it is a reading of the clock in ``zone``."""
    if text is None:
        return None
    try:
        found = datetime.fromisoformat(text.strip().replace(" ", "T", 1))
    except ValueError:
        raise ConfigError(f"{option} {text!r}", f"an instant such as {EXAMPLE}", "write date, T and time") from None
    if "T" not in text.strip().replace(" ", "T", 1):
        raise ConfigError(f"{option} {text!r} without an hour", f"an instant such as {EXAMPLE}", "add the time")
    if found.tzinfo is not None:
        return found
    if zone is None:
        raise ConfigError(
            f"{option} {text!r} without a zone", f"an instant such as {EXAMPLE}-05:00", "add the offset, or Z for UTC"
        )
    here = found.replace(tzinfo=ZoneInfo(zone))
    if here.astimezone(UTC).astimezone(ZoneInfo(zone)).replace(tzinfo=None) != found:
        raise ConfigError(
            f"{option} {text!r}: no clock in {zone} showed this hour",
            "an hour that was",
            "the clocks went forward: add the offset",
        )
    if here.utcoffset() != here.replace(fold=1).utcoffset():
        raise ConfigError(
            f"{option} {text!r}: clocks in {zone} showed this hour twice",
            "an instant with its offset",
            f"add {here:%z} for the first, {here.replace(fold=1):%z} for the second",
        )
    return here
