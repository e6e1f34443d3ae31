"""Texts with keys and codes masked, for the records and the full-text index."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from counterfoil.model import SECRET_KINDS, Document
from counterfoil.patterns.found import Span
from counterfoil.patterns.shapes import Shape

MASK = "•"
_ANY_SEPARATOR = r"[-\u00ad\u2010-\u2015./\s]{0,4}"
#: Different codes looked for everywhere; more than these in one message is a list of codes no sheet needs.
_MOST = 60
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
    known = sorted({s for s in secrets if len(s) >= 6})[:_MOST]
    if known:
        alternatives = "|".join(_ANY_SEPARATOR.join(map(re.escape, secret)) for secret in known)
        finders.append(re.compile(f"(?<![0-9A-Za-z])(?:{alternatives})(?![0-9A-Za-z])", re.IGNORECASE))
    masked = {}
    for document in documents:
        marks = list(spans.get(document.name, ()))
        for finder in finders:
            marks.extend(match.span() for match in finder.finditer(document.text))
        masked[document.name] = _mask(document.text, marks)
    return masked


def _mask(text: str, spans: Sequence[Span]) -> str:
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
