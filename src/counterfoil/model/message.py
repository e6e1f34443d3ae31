"""What a message is made of: layers, documents, lines, cells."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from counterfoil.model.words import Problem


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on a page in PDF points, origin lower left; ``x0 <= x1`` and ``y0 <= y1``."""

    x0: float
    y0: float
    x1: float
    y1: float


@dataclass(frozen=True, slots=True)
class Cell:
    """A run of text inside a line, set apart from its neighbours by a wide gap or a table border.

    ``start`` and ``end`` are a span of the document's text. ``x0`` and ``x1`` say where the cell
    stands across the page, in PDF points on a PDF, in characters in plain text, as the column number
    in an HTML table (``x1 = x0 + column span``): comparable within one document only.
    """

    start: int
    end: int
    x0: float
    x1: float


@dataclass(frozen=True, slots=True)
class Line:
    """One visual line: a span of the document's text, its page (None outside PDFs), its box and cells.

    Cells are in reading order and cover all of the line's text that is not white space. ``quoted`` counts how deep
    the line stands in quotes of its document (">", or block quotes in HTML).
    """

    start: int
    end: int
    cells: tuple[Cell, ...]
    page: int | None = None
    box: Box | None = None
    quoted: int = 0


@dataclass(frozen=True, slots=True)
class Document:
    """A piece of a message that carries text, or that should have and could not be read.

    ``name`` is unique in its message: ``body``, ``forward:1``, ``pdf:confirmation.pdf``,
    ``picture:card.jpg``, ``file:winmail.dat``. ``layer`` is the index into :attr:`Message.layers` of the
    layer the document came with. ``problem`` with ``reason`` (a sentence) says why text is missing.
    ``inline`` marks pictures shown inside the text (logos, signatures), not attached for their own sake.
    ``media_type`` is the type found by looking at the bytes, for example ``application/pdf``.
    ``turns`` has a number for each page where the text was read off a picture, empty elsewhere: by how many quarters
    the page had to be turned, against the clock, to stand upright. Boxes are then those of the page so turned: in
    pixels of a picture, in points of a scanned page of a PDF.
    ``marks`` gives, for PDFs and pictures, each character's left and right edge and its line's bottom and top, so that
    the box of a span can be told: one ``(x0, y0, x1, y1)`` a character, empty elsewhere.
    """

    name: str
    layer: int
    text: str
    lines: tuple[Line, ...]
    media_type: str = "text/plain"
    pages: int = 0
    problem: Problem | None = None
    reason: str = ""
    inline: bool = False
    size: int = 0
    marks: tuple[tuple[float, float, float, float], ...] = ()
    turns: tuple[int, ...] = ()

    def box(self, start: int, end: int) -> Box | None:
        """Return the box of a span, or None where the document has no boxes (text, HTML)."""
        marks = [m for m in self.marks[start:end] if m[2] > m[0]]
        if not marks:
            return None
        return Box(
            min(m[0] for m in marks), min(m[1] for m in marks), max(m[2] for m in marks), max(m[3] for m in marks)
        )

    def page_of(self, start: int) -> int | None:
        """Return the page on which the character at ``start`` stands, None outside PDFs."""
        for line in self.lines:
            if line.start <= start <= line.end:
                return line.page
        return None


@dataclass(frozen=True, slots=True)
class Mailbox:
    """A mailbox in the sense of RFC 5322, section 3.4: display name (may be empty) and address."""

    name: str
    address: str


@dataclass(frozen=True, slots=True)
class Layer:
    """One envelope of a message: the outermost as received, or one forwarded inside another.

    ``how`` is ``received`` (always the first layer), ``attached`` (a message/rfc822 part) or ``inline``
    (a forward inside the text). ``parent`` is the index of the layer around it, None for the first. ``authors`` counts
    the different addresses in From: of several, ``sender`` is the first, and nobody knows which of them wrote.
    """

    how: str
    parent: int | None
    sender: Mailbox | None
    to: tuple[Mailbox, ...] = ()
    cc: tuple[Mailbox, ...] = ()
    date: datetime | None = None
    subject: str = ""
    message_id: str = ""
    authors: int = 1


@dataclass(frozen=True, slots=True)
class Message:
    """An original, read. ``defects`` are sentences on what was broken and how it was read all the same."""

    sha256: str
    size: int
    layers: tuple[Layer, ...]
    documents: tuple[Document, ...]
    defects: tuple[str, ...] = ()
    automatic: bool = False
    """True for automatic replies and bounces (RFC 3834 Auto-Submitted, empty return path and the like)."""
    bulk: bool = False
    """True for newsletters and lists (RFC 2369 List-* headers, Precedence: bulk or list)."""

    @property
    def head(self) -> Layer:
        """The layer as received."""
        return self.layers[0]
