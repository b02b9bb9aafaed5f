"""The states of an order and the moves between them, as data.

For: ``book`` (refuses other moves) and whoever offers moves to a person. Their wording is the shop's (``desk.toml``).
Must not know: orders, databases.

    open, held, planned     put to the morning's advice; only a person, or ``advise --move``, moves between them
    packed                  the lid is shut
    handed-over             on its way: on the watch list
    arrived, closed         opened or delivered; nothing left to do
    cancelled               will not go
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

from shipwindow.errors import ConfigError
from shipwindow.settings.desk_file import StateName

STATES: tuple[StateName, ...] = get_args(StateName)
ADVISED: tuple[StateName, ...] = ("open", "held", "planned")
UNDER_WAY: tuple[StateName, ...] = ("handed-over",)

# From, to, and whether the move goes against the usual way and so needs a reason.
MOVES: Mapping[StateName, Mapping[StateName, bool]] = {
    "open": {"held": False, "planned": False, "packed": False, "cancelled": True},
    "held": {"open": False, "planned": False, "packed": False, "cancelled": True},
    "planned": {"open": False, "held": False, "packed": False, "cancelled": True},
    "packed": {"handed-over": False, "planned": True, "held": True, "open": True, "cancelled": True},
    "handed-over": {"arrived": False, "packed": True, "closed": True},
    "arrived": {"closed": False, "handed-over": True},
    "closed": {"arrived": True},
    "cancelled": {"open": True},
}


def check_move(order: str, now_is: StateName, to: StateName, why: str) -> None:
    """Refuse a move that is not allowed, or one that needs a reason and has none."""
    allowed = MOVES[now_is]
    if to not in allowed:
        raise ConfigError(
            f"order {order}: {now_is} to {to}", f"{now_is} to {' or '.join(allowed)}", "move it step by step"
        )
    if allowed[to] and not why.strip():
        raise ConfigError(
            f"order {order}: {now_is} to {to} without a reason", "a reason for this move", 'add --why "..."'
        )
