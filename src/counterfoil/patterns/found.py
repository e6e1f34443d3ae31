"""Values found in documents, before they are weighed against each other, and the place they become facts with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from counterfoil.model import BY_EYE, Box, Check, Document, Fact, Kind, Place
from counterfoil.patterns.odds import BY_EYE_MOST

Span = tuple[int, int]


@dataclass(slots=True)
class Found:
    """A value found in a document. ``pieces`` are the spans it stands in: two where it was broken over two lines.

    ``by_name`` marks values recognised by their own spelling alone (a model named in the text): a labelled value of
    the same kind outranks them. ``maker`` is the maker in whose shape a code is.
    """

    kind: Kind
    value: str
    normal: str
    document: Document
    pieces: list[Span]
    odds: float
    pattern: str
    check: Check = Check.NONE
    evidence: list[str] = field(default_factory=list)
    readings: tuple[str, ...] = ()
    by_name: bool = False
    maker: str | None = None

    def overlaps(self, start: int, end: int) -> bool:
        """Tell whether the value stands in (part of) a span."""
        return any(s < end and start < e for s, e in self.pieces)

    def fact(self) -> Fact:
        """Return the value as a fact; one read off a picture says so, and is worth less than one in a text."""
        place = place_of(self.document, self.pieces)
        total, evidence = self.odds, tuple(self.evidence)
        if self.document.turns:
            evidence = (*evidence, by_eye(self.document, place))
            total = min(total, BY_EYE_MOST.get(self.kind, total))
        return Fact(
            self.kind,
            self.value,
            self.normal,
            place,
            self.pattern,
            self.check,
            round(total, 2),
            self.readings,
            evidence,
        )


def by_eye(document: Document, place: Place) -> str:
    """Return the evidence of a value read off a picture, with how the page was turned to be read."""
    turn = document.turns[(place.page or 1) - 1]
    return f"{BY_EYE} turned by {turn * 90} degrees" if turn else BY_EYE


def place_of(document: Document, pieces: Sequence[Span]) -> Place:
    """Return where a value stands: page and box where the document has boxes, the span of characters elsewhere."""
    start, end = pieces[0][0], pieces[-1][1]
    boxes = [box for piece in pieces if (box := document.box(*piece)) is not None] if document.marks else []
    page = document.page_of(start) if document.pages else None
    if not boxes:
        return Place(document.name, page, None, (start, end))
    whole = Box(min(b.x0 for b in boxes), min(b.y0 for b in boxes), max(b.x1 for b in boxes), max(b.y1 for b in boxes))
    return Place(document.name, page, whole)


def with_odds(fact: Fact, odds: float, why: str) -> Fact:
    """Return a fact with other odds and one more reason."""
    return replace(fact, odds=round(odds, 2), evidence=(*fact.evidence, why))
