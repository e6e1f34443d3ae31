"""Texts with keys and codes masked, for the records and the full-text index."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate, pairwise

from counterfoil.model import SECRET_KINDS, Document
from counterfoil.patterns.found import Span
from counterfoil.patterns.shapes import Shape, is_words

MASK = "•"
_RUN = re.compile(r"[0-9A-Z]+")
#: Characters between two groups of a code: separators, line breaks, quoting; not more than these few.
_SEPARATORS = re.compile(r"[^0-9A-Za-z]{0,4}\Z")
_UPPER = {letter: letter - 32 for letter in range(ord("a"), ord("z") + 1)}
#: Different codes looked for everywhere; more than these in one message is a list of codes no sheet needs.
_MOST = 60
_LONGEST = 60
_KEPT = re.compile(r"[^\n\t\f\r]")


def redact(
    documents: Sequence[Document],
    spans: Mapping[str, Iterable[Span]],
    secrets: Iterable[str],
    shapes: Iterable[Shape],
) -> dict[str, str]:
    """Return each document's text with every key and code masked, character for character.

    Args:
        documents: the documents.
        spans: places to mask, by document name.
        secrets: normal forms of codes to mask wherever and however they are written.
        shapes: every maker's shapes; those of keys and codes are masked.
    """
    finders = [shape.find for shape in shapes if shape.kind in SECRET_KINDS]
    known = sorted({s for s in secrets if 6 <= len(s) <= _LONGEST})[:_MOST]
    masked = {}
    for document in documents:
        marks = list(spans.get(document.name, ()))
        for finder in finders:
            marks.extend(match.span() for match in finder.finditer(document.text) if not is_words(match.group()))
        text = _mask(document.text, marks)
        # What is masked already need not be looked for: most documents hold nothing more, which is quick to tell.
        masked[document.name] = _mask(text, _written(text, known))
    return masked


def _written(text: str, codes: Sequence[str]) -> list[Span]:
    """Return where codes stand in a text, however their letters are grouped; whole words only.

    An expression for each code would have to be compiled for each message, which took longer than all other reading.
    """
    upper = text.translate(_UPPER)
    squeezed = "".join(_RUN.findall(upper))
    present = [code for code in codes if code in squeezed]
    if not present:
        return []
    runs = list(_RUN.finditer(upper))
    ends = list(accumulate(len(run.group()) for run in runs))
    spans = []
    for code in present:
        at = squeezed.find(code)
        while at >= 0:
            first, last = bisect_right(ends, at), bisect_right(ends, at + len(code) - 1)
            start = runs[first].end() - (ends[first] - at)
            end = runs[last].end() - (ends[last] - at - len(code))
            if _stands_alone(text, (start, end)) and all(
                _SEPARATORS.match(text, one.end(), other.start()) for one, other in pairwise(runs[first : last + 1])
            ):
                spans.append((start, end))
                at += len(code) - 1
            at = squeezed.find(code, at + 1)
    return spans


def _stands_alone(text: str, span: Span) -> bool:
    before, after = text[span[0] - 1 : span[0]], text[span[1] : span[1] + 1]
    return not (before.isascii() and before.isalnum()) and not (after.isascii() and after.isalnum())


def _mask(text: str, spans: Sequence[Span]) -> str:
    if not spans:
        return text
    pieces: list[str] = []
    at = 0
    for start, end in sorted(spans):
        if end <= at:
            continue
        start = max(start, at)
        pieces.append(text[at:start])
        pieces.append(_KEPT.sub(MASK, text[start:end]))
        at = end
    pieces.append(text[at:])
    return "".join(pieces)
