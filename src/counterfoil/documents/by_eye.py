"""Documents of what is read off pictures and scanned pages: lines of text, and what QR and bar codes hold.

Text goes through the same lines and cells as that of a PDF, so that labels find their values; a slant is taken out.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from statistics import median_low
from typing import TYPE_CHECKING, cast

from counterfoil.documents.barcodes import codes_in, is_link
from counterfoil.documents.ocr import Point, read_picture
from counterfoil.documents.pdf import PdfText, document_of
from counterfoil.documents.pdf_layout import Builder, Mark, Word
from counterfoil.documents.pdf_pictures import drawn_pages
from counterfoil.documents.picture_open import MOST_ALONG_EDGE, PictureUnread, Room, pages_of
from counterfoil.documents.text import clean, document, plain_rows
from counterfoil.model import Document, Problem
from counterfoil.settings import Limits

if TYPE_CHECKING:
    from PIL.Image import Image

#: 0 or 1 inside a word of letters, or at its end.
_IN_WORD = re.compile(r"(?<=[^\W\d_]{3})[01](?=[^\W\d_]|\b)")
_TOKEN = re.compile(r"\w+")
#: Pixels along the longer edge of a picture in which QR and bar codes are looked for.
_MOST_FOR_SYMBOLS = 3_000
#: A run is asked for its slant where it is this many times as wide as high.
_WIDE = 3.0
#: Characters by which the reader goes beyond plain letters in codes: full-width forms and dashes of other scripts.
_PLAIN = {code: chr(code - 0xFEE0) for code in range(0xFF01, 0xFF5F)} | {0x3002: ".", 0xFF70: "-", 0x4E00: "-"}


@contextmanager
def _faults() -> Iterator[None]:
    """Make the faults of the readers ours."""
    try:
        yield
    except MemoryError:
        raise
    # The readers raise what the libraries below them raise (their own errors, ImportError where a library finds no
    # room to be loaded, RuntimeError of C++): each means that this picture is not read.
    except Exception as error:
        reason = f"The picture could not be read: the reader stopped with {type(error).__name__}."
        raise PictureUnread(Problem.DAMAGED, reason) from error


class Seen:
    """What was seen on the pages of one file."""

    def __init__(self) -> None:
        self.builder = Builder()
        self.turns: list[int] = []
        self.codes: dict[str, None] = {}

    def look(self, image: Image) -> None:
        """Take in the QR and bar codes of a page."""
        if max(image.size) > _MOST_FOR_SYMBOLS:
            image = image.copy()
            image.thumbnail((_MOST_FOR_SYMBOLS, _MOST_FOR_SYMBOLS))
        with _faults():
            self.codes.update(dict.fromkeys(codes_in(image)))

    def read(self, image: Image, page: int, width: float, height: float) -> None:
        """Take in the text of a page.

        Args:
            image: the page.
            page: its number, from 1.
            width, height: what its boxes are measured by: its size in points, or in pixels of the full picture.
        """
        if max(image.size) > MOST_ALONG_EDGE:
            image = image.copy()
            image.thumbnail((MOST_ALONG_EDGE, MOST_ALONG_EDGE))
        with _faults():
            seen, turn = read_picture(image)
        across, down = width / image.width, height / image.height
        runs = [
            (text, [_turned(x * across, y * down, width, height, turn) for x, y in run.corners])
            for run in seen
            if (text := _label_mended(clean(run.text.translate(_PLAIN)).strip()))
        ]
        self.turns += [0] * (page - 1 - len(self.turns)) + [turn]
        if runs:
            self.builder.add_page(page, *_words(runs))

    def code_documents(self, name: str, layer: int) -> Iterator[Document]:
        """Return a document for each QR or bar code; what is an address only is kept under a name of its own."""
        for text in self.codes:
            kind = "link" if is_link(text) else "code"
            yield document(f"{kind}:{name}", layer, plain_rows(text), limit=len(text) + 1)


def picture_documents(
    label: str, layer: int, data: bytes, media_type: str, limits: Limits, room: Room, *, text: bool
) -> list[Document]:
    """Read a picture.

    Args:
        label: the file's name.
        layer: the layer it came with.
        data: the file.
        media_type: what it is.
        limits: pixels and pages.
        room: gives the room one page takes.
        text: read its text; without, only QR and bar codes are looked for.

    Returns:
        The document of the picture, then one for each QR or bar code.
    """
    found, pages = Seen(), 0
    problem: Problem | None = None
    reason = ""
    try:
        for image, size in pages_of(data, limits, room):
            pages += 1
            found.look(image)
            if text:
                found.read(image, pages, *size)
    except PictureUnread as error:
        problem, reason = error.problem, error.reason
    builder = found.builder
    if problem is None and not text:
        problem, reason = Problem.PICTURE, "A small picture shown in the text: only QR and bar codes are read in it."
    elif problem is None and not builder.length:
        problem, reason = Problem.PICTURE, "No text can be made out in the picture: it has to be looked at."
        if found.codes:
            problem, reason = Problem.EMPTY, "There is no text in the picture beside a QR or bar code."
    own = Document(
        f"picture:{label}",
        layer,
        builder.text[: limits.text_chars],
        tuple(builder.lines),
        media_type=media_type,
        pages=pages,
        problem=problem,
        reason=reason,
        inline=not text,
        size=len(data),
        marks=cast("tuple[Mark, ...]", builder.marks),
        turns=tuple(found.turns),
    )
    return [own, *found.code_documents(label, layer)]


def pdf_documents(
    label: str, layer: int, data: bytes, read: PdfText, limits: Limits, room: Room
) -> tuple[Document, list[Document]]:
    """Read what the pages of a PDF show beside their text: scans, QR and bar codes.

    Args:
        label: the file's name.
        layer: the layer it came with.
        data: the file.
        read: its text.
        limits: pixels and pages.
        room: gives the room one page takes.

    Returns:
        The document of the PDF, and those of what its pages show. The text of scanned pages is a document of its own,
        so that text and what was read by eye stay apart.
    """
    found = Seen()
    own = document_of(read, f"pdf:{label}", layer, data)
    problem: tuple[Problem, str] | None = None
    wanted = sorted({*read.scans, *read.drawn})
    # Drawn from what was read: a damaged file opens mended only.
    drawable = read.mended or data
    try:
        for number in wanted:
            with room():
                for page, image, width, height in drawn_pages(drawable, [number], limits, read.password):
                    found.look(image)
                    if number in read.scans:
                        found.read(image, page, width, height)
    except PictureUnread as error:
        problem = error.problem, error.reason
    scan = _scan(label, own, found, problem, "" if read.under is None else read.under.text)
    if own.problem is Problem.SCANNED and (scan is not None or found.codes or read.under is not None):
        own = replace(own, problem=Problem.EMPTY, reason="The PDF is a scan: its text was read off its picture.")
    return own, [*([scan] if scan else []), *found.code_documents(label, layer)]


def _scan(label: str, pdf: Document, found: Seen, problem: tuple[Problem, str] | None, under: str) -> Document | None:
    """Return the document of what was read off the pages of a PDF beyond its text, None where there is nothing.

    ``under`` is what a scanner's program read off them before.
    """
    known = set(_TOKEN.findall(f"{pdf.text}\n{under}".casefold()))
    more = [line for line in found.builder.pieces if not set(_TOKEN.findall(line.casefold())) <= known]
    if not more and problem is None:
        return None
    builder = found.builder
    kind, reason = problem or (None, "")
    return Document(
        f"scan:{label}",
        pdf.layer,
        builder.text if more else "",
        tuple(builder.lines) if more else (),
        media_type=pdf.media_type,
        pages=pdf.pages,
        problem=kind,
        reason=reason,
        size=pdf.size,
        marks=cast("tuple[Mark, ...]", builder.marks) if more else (),
        turns=tuple(found.turns) or (0,) * pdf.pages,
    )


def _label_mended(text: str) -> str:
    """Return a run whose words ahead of a colon have letters where 0 and 1 were read: no label has them in a word."""
    label, colon, rest = text.partition(":")
    return _IN_WORD.sub(_letter, label) + colon + rest if colon else text


def _letter(found: re.Match[str]) -> str:
    digit, beside = found.group(), found.string[found.start() - 1]
    letter = "O" if digit == "0" else "I"
    return letter if beside.isupper() else "o" if digit == "0" else "l"


def _turned(x: float, y: float, width: float, height: float, turn: int) -> Point:
    """Return where a point (from the top left) is on the page turned upright, from its lower left."""
    match turn:
        case 0:
            return x, height - y
        case 1:
            return y, x
        case 2:
            return width - x, y
        case _:
            return height - y, width - x


def _words(runs: Sequence[tuple[str, Sequence[Point]]]) -> tuple[list[Word], array[float]]:
    """Return runs of words as words of a page without its slant, and the boxes of their characters as they stand."""
    sides = [_sides(corners) for _, corners in runs]
    slant = _slant(sides)
    cos, sin = math.cos(-slant), math.sin(-slant)
    words: list[Word] = []
    boxes = array("f")
    for (text, _), (left, right, height) in zip(runs, sides, strict=True):
        x0, x1 = (x * cos - y * sin for x, y in (left, right))
        middle = sum(x * sin + y * cos for x, y in (left, right)) / 2
        # A quarter turn of none of the four kinds: the boxes of its lines are those of their characters.
        words.append(Word(x0, middle - height / 2, x1, middle + height / 2, text, len(boxes) // 4, 1))
        boxes.extend(_shares(left, right, height, len(text)))
    return words, boxes


def _sides(corners: Sequence[Point]) -> tuple[Point, Point, float]:
    """Return the middle of the left and of the right side of a run, and its height."""
    ordered = sorted(corners)
    left, right = ordered[:2], ordered[2:]
    height = (abs(left[0][1] - left[1][1]) + abs(right[0][1] - right[1][1])) / 2
    return _middle(left), _middle(right), max(height, 1.0)


def _middle(points: Sequence[Point]) -> Point:
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)


def _slant(sides: Iterable[tuple[Point, Point, float]]) -> float:
    """Return the angle of most lines, in radians."""
    angles = [
        math.atan2(right[1] - left[1], right[0] - left[0])
        for left, right, height in sides
        if right[0] - left[0] > _WIDE * height
    ]
    return median_low(angles) if angles else 0.0


def _shares(left: Point, right: Point, height: float, count: int) -> Iterator[float]:
    """Hand out even shares of a run, one for each character."""
    for number in range(count):
        ends = [number / count, (number + 1) / count]
        xs = [left[0] + (right[0] - left[0]) * share for share in ends]
        ys = [left[1] + (right[1] - left[1]) * share for share in ends]
        yield from (xs[0], min(ys) - height / 2, xs[1], max(ys) + height / 2)
