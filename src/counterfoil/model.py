"""Frozen values that travel between the stages; nothing here reads, writes or decides.

Three groups, in the order of the flow: what a message is made of, what was read from it, what the
records answer. Every value can be traced: a :class:`Fact` knows its :class:`Place`.

Units: boxes in PDF points (1/72 inch) with the origin at the lower left corner of the page, as PDF
user space has it; spans in characters of :attr:`Document.text`; pages count from 1; odds are natural
log-odds (4.6 is 99 in 100).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from types import MappingProxyType


class Kind(StrEnum):
    """What a fact says."""

    MACHINE_ID = "machine_id"
    SERIAL_NUMBER = "serial_number"
    PRODUCT_KEY = "product_key"
    ACTIVATION_CODE = "activation_code"
    MAKER = "maker"
    MODEL = "model"
    UPGRADE_NAME = "upgrade_name"
    FIRMWARE_VERSION = "firmware_version"
    PURCHASE_DATE = "purchase_date"
    REGISTRATION_DATE = "registration_date"
    INVOICE_NUMBER = "invoice_number"
    CUSTOMER_NAME = "customer_name"
    EMAIL_ADDRESS = "email_address"
    PHONE_NUMBER = "phone_number"
    POSTAL_ADDRESS = "postal_address"


#: Kinds that are masked unless somebody asks to see them and says why.
SECRET_KINDS = frozenset({Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE})
#: Kinds whose value is a code: letters and digits, found through the code table.
CODE_KINDS = frozenset({Kind.MACHINE_ID, Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE})
DATE_KINDS = frozenset({Kind.PURCHASE_DATE, Kind.REGISTRATION_DATE})
#: Kinds that belong to a customer; all others belong to a machine.
CUSTOMER_KINDS = frozenset({Kind.CUSTOMER_NAME, Kind.EMAIL_ADDRESS, Kind.PHONE_NUMBER, Kind.POSTAL_ADDRESS})


class Standing(StrEnum):
    """Where a message stands."""

    FILED = "filed"
    OPEN = "open"
    ASIDE = "aside"


class Check(StrEnum):
    """Result of a check digit."""

    PASSED = "passed"
    FAILED = "failed"
    NONE = "none"


class Problem(StrEnum):
    """Why a document gave no text, or not all of it."""

    ENCRYPTED = "encrypted"
    SCANNED = "scanned"
    PICTURE = "picture"
    DAMAGED = "damaged"
    EMPTY = "empty"
    TOO_LARGE = "too_large"
    UNKNOWN_TYPE = "unknown_type"


# --- what a message is made of -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on a page in PDF points, origin lower left; ``x0 <= x1`` and ``y0 <= y1``."""

    x0: float
    y0: float
    x1: float
    y1: float


@dataclass(frozen=True, slots=True)
class Cell:
    """A run of text inside a line, set apart from its neighbours by a wide gap or a table border.

    ``start`` and ``end`` are a span of the document's text. ``x0`` and ``x1`` say where the cell
    stands across the page, in PDF points on a PDF, in characters in plain text, as the column number
    in an HTML table (``x1 = x0 + column span``): comparable within one document only.
    """

    start: int
    end: int
    x0: float
    x1: float


@dataclass(frozen=True, slots=True)
class Line:
    """One visual line: a span of the document's text, its page (None outside PDFs), its box and cells.

    Cells are in reading order and cover all of the line's text that is not white space.
    """

    start: int
    end: int
    cells: tuple[Cell, ...]
    page: int | None = None
    box: Box | None = None


@dataclass(frozen=True, slots=True)
class Document:
    """A piece of a message that carries text, or that should have and could not be read.

    ``name`` is unique in its message: ``body``, ``forward:1``, ``pdf:confirmation.pdf``,
    ``picture:card.jpg``, ``file:winmail.dat``. ``layer`` is the index into :attr:`Message.layers` of the
    layer the document came with. ``problem`` with ``reason`` (a sentence) says why text is missing.
    ``inline`` marks pictures shown inside the text (logos, signatures), not attached for their own sake.
    ``media_type`` is the type found by looking at the bytes, for example ``application/pdf``.
    ``marks`` gives, for PDFs, each character's left and right edge and its line's bottom and top, so that
    the box of a span can be told: one ``(x0, y0, x1, y1)`` a character, empty elsewhere.
    """

    name: str
    layer: int
    text: str
    lines: tuple[Line, ...]
    media_type: str = "text/plain"
    pages: int = 0
    problem: Problem | None = None
    reason: str = ""
    inline: bool = False
    size: int = 0
    marks: tuple[tuple[float, float, float, float], ...] = ()

    def box(self, start: int, end: int) -> Box | None:
        """Return the box of a span, or None where the document has no boxes (text, HTML)."""
        marks = [m for m in self.marks[start:end] if m[2] > m[0]]
        if not marks:
            return None
        return Box(
            min(m[0] for m in marks), min(m[1] for m in marks), max(m[2] for m in marks), max(m[3] for m in marks)
        )

    def page_of(self, start: int) -> int | None:
        """Return the page on which the character at ``start`` stands, None outside PDFs."""
        for line in self.lines:
            if line.start <= start <= line.end:
                return line.page
        return None


