"""Values a person points out in messages: where they stand, and which words beside them could be their labels."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from counterfoil.model import CODE_KINDS, CUSTOMER_KINDS, DATE_KINDS, Kind, Message, Reading
from counterfoil.patterns.codes import find_runs
from counterfoil.patterns.dates import find_dates
from counterfoil.patterns.found import Span
from counterfoil.patterns.layout import Spot, View
from counterfoil.patterns.normal import normal, normal_code
from counterfoil.patterns.words import fold_with_offsets, split_words

#: What may stand between two characters of a code, in a line and where it is broken over two.
_GAP = r"[ \u00a0]?[-\u2010-\u2015./]?[ \u00a0]?"
_BROKEN = r"[-\u2010-\u2015./\s\u00a0]{0,5}"
_LONGEST_LABEL, _MOST_WORDS = 40, 5
_EDGES = " \t\u00a0:：=|.·…_>*#–—-\"'"
_SENTENCE_ENDS = re.compile(r"[.!?;,]\s")
_LINES_UP = 3
_MARK = re.compile(r"[:：=|#>…]|\.\.|[–—-]\s|\s{2}")


@dataclass(frozen=True, slots=True)
class Example:
    """A message with the values a person pointed out in it."""

    name: str
    message: Message
    reading: Reading
    values: Mapping[Kind, str]


@dataclass(frozen=True, slots=True)
class Spotted:
    """A value found in a document: as written there, and its span."""

    view: View
    kind: Kind
    value: str
    span: Span


@dataclass(frozen=True, slots=True)
class LabelSeen:
    """Words beside a value that could be its label. ``known``: the vocabulary has them as one of this kind."""

    text: str
    language: str
    kind: Kind
    message: str
    known: bool
    above: bool
    marked: bool
    """A colon or the like stands behind it, or it fills a cell of its own."""


def spotted(view: View, kind: Kind, value: str, region: str) -> list[Spotted]:
    """Find a value in a document, however it is written there.

    Args:
        view: the document.
        kind: what the value says.
        value: as typed, or as read.
        region: ISO 3166-1 code for telephone numbers without a country code.
    """
    if kind in CODE_KINDS or kind is Kind.INVOICE_NUMBER:
        spans = _code_spans(view.text, normal_code(value))
    elif kind in DATE_KINDS:
        wanted = normal(kind, value)
        spans = [
            (found.start, found.end)
            for found in find_dates(view.text)
            if wanted in {day.isoformat() for day, _ in found.readings}
        ]
    elif kind is Kind.PHONE_NUMBER:
        wanted = normal(kind, value, region)
        numbers = re.finditer(r"[+(]?\d[\d\s()./-]{5,25}\d", view.text)
        spans = [m.span() for m in numbers if normal(kind, m.group(), region) == wanted]
    else:
        spans = _text_spans(view.text, value)
    return [Spotted(view, kind, view.text[s:e], (s, e)) for s, e in spans[:20]]


def _code_spans(text: str, plain: str) -> list[Span]:
    for gap in (_GAP, _BROKEN):
        body = gap.join(map(re.escape, plain))
        found = re.finditer(rf"(?<![0-9A-Za-z]){body}(?![0-9A-Za-z])", text, re.IGNORECASE)
        spans = [match.span() for match in found] if plain else []
        if spans:
            return spans
    return []


def _text_spans(text: str, value: str) -> list[Span]:
    folded, offsets = fold_with_offsets(text)
    words = [re.escape(word) for word in fold_with_offsets(value)[0].split()]
    if not words:
        return []
    found = re.finditer(r"(?<!\w)" + r"\s+".join(words) + r"(?!\w)", folded)
    return [(offsets[m.start()], offsets[m.end()]) if offsets is not None else m.span() for m in found]


def labels_beside(spot: Spotted, others: Sequence[Spotted], language: str, message: str) -> list[LabelSeen]:
    """Return the words beside a value that could be its label, likeliest first.

    They stand ahead of it in its cell, in the cell to the left, or in a cell above. Words of running text are none:
    a label is short, has no digit and fills what stands there.

    Args:
        spot: the value.
        others: the other values pointed out in the message; no label stands beyond one.
        language: ISO 639 code of the message.
        message: its name.
    """
    at = _cell_of(spot.view, spot.span[0])
    if at is None:
        return []
    taken = [other.span for other in others if other.view is spot.view and other.span != spot.span]
    ahead = _ahead(spot, at, taken)
    if ahead is not None:
        marked = _MARK.search(spot.view.text[spot.span[0] - 6 : spot.span[0]]) is not None
        return [_label(ahead, spot, language, message, above=False, marked=marked)] if _is_label(ahead) else []
    cell = spot.view.cell(at)
    if any(c.isalnum() for c in spot.view.text[spot.span[1] : cell.end]):
        return []  # a word of running text
    found = []
    left = next((cell for cell in range(at[1] - 1, -1, -1) if _words(spot.view, (at[0], cell))), None)
    if left is not None and (text := _free(spot.view, (at[0], left), taken)):
        found.append(_label(text, spot, language, message, above=False))
    over = next(_above(spot.view, at), None)
    if over is not None and (text := _free(spot.view, over, taken)):
        found.append(_label(text, spot, language, message, above=True))
    return found


def _cell_of(view: View, start: int) -> Spot | None:
    for number, line in enumerate(view.lines):
        if line.start <= start <= line.end:
            for n, cell in enumerate(line.cells):
                if cell.start <= start < cell.end:
                    return number, n
    return None


def _ahead(spot: Spotted, at: Spot, taken: Sequence[Span]) -> str | None:
    """Return the words ahead of a value in its cell, None for none; behind another value they start anew."""
    start = max([spot.view.cell(at).start, *(end for _, end in taken if end <= spot.span[0])])
    text = spot.view.text[start : spot.span[0]]
    ends = list(_SENTENCE_ENDS.finditer(text))
    text = (text[ends[-1].end() :] if ends else text).lstrip(">").strip(_EDGES)
    return text if any(c.isalpha() for c in text) else None


def _words(view: View, spot: Spot) -> str:
    cell = view.cell(spot)
    text = view.text[cell.start : cell.end].strip(_EDGES)
    return text if any(c.isalnum() for c in text) else ""


def _free(view: View, spot: Spot, taken: Sequence[Span]) -> str:
    """Return a cell's words where they could be a label and hold none of the values."""
    cell = view.cell(spot)
    text = _words(view, spot)
    return text if _is_label(text) and not any(s < cell.end and cell.start < e for s, e in taken) else ""


