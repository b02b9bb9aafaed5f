"""Claims: what a customer reported, when, with which proof, and what a person decided.

For: ``open_claims(shop) -> ClaimBook``: report, add proof, decide, settle; ``timing`` counts the minutes since
delivery. Must not know: carriers' own claims, pages. Neighbours: ``claims_tables``, ``policy`` (the promise),
``book`` (the same file). Nothing here decides: the clock says "in time" or "late", a named person says what is given.

States: ``reported`` (proof is lacking), ``ready`` (all proof is there), ``decided``, ``settled``, ``withdrawn``.
A claim is the fold of its events; every event is appended in one transaction and none is ever changed.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Literal, Self, get_args

from shipwindow.desk.claims_tables import CLAIMS
from shipwindow.desk.policy import hours_words
from shipwindow.errors import ConfigError
from shipwindow.settings import Shop, load_shop
from shipwindow.settings.desk_paper import Policy
from shipwindow.store import atomic, explained, open_store
from shipwindow.tables import Database

ClaimState = Literal["reported", "ready", "decided", "settled", "withdrawn"]
Gives = Literal["replacement", "credit", "refund", "nothing"]
GIVES: tuple[Gives, ...] = get_args(Gives)
OPEN: tuple[ClaimState, ...] = ("reported", "ready", "decided")
Timing = Literal["in time", "late", "hour of delivery not known", "reported before delivery"]


@dataclass(frozen=True)
class Claim:
    """A claim as it stands. ``corals`` are those said to be lost; empty means that the customer did not say."""

    claim: str
    order: str
    reported_at: datetime
    delivered_at: datetime | None = None
    opened_at: datetime | None = None
    collected_at: datetime | None = None  # from a depot; ``delivered_at`` is then when it was ready there
    corals: tuple[str, ...] = ()
    says: str = ""
    proof: tuple[tuple[str, str], ...] = ()  # item of the policy, where it lies
    needed: tuple[str, ...] = ()
    gives: Gives | None = None
    amount_cents: int | None = None
    decided_by: str = ""
    why: str = ""
    state: ClaimState = "reported"
    seq: int = 0

    @property
    def lacking(self) -> tuple[str, ...]:
        """Proof that was asked for and has not come."""
        there = {item for item, _ in self.proof}
        return tuple(item for item in self.needed if item not in there)


def timing(claim: Claim, policy: Policy) -> tuple[Timing, float | None]:
    """Say whether a report came in time, and the real minutes between delivery and report (a clock change included).

    A box that was collected at a depot was delivered when it was collected.
    """
    from_at = claim.collected_at or claim.delivered_at
    if from_at is None:
        return "hour of delivery not known", None
    minutes = _minutes(from_at, claim.reported_at)
    if minutes < 0.0:
        return "reported before delivery", minutes
    # A window of 2 h is kept at 2 h 00 min 59 s: people write minutes.
    return ("in time" if int(minutes) <= policy.report_within_h * 60.0 + 1e-9 else "late"), minutes


def collection(claim: Claim, policy: Policy) -> tuple[Timing, float] | None:
    """Say whether a box kept at a depot was collected in time, and the minutes from its being ready there."""
    if claim.collected_at is None or claim.delivered_at is None:
        return None
    minutes = _minutes(claim.delivered_at, claim.collected_at)
    return ("in time" if int(minutes) <= policy.depot_within_h * 60.0 + 1e-9 else "late"), minutes


def timing_words(claim: Claim, policy: Policy) -> str:
    """Write the timing in one sentence, or two for a box that was collected."""
    said, minutes = timing(claim, policy)
    if minutes is None:
        return "hour of delivery not known: a person decides"
    if said == "reported before delivery":
        return f"reported {_span(minutes)} before the delivery: check the hours"
    after = "collection" if claim.collected_at is not None else "delivery"
    says = f"reported {_span(minutes)} after {after}, {said} (promise: {hours_words(policy.report_within_h)})"
    kept = collection(claim, policy)
    if kept is None:
        return says
    promise = hours_words(policy.depot_within_h)
    return f"{says}; collected {_span(kept[1])} after it was ready, {kept[0]} (promise: {promise})"


def _minutes(from_at: datetime, to_at: datetime) -> float:
    return (to_at.astimezone(UTC) - from_at.astimezone(UTC)).total_seconds() / 60.0


def _span(minutes: float) -> str:
    whole = int(abs(minutes))
    return f"{whole // 60} h {whole % 60:02d} min"


def open_claims(shop: Shop | Path | str) -> ClaimBook:
    """Open the claims of a shop, in the file of its order book."""
    opened = shop if isinstance(shop, Shop) else load_shop(Path(shop))
    if opened.folder is None:
        raise ConfigError("a shop without a folder", "a shop folder", "make one with: shipwindow init DIR")
    path = opened.folder / opened.settings.desk.book.file
    return ClaimBook(open_store(path, CLAIMS), path, opened.settings.desk.policy)


class ClaimBook:
    """The claims of one shop."""

    def __init__(self, store: Database, path: Path | str, policy: Policy) -> None:
        self.store = store
        self.path = path
        self.policy = policy

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.store.close()

    def claims(self, states: Iterable[ClaimState] | None = None) -> tuple[Claim, ...]:
        """Give the claims as they stand, oldest first; of some states, or all."""
        with explained(self.path):
            rows = list(self.store.query("select * from claim_event order by seq"))
        found: dict[str, Claim] = {}
        for row in rows:
            found[row["claim"]] = _apply(found.get(row["claim"]), row)
        wanted = None if states is None else set(states)
        return tuple(claim for claim in found.values() if wanted is None or claim.state in wanted)

    def claim(self, name: str) -> Claim:
        """Give one claim; raises ``ConfigError`` for one that is not there."""
        for claim in self.claims():
            if claim.claim == name:
                return claim
        listed = ", ".join(claim.claim for claim in self.claims()[-8:]) or "none yet"
        raise ConfigError(f"claim {name!r}", f"a claim of this shop: {listed}", "shipwindow claims list shows them")

    def history(self, name: str) -> tuple[Mapping[str, Any], ...]:
        """Give everything that happened to a claim, oldest first."""
        with explained(self.path):
            rows = self.store.query("select * from claim_event where claim = ? order by seq", (name,))
            return tuple({**row, "body": json.loads(row["body"])} for row in rows)

    def report(
        self,
        order: str,
        reported_at: datetime,
        *,
        at: datetime,
        who: str,
        delivered_at: datetime | None = None,
        opened_at: datetime | None = None,
        collected_at: datetime | None = None,
        corals: tuple[str, ...] = (),
        says: str = "",
    ) -> Claim:
        """Write down what a customer reports. The same report twice is one claim; the proof asked for is today's."""
        told = {"reported": reported_at, "delivered": delivered_at, "opened": opened_at, "collected": collected_at}
        for name, instant in told.items():
            if instant is not None and instant.tzinfo is None:
                raise ConfigError(f"{name} at {instant.isoformat()}", "an instant with its zone", "add the zone")
        if reported_at > at:
            raise ConfigError(
                f"reported at {reported_at.isoformat()}, later than now", "an hour that is past", "correct the hour"
            )
        if collected_at is not None and delivered_at is not None and collected_at < delivered_at:
            raise ConfigError(
                f"collected at {collected_at.isoformat()}, before it was ready", "hours in their order", "correct one"
            )
        with atomic(self.store):
            earlier = [claim for claim in self.claims() if claim.order == order]
            for claim in earlier:
                same = claim.reported_at == reported_at.astimezone(UTC).replace(microsecond=0)
                if same and claim.corals == corals:
                    return claim
                if claim.state in OPEN:
                    raise ConfigError(
                        f"a second report on order {order}",
                        f"one open claim an order; {claim.claim} is {claim.state}",
                        "decide or withdraw it first, or add the proof to it",
                    )
            name = f"{order}-{len(earlier) + 1}"
            body = {
                "order": order,
                "reported_at": _stamp(reported_at),
                "delivered_at": _stamp(delivered_at),
                "opened_at": _stamp(opened_at),
                "collected_at": _stamp(collected_at),
                "corals": list(corals),
                "says": says,
                "needed": list(self.policy.proof),
            }
            return self._append(None, name, "reported", at, who, "", body)

    def add_proof(self, name: str, item: str, where: str, *, at: datetime, who: str) -> Claim:
        """Note that a piece of proof has come, and where it lies; ``item`` is its number or its words."""
        with atomic(self.store):
            claim = self._open(name, ("reported", "ready"))
            wanted = _proof_item(claim, item)
            if (wanted, where) in claim.proof:
                return claim
            return self._append(claim, name, "proof", at, who, "", {"item": wanted, "where": where})

    def decide(
        self, name: str, gives: Gives, *, at: datetime, who: str, why: str, amount_cents: int | None = None
    ) -> Claim:
        """Write down what a person has decided: who and why are required, in time or late, with or without proof."""
        if not who.strip() or not why.strip():
            raise ConfigError(
                f"a decision on {name} without {'a name' if not who.strip() else 'a reason'}",
                "who decides, and why",
                'add --by NAME and --why "..."',
            )
        if gives not in GIVES:
            raise ConfigError(f"{gives!r}", f"one of {', '.join(GIVES)}", "write what is given")
        if amount_cents is not None and amount_cents < 0:
            raise ConfigError(f"{amount_cents / 100:.2f}", "an amount of zero or more", "correct the amount")
        with atomic(self.store):
            claim = self._open(name, ("reported", "ready"))
            return self._append(claim, name, "decided", at, who, why, {"gives": gives, "amount_cents": amount_cents})

    def settle(self, name: str, *, at: datetime, who: str, why: str = "") -> Claim:
        """Note that what was decided has been given."""
        with atomic(self.store):
            return self._append(self._open(name, ("decided",)), name, "settled", at, who, why, {})

    def withdraw(self, name: str, *, at: datetime, who: str, why: str = "") -> Claim:
        """Note that the customer has taken the claim back."""
        with atomic(self.store):
            return self._append(self._open(name, ("reported", "ready")), name, "withdrawn", at, who, why, {})

    def _open(self, name: str, states: tuple[ClaimState, ...]) -> Claim:
        claim = self.claim(name)
        if claim.state not in states:
            raise ConfigError(
                f"claim {name}, which is {claim.state}", f"a claim that is {' or '.join(states)}", "see claims show"
            )
        return claim

    def _append(
        self, claim: Claim | None, name: str, kind: str, at: datetime, who: str, why: str, body: Mapping[str, Any]
    ) -> Claim:
        row = {
            "claim": name,
            "kind": kind,
            "at": _stamp(at),
            "who": who,
            "why": why,
            "body": json.dumps(body, ensure_ascii=False, sort_keys=True),
        }
        self.store.table("claim_event").insert(row)
        return _apply(claim, {**row, "seq": 0})


