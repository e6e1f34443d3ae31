"""Where labels and their values stand in a document: same cell, next cell, the cell underneath."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from counterfoil.model import CODE_KINDS, CUSTOMER_KINDS, DATE_KINDS, Cell, Document, Kind, Line
from counterfoil.patterns.vocabulary import Wordbook
from counterfoil.patterns.words import NO_MEANING, Hit, Meaning, Role, fold_with_offsets, split_words

#: What may stand between a label and its value: a remark in brackets, then a colon, dash or dotted leader.
_MARK = re.compile(
    r"\s{0,4}(?:\([^()]{0,60}\)\s{0,4})?(?P<tie>(?:[^\W\d_]{1,12}\s{1,4}){0,2}[^\W\d_]{0,12})[°º]?\s{0,4}"
    r"(?:\.?\s{0,4}[:：=|]|\.{2,}\s{0,4}:?|…+|-{1,3}>|#|[–—-](?=\s))\s{0,4}"
)
_REMARK = re.compile(r"\s{0,4}\([^()\d]{0,60}\)")
_TIE = re.compile(r"[.°º]?\s{0,4}(?P<tie>(?:[^\W\d_]{1,12}(?:\s{1,4}|\Z)){0,3})")
_OF_OTHERS = CUSTOMER_KINDS | DATE_KINDS
_TIES = frozenset("-./")
_CONTENT = re.compile(r"[^\W_]")
_GROUP_BEFORE = re.compile(r"[A-Za-z0-9]{1,12}[-./]\Z")
_GROUP_AFTER = re.compile(r"[-./][A-Za-z0-9]{1,12}")
_PUNCTUATION = re.compile(r"[\s.:…·_|=>–—-]+\Z")
#: Lines below a label that are looked through for its value, and blank ones on the way in text.
_LINES_BELOW = 3
_LINE_HEIGHTS = 3.5
"""Distance, in heights of the label's line, beyond which a cell on a page is no longer underneath."""
BESIDE = "in the cell next to"
UNDERNEATH = "underneath"
NEXT_LINE_HEIGHTS = 2.2
"""Distance within which a line goes on in the next one."""
_SENTENCE = 30
"""Characters from which a line of plain text is long enough to be wrapped."""
_INDENT = 8
"""Characters by which a value may be set in under a label shorter than that."""
_MOST_CELLS = 200
"""Cells in a line beyond which it is no table a label could stand in."""

Spot = tuple[int, int]
"""Line number and cell number."""


@dataclass(slots=True)
class Label:
    """A label in its cell. ``clean``: only known words ahead of it; ``marked``: a colon or the like behind it."""

    meaning: Meaning
    start: int
    end: int
    spot: Spot
    clean: bool
    marked: bool
    tie: str
    rest_start: int
    rest_end: int
    alone: bool
    """True where nothing else stands in the cell behind it."""
    text_end: int = 0
    """End of a value in words: words of other labels may stand in it, as long as none of them is marked as one."""
    cut: bool = False
    """True where words of another label end the rest without anything to part them."""

    def has(self, role: Role) -> bool:
        """Tell whether one of the senses has the role."""
        return role in self.meaning.roles