@dataclass(frozen=True, slots=True)
class Mailbox:
    """A mailbox in the sense of RFC 5322, section 3.4: display name (may be empty) and address."""

    name: str
    address: str


@dataclass(frozen=True, slots=True)
class Layer:
    """One envelope of a message: the outermost as received, or one forwarded inside another.

    ``how`` is ``received`` (always the first layer), ``attached`` (a message/rfc822 part) or ``inline``
    (a forward inside the text). ``parent`` is the index of the layer around it, None for the first.
    """

    how: str
    parent: int | None
    sender: Mailbox | None
    to: tuple[Mailbox, ...] = ()
    cc: tuple[Mailbox, ...] = ()
    date: datetime | None = None
    subject: str = ""
    message_id: str = ""


@dataclass(frozen=True, slots=True)
class Message:
    """An original, read. ``defects`` are sentences on what was broken and how it was read all the same."""

    sha256: str
    size: int
    layers: tuple[Layer, ...]
    documents: tuple[Document, ...]
    defects: tuple[str, ...] = ()
    automatic: bool = False
    """True for automatic replies and bounces (RFC 3834 Auto-Submitted, empty return path and the like)."""
    bulk: bool = False
    """True for newsletters and lists (RFC 2369 List-* headers, Precedence: bulk or list)."""

    @property
    def head(self) -> Layer:
        """The layer as received."""
        return self.layers[0]


# --- what was read from it -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Place:
    """Where a value stands: the document's name, page and box on a PDF, span of characters elsewhere.

    Values from header fields have the document name ``headers:N`` (N: index of the layer).
    """

    document: str
    page: int | None = None
    box: Box | None = None
    span: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Fact:
    """One value read from a document: as written, its normal form, its place and what speaks for it.

    ``readings`` holds the possible normal forms when there is more than one (3/4/2026); ``normal`` is
    then the likeliest. ``pattern`` names what recognised it, ``evidence`` lists why in words.
    """

    kind: Kind
    value: str
    normal: str
    place: Place
    pattern: str
    check: Check = Check.NONE
    odds: float = 0.0
    readings: tuple[str, ...] = ()
    evidence: tuple[str, ...] = ()


_NOTHING: Mapping[Kind, tuple[Fact, ...]] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Reading:
    """Everything read from one message.

    ``facts`` holds every value found, ``chosen`` one per kind (the likeliest), ``conflicts`` the kinds
    for which different values have good odds. ``confirmation`` is the log-odds that the message is, or
    forwards, an activation confirmation; ``signs`` says why, in words. ``confirmation_layer`` is the index
    of the layer the confirmation itself came in. ``mentions_attachment`` is true where the text refers
    to an attachment. ``redacted`` maps a document's name to its text with every code masked.
    """

    facts: tuple[Fact, ...]
    chosen: Mapping[Kind, Fact]
    conflicts: Mapping[Kind, tuple[Fact, ...]] = field(default_factory=lambda: _NOTHING)
    confirmation: float = 0.0
    signs: tuple[str, ...] = ()
    confirmation_layer: int = 0
    mentions_attachment: bool = False
    language: str | None = None
    redacted: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class Candidate:
    """A possible answer to a question: ``ref`` (C12, M7, or a value), what it is, and what speaks for it."""

    ref: str
    label: str
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """Why a message is open: a code, a sentence, and the likely answers, likeliest first."""

    code: str
    sentence: str
    candidates: tuple[Candidate, ...] = ()


@dataclass(frozen=True, slots=True)
class Decision:
    """What filing decided. ``customer`` and ``machine`` are ids; ``new_customer`` asks for a new profile."""

    standing: Standing
    questions: tuple[Question, ...] = ()
    customer: str | None = None
    machine: str | None = None
    new_customer: bool = False
    new_machine: bool = False
    why: tuple[str, ...] = ()


