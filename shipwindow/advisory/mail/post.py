"""Talk to the shop's mail server: one letter, one reader, and a plain account of what came of it.

For: ``post``. The only module that speaks SMTP. Must not know: advisories, outboxes, when to try again.

The conversation is encrypted unless the shop wrote ``security = "none"``; STARTTLS that the server does not offer is a
refusal, never a fall back to clear text. The password is used and never kept, logged or told.
"""

from __future__ import annotations

import smtplib
import ssl
from dataclasses import dataclass
from email.message import EmailMessage
from email.policy import SMTP
from pathlib import Path
from typing import Literal

from shipwindow.errors import ConfigError, MailError
from shipwindow.settings.service_file import MailSettings

Outcome = Literal["sent", "later", "never"]
OTHERS_MAY_READ = 0o077
LASTING = 500  # RFC 5321, 4.2.1: replies from 500 up are permanent failures, from 400 up passing ones


@dataclass(frozen=True)
class Posted:
    """What came of one try. ``said`` is for people; it holds no secret."""

    outcome: Outcome
    said: str
    doubtful: bool = False
    """The conversation broke after the letter was handed over: the server may or may not have taken it."""


def password_of(mail: MailSettings) -> str:
    """Give the password: from the environment's setting, else from the named file, which only its owner may read.

    Raises
    ------
    ConfigError
        The file is missing, empty, or readable by others.
    """
    if mail.password.get_secret_value():
        return mail.password.get_secret_value()
    if not mail.password_file:
        return ""
    path = Path(mail.password_file).expanduser()
    try:
        mode = path.stat().st_mode
        if mode & OTHERS_MAY_READ:
            raise ConfigError(
                f"password-file {path} with rights {mode & 0o777:o}",
                "a file that only its owner can read",
                f"chmod 600 {path}",
            )
        secret = path.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "not plain text"
        raise ConfigError(f"password-file {path}: {why}", "a file with the password", "correct the path") from None
    if not secret or "\n" in secret:
        raise ConfigError(f"password-file {path} with no or several lines", "one line", "write the password alone")
    return secret


def post(message: EmailMessage, mail: MailSettings, password: str) -> Posted:
    """Hand one letter to the server.

    Returns
    -------
    Posted
        "sent" once the server has said that it took the letter; "later" for what may pass (no answer, busy, greylisted,
        cut off); "never" for what will not (refused reader, wrong password, no encryption).
    """
    handed_over = False
    try:
        with _connected(mail) as server:
            if mail.user:
                server.login(mail.user, password)
            sender, reader = str(message["From"]), str(message["To"])
            _expect(server.mail(sender), (250,))
            _expect(server.rcpt(reader), (250, 251))
            handed_over = True
            _expect(server.data(message.as_bytes(policy=SMTP)), (250,))
            handed_over = False  # answered: what breaks while we say goodbye changes nothing
            return Posted("sent", "taken by the server")
    except (_NoEncryptionError, smtplib.SMTPException, OSError) as error:
        return _account(error, mail, doubtful=handed_over)


def _account(error: Exception, mail: MailSettings, *, doubtful: bool) -> Posted:
    """Say what a failure means: worth another try, or not."""
    found = Posted("later", f"no answer from {mail.host}:{mail.port}: {_why(error)}", doubtful=doubtful)
    if isinstance(error, _NoEncryptionError):
        found = Posted("never", "the server offers no encryption: security in service.toml says starttls")
    elif isinstance(error, smtplib.SMTPAuthenticationError):
        lasting = error.smtp_code >= LASTING
        found = Posted("never" if lasting else "later", f"the server refused user and password ({error.smtp_code})")
    elif isinstance(error, smtplib.SMTPResponseException):
        lasting = error.smtp_code >= LASTING
        found = Posted("never" if lasting else "later", f"the server said {error.smtp_code} {_clean(error.smtp_error)}")
    elif isinstance(error, smtplib.SMTPNotSupportedError):
        found = Posted("never", f"the server cannot do this: {_clean(str(error))}")
    elif isinstance(error, ssl.SSLError):
        found = Posted("never", f"the server's certificate or encryption failed: {_why(error)}")
    return found


def _why(error: Exception) -> str:
    told = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return _clean(told or type(error).__name__)


def check_server(mail: MailSettings, password: str) -> None:
    """Greet the server and sign in, without a letter; raise ``MailError`` with what it said."""
    try:
        with _connected(mail) as server:
            if mail.user:
                server.login(mail.user, password)
            server.noop()
    except _NoEncryptionError:
        raise MailError("a server without encryption", "STARTTLS", 'use port 465 with security = "tls"') from None
    except smtplib.SMTPAuthenticationError as error:
        raise MailError(
            f"user and password refused ({error.smtp_code})", "a sign-in that works", "check user and password"
        ) from None
    except (smtplib.SMTPException, OSError) as error:
        raise MailError(
            f"{mail.host}:{mail.port}: {_clean(str(error))}", "a mail server that answers", "check host and port"
        ) from None


class _NoEncryptionError(Exception):
    """The server does not offer what the shop asked for."""


def _connected(mail: MailSettings) -> smtplib.SMTP:
    timeout_s = mail.timeout_h * 3600.0
    context = ssl.create_default_context()
    if mail.security == "tls":
        return smtplib.SMTP_SSL(mail.host, mail.port, timeout=timeout_s, context=context)
    server = smtplib.SMTP(mail.host, mail.port, timeout=timeout_s)
    try:
        server.ehlo_or_helo_if_needed()
        if mail.security == "starttls":
            _encrypt(server, context)
    except BaseException:
        server.close()
        raise
    return server


def _encrypt(server: smtplib.SMTP, context: ssl.SSLContext) -> None:
    if not server.has_extn("starttls"):
        raise _NoEncryptionError
    server.starttls(context=context)
    server.ehlo()


def _expect(reply: tuple[int, bytes], wanted: tuple[int, ...]) -> None:
    code, said = reply
    if code not in wanted:
        raise smtplib.SMTPResponseException(code, said)


def _clean(said: bytes | str) -> str:
    text = said.decode("utf-8", "replace") if isinstance(said, bytes) else said
    return " ".join(text.split())[:200]
