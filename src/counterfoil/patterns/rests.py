"""Where the rest of a broken code may stand: underneath, beside, further down; and what looks like a piece of one."""

from __future__ import annotations

import re

from counterfoil.patterns.codes import HYPHENS, Run, find_runs
from counterfoil.patterns.dates import is_date
from counterfoil.patterns.found import Span
from counterfoil.patterns.layout import NEXT_LINE_HEIGHTS, Spot, View
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
    text = view.text[cell.start : cell.end]
    marks = _QUOTE_MARKS.match(text)
    stripped = text[marks.end() if marks else 0 :].strip()
    if not stripped or len(stripped) > _LONGEST or _FRAGMENT.fullmatch(stripped) is None:
        return None
    if spot in view.at and len(stripped) > 1:
        return None
    words = stripped.strip("." + HYPHENS).replace("\u00a0", " ").split(" ")
    for word in words:
        if len(word) > 1 and word.lower() in view.words.stop:
            return None
        if not (word.isupper() or any(c.isdigit() for c in word)):
            return None
    if _is_other(stripped):
        return None
    start = cell.start + text.rindex(stripped)
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
