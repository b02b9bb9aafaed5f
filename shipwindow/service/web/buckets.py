"""How often one client may ask: a bucket of tokens each, refilled steadily (the token bucket of RFC 2698's family).

For: ``Buckets.take``. Must not know: requests, clocks of this computer (``now_s`` is handed in).
"""

from __future__ import annotations

import threading
from collections import OrderedDict

MOST_CLIENTS = 4096
"""Clients remembered; the one not seen for longest is forgotten first, with a full bucket. Engineering choice."""


class Buckets:
    """One bucket a client; it holds a minute's worth and refills evenly."""

    def __init__(self, per_minute: float) -> None:
        self._size = float(per_minute)
        self._per_s = per_minute / 60.0
        self._filled: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = threading.Lock()

    def take(self, client: str, now_s: float) -> float:
        """Take one token; give 0, or the seconds to wait for one."""
        with self._lock:
            left, since_s = self._filled.pop(client, (self._size, now_s))
            left = min(self._size, left + max(now_s - since_s, 0.0) * self._per_s)
            wait_s = 0.0 if left >= 1.0 else (1.0 - left) / self._per_s
            self._filled[client] = (left - 1.0 if wait_s == 0.0 else left, now_s)
            if len(self._filled) > MOST_CLIENTS:
                self._filled.popitem(last=False)
            return wait_s
