"""What a pack for the maker shows: which messages may go into it, and where in them the facts stand.

Only messages that are filed to this machine and to the customer who has it now are taken. What a former holder, or
anybody else, sent stays with the shop; the pack says that it exists.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Protocol

from counterfoil.answers.masking import mask_in, secrets_of, spans_in
from counterfoil.answers.provenance import name_hidden
from counterfoil.answers.warranty import WarrantyAnswer
from counterfoil.model import (
    DATE_KINDS,
    SECRET_KINDS,
    Box,
    Document,
    Kind,
    Line,
    MachineProfile,
    Message,
    MessageRecord,
    Noted,
    Standing,
)

#: Kinds of facts that are framed, in the order in which they are numbered on one page.
SHOWN_KINDS = (
    Kind.PURCHASE_DATE, Kind.REGISTRATION_DATE, Kind.INVOICE_NUMBER, Kind.MAKER, Kind.MODEL, Kind.SERIAL_NUMBER,
    Kind.MACHINE_ID, Kind.CUSTOMER_NAME,
)  # fmt: skip
#: Kinds for which a text is worth showing beside a page that shows the others.
_TELLING = frozenset({*DATE_KINDS, Kind.INVOICE_NUMBER, Kind.SERIAL_NUMBER, Kind.MACHINE_ID})
#: Pages and texts that are shown; what is beyond stands in the originals.
MOST_EXHIBITS = 12
#: Lines of text shown around a fact, and in all.
_AROUND_LINES, _MOST_LINES = 2, 44
_MOST_CHARS = 220


class Picture(Protocol):
    """A page as a picture; see :class:`counterfoil.documents.render.PagePicture`."""

    @property
    def png(self) -> bytes:
        """The picture's bytes."""

    @property
    def width(self) -> int:
        """In pixels."""

    @property
    def height(self) -> int:
        """In pixels."""

    @property
    def frames(self) -> tuple[tuple[float, float, float, float], ...]:
        """Left, top, right, bottom of each box, as shares of width and height."""


#: Reads a message from its bytes.
OpenMessage = Callable[[bytes], Message]
#: Draws a page: bytes of the message, the document, its page, boxes to be framed, boxes to be hidden, whether pictures
#: on the page are hidden too.
DrawPage = Callable[[bytes, Document, int, Sequence[Box], Sequence[Box], bool], Picture | None]


@dataclass(frozen=True, slots=True)
class Mark:
    """A fact that is framed: its number in the pack, its kind, and its value as written."""

    number: int
    kind: Kind
    value: str


#: A line of an excerpt: pieces of text, each with the number of the fact it is, None for the rest.
Pieces = tuple[tuple[str, int | None], ...]


_TITLES = {"body": "text", "forward": "forwarded text", "attached": "attached message"}


@dataclass(frozen=True, slots=True)
class Exhibit:
    """One piece of evidence: a page as a picture, or lines of a text; None in ``lines`` is a gap between them."""

    message: str
    subject: str
    received: str
    document: str
    page: int | None
    marks: tuple[Mark, ...]
    picture: Picture | None = None
    lines: tuple[Pieces | None, ...] = ()

    @property
    def title(self) -> str:
        """Where it stands, in words: ``E5, confirmation.pdf, page 1``."""
        kind, _, name = self.document.partition(":")
        where = name if kind in ("pdf", "file") else _TITLES.get(kind, self.document)
        return ", ".join([self.message, where] + ([f"page {self.page}"] if self.page is not None else []))


@dataclass(frozen=True, slots=True)
class Chosen:
    """The messages of a pack, in the order of their ids, and sentences on those that are left out."""

    messages: tuple[MessageRecord, ...]
    left_out: tuple[str, ...]


def may_go(record: MessageRecord, machine: MachineProfile) -> bool:
    """Tell whether a message may be handed out: filed to this machine and to the customer who has it now."""
    mine = record.customer == machine.holder and record.machine == machine.id
    return mine and record.standing is Standing.FILED


