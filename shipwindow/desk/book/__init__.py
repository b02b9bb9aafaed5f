"""The order book: ``open_book(shop_folder) -> Book``; ``By`` says who, when and why, ``Plan`` how a box goes."""

from __future__ import annotations

from shipwindow.desk.book.book import Book, open_book
from shipwindow.desk.book.events import By, Entry, Event, Plan
from shipwindow.desk.book.states import ADVISED, MOVES, STATES, UNDER_WAY

__all__ = ["ADVISED", "MOVES", "STATES", "UNDER_WAY", "Book", "By", "Entry", "Event", "Plan", "open_book"]