def _proof_item(claim: Claim, item: str) -> str:
    if item.isdigit() and 1 <= int(item) <= len(claim.needed):
        return claim.needed[int(item) - 1]
    if item in claim.needed:
        return item
    listed = "; ".join(f"{number} {text}" for number, text in enumerate(claim.needed, 1))
    raise ConfigError(f"proof {item!r}", f"one of: {listed}", "give its number")


def _stamp(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _instant(text: str | None) -> datetime | None:
    return None if text is None else datetime.strptime(text, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)


def _apply(claim: Claim | None, row: Mapping[str, Any]) -> Claim:
    """Fold one event into the claim."""
    body, kind = json.loads(row["body"]), row["kind"]
    if claim is None:
        reported_at = _instant(body["reported_at"])
        assert reported_at is not None  # noqa: S101 - ``report`` always writes it
        first = Claim(
            claim=row["claim"],
            order=body["order"],
            reported_at=reported_at,
            delivered_at=_instant(body["delivered_at"]),
            opened_at=_instant(body["opened_at"]),
            collected_at=_instant(body.get("collected_at")),
            corals=tuple(body["corals"]),
            says=body["says"],
            needed=tuple(body["needed"]),
            seq=row["seq"],
        )
        return replace(first, state="reported" if first.lacking else "ready")
    if kind == "proof":
        more = replace(claim, proof=(*claim.proof, (body["item"], body["where"])), seq=row["seq"])
        return replace(more, state="reported" if more.lacking else "ready")
    if kind == "decided":
        return replace(
            claim,
            state="decided",
            gives=body["gives"],
            amount_cents=body["amount_cents"],
            decided_by=row["who"],
            why=row["why"],
            seq=row["seq"],
        )
    return replace(claim, state="settled" if kind == "settled" else "withdrawn", seq=row["seq"])
