"""Where the rest of a broken code may stand: underneath, beside, further down; and what looks like a piece of one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

from counterfoil.model import CODE_KINDS
from counterfoil.patterns.codes import HYPHENS, Run, find_runs
from counterfoil.patterns.dates import is_date
from counterfoil.patterns.found import Span
from counterfoil.patterns.layout import NEXT_LINE_HEIGHTS, UNDERNEATH, Spot, View
from counterfoil.patterns.targets import Target

_FRAGMENT = re.compile(r"[-\u2010-\u2014]?[A-Za-z0-9]+(?:[-\u2010-\u2015./ \u00a0][A-Za-z0-9]+)*[-\u2010-\u2014]?\.?")
_GROUP = re.compile(r"[A-Za-z0-9]+")
_WORD = re.compile(r"\S+")
_QUOTE_MARKS = re.compile(r"(?:>[ \t]?)+")
STRUCK = "~"
"""Stands on both sides of text that was struck out in HTML."""
_MASKED = re.compile(r"(?<![A-Za-z0-9])[Xx]{3,}(?![A-Za-z0-9])")
_LONGEST = 40
_LONGEST_PLACE = 300
_CLOSER = 0.8
"""Lines that belong together stand closer than others: the share of the others' distance."""
_MOST_LINES, _MOST_CELLS = 2_000, 12
_LINES_DOWN = 6
"""Lines, blank ones included, over which the rest of a code is missed rather than looked for."""


def continuation(view: View, spot: Spot) -> tuple[Spot, Span] | None:
    """Return cell and span of a piece of a code alone underneath, in the next line of the same column."""
    below = view.below(spot, lines=1, heights=NEXT_LINE_HEIGHTS)
    if below is None:
        return None
    rest = _fragment(view, below)
    return None if rest is None else (below, rest)


def _fragment(view: View, spot: Spot) -> Span | None:
    """Return the span of a cell's text where it looks like a piece of a code and is no label, date or amount."""
    cell = view.cell(spot)
    rest = _fragment_in(view, cell.start, cell.end)
    return None if rest is None or (spot in view.at and rest[1] - rest[0] > 1) else rest


def _fragment_in(view: View, start: int, end: int) -> Span | None:
    text = view.text[start:end]
    marks = _QUOTE_MARKS.match(text)
    stripped = text[marks.end() if marks else 0 :].strip()
    if not stripped or len(stripped) > _LONGEST or _FRAGMENT.fullmatch(stripped) is None:
        return None
    words = stripped.strip("." + HYPHENS).replace("\u00a0", " ").split(" ")
    for word in words:
        if len(word) > 1 and word.lower() in view.words.stop:
            return None
        if not (word.isupper() or any(c.isdigit() for c in word)):
            return None
    if _is_other(stripped):
        return None
    start += text.rindex(stripped)
    return start, start + len(stripped.rstrip("."))


def like_rest(run: Run, text: str) -> bool:
    """Tell whether a piece next to a code may be its last groups: none of letters alone is longer than the code's."""
    longest = max(len(group) for group in run.groups)
    return any(c.isdigit() for c in text) or all(len(group) <= longest for group in _GROUP.findall(text))


def goes_on_beside(view: View, target: Target) -> bool:
    """Tell whether the next cell of the line, unless a label claims it, looks like more of the code."""
    spot = view.next_cell(target.spot)
    if spot is None or target.end < view.cell(target.spot).end or _fragment(view, spot) is None:
        return False
    return target.line == target.spot[0] or not view.labels_over(spot, target.line)


def goes_on_later(view: View, run: Run, target: Target) -> bool:
    """Tell whether the next line that holds anything, wherever it stands, is nothing but something like more of it."""
    if run.end < target.end - 1 or target.end < view.cell(target.spot).end:
        return False
    for number in range(target.spot[0] + 1, min(target.spot[0] + _LINES_DOWN, len(view.lines))):
        cells = view.lines[number].cells
        if cells:
            rest = _fragment(view, (number, 0)) if len(cells) == 1 else None
            return rest is not None and like_rest(run, view.text[slice(*rest)])
    return False


def begins_above(view: View, run: Run, target: Target) -> bool:
    """Tell whether a code on a page may be the end of one that begins in the line above, beside a wrapped label.

    So it is where a piece of a code stands over its beginning and ends with a hyphen, or stands closer to it than lines
    stand elsewhere around them.
    """
    number = target.spot[0]
    if target.line < number - 1 + (target.how == UNDERNEATH):
        return False
    for spot, start, end in _level_with(view, run, number, number - 1):
        piece = view.text[start:end].strip().rpartition(" ")[2]
        if len(piece) > 2 and piece[-1] in HYPHENS and not piece.strip(HYPHENS).islower():
            return True
        rest = None if view.claimed(spot) else _fragment_in(view, start, end)
        if rest is not None and like_rest(run, view.text[slice(*rest)]) and _are_close(view, number):
            return True
    return False


