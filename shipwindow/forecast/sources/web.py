"""Ask one public service politely: identity, patience, limits, and never another host.

For: one ``get`` that follows redirects on its own host only, reads a bounded body within a bounded time,
tries again with growing, jittered pauses where that can help, and heeds Retry-After and Expires.
Must not know: weather. Neighbour: ``nws``. No clock inside: ``now`` comes from the caller, pauses and the
stop-watch can be replaced in tests.
"""

from __future__ import annotations

import email.utils
import importlib.metadata
import logging
import random
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from urllib.parse import urlencode, urljoin, urlsplit

import requests
import tenacity
import urllib3.exceptions

from shipwindow.errors import ConfigError, MissingForecast
from shipwindow.forecast.sources.reading import LARGEST_BYTES, bad, short

log = logging.getLogger(__name__)

MOST_REDIRECTS = 5
LONGEST_PAUSE_S = 60.0  # engineering choice: whoever asks for more time gets it tomorrow
FIRST_PAUSE_S = 1.0
CROWDED_PAUSE_S = 5.0  # "retry after about 5 seconds": NWS API documentation page, 2024 copy; source
LONGEST_FRESH = timedelta(
    hours=1
)  # engineering choice: grids are remade about hourly, whatever a cache in between says
UNSTATED_FRESH = timedelta(minutes=5)  # engineering choice
_RETRIED = {408, 425, 429, 500, 502, 503, 504}
_REDIRECTS = {301, 302, 303, 307, 308}


@dataclass(frozen=True)
class Reply:
    """What the service said, whatever its status; header names in lower case."""

    status: int
    headers: Mapping[str, str]
    body: bytes


class Unreachable(MissingForecast):
    """The service did not answer usably, for all our patience."""


class _AgainError(Exception):
    """A failure that another try may mend."""

    def __init__(self, reason: str, pause_s: float | None = None) -> None:
        super().__init__(reason)
        self.reason = reason
        self.pause_s = pause_s


def check_address(address: str, key: str = "address") -> str:
    """Check the base address of a service, set by a key under [forecast]; give it without a closing slash."""
    parts = urlsplit(address)
    try:
        port_fits = parts.port is None or parts.port > 0
    except ValueError:
        port_fits = False
    plain = parts.hostname and not (parts.username or parts.password or parts.query or parts.fragment)
    if parts.scheme not in {"http", "https"} or not plain or not port_fits:
        raise ConfigError(
            f"address {short(address)}",
            'the address of a service, such as "https://api.weather.gov"',
            f"correct forecast.{key}",
        )
    return address.rstrip("/")


def check_contact(contact: str) -> str:
    """Check the shop's contact, which the service asks every caller to send."""
    cleaned = contact.strip()
    if not cleaned:
        raise ConfigError(
            "no contact",
            "a mail address or web page by which the weather service can reach the shop",
            'set contact = "..." under [shop] in shop.toml; the service turns away callers without one',
        )
    if re.fullmatch(r"[\x20-\x7e]{3,120}", cleaned) is None:
        raise ConfigError(f"contact {short(contact)}", "plain letters on one line", "correct contact under [shop]")
    return cleaned


def identity(contact: str) -> str:
    """Say who asks: the program, its version and the shop's contact."""
    try:
        version = importlib.metadata.version("shipwindow")
    except importlib.metadata.PackageNotFoundError:
        version = "0"
    return f"shipwindow/{version} ({check_contact(contact)})"


def when(text: str | None) -> datetime | None:
    """Read an HTTP date."""
    if not text:
        return None
    try:
        found = email.utils.parsedate_to_datetime(text)
    except (ValueError, TypeError, OverflowError):
        return None
    return found if found.tzinfo is not None else found.replace(tzinfo=UTC)


