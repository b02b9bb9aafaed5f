"""Shape of ``service.toml``: settings of mail, the morning schedule and the web desk.

Must not know: how any of it is used. Neighbours: ``fields`` (types of values), ``models`` (all files together).
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, SecretStr, model_validator

from shipwindow.settings.fields import Clock, DurationH, Section

Port = Annotated[int, Field(ge=1, le=65535)]
Address = Annotated[str, Field(max_length=254, pattern=r"^[^\s@<>,;\x00-\x1f]+@[^\s@<>,;\x00-\x1f]+$")]
Host = Annotated[str, Field(max_length=253, pattern=r"^[A-Za-z0-9.:\-]*$")]


class MailSettings(Section):
    """The shop's mail server and who gets the advisory. Mail is off unless the shop turns it on."""

    on: bool = False
    host: Host = ""
    port: Port = 587
    security: Literal["starttls", "tls", "none"] = "starttls"
    sender: Address | None = None
    to: tuple[Address, ...] = ()
    user: str = ""
    password: SecretStr = SecretStr("")
    password_file: str = ""
    pictures: bool = True
    timeout_h: DurationH = 30 / 3600

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.on and not (self.host and self.sender and self.to):
            lacking = [name for name in ("host", "sender", "to") if not getattr(self, name)]
            raise ValueError(f"mail is on without {', '.join(lacking)}|host, sender and to|fill them in, or on = false")
        return self


class Retries(Section):
    """How often what could not be delivered is tried again: each pause doubles, up to the longest."""

    first_h: DurationH = 1 / 60
    longest_h: DurationH = 1.0
    give_up_h: DurationH = 24.0
    lease_h: DurationH = 5 / 60


class FolderTarget(Section):
    """A folder into which each letter is put as a file; written to, never read."""

    on: bool = False
    path: str = ""


class Webhook(Section):
    """An address that is told of each advisory by a signed JSON document."""

    on: bool = False
    address: str = ""
    allow: tuple[Host, ...] = ()
    secret: SecretStr = SecretStr("")
    timeout_h: DurationH = 10 / 3600


class Schedule(Section):
    """When what happens, on the shop's own clock."""

    advisory: Clock
    fetch_ahead_h: DurationH
    jitter_h: DurationH
    second_look_h: DurationH
    night: Clock
    latest_start_h: DurationH


class Web(Section):
    """The web desk: where it listens and how much it answers."""

    host: Host
    port: Port
    names: tuple[Host, ...] = ()
    token: SecretStr = SecretStr("")
    per_minute: Annotated[int, Field(ge=1, le=100000)]
    largest_body_kB: Annotated[int, Field(ge=1, le=100000)]


class ServiceFile(Section):
    """``service.toml``."""

    mail: MailSettings = MailSettings()
    retry: Retries = Retries()
    folder: FolderTarget = FolderTarget()
    webhook: Webhook = Webhook()
    schedule: Schedule
    web: Web
    out: str