def _is_label(text: str) -> bool:
    return (
        2 <= len(text) <= _LONGEST_LABEL
        and 1 <= len(split_words(text)) <= _MOST_WORDS
        and not any(c.isdigit() for c in text)
        and "@" not in text
        and not any(c in text for c in "!?;\n")
        and not text.endswith(",")
    )


def _above(view: View, at: Spot) -> Iterator[Spot]:
    """Yield the cells over a cell, nearest first."""
    cell = view.cell(at)
    for number in range(at[0] - 1, max(at[0] - 1 - _LINES_UP, -1), -1):
        line = view.lines[number]
        if line.page != view.lines[at[0]].page:
            return
        for n, other in enumerate(line.cells):
            if min(cell.x1, other.x1) > max(cell.x0, other.x0) and _words(view, (number, n)):
                yield number, n


def _label(text: str, spot: Spotted, language: str, message: str, *, above: bool, marked: bool = True) -> LabelSeen:
    labels, _ = spot.view.words.table.scan(fold_with_offsets(text)[0])
    known = any(spot.kind in hit.meaning.kinds for hit in labels)
    return LabelSeen(text, language, spot.kind, message, known, above, marked)


def other_codes(view: View, taken: Sequence[Span]) -> Iterator[tuple[str, str]]:
    """Yield the codes of a document that nobody pointed out, each with the words of its line ahead of it."""
    for line in view.lines[:500]:
        for cell in line.cells[:12]:
            for run in find_runs(view.text, cell.start, cell.end, view.words.stop):
                if not any(s < run.end and run.start < e for s, e in taken):
                    ahead = view.text[line.start : run.start].lstrip("> ").strip(_EDGES)
                    labels, _ = view.words.table.scan(fold_with_offsets(ahead)[0])
                    if ahead and _is_label(ahead) and not any(hit.meaning.kinds & CUSTOMER_KINDS for hit in labels):
                        yield ahead, run.value
