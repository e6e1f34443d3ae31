"""What the records answer: profiles, messages, code finds, journal lines, entries for the index."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from counterfoil.model.message import Mailbox
from counterfoil.model.reading import Fact, Question
from counterfoil.model.words import Kind, Problem, Standing


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
    """A firmware version, the day it was noted (ISO 8601), ``before``/``after`` an update or None, and where from.

    ``version`` has digits and dots only; what stands behind them, ``beta`` or ``a``, is in ``written``.
    """

    version: str
    noted: str
    when: str | None
    source: str
    written: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class CustomerProfile:
    """A customer: every fact filed under the id, the machines held now and before."""

    id: str
    facts: tuple[Noted, ...]
    holdings: tuple[Holding, ...]
    messages: tuple[str, ...]
    merged: tuple[str, ...] = ()
    """Ids of customers that were merged into this one: they lead here."""

    def values(self, kind: Kind) -> tuple[str, ...]:
        """Return the different values of a kind as written, first noted first."""
        return _values(self.facts, kind)

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
        return _values(self.facts, kind)

    def latest(self, kind: Kind) -> Noted | None:
        """Return the value of a kind noted last, values a person confirmed before all others.

        A machine ID changes with the main board: there :func:`board_now` says which one counts, confirmed or not.
        """
        found = [n for n in self.facts if n.fact.kind is kind]
        if kind is Kind.MACHINE_ID:
            now, _ = board_now((n.fact.normal, n.at, n.id, n.confirmed) for n in found)
            found = [n for n in found if n.fact.normal == now]
            return max(found, key=lambda n: (n.at, n.confirmed, n.id), default=None)
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
    language: str | None = None
    """ISO 639-1 code of the language most of it is written in, None where it cannot be told."""
    repeats: str | None = None
    """The first message of which it is a second delivery, or whose confirmation it forwards again; None for neither."""


@dataclass(frozen=True, slots=True)
class CodeHit:
    """A code found in the records: the noted fact and what it belongs to.

    ``how``: whole, ending, near (up to two characters wrong), middle (it holds what was typed) or near ending.
    """

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
    hash: str = ""
    """SHA-256 of the line and of all lines before it."""


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule that puts messages of one address aside: its id (R1), since when (ISO 8601, UTC), who made it and why,
    the line of the journal that can be undone, and how many messages it has put aside."""

    id: str
    address: str
    at: str
    who: str
    why: str
    journal: str
    messages: int = 0


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


def _values(facts: Iterable[Noted], kind: Kind) -> tuple[str, ...]:
    seen: dict[str, str] = {}
    for noted in facts:
        if noted.fact.kind is kind:
            seen.setdefault(noted.fact.normal, noted.fact.value)
    return tuple(seen.values())


def board_now(noted: Iterable[tuple[str, str, int, bool]]) -> tuple[str | None, str]:
    """Tell which machine ID a machine shows now, and since when: the one whose first note is the newest.

    A main board is swapped for another one (common practice, no source): the confirmation of an old board that
    arrives late does not bring it back. Only a person who notes it once more does.

    Args:
        noted: of each note of a machine ID its normal form, when (ISO 8601), its number, whether a person confirmed it.

    Returns:
        The normal form, None where nothing is noted, and when it was noted first, or last by a person.
    """
    since: dict[str, tuple[str, int]] = {}
    for normal, at, number, confirmed in sorted(noted, key=lambda note: note[1:3]):
        if confirmed or normal not in since:
            since[normal] = (at, number)
    now = max(since, key=lambda normal: since[normal], default=None)
    return now, "" if now is None else since[now][0]
