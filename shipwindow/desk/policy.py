"""The arrive-alive promise of a shop, in words and in minutes.

For: what messages quote and claims are timed by, from ``[policy]`` in ``desk.toml``. Must not know: orders, claims,
pages. The promise is the seller's own; local consumer law may give a customer more, and a person decides every claim.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from shipwindow.settings.desk_paper import Policy

GIVES_WORDS = {"replacement": "a replacement", "credit": "a credit", "refund": "a refund"}


def hours_words(duration_h: float) -> str:
    """Write a duration as "2 hours" or "90 minutes"."""
    if duration_h >= 1.0 and abs(duration_h - round(duration_h)) < 1e-9:
        whole = round(duration_h)
        return "1 hour" if whole == 1 else f"{whole} hours"
    minutes = round(duration_h * 60)
    return "1 minute" if minutes == 1 else f"{minutes} minutes"


def promise_lines(policy: Policy) -> tuple[str, ...]:
    """Give the promise in a few lines: the shop's own, or made from its data."""
    if policy.says:
        return policy.says
    given = GIVES_WORDS[policy.gives]
    lines = [
        f"If a coral arrives dead, tell us within {hours_words(policy.report_within_h)} of delivery and we give you "
        f"{given} for it" + (", shipping included." if policy.shipping_refunded else "; shipping is not included.")
    ]
    if policy.proof:
        lines.append(f"Please send us {_listed(policy.proof)}.")
    if policy.first_attempt:
        lines.append("Somebody has to take the box in at the first delivery.")
    lines.append(
        "A box that the carrier or the weather delays is covered too."
        if policy.delay_covered
        else "A box that the carrier or the weather delays is not covered; we will still talk to you."
    )
    if policy.not_covered:
        lines.append(f"Not covered: {_listed(policy.not_covered)}.")
    return tuple(lines)


def _listed(items: tuple[str, ...]) -> str:
    return items[0] if len(items) == 1 else f"{'; '.join(items[:-1])}; and {items[-1]}"


def report_by(policy: Policy, delivered_at: datetime) -> datetime:
    """Give the last instant for a report, in the zone ``delivered_at`` carries; counted in real minutes."""
    moment = delivered_at.timestamp() + timedelta(hours=policy.report_within_h).total_seconds()
    return datetime.fromtimestamp(moment, delivered_at.tzinfo)