def fresh_until(headers: Mapping[str, str], now: datetime, longest: timedelta = LONGEST_FRESH) -> datetime:
    """Say until when an answer need not be asked for again: max-age less Age, else Expires; at most ``longest``.

    Expires is measured from the answer's own Date, so that a clock that is off by minutes does no harm.
    """
    control = headers.get("cache-control", "").lower()
    if "no-store" in control or "no-cache" in control:
        return now
    found = re.search(r"(?<![-\w])max-age\s*=\s*\"?(\d{1,9})", control)
    lifetime: timedelta | None = None
    if found is not None:
        age = headers.get("age", "")
        lifetime = timedelta(seconds=int(found.group(1)) - (int(age) if age.isdigit() and len(age) < 10 else 0))
    elif "expires" in headers:
        expires_at = when(headers["expires"])
        lifetime = timedelta(0) if expires_at is None else expires_at - (when(headers.get("date")) or now)
    if lifetime is None:
        lifetime = UNSTATED_FRESH
    return now + min(max(lifetime, timedelta(0)), longest)


class Web:
    """One service, asked one question at a time."""

    def __init__(
        self,
        address: str,
        identity: str,
        *,
        accept: str,
        timeout_s: float,
        attempts: int = 4,
        sleep: Callable[[float], None] = time.sleep,
        stopwatch: Callable[[], float] = time.monotonic,
    ) -> None:
        self.address = check_address(address)
        self._timeout_s = timeout_s
        self._attempts = attempts
        self._sleep = sleep
        self._stopwatch = stopwatch
        self._weak = False
        self._session = requests.Session()
        self._session.headers.update({"User-Agent": identity, "Accept": accept})

    def close(self) -> None:
        """Close the connections."""
        self._session.close()

    def get(
        self,
        path: str,
        query: Mapping[str, str] | None = None,
        headers: Mapping[str, str] | None = None,
        *,
        now: datetime,
        attempts: int | None = None,
        check: Callable[[bytes], object] | None = None,
    ) -> Reply:
        """Ask for a path; give any final answer, or raise ``Unreachable``.

        ``check`` looks at the body of a 200: if it raises ``MissingForecast`` the answer counts as damaged on
        the way and is asked for again. After a question went wholly unanswered the next ones get one try
        each until one succeeds, so that a service that is down costs a shop seconds and not an hour.
        """
        url = f"{self.address}{path}" + (f"?{urlencode(query, safe=',')}" if query else "")
        tries = 1 if self._weak else (attempts or self._attempts)
        retrying = tenacity.Retrying(
            stop=_Enough(tries),
            wait=_pause,
            retry=tenacity.retry_if_exception_type(_AgainError),
            sleep=self._sleep,
            reraise=True,
        )
        try:
            reply = retrying(self._once, url, dict(headers or {}), now, check)
        except _AgainError as failure:
            self._weak = True
            count = int(retrying.statistics.get("attempt_number", tries))
            log.warning("forecast.unreachable path=%s tries=%d reason=%s", path.split("/")[1], count, failure.reason)
            raise Unreachable(
                f"the weather service: {failure.reason} ({count} {'try' if count == 1 else 'tries'})",
                "an answer from the weather service",
                "check the connection and run again later",
            ) from failure
        self._weak = False
        return reply

    def _once(self, url: str, headers: dict[str, str], now: datetime, check: Callable[[bytes], object] | None) -> Reply:
        for _ in range(MOST_REDIRECTS + 1):
            reply = self._read(url, headers)
            target = reply.headers.get("location")
            if reply.status in _REDIRECTS and target:
                url = self._same_host(url, target)
                continue
            if reply.status in _RETRIED:
                raise _AgainError(_status_words(reply), _retry_after_s(reply, now))
            if reply.status == 200 and check is not None:
                try:
                    check(reply.body)
                except MissingForecast as error:
                    raise _AgainError(error.read) from error
            return reply
        raise bad(f"more than {MOST_REDIRECTS} redirects from the weather service", "an answer", "run again later")

    def _same_host(self, url: str, target: str) -> str:
        """Follow a redirect, relative or not, only on the same scheme, host and port."""
        followed = urljoin(url, target)
        ours, theirs = urlsplit(self.address), urlsplit(followed)
        try:
            same = (ours.scheme, ours.hostname, ours.port) == (theirs.scheme, theirs.hostname, theirs.port)
        except ValueError:
            same = False
        if not same or theirs.username or theirs.password:
            # Without its query, which may carry a key.
            raise bad(
                f"a redirect from the weather service to {short(target.partition('?')[0])}",
                f"an address on {ours.hostname}",
                "if the service has moved, set forecast.address to its new home",
            )
        return followed

    def _read(self, url: str, headers: dict[str, str]) -> Reply:
        deadline = self._stopwatch() + self._timeout_s
        try:
            with self._session.get(
                url,
                headers=headers,
                stream=True,
                allow_redirects=False,
                timeout=(min(10.0, self._timeout_s), self._timeout_s),
            ) as response:
                parts: list[bytes] = []
                size = 0
                # One read of the socket at a time: a body that drips must not outlast the deadline.
                while True:
                    part = response.raw.read1(65_536, decode_content=True)
                    if not part:
                        break
                    parts.append(part)
                    size += len(part)
                    if size > LARGEST_BYTES:
                        raise bad(f"an answer above {LARGEST_BYTES / 1e6:.0f} MB", "a forecast of a few hundred kB")
                    if self._stopwatch() > deadline:
                        raise _AgainError(f"no whole answer within {self._timeout_s:g} s")
                found = {name.lower(): value for name, value in response.headers.items()}
                return Reply(response.status_code, found, b"".join(parts))
        except (requests.Timeout, urllib3.exceptions.TimeoutError) as error:
            raise _AgainError(f"no answer within {self._timeout_s:g} s") from error
        except (requests.RequestException, urllib3.exceptions.HTTPError, OSError) as error:
            raise _AgainError(f"connection failed ({type(error).__name__})") from error


