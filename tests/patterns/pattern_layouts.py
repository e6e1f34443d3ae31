"""Documents built by hand, as text, as table and as page, the way the reading stage hands them over."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from counterfoil.model import Box, Cell, Document, Layer, Line, Mailbox, Message

DAY = datetime(2026, 4, 20, 9, 30, tzinfo=UTC)
_CHAR = 5.0
"""Width of a character on our pages, in points."""
_HEIGHT = 10.0


def text_document(text: str, name: str = "body", layer: int = 0) -> Document:
    """Make a text document: cells parted by tabs or runs of three spaces, x in characters."""
    lines: list[Line] = []
    start = 0
    for part in text.split("\n"):
        cells = []
        for match in re.finditer(r"\S+(?:(?: {1,2})\S+)*", part):
            cells.append(Cell(start + match.start(), start + match.end(), match.start(), match.end()))
        lines.append(Line(start, start + len(part), tuple(cells)))
        start += len(part) + 1
    return Document(name, layer, text, tuple(lines), size=len(text))


def table_document(rows: Sequence[Sequence[str]], name: str = "body", layer: int = 0) -> Document:
    """Make a document of table rows: one line a row, x is the column."""
    text = ""
    lines: list[Line] = []
    for row in rows:
        line_start = len(text)
        cells = []
        for column, content in enumerate(row):
            if column:
                text += "\t"
            if content:
                cells.append(Cell(len(text), len(text) + len(content), column, column + 1))
            text += content
        lines.append(Line(line_start, len(text), tuple(cells)))
        text += "\n"
    return Document(name, layer, text, tuple(lines), media_type="text/html", size=len(text))


@dataclass(frozen=True)
class Item:
    """Words on a page: left edge (or right edge where ``right``) and the baseline's distance from the top, points."""

    x: float
    y: float
    text: str
    right: bool = False


def page_document(items: Sequence[Item], name: str = "pdf:confirmation.pdf", layer: int = 0) -> Document:
    """Make a one-page document: items of one height make a line, each item is a cell, every character has its mark."""
    text = ""
    lines: list[Line] = []
    marks: list[tuple[float, float, float, float]] = []
    for y in sorted({item.y for item in items}):
        row = sorted((i for i in items if i.y == y), key=lambda i: i.x - (len(i.text) * _CHAR if i.right else 0))
        bottom, top = 800 - y, 800 - y + _HEIGHT
        line_start = len(text)
        cells = []
        for number, item in enumerate(row):
            if number:
                text += "\t"
                marks.append((0, 0, 0, 0))
            left = item.x - len(item.text) * _CHAR if item.right else item.x
            cells.append(Cell(len(text), len(text) + len(item.text), left, left + len(item.text) * _CHAR))
            marks.extend((left + k * _CHAR, bottom, left + (k + 1) * _CHAR, top) for k in range(len(item.text)))
            text += item.text
        box = Box(cells[0].x0, bottom, cells[-1].x1, top)
        lines.append(Line(line_start, len(text), tuple(cells), 1, box))
        text += "\n"
        marks.append((0, 0, 0, 0))
    return Document(name, layer, text, tuple(lines), "application/pdf", 1, size=len(text), marks=tuple(marks))


CUSTOMER = Mailbox("Liv Tarrant", "liv.tarrant@post.example")
SHOP = Mailbox("Thimble Lane Support", "support@thimblelane.example")
UNKNOWN_MAKER = Mailbox("Velotta Service", "noreply@velotta.example")


def forwarded(*documents: Document, subject: str = "Fwd: Activation", inner: Mailbox = UNKNOWN_MAKER) -> Message:
    """Make a message the customer forwarded to the shop: layer 1 is the maker's mail to the customer."""
    layers = (
        Layer("received", None, CUSTOMER, (SHOP,), date=DAY, subject=subject),
        Layer("inline", 0, inner, (CUSTOMER,), date=DAY, subject=subject.removeprefix("Fwd: ")),
    )
    return Message("0" * 64, 1000, layers, tuple(documents))


def direct(*documents: Document, subject: str = "My codes", sender: Mailbox = CUSTOMER, to: Mailbox = SHOP) -> Message:
    """Make a message of one layer."""
    return Message("0" * 64, 1000, (Layer("received", None, sender, (to,), date=DAY, subject=subject),), documents)