@dataclass(slots=True)
class View:
    """A document with its labels and known phrases, made in one pass over its words."""

    document: Document
    words: Wordbook
    labels: list[Label] = field(default_factory=list)
    phrases: list[Hit] = field(default_factory=list)
    at: dict[Spot, list[Label]] = field(default_factory=dict)
    doubts: list[Hit] = field(default_factory=list)

    @property
    def lines(self) -> tuple[Line, ...]:
        """The document's lines."""
        return self.document.lines

    @property
    def text(self) -> str:
        """The document's text."""
        return self.document.text

    def cell(self, spot: Spot) -> Cell:
        """Return the cell at a spot."""
        return self.document.lines[spot[0]].cells[spot[1]]

    def is_label(self, spot: Spot) -> bool:
        """Tell whether the cell starts with a label that stands for itself (so it is no value)."""
        labels = self.at.get(spot)
        return labels is not None and labels[0].clean and (labels[0].alone or labels[0].marked)

    def waits(self, spot: Spot) -> bool:
        """Tell whether the cell ends in a label whose value must stand elsewhere."""
        labels = self.at.get(spot)
        return labels is not None and labels[-1].clean and labels[-1].alone

    def claimed(self, spot: Spot) -> bool:
        """Tell whether a label to the left in the same line claims the cell."""
        left = self._left(spot)
        return left is not None and self.waits(left)

    def _left(self, spot: Spot) -> Spot | None:
        for i in range(spot[1] - 1, -1, -1):
            if not self._empty((spot[0], i)):
                return spot[0], i
        return None

    def _empty(self, spot: Spot) -> bool:
        cell = self.cell(spot)
        return _PUNCTUATION.match(self.text, cell.start, cell.end) is not None or cell.start == cell.end

    def next_cell(self, spot: Spot) -> Spot | None:
        """Return the next cell of the line that holds more than punctuation."""
        for i in range(spot[1] + 1, len(self.lines[spot[0]].cells)):
            if not self._empty((spot[0], i)):
                return spot[0], i
        return None

    def is_last(self, label: Label) -> bool:
        """Tell whether the cell's other labels, if any, stand ahead and have their values behind them."""
        labels = self.at[label.spot]
        return labels[-1] is label and not (len(labels) > 1 and labels[-2].alone)

    def labels_over(self, spot: Spot, line: int) -> bool:
        """Tell whether a waiting label in an earlier line stands over the cell."""
        cells = self.lines[line].cells[:_MOST_CELLS]
        return any(self.waits((line, i)) and _overlap(c, self.cell(spot)) > 0 for i, c in enumerate(cells))

    def in_header(self, label: Label) -> bool:
        """Tell whether a label stands in a row of labels, so that values stand underneath."""
        left, right = self._left(label.spot), self.next_cell(label.spot)
        return (left is not None and self.waits(left)) or (right is not None and self.waits(right))

    def in_paragraph(self, spot: Spot) -> bool:
        """Tell whether a line of plain text goes on a sentence of the line before: a label at its start is chance."""
        line, before = self.lines[spot[0]], self.lines[spot[0] - 1]
        if spot[0] == 0 or line.page is not None or len(line.cells) != 1 or len(before.cells) != 1:
            return False
        cell = before.cells[0]
        ends = self.text[cell.start : cell.end].rstrip()[-1:]
        return cell.end - cell.start >= _SENTENCE and ends not in ".:!?" and not self.is_label((spot[0] - 1, 0))

    def nearby(self, label: Label) -> Iterator[tuple[Spot | None, str]]:
        """Yield the cells a label without a value behind it may point to, likeliest first, and how they stand to it."""
        if self.in_header(label):
            yield self.below(label.spot), UNDERNEATH
            yield self.next_cell(label.spot), BESIDE
        else:
            yield self.next_cell(label.spot), BESIDE
            yield self.below(label.spot), UNDERNEATH

    def below(self, spot: Spot, *, lines: int = _LINES_BELOW, heights: float = _LINE_HEIGHTS) -> Spot | None:
        """Return the first cell underneath that overlaps in x, unless it is a label or another label claims it.

        Args:
            spot: the cell to look under.
            lines: how many lines that hold anything may be looked at.
            heights: how far away, in heights of the line, a cell on a page may be.
        """
        cell, line = self.cell(spot), self.lines[spot[0]]
        seen = blanks = 0
        for number in range(spot[0] + 1, len(self.lines)):
            other = self.lines[number]
            if not other.cells:
                blanks += 1
                if blanks > (2 if lines > 1 else 0):
                    return None
                continue
            seen += 1
            if seen > lines or len(other.cells) > _MOST_CELLS or other.page != line.page or _far(line, other, heights):
                return None
            best = 0
            if len(other.cells) > 1:
                best = max(range(len(other.cells)), key=lambda i: _overlap(cell, other.cells[i]))
            if _overlap(cell, other.cells[best]) <= 0 and not _indented(line, other):
                continue
            found = (number, best)
            if self._remark(found):
                continue
            return None if self.is_label(found) or self.claimed(found) else found
        return None

    def _remark(self, spot: Spot) -> bool:
        cell = self.cell(spot)
        text = self.text[cell.start : cell.end].strip()
        return text.startswith("(") and text.endswith(")")


def _far(line: Line, other: Line, heights: float) -> bool:
    if line.box is None or other.box is None:
        return False
    height = max(line.box.y1 - line.box.y0, other.box.y1 - other.box.y0, 4.0)
    return line.box.y0 - other.box.y1 > (heights - 1) * height or other.box.y0 > line.box.y1


def _indented(line: Line, other: Line) -> bool:
    """Tell whether a line of plain text stands under a shorter one, set in by a few characters."""
    if line.page is not None or len(line.cells) > 1 or len(other.cells) > 1:
        return False
    return 0 <= other.cells[0].x0 - line.cells[0].x1 <= _INDENT


def _overlap(a: Cell, b: Cell) -> float:
    return min(a.x1, b.x1) - max(a.x0, b.x0)