def _status_words(reply: Reply) -> str:
    words = {429: "too many requests", 500: "internal error", 503: "unavailable", 504: "timed out inside"}
    return f"{reply.status} {words.get(reply.status, 'failure')}"


def _retry_after_s(reply: Reply, now: datetime) -> float | None:
    text = reply.headers.get("retry-after", "").strip()
    if re.fullmatch(r"\d{1,9}", text):
        return float(text)
    at = when(text)
    if at is not None:
        return max(0.0, (at - (when(reply.headers.get("date")) or now)).total_seconds())
    return CROWDED_PAUSE_S if reply.status == 429 else None


def _failure(state: tenacity.RetryCallState) -> _AgainError | None:
    error = state.outcome.exception() if state.outcome is not None else None
    return error if isinstance(error, _AgainError) else None


class _Enough(tenacity.stop.stop_base):
    """Stop after so many tries, or when the service asks for a longer pause than a morning has."""

    def __init__(self, tries: int) -> None:
        self._tries = tries

    def __call__(self, retry_state: tenacity.RetryCallState) -> bool:
        failure = _failure(retry_state)
        asks_too_much = failure is not None and failure.pause_s is not None and failure.pause_s > LONGEST_PAUSE_S
        return asks_too_much or retry_state.attempt_number >= self._tries


def _pause(state: tenacity.RetryCallState) -> float:
    """Pause 1, 2, 4 ... s with jitter, and never less than the service asked for."""
    failure = _failure(state)
    grown_s = min(FIRST_PAUSE_S * 2.0 ** (state.attempt_number - 1), LONGEST_PAUSE_S / 2)
    jitter = random.uniform(0.5, 1.0)  # noqa: S311 - spreads callers out, guards nothing
    asked_s = failure.pause_s if failure is not None and failure.pause_s is not None else 0.0
    return max(grown_s * jitter, asked_s + jitter if asked_s else 0.0)
