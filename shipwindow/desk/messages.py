"""Letters to customers, drafted from templates a shop can edit.

For: ``draft(kind, facts, ...)``, which gives a ``Draft``; ``as_email`` turns a draft into an ``EmailMessage`` that the
service may send once the seller says so. Nothing here sends. Must not know: databases, verdicts (``Facts`` are plain).
Neighbours: ``message_templates/`` (the packed letters), ``outbox`` (files), ``policy`` (the promise).

A shop's own ``templates/messages/KIND.txt`` stands in for the packed one. Templates run in a sandbox; what an order or
a customer says is only ever data in them. A template's first line is the subject: ``Subject: ...``.
"""

from __future__ import annotations

import traceback
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from email.message import EmailMessage
from pathlib import Path
from typing import Any, Literal, get_args

from shipwindow import units
from shipwindow.desk.policy import hours_words, promise_lines, report_by
from shipwindow.errors import ConfigError
from shipwindow.settings.desk_paper import Messages, Policy

Kind = Literal["accept", "ask", "ship-confirmed", "hold", "shipped", "delayed", "decline", "arrival", "day-7", "day-14"]
KINDS: tuple[Kind, ...] = get_args(Kind)
BLANK = "________"
FOLDER = Path("templates") / "messages"
PACKED = "message_templates"
LONGEST_SUBJECT = 150
Clock = Literal["12", "24"]
Scale = Literal["F", "C"]
HANDOVER_SAYS = {
    "met": "somebody meets the driver at the door",
    "porch-shade": "left at the door, in the shade",
    "porch-sun": "left at the door",
    "indoors": "taken indoors",
    "depot": "you collect it at the carrier's depot",
    "counter": "you collect it at the counter",
}
COMMITMENT_SAYS = {
    "next-morning": "next morning",
    "next-noon": "next day by noon",
    "next-evening": "next day by the end of the day",
    "second-day": "second day",
}


@dataclass(frozen=True)
class Facts:
    """What a letter may say; whatever is not known is None or empty and becomes a blank to fill in.

    Instants are aware. ``zone`` of the customer is the one their clock shows; every hour in a letter is told in it.
    """

    order: str
    shop: str
    zone: str
    shop_zone: str = "UTC"
    us: bool = False  # a destination with a ZIP code: "auto" then means degrees Fahrenheit and am/pm
    name: str = ""
    email: str = ""
    destination: str = ""
    corals: tuple[str, ...] = ()
    ship_day: date | None = None
    arrival_day: date | None = None
    delivered_at: datetime | None = None
    commitment: str = ""
    handover: str = ""
    depot: str = ""
    tracking: str = ""
    conditions: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()
    next_day: date | None = None
    likely_days: tuple[date, ...] = ()
    options: tuple[str, ...] = ()
    missing_fact: str = ""
    reply_by: datetime | None = None
    safe_low_C: float | None = None
    safe_high_C: float | None = None
    new_delivered_at: datetime | None = None
    from_day: date | None = None
    link: str = ""
    part: str = ""  # such as "box 1 of 2 of your order A-101"


@dataclass(frozen=True)
class Draft:
    """One letter, ready to be read, edited and sent by the seller."""

    order: str
    kind: Kind
    to: str
    to_name: str
    subject: str
    body: str
    from_name: str
    from_address: str
    blanks: tuple[str, ...] = ()  # what the seller still has to fill in
    template: str = ""
    headers: Mapping[str, str] = field(default_factory=dict)


def draft(
    kind: Kind, facts: Facts, messages: Messages, policy: Policy, shop_folder: Path | None, shop_scale: Scale
) -> Draft:
    """Write one letter.

    Parameters
    ----------
    kind : str                     One of ``KINDS``.
    facts : Facts                  What is known.
    messages, policy : settings    Of ``desk.toml``.
    shop_folder : Path or None     Whose ``templates/messages`` come first.
    shop_scale : "F" or "C"        Of the shop's own pages, where ``temperature`` is "auto" and the customer has no ZIP.

    Raises
    ------
    ConfigError                    A template that cannot be read or run: file, line, what is wrong.
    """
    values = _values(facts, messages, policy, shop_scale)
    text, template = _render(kind, values, shop_folder)
    subject, body = _split(text, template)
    blanks = _blanks(body, subject, facts, messages)
    return Draft(
        order=facts.order,
        kind=kind,
        to=one_line(facts.email),
        to_name=one_line(facts.name),
        subject=subject,
        body=body,
        from_name=one_line(messages.from_name or facts.shop),
        from_address=one_line(messages.from_address),
        blanks=blanks,
        template=template,
    )