def decisive(
    machine: MachineProfile, answer: WarrantyAnswer, find: Callable[[str], MessageRecord]
) -> tuple[Noted, ...]:
    """Return the facts that an answer rests on: dates, invoice, and what the machine is; each kind's in order of id.

    What says which machine it is, is taken from a message that goes into the pack anyway, else from another one that
    may go: the fewer messages leave the house, the better.

    Args:
        machine: the profile.
        answer: the answer.
        find: gives a message by its id.
    """
    found: dict[int, Noted] = {n.id: n for n in answer.evidence if n.fact.kind is Kind.PURCHASE_DATE}
    registered = [n for n in answer.evidence if n.fact.kind is Kind.REGISTRATION_DATE]
    for first in sorted(registered, key=lambda n: (n.fact.normal, n.id))[:1]:
        found[first.id] = first
    for cover in answer.coverage:
        if cover.noted is not None:
            found[cover.noted.id] = cover.noted
    for noted in machine.facts:
        if noted.fact.kind is Kind.INVOICE_NUMBER and noted.chosen:
            found[noted.id] = noted
    for kind in (Kind.MAKER, Kind.MODEL, Kind.SERIAL_NUMBER, Kind.MACHINE_ID):
        latest = machine.latest(kind)
        if latest is not None:
            needed = {noted.source for noted in found.values()}
            same = [n for n in machine.facts if (n.fact.kind, n.fact.normal) == (kind, latest.fact.normal) and n.chosen]
            may = [n for n in same if n.source[:1] != "E" or may_go(find(n.source), machine)]
            best = next((n for n in may if n.source in needed), may[-1] if may else latest)
            found[best.id] = best
    return tuple(sorted(found.values(), key=lambda n: (SHOWN_KINDS.index(n.fact.kind), n.id)))


def choose(
    machine: MachineProfile, facts: Sequence[Noted], proofs: Sequence[str], find: Callable[[str], MessageRecord]
) -> Chosen:
    """Sort the messages that facts were read from into those that may be handed out and those that may not.

    Args:
        machine: the profile; somebody has it now.
        facts: what the answer rests on.
        proofs: messages that prove extensions.
        find: gives a message by its id.
    """
    refs = sorted({n.source for n in facts if n.source[:1] == "E"} | set(proofs), key=lambda ref: int(ref[1:]))
    taken: list[MessageRecord] = []
    left_out: list[str] = []
    former = {holding.customer for holding in machine.holders} - {machine.holder}
    for ref in refs:
        record = find(ref)
        if may_go(record, machine):
            taken.append(record)
            continue
        whose = "a former holder" if record.customer in former else "somebody else"
        held = sorted({_word(n.fact.kind) for n in facts if n.source == ref})
        what = f"; it holds the {', '.join(held)}" if held else ""
        left_out.append(f"{ref} came from {whose} and is not in this pack{what}.")
    return Chosen(tuple(taken), tuple(left_out))


def exhibits_of(
    record: MessageRecord,
    data: bytes,
    machine: MachineProfile,
    opened: Message,
    draw: DrawPage,
    first: int,
    reveal: bool,
) -> list[Exhibit]:
    """Show where the facts of a message stand.

    Args:
        record: the message as the records have it; codes in its texts are masked.
        data: its bytes.
        machine: the machine's profile.
        opened: the message, read from these bytes.
        draw: draws a page.
        first: the number of the first fact.
        reveal: show codes.
    """
    secrets = frozenset() if reveal else secrets_of([*record.facts, *machine.facts])
    masked = {document.name: document.text for document in record.documents}
    found: list[Exhibit] = []
    drawn: set[tuple[Kind, str]] = set()
    # Pages first: what a page shows need not be shown again as text.
    for document in sorted(opened.documents, key=lambda document: not document.marks):
        facts = [n for n in _facts_in(record, document.name) if (n.fact.kind, n.fact.normal) not in drawn]
        if not document.marks and not any(n.fact.kind in _TELLING for n in facts):
            continue
        shown = document.text if reveal else _masked(document, masked.get(document.name), secrets)
        for page, group in groupby(facts, key=lambda n: n.fact.place.page if document.marks else None):
            own = list(group)
            marks = tuple(Mark(first + n, f.fact.kind, f.fact.value) for n, f in enumerate(own))
            made = _exhibit(record, document, page, own, marks, data, shown, draw, secrets, reveal)
            if made is not None:
                found.append(made)
                first += len(marks)
                drawn |= {(n.fact.kind, n.fact.normal) for n in own}
    return found


