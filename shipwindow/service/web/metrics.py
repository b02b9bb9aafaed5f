"""Numbers for a monitor, in the common text format, in a registry of our own.

For: ``Metrics``: counted by ``guard`` and ``api``, read at ``/metrics``. Must not know: how a shop is served. Labels
are templates of paths and words of ours, never an order, a place or a person.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.exposition import CONTENT_TYPE_LATEST

CONTENT_TYPE = CONTENT_TYPE_LATEST
STEPS_S = (0.005, 0.02, 0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0)


class Metrics:
    """The counters of one running desk."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self._requests = Counter(
            "shipwindow_requests", "Requests answered.", ["route", "method", "status"], registry=self.registry
        )
        self._seconds = Histogram(
            "shipwindow_request_seconds",
            "Time to answer a request.",
            ["route"],
            registry=self.registry,
            buckets=STEPS_S,
        )
        self._checks = Counter("shipwindow_checks", "Destination checks by answer.", ["answer"], registry=self.registry)
        self._under_way = Gauge("shipwindow_work_under_way", "Slow questions not answered yet.", registry=self.registry)
        self._orders = Gauge("shipwindow_orders", "Orders in the book.", ["state"], registry=self.registry)
        self._outbox = Gauge("shipwindow_outbox_items", "Letters in the outbox.", ["state"], registry=self.registry)
        self._advisory = Gauge(
            "shipwindow_advisory_made_timestamp_seconds", "When the last advisory was made.", registry=self.registry
        )
        self._advised = Gauge(
            "shipwindow_advised_orders", "Orders of the last advisory.", ["advice"], registry=self.registry
        )

    def answered(self, route: str, method: str, status: int, took_s: float) -> None:
        """Count a request."""
        self._requests.labels(route, method, str(status)).inc()
        self._seconds.labels(route).observe(took_s)

    def checked(self, answer: str | None) -> None:
        """Count a destination check."""
        self._checks.labels(answer or "not-known").inc()

    def text(
        self,
        *,
        under_way: int,
        orders: Mapping[str, int],
        outbox: Mapping[str, int],
        made_at: datetime | None,
        advised: Mapping[str, int],
    ) -> bytes:
        """Write everything, with what holds at this moment."""
        self._under_way.set(under_way)
        for gauge, counts in ((self._orders, orders), (self._outbox, outbox), (self._advised, advised)):
            gauge.clear()
            for name, count in counts.items():
                gauge.labels(name).set(count)
        if made_at is not None:
            self._advisory.set(made_at.timestamp())
        return bytes(generate_latest(self.registry))