def make_view(document: Document, words: Wordbook) -> View:
    """Find the labels and phrases of a document and tell how each label stands in its cell."""
    view = View(document, words)
    folded, offsets = fold_with_offsets(document.text)
    hits, view.phrases = words.table.scan(folded)
    if offsets is not None:
        hits = [Hit(offsets[h.start], offsets[h.end], h.meaning) for h in hits]
        view.phrases = [Hit(offsets[h.start], offsets[h.end], h.meaning) for h in view.phrases]
    view.doubts = [hit for hit in view.phrases if hit.has(Role.DOUBT)]
    if not hits:
        return view
    starts: list[int] = []
    spots: list[Spot] = []
    for number, line in enumerate(document.lines):
        for i, cell in enumerate(line.cells):
            starts.append(cell.start)
            spots.append((number, i))
    by_spot: dict[Spot, list[Hit]] = defaultdict(list)
    for hit in hits:
        at = bisect_right(starts, hit.start) - 1
        if at >= 0 and hit.end <= view.cell(spots[at]).end and not _inside_code(document.text, hit):
            by_spot[spots[at]].append(hit)
    for spot, found in by_spot.items():
        labels = _labels_in(view, spot, _merged(document.text, found))
        if labels:
            view.at[spot] = labels
    view.labels = [label for labels in view.at.values() for label in labels]
    return view


def _inside_code(text: str, hit: Hit) -> bool:
    """Tell whether a phrase is a group of a code (``7KPL-PIN-22QX``) and no label."""
    if text[hit.end : hit.end + 1] not in _TIES and text[max(hit.start - 1, 0) : hit.start] not in _TIES:
        return False
    before, after = _GROUP_BEFORE.search(text, max(hit.start - 14, 0), hit.start), _GROUP_AFTER.match(text, hit.end)
    if before is None and after is None:
        return False
    word = text[hit.start : hit.end]
    tied = (before.group() if before else "") + (after.group() if after else "")
    return any(c.isdigit() for c in tied) or (word.isupper() and len(word) <= 6 and tied.isupper())


def _merged(text: str, hits: list[Hit]) -> list[Hit]:
    """Make one label of two that say the same in two languages ("Machine ID / Maschinen-ID")."""
    merged: list[Hit] = []
    for hit in hits:
        gap = text[merged[-1].end : hit.start].strip() if merged else ""
        if not gap and merged and merged[-1].has(Role.OTHER_LABEL) and hit.meaning.kinds & _OF_OTHERS:
            merged[-1] = Hit(merged[-1].start, hit.end, merged[-1].meaning)  # the store's name, the dealer's e-mail
        elif gap in {"/", "|", "·", "-", "–"} and merged[-1].meaning.kinds & hit.meaning.kinds:
            merged[-1] = Hit(merged[-1].start, hit.end, merged[-1].meaning)
        elif gap in {"/", "&", "+"} and merged[-1].meaning.kinds & CODE_KINDS and hit.meaning.kinds & CODE_KINDS:
            merged[-1] = Hit(merged[-1].start, hit.end, NO_MEANING)  # "Product key / activation code": which of them?
        elif gap.startswith("(") and ")" not in gap and (close := text.find(")", hit.end, hit.end + 60)) >= 0:
            # A remark behind a label; where it names another kind nobody can tell which one is meant.
            other = (hit.meaning.kinds & CODE_KINDS) - merged[-1].meaning.kinds
            merged[-1] = Hit(merged[-1].start, close + 1, NO_MEANING if other else merged[-1].meaning)
        else:
            merged.append(hit)
    return merged


def _labels_in(view: View, spot: Spot, hits: list[Hit]) -> list[Label]:
    cell, text = view.cell(spot), view.text
    if len(hits) > 1:
        hits = [hit for i, hit in enumerate(hits) if _counts(view, hit, cell, first=i == 0)]
    labels: list[Label] = []
    for i, hit in enumerate(hits):
        limit = next((h.start for h in hits[i + 1 :] if not _is_passing(view, h, cell)), cell.end)
        ahead = text[labels[-1].rest_end if labels else cell.start : hit.start]
        if labels and hit.start < labels[-1].rest_end:
            clean = False  # a vague word (card, code) in what stands behind another label
        elif labels:
            clean = labels[-1].clean and (labels[-1].marked or labels[-1].alone) and not split_words(ahead)
        else:
            clean = all(word in view.words.before for word in split_words(ahead))
        labels.append(_label(view, spot, hit, limit, clean))
    borders = [label for label, hit in zip(labels, hits, strict=True) if not _is_passing(view, hit, cell)]
    if len(borders) > 1:
        _part(view, borders)
    return labels


