"""The order book: ``read_orders`` reads it, ``to_shipment`` turns an order into the case ``decide`` sees."""

from __future__ import annotations

from shipwindow.desk.orders import Order, OrderBook, Problem, read_orders
from shipwindow.desk.shipments import hub_of, to_shipment

__all__ = ["Order", "OrderBook", "Problem", "hub_of", "read_orders", "to_shipment"]