def _exhibit(
    record: MessageRecord,
    document: Document,
    page: int | None,
    facts: list[Noted],
    marks: tuple[Mark, ...],
    data: bytes,
    shown: str,
    draw: DrawPage,
    secrets: frozenset[str],
    reveal: bool,
) -> Exhibit | None:
    subject, received = mask_in(record.subject, secrets), (record.received or "")[:10]
    name = name_hidden(document.name, secrets)
    if page is not None:
        boxes = [n.fact.place.box for n in facts]
        hidden = () if reveal else tuple(_hidden(document, shown, page))
        # What was not read to its end may hold codes that nobody masked.
        whole = reveal or document.problem is None
        if whole and all(box is not None for box in boxes):
            framed = [box for box in boxes if box is not None]
            picture = draw(data, document, page, framed, hidden, not reveal)
            if picture is not None:
                return Exhibit(record.id, subject, received, name, page, marks, picture)
    spans = [(span, mark.number) for noted, mark in zip(facts, marks, strict=True) if (span := _span(document, noted))]
    lines = tuple(_excerpt(document, shown, spans))
    return Exhibit(record.id, subject, received, name, page, marks, None, lines) if lines else None


def _facts_in(record: MessageRecord, document: str) -> Iterator[Noted]:
    """Yield the facts of a document to be framed: those chosen, wherever in the message they were chosen from."""
    chosen = {(n.fact.kind, n.fact.normal) for n in record.facts if n.chosen}
    seen: set[tuple[Kind, int | None]] = set()
    here = [n for n in record.facts if n.fact.place.document == document and n.fact.kind in SHOWN_KINDS]
    for noted in sorted(here, key=lambda n: (n.fact.place.page or 0, SHOWN_KINDS.index(n.fact.kind), n.id)):
        key = (noted.fact.kind, noted.fact.place.page)
        if (noted.fact.kind, noted.fact.normal) in chosen and key not in seen and noted.fact.kind not in SECRET_KINDS:
            seen.add(key)
            yield noted


def _masked(document: Document, kept: str | None, secrets: frozenset[str]) -> str:
    """Return a document's text with codes masked: as the records keep it, and every code on record of the machine."""
    text = kept if kept is not None and len(kept) == len(document.text) else document.text
    return mask_in(text, secrets)


def _hidden(document: Document, shown: str, page: int) -> Iterator[Box]:
    """Yield the boxes of the characters on a page that the masked text does not show."""
    for line in document.lines:
        if line.page != page:
            continue
        begin: int | None = None
        for at in range(line.start, line.end + 1):
            differs = at < line.end and document.text[at] != shown[at]
            if differs and begin is None:
                begin = at
            elif not differs and begin is not None:
                box = document.box(begin, at)
                if box is not None:
                    yield box
                begin = None


def _span(document: Document, noted: Noted) -> tuple[int, int] | None:
    """Return where a fact stands in a text, None where it is not found."""
    span = noted.fact.place.span
    if span is not None and document.text[span[0] : span[1]].strip():
        return span
    found = spans_in(document.text, [noted.fact.value])
    return found[0] if found else None


def _excerpt(document: Document, shown: str, spans: Sequence[tuple[tuple[int, int], int]]) -> Iterator[Pieces | None]:
    """Yield the lines around facts, the facts set apart, None for what is left out in between."""
    lines = list(document.lines)
    near = {
        n
        for (start, end), _ in spans
        for at, line in enumerate(lines)
        if line.start < end and start < line.end
        for n in range(max(0, at - _AROUND_LINES), min(len(lines), at + _AROUND_LINES + 1))
    }
    last: int | None = None
    for count, n in enumerate(sorted(near)):
        if count == _MOST_LINES:
            yield None
            return
        if n and (last is None or n > last + 1):
            yield None
        yield _pieces(lines[n], shown, spans)
        last = n
    if last is not None and last + 1 < len(lines):
        yield None


def _pieces(line: Line, shown: str, spans: Sequence[tuple[tuple[int, int], int]]) -> Pieces:
    pieces: list[tuple[str, int | None]] = []
    at = line.start
    end = min(line.end, line.start + _MOST_CHARS)
    for (start, stop), number in sorted(spans):
        start, stop = max(start, at), min(stop, end)
        if start < stop:
            pieces += [(shown[at:start], None), (shown[start:stop], number)]
            at = stop
    return (*pieces, (shown[at:end] + ("…" if end < line.end else ""), None))


def _word(kind: Kind) -> str:
    return {True: kind.value.replace("_", " "), False: "description of the machine"}[
        kind in DATE_KINDS or kind is Kind.INVOICE_NUMBER
    ]
