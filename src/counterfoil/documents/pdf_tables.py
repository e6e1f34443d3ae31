"""Words in ruled cells: what is wrapped inside a cell becomes one line, and cells of a row stand side by side.

A program wraps where the next word does not fit any more. Lines of a cell that had room for more stay apart: a label
over its value, the lines of an address.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Iterator, Sequence
from itertools import pairwise

from counterfoil.documents.pdf_layout import Piece, TextLine, Word, clusters, is_cell_gap, with_gaps
from counterfoil.documents.pdf_rules import Ruled

_Box = tuple[float, float, float, float]

#: A word may stick out of its cell by this much, in points.
_OUT = 1.5
#: Rules that bound one row differ by no more than this, in points.
_ROW = 2.0
#: More lines than this in a cell are a text in a frame, not what belongs to a label.
_MOST_LINES = 8
#: The widest margin of a cell and the space between words, in heights of a line.
_MARGIN = 0.8
_SPACE = 0.22
#: Room in which a word would just have fitted is taken for none: margins are not known exactly. In heights of a line.
_SLACK = 0.3
#: What is cut in the middle of a word fills its line but for this, in points.
_EXACT = 0.7
#: Type differs in size from this share of its height on.
_OTHER_SIZE = 0.08
_CODE_LIKE = re.compile(r"[A-Z0-9./-]*\d[A-Z0-9./-]*|[A-Z-]{4,}")
_UNIT = re.compile(r"[^\s-]*-?")
#: Scripts without spaces (kana, CJK ideographs, full-width forms): wrapped behind any character.
_UNSPACED = re.compile(r"[\u3040-\u30ff\u3400-\u9fff\uf900-\ufaff\uff00-\uffef]")
#: Two texts of one shape from this length on are two values, not one that was wrapped.
_TWIN = 8


def arrange(words: list[Word], cells: Sequence[Ruled], boxes: array[float]) -> tuple[list[Word], list[TextLine]]:
    """Put the words of ruled rows in order.

    Args:
        words: the words of a page.
        cells: its ruled cells.
        boxes: the boxes of its characters, four numbers each, in points of the page.

    Returns:
        The words that stand as they would without rules, those in cells marked with the edges of their cell; and the
        lines of rows in which something is wrapped, stacked or out of level.
    """
    rest: list[Word] = []
    lines: list[TextLine] = []
    for turn in range(4):
        turned = [word for word in words if word.turn == turn]
        if turned:
            placed = [Ruled(*_turned(cell, turn)) for cell in cells]
            own, made = _arranged(turned, placed, boxes, turn)
            rest += own
            lines += made
    return rest, lines


def _turned(box: _Box, turn: int) -> _Box:
    """Return a box in coordinates that run along a text turned by so many quarters."""
    x0, y0, x1, y1 = box
    return ((x0, y0, x1, y1), (y0, -x1, y1, -x0), (-x1, -y1, -x0, -y0), (-y1, x0, -y0, x1))[turn]


def _arranged(
    words: list[Word], cells: Sequence[Ruled], boxes: array[float], turn: int
) -> tuple[list[Word], list[TextLine]]:
    inside: dict[Ruled, list[Word]] = {}
    rest: list[Word] = []
    for word in (part for whole in words for part in _parted(whole, cells, boxes, turn)):
        cell = _cell_of(word, cells)
        if cell is None:
            rest.append(word)
        else:
            inside.setdefault(cell, []).append(word._replace(edges=(cell.x0, cell.x1)))
    lines: list[TextLine] = []
    for row in _rows(inside):
        stacks = [clusters(list(inside[cell])) for cell in row]
        if _is_plain(stacks):
            rest += [word for stack in stacks for line in stack for word in line]
        else:
            lines += _row_lines(row, stacks)
    return rest, lines


def _cell_of(word: Word, cells: Sequence[Ruled]) -> Ruled | None:
    """Return the smallest cell that holds the middle of a word."""
    x, y = (word.x0 + word.x1) / 2, (word.y0 + word.y1) / 2
    around = [cell for cell in cells if cell.x0 <= x <= cell.x1 and cell.y0 <= y <= cell.y1]
    return min(around, key=lambda cell: (cell.x1 - cell.x0) * (cell.y1 - cell.y0), default=None)


def _parted(word: Word, cells: Sequence[Ruled], boxes: array[float], turn: int) -> Iterator[Word]:
    """Part a run of words where a rule stands in a gap between its characters."""
    middle = (word.y0 + word.y1) / 2
    rules = {
        x
        for cell in cells
        if cell.y0 < middle < cell.y1
        for x in (cell.x0, cell.x1)
        if word.x0 + _OUT < x < word.x1 - _OUT
    }
    if not rules:
        yield word
        return
    found = [_turned(tuple(boxes[4 * i : 4 * i + 4]), turn) for i in range(word.start, word.start + len(word.text))]  # type: ignore[arg-type]
    shown = [i for i, char in enumerate(word.text) if not char.isspace()]
    begin = apart = 0
    for i, j in pairwise(shown):
        if any(found[i][2] - _OUT < x < found[j][0] + _OUT for x in rules) and (j > i + 1 or _gap(found[i], found[j])):
            yield _part(word, found, begin, i + 1, apart)
            begin, apart = j, 1
    yield _part(word, found, begin, len(word.text), apart)


def _gap(before: _Box, after: _Box) -> bool:
    return after[0] - before[2] > 0.1 * (after[3] - after[1])


def _part(word: Word, found: Sequence[_Box], begin: int, end: int, apart: int) -> Word:
    x0 = found[begin][0] if begin else word.x0
    x1 = found[end - 1][2] if end < len(word.text) else word.x1
    text, start = word.text[begin:end], word.start + begin
    return word._replace(x0=x0, x1=x1, text=text, start=start, apart=bool(apart) or word.apart)


def _rows(inside: dict[Ruled, list[Word]]) -> list[list[Ruled]]:
    """Return the cells with words in rows, also of tables that stand side by side; each from left to right."""
    rows: list[list[Ruled]] = []
    for cell in sorted(inside, key=lambda cell: (-cell.y1, cell.y0, cell.x0)):
        for row in rows:
            if abs(row[0].y0 - cell.y0) <= _ROW and abs(row[0].y1 - cell.y1) <= _ROW:
                row.append(cell)
                break
        else:
            rows.append([cell])
    for row in rows:
        row.sort()
    return rows


def _is_plain(stacks: Sequence[list[list[Word]]]) -> bool:
    """Say whether a row reads right without its rules: one cell, or one line in each, on one level."""
    if len(stacks) < 2 or any(len(stack) > _MOST_LINES for stack in stacks):
        return True
    if any(len(stack) > 1 for stack in stacks):
        return False
    low = max(word.y0 for (line,) in stacks for word in line)
    high = min(word.y1 for (line,) in stacks for word in line)
    return high - low > 0.5 * min(word.y1 - word.y0 for (line,) in stacks for word in line)


def _row_lines(row: Sequence[Ruled], stacks: Sequence[list[list[Word]]]) -> Iterator[TextLine]:
    """Yield the lines of a row: the first line of each cell side by side, then the second ones, and so on.

    Where every cell has a label of its own, those with more lines than others are out of step: cell after cell then.
    """
    ties = [_ties(cell, stack) for cell, stack in zip(row, stacks, strict=True)]
    if len(row) == 2:
        ties = [_in_step(stacks, ties, 0), _in_step(stacks, ties, 1)]
    parts = [_unwrapped(stack, tie) for stack, tie in zip(stacks, ties, strict=True)]
    if len(row) > 2 and all(len(stack) > 1 for stack in stacks) and len({len(part) for part in parts}) > 1:
        lines = [line for part in parts for line in part]
    else:
        lines = [_beside([p[n] for p in parts if n < len(p)]) for n in range(max(map(len, parts)))]
    for number, pieces in enumerate(lines):
        # All lines of a row come where the row begins, in this order.
        yield TextLine(2 * row[0].y1 - number / 1_000, pieces)


def _beside(parts: Sequence[list[Piece]]) -> list[Piece]:
    """Return parts of cells side by side as one line."""
    line = list(parts[0])
    for first, *others in parts[1:]:
        line += [first._replace(gap="\t"), *others]
    return line


def _ties(cell: Ruled, stack: list[list[Word]]) -> list[str | None]:
    """Return what ties each line of a cell to the one before: nothing, a space, or None where it was not wrapped."""
    if len(stack) < 2 or any(is_cell_gap(gap) for line in stack for _, gap in with_gaps(line)):
        return [None] * len(stack)
    height = max(word.y1 - word.y0 for line in stack for word in line)
    margin = min(min(line[0].x0 - cell.x0, cell.x1 - line[-1].x1) for line in stack)
    room = cell.x1 - cell.x0 - 2 * min(max(margin, 0.0), _MARGIN * height)
    return [None, *(_tie(before, line, room, height) for before, line in pairwise(stack))]


def _in_step(stacks: Sequence[list[list[Word]]], ties: Sequence[list[str | None]], own: int) -> list[str | None]:
    """Return the ties of one of two cells, without those across which the other one, line by line, is not wrapped.

    Labels one under the other in a cell and their values in the next one are no wrapped text.
    """
    kept = list(ties[own])
    other, others = stacks[1 - own], ties[1 - own]
    for number in range(1, len(kept)):
        above, below = stacks[own][number - 1 : number + 1]
        if any(
            others[n] is None and _are_level(other[n - 1], above) and _are_level(other[n], below)
            for n in range(1, len(other))
        ):
            kept[number] = None
    return kept


def _are_level(one: list[Word], other: list[Word]) -> bool:
    a, b = one[0], other[0]
    return min(a.y1, b.y1) - max(a.y0, b.y0) > 0.5 * min(a.y1 - a.y0, b.y1 - b.y0)


def _unwrapped(stack: list[list[Word]], ties: list[str | None]) -> list[list[Piece]]:
    """Return the lines of a cell, those that were wrapped as one."""
    joined: list[list[Piece]] = []
    for line, tie in zip(stack, ties, strict=True):
        pieces = [Piece(word, gap) for word, gap in with_gaps(line)]
        if tie is None:
            joined.append(pieces)
            continue
        last = joined[-1][-1]
        if _is_hyphenated(last.word.text, line[0].text):
            joined[-1][-1] = last._replace(word=last.word._replace(text=last.word.text[:-1]))
        joined[-1] += [pieces[0]._replace(gap=tie), *pieces[1:]]
    return joined


def _tie(line: list[Word], after: list[Word], room: float, height: float) -> str | None:
    """Return what stands between a line and the next one if it was wrapped: a space or nothing; None if it was not."""
    first = after[0]
    width = line[-1].x1 - line[0].x0
    end, begin = line[-1].text.split()[-1], first.text.split()[0]
    each = (first.x1 - first.x0) / len(first.text)
    unspaced = _UNSPACED.match(first.text) is not None and _UNSPACED.match(line[-1].text[-1]) is not None
    unit = first.text[:1] if unspaced else _UNIT.match(first.text).group()  # type: ignore[union-attr]
    space = 0.0 if unspaced or end.endswith("-") else _SPACE * height
    if width + space + each * len(unit) <= room - _SLACK * height or _are_twins(end, begin) or _differ(line[-1], first):
        return None
    if unspaced or end.endswith("-"):
        return ""
    if width + each < room - _SLACK * height:
        return " "
    # Full to the last character: a code cut where the column ends, or one word that is longer than the column.
    codes = [token for word in line for token in word.text.split() if _CODE_LIKE.fullmatch(token)]
    if codes[-1:] == [end] and (_CODE_LIKE.fullmatch(begin) or (len(begin) < 4 and begin.isupper())):
        return "" if len(codes) == 1 else " "
    alone = len(line) == 1 and line[0].text == end and end[-1].islower() and begin[0].islower()
    return "" if alone and width + each * len(begin) > room and width + each > room - _EXACT else " "


def _differ(a: Word, b: Word) -> bool:
    """Say whether two words are in type of two sizes, as a label and its value are."""
    return abs((a.y1 - a.y0) - (b.y1 - b.y0)) > _OTHER_SIZE * max(a.y1 - a.y0, b.y1 - b.y0)


def _is_hyphenated(end: str, begin: str) -> bool:
    """Say whether a hyphen was put in by wrapping: between small letters."""
    return end[-1] == "-" and end[-2:-1].islower() and begin[0].islower()


def _are_twins(end: str, begin: str) -> bool:
    """Say whether two texts have the same shape, as two codes one above the other have."""
    if len(end) != len(begin) or len(end) < _TWIN or not (_CODE_LIKE.fullmatch(end) and _CODE_LIKE.fullmatch(begin)):
        return False
    return all(a == b or (a.isalnum() and b.isalnum()) for a, b in zip(end, begin, strict=True))
