"""Codes that a telephone can read, leading from a box or a bag back to its order.

For: our own scheme ``shipwindow:order/ID[/box/N][/bag/N]`` (RFC 3986: the id is percent-encoded) and its QR symbol
(ISO/IEC 18004, made by ``segno``). Must not know: pages. An order's id is all a code holds: no name.
"""

from __future__ import annotations

from urllib.parse import quote, unquote

from shipwindow.errors import ConfigError

SCHEME = "shipwindow"


def order_code(order: str, box: int | None = None, bag: int | None = None) -> str:
    """Give the text of the code of an order, of one of its boxes, or of one bag in it."""
    parts = ["order", quote(order, safe="")]
    if box is not None:
        parts += ["box", str(box)]
    if bag is not None:
        parts += ["bag", str(bag)]
    return f"{SCHEME}:{'/'.join(parts)}"


def read_code(text: str) -> str:
    """Give the order a code leads to; a plain order id is taken as it stands."""
    text = text.strip()
    if not text.casefold().startswith(f"{SCHEME}:"):
        return text
    parts = text.split(":", 1)[1].split("/")
    if len(parts) < 2 or parts[0] != "order" or not parts[1]:
        raise ConfigError(f"{text!r}", f"a code such as {order_code('A-101')}", "scan it again, or type the order id")
    return unquote(parts[1])


def code_matrix(text: str) -> tuple[tuple[bool, ...], ...]:
    """Give the dark modules of the QR symbol, without its quiet zone; medium error correction."""
    import segno

    symbol = segno.make_qr(text, error="m", boost_error=False)
    return tuple(tuple(bool(module) for module in row) for row in symbol.matrix)


def code_svg(text: str, size_mm: float) -> str:
    """Draw the QR symbol with its quiet zone of four modules as inline SVG."""
    rows = code_matrix(text)
    side = len(rows) + 8
    dark = "".join(f"M{x + 4} {y + 4}h1v1h-1z" for y, row in enumerate(rows) for x, module in enumerate(row) if module)
    return (
        f'<svg class="code" role="img" aria-label="code of this sheet" width="{size_mm:g}mm" height="{size_mm:g}mm" '
        f'viewBox="0 0 {side} {side}" shape-rendering="crispEdges"><path fill="#000" d="{dark}"/></svg>'
    )