def ends_below(view: View, run: Run, target: Target) -> bool:
    """Tell whether a code on a page may go on in the line below, beside the rest of a wrapped label."""
    number = target.spot[0]
    for _, start, end in _level_with(view, run, number, number + 1):
        rest = _fragment_in(view, start, end)
        if rest is not None and like_rest(run, view.text[slice(*rest)]) and _are_close(view, number + 1):
            return True
    return False


def _level_with(view: View, run: Run, number: int, other: int) -> Iterator[tuple[Spot, int, int]]:
    """Yield what stands over or under the beginning of a code in a neighbouring line of the page: cell, start, end."""
    if not 0 <= other < len(view.lines) or view.lines[number].page is None:
        return
    line, neighbour = view.lines[number], view.lines[other]
    box = view.document.box(run.start, run.start + 1)
    if neighbour.page != line.page or box is None or line.box is None or neighbour.box is None:
        return
    height = line.box.y1 - line.box.y0
    if max(line.box.y0, neighbour.box.y0) - min(line.box.y1, neighbour.box.y1) > (NEXT_LINE_HEIGHTS - 1) * height:
        return
    for i, cell in enumerate(neighbour.cells[:_MOST_CELLS]):
        if cell.x0 - height <= box.x0 <= cell.x1:
            start = next(
                (
                    word.start()
                    for word in _WORD.finditer(view.text, cell.start, min(cell.end, cell.start + _LONGEST_PLACE))
                    if (own := view.document.box(*word.span())) is not None and abs(own.x0 - box.x0) < height
                ),
                None,
            )
            if start is not None and not _has_label_ahead(view, (other, i), start):
                yield (other, i), start, cell.end


def _has_label_ahead(view: View, spot: Spot, start: int) -> bool:
    """Tell whether what stands in a cell has a label of its own there, not the rest of a wrapped one ("machine")."""
    return any(
        label.end <= start and label.clean and (label.marked or label.meaning.kinds & CODE_KINDS)
        for label in view.at.get(spot, ())
    )


def _are_close(view: View, number: int) -> bool:
    """Tell whether a line of a page stands closer to the one above than these two to their other neighbours."""
    apart = [
        a.box.y0 - b.box.y1 if a.box is not None and b.box is not None else None
        for a, b in pairwise(view.lines[max(number - 2, 0) : number + 2])
    ]
    own = apart[1 if number > 1 else 0]
    others = [room for at, room in enumerate(apart) if room is not None and at != (1 if number > 1 else 0)]
    return own is not None and bool(others) and own < _CLOSER * min(others)


def code_like(view: View, start: int, end: int) -> list[Span]:
    """Return what may be (part of) a code in a part of the text."""
    end = min(end, start + _LONGEST_PLACE)
    return [m.span() for m in _WORD.finditer(view.text, start, end) if _looks_like_piece(view, m.group())]


def code_like_after(view: View, target: Target) -> list[Span]:
    """Return what may be part of a code beside and underneath a place."""
    spans = []
    beside = view.next_cell(target.spot)
    if beside is not None and target.end >= view.cell(target.spot).end:
        spans += [rest for rest in [_fragment(view, beside)] if rest]
    for number in range(target.spot[0] + 1, min(target.spot[0] + _LINES_DOWN, len(view.lines))):
        pieces = [_fragment(view, (number, i)) for i in range(min(len(view.lines[number].cells), 4))]
        if None in pieces:
            break
        spans += [piece for piece in pieces if piece]
    return spans


def every_run(view: View) -> list[Span]:
    """Return everything that looks like a code, wherever it stands: for where a label's code could not be told."""
    spans = []
    for line in view.lines[:_MOST_LINES]:
        for cell in line.cells[:_MOST_CELLS]:
            spans += [(run.start, run.end) for run in find_runs(view.text, cell.start, cell.end, view.words.stop)]
    return spans


def _looks_like_piece(view: View, word: str) -> bool:
    bare = word.strip(".,;:()")
    if len(bare) < 2 or is_date(bare) or bare.lower() in view.words.stop:
        return False
    return any(c.isdigit() for c in bare) or bare.isupper()


def is_struck(text: str, start: int, end: int) -> bool:
    """Tell whether a code, or part of it, was struck out, or masked with a row of X."""
    return STRUCK in (text[start - 1 : start], text[end : end + 1]) or _MASKED.search(text, start, end) is not None


def _is_other(text: str) -> bool:
    """Tell whether a piece is a date or an amount and so belongs to no code."""
    return is_date(text) or re.fullmatch(r"\d+\.\d{1,2}", text) is not None
