"""The desk: ``read_orders`` reads a file, ``desk.book`` keeps orders, ``to_shipment`` makes the case ``decide`` sees.

``to_shipment`` and ``hub_of`` bring the box model with them and are loaded when asked for: a list of orders needs none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shipwindow.desk.orders import read_orders
from shipwindow.desk.records import Contact, Order, OrderBook, OrderLine, Problem

if TYPE_CHECKING:
    from shipwindow.desk.shipments import hub_of, to_shipment

__all__ = ["Contact", "Order", "OrderBook", "OrderLine", "Problem", "hub_of", "read_orders", "to_shipment"]


def __getattr__(name: str) -> Any:  # noqa: ANN401 - a door hands out whatever lies behind it
    if name in {"hub_of", "to_shipment"}:
        from shipwindow.desk import shipments

        return getattr(shipments, name)
    raise AttributeError(f"module 'shipwindow.desk' has no attribute {name!r}")