# --- what the records answer ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Noted:
    """A fact as the records keep it: the fact, the message (E5) or journal entry (J9) it came from, and when."""

    fact: Fact
    source: str
    at: str
    id: int = 0
    chosen: bool = True
    confirmed: bool = False
    """True where a person confirmed or entered the value."""


@dataclass(frozen=True, slots=True)
class Holding:
    """Who has a machine, from when to when (ISO 8601 dates; None: not known, or still)."""

    customer: str
    machine: str
    since: str | None
    until: str | None
    source: str


@dataclass(frozen=True, slots=True)
class Upgrade:
    """A paid upgrade of one machine: what it is called, its product key, the activation code it gave.

    ``machine_id`` is the normal form of the machine ID the code was made for; ``live`` is False once the
    machine shows another one (swapped board).
    """

    name: str | None
    product_key: Noted | None
    activation_code: Noted | None
    machine_id: str | None
    live: bool
    source: str


@dataclass(frozen=True, slots=True)
class FirmwareNote:
    """A firmware version, the day it was noted (ISO 8601), ``before``/``after`` an update or None, and where from."""

    version: str
    noted: str
    when: str | None
    source: str


@dataclass(frozen=True, slots=True)
class CustomerProfile:
    """A customer: every fact filed under the id, the machines held now and before."""

    id: str
    facts: tuple[Noted, ...]
    holdings: tuple[Holding, ...]
    messages: tuple[str, ...]

    def values(self, kind: Kind) -> tuple[str, ...]:
        """Return the different values of a kind as written, first noted first."""
        seen: dict[str, str] = {}
        for noted in self.facts:
            if noted.fact.kind is kind:
                seen.setdefault(noted.fact.normal, noted.fact.value)
        return tuple(seen.values())

    @property
    def name(self) -> str:
        """The first name noted, or the id."""
        return next(iter(self.values(Kind.CUSTOMER_NAME)), self.id)


@dataclass(frozen=True, slots=True)
class MachineProfile:
    """A machine: every fact filed under the id, its upgrades, firmware notes and holders."""

    id: str
    facts: tuple[Noted, ...]
    upgrades: tuple[Upgrade, ...]
    firmware: tuple[FirmwareNote, ...]
    holders: tuple[Holding, ...]
    messages: tuple[str, ...]

    def values(self, kind: Kind) -> tuple[str, ...]:
        """Return the different values of a kind as written, first noted first."""
        seen: dict[str, str] = {}
        for noted in self.facts:
            if noted.fact.kind is kind:
                seen.setdefault(noted.fact.normal, noted.fact.value)
        return tuple(seen.values())

    def latest(self, kind: Kind) -> Noted | None:
        """Return the value of a kind noted last, values a person confirmed before all others."""
        found = [n for n in self.facts if n.fact.kind is kind]
        return max(found, key=lambda n: (n.confirmed, n.at, n.id), default=None)

    @property
    def holder(self) -> str | None:
        """The id of the customer who has the machine now."""
        return next((h.customer for h in reversed(self.holders) if h.until is None), None)


@dataclass(frozen=True, slots=True)
class DocumentRecord:
    """A document as the records keep it: codes in ``text`` are masked."""

    name: str
    layer: int
    media_type: str
    pages: int
    text: str
    problem: Problem | None
    reason: str


@dataclass(frozen=True, slots=True)
class MessageRecord:
    """A message as the records keep it."""

    id: str
    sha256: str
    source: str
    kept: str
    message_id: str
    received: str | None
    subject: str
    sender: Mailbox | None
    standing: Standing
    customer: str | None
    machine: str | None
    questions: tuple[Question, ...]
    facts: tuple[Noted, ...]
    documents: tuple[DocumentRecord, ...]
    defects: tuple[str, ...]
    signs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CodeHit:
    """A code found in the records: the noted fact and what it belongs to. ``how``: whole, ending or near."""

    noted: Noted
    customer: str | None
    machine: str | None
    message: str | None
    how: str


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """One line of the journal: who did what to which record, when (ISO 8601, UTC) and why."""

    id: str
    at: str
    who: str
    action: str
    subject: str
    why: str
    detail: Mapping[str, object]
    undone_by: str | None = None


@dataclass(frozen=True, slots=True)
class IndexEntry:
    """What the full-text index takes in for one message; codes are cut from ``body`` beforehand."""

    message: str
    revision: int
    again: bool
    """True where an earlier revision of the message may already be in the index."""
    subject: str
    sender: str
    body: str
    received: date | None
    maker: str
    model: str
    language: str
