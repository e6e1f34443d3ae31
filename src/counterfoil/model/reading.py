"""What was read from a message: facts with their places, questions, what filing decided."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from counterfoil.model.message import Box
from counterfoil.model.words import BY_EYE, Check, Kind, Standing


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

    @property
    def by_eye(self) -> bool:
        """True where the value was read off a picture."""
        return any(line.startswith(BY_EYE) for line in self.evidence)


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