def _counts(view: View, hit: Hit, cell: Cell, *, first: bool) -> bool:
    """Tell whether a phrase is a border inside a cell: single words of running text (sent, order) are none."""
    if hit.has(Role.VAGUE_LABEL) or hit.meaning.kinds & CODE_KINDS:
        return True
    if len(split_words(view.text[hit.start : hit.end])) > 1 or _marked(view, hit.end, cell.end):
        return True
    return first and all(word in view.words.before for word in split_words(view.text[cell.start : hit.start]))


def _is_passing(view: View, hit: Hit, cell: Cell) -> bool:
    """Tell whether a phrase inside a cell is but a vague word (card, code) of running text, no border for others."""
    return hit.has(Role.VAGUE_LABEL) and hit.start > cell.start and _marked(view, hit.end, cell.end) is None


def _marked(view: View, start: int, limit: int) -> re.Match[str] | None:
    """Return the mark (colon, dash, leader) behind a label, words between them included."""
    mark = _MARK.match(view.text, start, limit)
    if mark is None or not all(word in view.words.tie for word in split_words(mark["tie"])):
        return None
    return mark


def _label(view: View, spot: Spot, hit: Hit, limit: int, clean: bool) -> Label:
    text = view.text
    rest, tie = hit.end, ""
    mark = _marked(view, hit.end, limit)
    if mark is not None:
        rest, tie = mark.end(), mark["tie"].strip()
    else:
        remark = _REMARK.match(text, hit.end, limit)
        rest = remark.end() if remark is not None else hit.end
        tied = _TIE.match(text, rest, limit)
        if tied is not None:
            rest = tied.start("tie")
            for word in split_words(tied["tie"]):
                if word not in view.words.tie:
                    break
                tie = f"{tie} {word}".strip()
                rest += len(word) + (len(text[rest + len(word) : limit]) - len(text[rest + len(word) : limit].lstrip()))
    while rest < limit and text[rest].isspace():
        rest += 1
    alone = _CONTENT.search(text, rest, limit) is None
    return Label(hit.meaning, hit.start, hit.end, spot, clean, mark is not None, tie, rest, limit, alone, limit)


def _part(view: View, labels: list[Label]) -> None:
    """In a cell with several labels, let each rest end where the next label's own words begin."""
    for label, after in pairwise(labels):
        rest = view.text[label.rest_start : label.rest_end]
        stripped = _without_border(rest, view.words.before)
        label.rest_end = label.rest_start + len(stripped)
        label.alone = not any(c.isalnum() for c in stripped)
        gap = view.text[label.rest_end : after.start]
        last = stripped.rpartition(" ")[2]
        parted = any(c in ",;|/·•" for c in gap) or any(c.isdigit() for c in last)
        label.cut = not after.marked and not any(c in ",;|/·•" for c in gap)
        after.clean = after.clean or (label.clean and (label.marked or label.alone) and parted)
    end = labels[-1].rest_end
    for label, after in zip(reversed(labels[:-1]), reversed(labels[1:]), strict=True):
        if after.marked:
            end = label.rest_end
        label.text_end = max(end, label.rest_end)


def _without_border(rest: str, before: frozenset[str]) -> str:
    """Cut what leads over to the next label: punctuation, a dash set off by a space, words such as "your"."""
    while True:
        stripped = rest.rstrip(" \t\u00a0,;|/·•(")
        if stripped.endswith((" -", " –", " —")):
            stripped = stripped[:-2]
        head, _, last = stripped.rpartition(" ")
        if head and last.isalpha() and split_words(last)[:1] and split_words(last)[0] in before:
            stripped = head
        if stripped == rest:
            return rest
        rest = stripped


def label_kind(label: Label, makers: frozenset[str]) -> Kind | None:
    """Return the kind a label names, a recognised maker's own meaning first; None where makers disagree or for others.

    Args:
        label: the label.
        makers: names of the makers recognised in the message.
    """
    meaning = label.meaning
    if not meaning.of_makers:
        return meaning.kind
    labels = [sense for sense in meaning.senses if sense.role is Role.LABEL]
    own = {sense.kind for sense in labels if sense.maker in makers}
    plain = {sense.kind for sense in labels if sense.maker is None}
    anyone = {sense.kind for sense in labels} if not makers else set()
    for kinds in (own, plain, anyone):
        if kinds:
            return kinds.pop() if len(kinds) == 1 else None
    return None
