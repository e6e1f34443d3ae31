"""Words with their places on a page to visual lines: what stands side by side comes out side by side.

The order in which a program drew the words does not count, only where they stand. Words turned by 90, 180 or 270
degrees get lines of their own, after the upright ones.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from typing import NamedTuple, SupportsIndex, overload

from counterfoil.model import Box, Cell, Line

Mark = tuple[float, float, float, float]
_NO_MARK: Mark = (0.0, 0.0, 0.0, 0.0)

# All shares are of the height of a line, ascent to descent, which is about 1.2 times the size of the type.
# Found by trial on thirteen layouts of one-page confirmations.
#: A gap wider than this sets cells apart.
_CELL_GAP = 0.9
#: Two words closer than this, of which one was drawn much later, are one.
_TOUCHING = 0.08
#: Words are on one line when they share this much of the smaller one's height.
_OVERLAP = 0.5
#: Type more than this many times higher than most stands on lines of its own: it would pull lines together.
_TALL = 2.0
#: Single characters at even gaps up to this are one word set with wide letter spacing.
_LETTER_GAP = 1.2
_LETTERS = 4
#: Characters that lead the eye from a label to its value when they stand in a row; a cell ends with them.
LEADERS = "._…·"
_LEADER_ROW = 4


class Word(NamedTuple):
    """A run of characters that stay together: a word, or several that stand a plain space apart.

    Edges in points in the direction of the text; ``start`` is the index of its first character among the marks of
    its page; ``turn`` counts quarter turns; ``apart`` is True where a space stands before it, False for a line break;
    ``edges`` are left and right edge of the ruled cell it stands in.
    """

    x0: float
    y0: float
    x1: float
    y1: float
    text: str
    start: int
    turn: int = 0
    apart: bool = True
    edges: tuple[float, float] | None = None


class Piece(NamedTuple):
    """A word and what stands before it: nothing, a space, or a tab between cells."""

    word: Word
    gap: str


class TextLine(NamedTuple):
    """A line put in order, and twice the height at which it stands."""

    level: float
    pieces: list[Piece]


class Marks(Sequence[Mark]):
    """The box of each character, worked out when asked for: most boxes never are.

    Behaves as a tuple of ``(x0, y0, x1, y1)``.
    """

    __slots__ = ("_boxes", "_index")

    def __init__(self, boxes: array[float], index: array[int]) -> None:
        self._boxes = boxes
        self._index = index

    @overload
    def __getitem__(self, at: SupportsIndex, /) -> Mark: ...
    @overload
    def __getitem__(self, at: slice, /) -> tuple[Mark, ...]: ...
    def __getitem__(self, at: SupportsIndex | slice, /) -> Mark | tuple[Mark, ...]:
        if isinstance(at, slice):
            return tuple(self._mark(i) for i in self._index[at])
        return self._mark(self._index[at])

    def _mark(self, index: int) -> Mark:
        if index < 0:
            return _NO_MARK
        x0, y0, x1, y1 = self._boxes[index * 4 : index * 4 + 4]
        return x0, y0, x1, y1

    def __len__(self) -> int:
        return len(self._index)

    def __iter__(self) -> Iterator[Mark]:
        return map(self._mark, self._index)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and not isinstance(other, str) and tuple(self) == tuple(other)

    def __hash__(self) -> int:
        return hash(tuple(self))


class Builder:
    """Collects the lines of a PDF page by page."""

    def __init__(self) -> None:
        self.pieces: list[str] = []
        self.lines: list[Line] = []
        self.length = 0
        self._boxes = array("f")
        self._index = array("l")

    @property
    def text(self) -> str:
        """The text so far, lines joined by line breaks."""
        return "\n".join(self.pieces)

    @property
    def marks(self) -> Marks:
        """The boxes of its characters."""
        return Marks(self._boxes, self._index)

    def add_page(self, number: int, words: list[Word], boxes: array[float], ready: Sequence[TextLine] = ()) -> None:
        """Add the lines of a page.

        Args:
            number: the page, counted from 1.
            words: its words in any order.
            boxes: the boxes of its characters, four numbers each, in points of the page.
            ready: lines already put in order, of words not among the others.
        """
        base = len(self._boxes) // 4
        self._boxes.extend(boxes)
        for pieces in _lines(words, ready):
            self._add_line(number, pieces, base)

    def _add_line(self, page: int, pieces: list[Piece], base: int) -> None:
        if self.pieces:
            self.length += 1
            self._index.append(-1)
        start = self.length
        parts: list[str] = []
        cells: list[Cell] = []
        cell_start, first = start, pieces[0].word
        at = start
        before: Word | None = None
        for word, gap in pieces:
            if before is not None and gap:
                if is_cell_gap(gap):
                    cells.append(Cell(cell_start, at, *_edges(first, before)))
                    cell_start, first = at + 1, word
                parts.append(gap)
                self._index.append(-1)
                at += 1
            parts.append(word.text)
            self._index.extend(range(base + word.start, base + word.start + len(word.text)))
            at += len(word.text)
            before = word
        cells.append(Cell(cell_start, at, *_edges(first, pieces[-1].word)))
        self.pieces.append("".join(parts))
        box = self._box([piece.word for piece in pieces], base)
        self.lines.append(Line(start, at, tuple(cells), page, box))
        self.length = at

    def _box(self, words: list[Word], base: int) -> Box:
        if not words[0].turn:
            return Box(
                min(w.x0 for w in words), min(w.y0 for w in words), max(w.x1 for w in words), max(w.y1 for w in words)
            )
        marks = [
            tuple(self._boxes[(base + i) * 4 : (base + i) * 4 + 4])
            for w in words
            for i in range(w.start, w.start + len(w.text))
        ]
        return Box(
            min(m[0] for m in marks), min(m[1] for m in marks), max(m[2] for m in marks), max(m[3] for m in marks)
        )


def _edges(first: Word, last: Word) -> tuple[float, float]:
    """Return the edges of a cell: those of its rules where it has any, else those of its words."""
    if first.edges is not None and first.edges == last.edges:
        return first.edges
    return first.x0, last.x1


def _lines(words: list[Word], ready: Sequence[TextLine]) -> list[list[Piece]]:
    """Return the lines of a page from top to bottom, the words of each from left to right."""
    lines: list[list[Piece]] = []
    for turn in range(4):
        turned = [w for w in words if w.turn == turn]
        made = [line for line in ready if line.pieces[0].word.turn == turn]
        if not turned and not made:
            continue
        found = _lines_of(turned) if turned else []
        plain = [[Piece(word, gap) for word, gap in with_gaps(line)] for line in found]
        if made:
            levels = [TextLine(pieces[0].word.y0 + pieces[0].word.y1, pieces) for pieces in plain]
            plain = [line.pieces for line in sorted([*levels, *made], key=lambda line: -line.level)]
        lines.extend(plain)
    return lines


def _lines_of(words: list[Word]) -> list[list[Word]]:
    """Return the lines of words that are turned the same way."""
    heights = sorted(w.y1 - w.y0 for w in words)
    most = heights[len(heights) // 2] * _TALL
    found = clusters([w for w in words if w.y1 - w.y0 <= most])
    tall = [w for w in words if w.y1 - w.y0 > most]
    if tall:
        found = sorted(found + clusters(tall), key=lambda line: -(line[0].y0 + line[0].y1))
    return found


def clusters(words: list[Word]) -> list[list[Word]]:
    """Return words in lines, those that share most of their height in one; sorts the words given."""
    words.sort(key=lambda w: (-(w.y0 + w.y1), w.x0))
    lines: list[list[Word]] = []
    low = high = 0.0
    for word in words:
        shared = min(high, word.y1) - max(low, word.y0)
        if lines and shared >= _OVERLAP * min(high - low, word.y1 - word.y0):
            lines[-1].append(word)
        else:
            lines.append([word])
            low, high = word.y0, word.y1
    for line in lines:
        line.sort()
    return lines


def is_cell_gap(gap: str) -> bool:
    """Say whether what stands before a word sets cells apart."""
    return gap == "\t"


def with_gaps(words: list[Word]) -> Iterator[tuple[Word, str]]:
    """Hand out the words of a line and what stands before each: nothing, a space, or a tab between cells."""
    spaced = _letter_spaced(words) if len(words) >= _LETTERS else frozenset()
    before: Word | None = None
    for at, word in enumerate(words):
        if before is None:
            yield word, ""
        else:
            height = min(before.y1 - before.y0, word.y1 - word.y0)
            gap = word.x0 - before.x1
            # The same word drawn twice, a little apart, is how some programs make bold type.
            if word.text == before.text and word.x0 - before.x0 < 0.2 * height:
                continue
            if before.edges != word.edges:
                yield word, "\t"
            elif at in spaced or (gap < _TOUCHING * height and not word.apart):
                yield word, ""
            else:
                wide = gap > _CELL_GAP * height or _is_leader(before.text)
                yield word, "\t" if wide else " "
        before = word


def _is_leader(text: str) -> bool:
    """Say whether a text ends with a row of dots or the like."""
    return text[-1] in LEADERS and (text[-1] == "…" or text[-_LEADER_ROW:] == text[-1] * _LEADER_ROW)


def _letter_spaced(words: list[Word]) -> frozenset[int]:
    """Return which words of a line go on with the one before: single characters at even gaps."""
    joined: set[int] = set()
    start = 0
    while start < len(words):
        end = start + 1
        if len(words[start].text) == 1:
            while end < len(words) and len(words[end].text) == 1 and _even(words, start, end):
                end += 1
            if end - start >= _LETTERS:
                joined.update(range(start + 1, end))
        start = end
    return frozenset(joined)


def _even(words: list[Word], start: int, end: int) -> bool:
    """Say whether a character follows the one before as the second of them follows the first: by gap or by pitch."""
    gap = words[end].x0 - words[end - 1].x1
    height = words[end].y1 - words[end].y0
    if not 0 < gap <= _LETTER_GAP * height:
        return False
    uneven_gap = gap - (words[start + 1].x0 - words[start].x1)
    uneven_pitch = words[end].x0 - words[end - 1].x0 - (words[start + 1].x0 - words[start].x0)
    return min(abs(uneven_gap), abs(uneven_pitch)) <= 0.1 * height