def as_email(letter: Draft) -> EmailMessage:
    """Turn a draft into a mail; addresses that are not known are left out, and it must not be sent without them."""
    from email.headerregistry import Address

    mail = EmailMessage()
    mail["Subject"] = letter.subject
    for header, name, address in (
        ("From", letter.from_name, letter.from_address),
        ("To", letter.to_name, letter.to),
    ):
        if address:
            try:
                mail[header] = Address(display_name=name, addr_spec=address)
            except (ValueError, IndexError):
                raise ConfigError(
                    f"{header.lower()} address {address!r}", "an address such as anna@example.org", "correct it"
                ) from None
    mail.set_content(letter.body)
    return mail


def one_line(text: str, longest: int | None = None) -> str:
    """Make what somebody says harmless in a header or a line: no breaks, no control letters, not too long."""
    said = " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
    return said if longest is None or len(said) <= longest else f"{said[: longest - 1].rstrip()}…"


# ------------------------------------------------------------------- values


def _values(facts: Facts, messages: Messages, policy: Policy, shop_scale: Scale) -> dict[str, Any]:
    """Turn facts into the words a template may use: the customer's clock and units, blanks where nothing is known."""
    from zoneinfo import ZoneInfo

    zone = ZoneInfo(facts.zone)
    clock: Clock = ("12" if facts.us else "24") if messages.clock == "auto" else messages.clock
    scale: Scale = ("F" if facts.us else shop_scale) if messages.temperature == "auto" else messages.temperature

    def hour(at: datetime | None) -> str:
        return BLANK if at is None else hour_words(at.astimezone(zone), clock)

    def moment(at: datetime | None) -> str:
        return BLANK if at is None else f"{day_words(at.astimezone(zone).date())} at {hour(at)}, your time"

    plain = {key: one_line(value) for key, value in asdict(facts).items() if isinstance(value, str)}
    band = ""
    if facts.safe_low_C is not None and facts.safe_high_C is not None:
        low, high = (units.show_temperature(value, scale) for value in (facts.safe_low_C, facts.safe_high_C))
        band = f"{low} to {high}"
    late_at = facts.new_delivered_at or facts.delivered_at
    return {
        **plain,
        "name": plain["name"] or "there",
        "tracking": plain["tracking"] or BLANK,
        "depot": plain["depot"] or BLANK,
        "missing_fact": plain["missing_fact"] or BLANK,
        "corals": [one_line(coral) for coral in facts.corals],
        "conditions": [one_line(text) for text in facts.conditions],
        "reasons": [one_line(text) for text in facts.reasons],
        "options": [one_line(text) for text in facts.options],
        "ship_day": day_words(facts.ship_day),
        "arrival_day": day_words(facts.arrival_day),
        "arrival_hour": hour(facts.delivered_at),
        "arrival": moment(facts.delivered_at),
        "due": moment(late_at),
        "has_due": late_at is not None,
        "new_arrival": moment(facts.new_delivered_at),
        "next_day": day_words(facts.next_day) if facts.next_day else "",
        "likely_days": [day_words(day) for day in facts.likely_days],
        "from_day": day_words(facts.from_day) if facts.from_day else "",
        "commitment": COMMITMENT_SAYS.get(facts.commitment, one_line(facts.commitment)) or BLANK,
        "handover": HANDOVER_SAYS.get(facts.handover, one_line(facts.handover)) or BLANK,
        "handover_kind": facts.handover,
        "reply_by": moment(facts.reply_by),
        "has_reply_by": facts.reply_by is not None,
        "safe_band": band or BLANK,
        "report_within": hours_words(policy.report_within_h),
        "report_by": moment(report_by(policy, late_at)) if late_at is not None else BLANK,
        "open_within": hours_words(messages.open_within_h),
        "hold_until": hour(_hold_until(facts, messages)),
        "promise": list(promise_lines(policy)),
        "proof": list(policy.proof),
        "delay_covered": policy.delay_covered,
        "depot_within": hours_words(policy.depot_within_h),
        "reach_us": one_line(messages.reach_us) or BLANK,
        "from_name": one_line(messages.from_name or facts.shop),
        "degree": "°F" if scale == "F" else "°C",
    }


