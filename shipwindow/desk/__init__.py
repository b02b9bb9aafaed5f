"""The order book: ``read_orders`` reads it, ``to_shipment`` turns an order into the case ``decide`` sees."""

from __future__ import annotations

from shipwindow.desk.orders import read_orders
from shipwindow.desk.records import Contact, Order, OrderBook, OrderLine, Problem
from shipwindow.desk.shipments import hub_of, to_shipment

__all__ = ["Contact", "Order", "OrderBook", "OrderLine", "Problem", "hub_of", "read_orders", "to_shipment"]