def _hold_until(facts: Facts, messages: Messages) -> datetime | None:
    """Give the last instant at which the customer may ask to wait: an hour of the shop's clock on the ship day."""
    from zoneinfo import ZoneInfo

    if facts.ship_day is None:
        return None
    return datetime.combine(facts.ship_day, messages.hold_until, ZoneInfo(facts.shop_zone))


def hour_words(at: datetime, clock: Clock) -> str:
    """Write an hour as "10:30 am" or "10:30"."""
    if clock == "24":
        return f"{at:%H:%M}"
    half = "am" if at.hour < 12 else "pm"
    return f"{(at.hour - 1) % 12 + 1}:{at:%M} {half}"


def day_words(day: date | None) -> str:
    """Write a day as "Thursday, 23 April"."""
    return BLANK if day is None else f"{day:%A}, {day.day} {day:%B}"


def _blanks(body: str, subject: str, facts: Facts, messages: Messages) -> tuple[str, ...]:
    found = []
    if BLANK in body or BLANK in subject:
        found.append("a blank in the text")
    if not facts.email:
        found.append("the customer's address")
    if not messages.from_address:
        found.append("your own address ([messages] from-address in desk.toml)")
    return tuple(found)


# ---------------------------------------------------------------- templates


def template_folders(shop_folder: Path | None) -> tuple[Path, ...]:
    """Give the folders that are looked through for a template, the shop's own first."""
    packed = Path(__file__).with_name(PACKED)
    return (packed,) if shop_folder is None else (shop_folder / FOLDER, packed)


def _render(kind: Kind, values: Mapping[str, Any], shop_folder: Path | None) -> tuple[str, str]:
    """Run a template in the sandbox; every way it can fail is told with file and line."""
    from jinja2 import FileSystemLoader, StrictUndefined, TemplateError, TemplateSyntaxError
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    folders = template_folders(shop_folder)
    environment = ImmutableSandboxedEnvironment(
        loader=FileSystemLoader(folders),
        undefined=StrictUndefined,
        autoescape=False,  # plain text, not a page
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    name = f"{kind}.txt"
    where = name
    do = f"correct it, or take it away so that the packed letter stands in; known words: {', '.join(sorted(values))}"
    try:
        template = environment.get_template(name)
        where = str(template.filename or name)
        return template.render(**values), where
    except TemplateSyntaxError as error:
        raise ConfigError(
            f"{error.filename or where}:{error.lineno}: {error.message}", "a Jinja template", do
        ) from None
    except UnicodeDecodeError as error:
        raise ConfigError(f"{name}: a letter that is not UTF-8", "text in UTF-8", "save it again as UTF-8") from error
    except (
        TemplateError,
        ArithmeticError,
        TypeError,
        ValueError,
        LookupError,
        AttributeError,
        RecursionError,
    ) as error:
        line = _line_of(error, folders)
        raise ConfigError(f"{line or where}: {error}", "a template that runs", do) from None
    except OSError as error:
        raise ConfigError(f"{where}: {error.strerror or error}", "a template that can be read", do) from None


def _line_of(error: BaseException, folders: tuple[Path, ...]) -> str:
    """Find the line of a template in the trace: Jinja puts its own frames there."""
    inside = tuple(str(folder) for folder in folders)
    frames = [frame for frame in traceback.extract_tb(error.__traceback__) if frame.filename.endswith(".txt")]
    frames = [frame for frame in frames if frame.filename.startswith(inside)]
    return f"{frames[-1].filename}:{frames[-1].lineno}" if frames else ""


def _split(text: str, template: str) -> tuple[str, str]:
    """Part the subject from the letter."""
    first, _, rest = text.lstrip("\n").partition("\n")
    if not first.startswith("Subject:") or not one_line(first[8:]):
        raise ConfigError(
            f"{template}:1: {first[:60]!r}", 'a first line such as "Subject: Your order {{ order }}"', "add it"
        )
    subject = one_line(first[8:], LONGEST_SUBJECT)
    lines = [line.rstrip() for line in rest.strip("\n").split("\n")]
    kept: list[str] = []
    for line in lines:  # an if that says nothing must not leave a hole
        if line or (kept and kept[-1]):
            kept.append(line)
    body = "\n".join(kept).strip("\n") + "\n"
    # What is not printable has no place in a letter, wherever it came from.
    body = "".join(letter if letter.isprintable() or letter == "\n" else " " for letter in body)
    return subject, body
