"""What a person must decide: open messages grouped by question, and one message in full.

Codes are masked; :func:`show` reveals those of one message to a named person, and the journal says so first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from counterfoil.answers.asked import asked, changes
from counterfoil.answers.masking import mask, mask_in, mask_value, secrets_of
from counterfoil.answers.provenance import KIND_WORDS, fact_json, message_hidden, origin
from counterfoil.answers.restore import REVEAL_ACTION
from counterfoil.errors import UsageProblem
from counterfoil.model import (
    Candidate,
    DocumentRecord,
    JournalEntry,
    MessageRecord,
    Noted,
    Question,
    Standing,
)
from counterfoil.records import grouping

if TYPE_CHECKING:
    from counterfoil.records.store import Store


@dataclass(frozen=True, slots=True)
class OpenMessage:
    """An open message in a list: its questions with codes masked, the one it is listed under first.

    ``changes`` says for each question, in the same order, what settling it will change.
    """

    id: str
    received: str | None
    kept: str
    subject: str
    sender: str
    questions: tuple[Question, ...]
    changes: tuple[str, ...] = ()

    def to_json(self) -> dict[str, object]:
        """Return the message with its questions."""
        names = ("id", "received", "kept", "subject", "sender")
        questions = [question_json(q, text) for q, text in zip(self.questions, self.changes, strict=True)]
        return {name: getattr(self, name) for name in names} | {"questions": questions}


@dataclass(frozen=True, slots=True)
class QuestionGroup:
    """Open messages that share a question code, oldest first."""

    code: str
    messages: tuple[OpenMessage, ...]

    def to_json(self) -> dict[str, object]:
        """Return the code and its messages."""
        return {"code": self.code, "messages": [message.to_json() for message in self.messages]}


@dataclass(frozen=True, slots=True)
class ShownValue:
    """One value of a message as shown: what it is, the value (masked where secret), where it stands."""

    label: str
    value: str
    origin: str
    noted: Noted


@dataclass(frozen=True, slots=True)
class ShownMessage:
    """One message in full, for a person who must decide; codes masked unless ``revealed``.

    ``likely`` is the first candidate of the first question that has one. ``chosen`` are the values filing would
    take, ``others`` those read and not taken.
    """

    message: MessageRecord
    subject: str
    questions: tuple[Question, ...]
    likely: Candidate | None
    chosen: tuple[ShownValue, ...]
    others: tuple[ShownValue, ...]
    documents: tuple[DocumentRecord, ...]
    history: tuple[JournalEntry, ...]
    revealed: bool = False

    @property
    def id(self) -> str:
        """The message's id."""
        return self.message.id

    def to_json(self) -> dict[str, object]:
        """Return everything shown as a dictionary."""
        message = self.message
        names = ("id", "sha256", "source", "kept", "received", "customer", "machine", "repeats")
        documents = [
            {"name": d.name, "media_type": d.media_type, "pages": d.pages, "problem": d.problem, "reason": d.reason}
            | {"text": d.text}
            for d in self.documents
        ]
        return {name: getattr(message, name) for name in names} | {
            "subject": self.subject,
            "sender": sender_text(message),
            "standing": message.standing.value,
            "questions": [question_json(question, changes(question, message)) for question in self.questions],
            "likely": None if self.likely is None else _candidate_json(self.likely),
            "facts": [self._fact(value) for value in (*self.chosen, *self.others)],
            "documents": documents,
            "defects": list(message.defects),
            "signs": list(message.signs),
            "history": [{"id": e.id, "at": e.at, "who": e.who, "action": e.action, "why": e.why} for e in self.history],
        }

    def _fact(self, value: ShownValue) -> dict[str, object]:
        secrets = frozenset() if self.revealed else secrets_of(self.message.facts)
        evidence = [mask_in(line, secrets) for line in value.noted.fact.evidence]
        more = {"chosen": value.noted.chosen, "confirmed": value.noted.confirmed, "evidence": evidence}
        return fact_json(value.noted.fact, reveal=self.revealed) | more


def triage(store: Store) -> tuple[QuestionGroup, ...]:
    """List the open messages, grouped by question code.

    A message with several questions stands under each of them. Messages are oldest first by the day they were
    received; the group whose first message is oldest comes first.

    Args:
        store: the records.
    """
    groups: dict[str, list[OpenMessage]] = {}
    for message in sorted(store.messages(Standing.OPEN), key=age):
        listed = _open_message(message)
        for code in dict.fromkeys(question.code for question in listed.questions):
            pairs = zip(listed.questions, listed.changes, strict=True)
            first = sorted(pairs, key=lambda pair: pair[0].code != code)
            own = replace(listed, questions=tuple(q for q, _ in first), changes=tuple(text for _, text in first))
            groups.setdefault(code, []).append(own)
    return tuple(QuestionGroup(code, tuple(messages)) for code, messages in groups.items())


@dataclass(frozen=True, slots=True)
class FromSender:
    """An open message of one sender, and why it is left open where all of theirs are put aside (empty: it is not)."""

    message: OpenMessage
    left: str

    def to_json(self) -> dict[str, object]:
        """Return the message with its questions, and the reason."""
        return self.message.to_json() | {"left_if_aside": self.left or None}


def open_from(store: Store, address: str) -> tuple[FromSender, ...]:
    """List the open messages from one address, oldest first, as settling them together will find them.

    Args:
        store: the records.
        address: the sender's.
    """
    found = sorted(grouping.open_from(store, address), key=age)
    return tuple(FromSender(_open_message(m), grouping.may_be_confirmation(m)) for m in found)


#: Gives the text of every document of a message, by name, codes in clear.
ClearTexts = Callable[[MessageRecord], Mapping[str, str]]


def show(
    store: Store,
    message_id: str,
    *,
    reveal: bool = False,
    who: str = "",
    reason: str = "",
    clear: ClearTexts | None = None,
) -> ShownMessage:
    """Show one message in full, whatever its standing.

    Args:
        store: the records.
        message_id: the message's id, E5.
        reveal: show its codes; ``who`` and ``reason`` are then needed and go into the journal first.
        who: the person at the desk.
        reason: why the codes are shown.
        clear: reads the original again: the records keep texts with their codes masked.

    Raises:
        RecordUnknown: there is no such message.
        UsageProblem: codes are to be shown without who or why.
    """
    message = store.message(message_id)
    if reveal:
        if not (who.strip() and reason.strip()):
            raise UsageProblem("Codes are shown only to a named person and for a reason.", "Add --reason TEXT.")
        store.note(who, REVEAL_ACTION, message.id, reason, {"answer": "triage"})
    else:
        message = message_hidden(message)
    secrets = frozenset() if reveal else secrets_of(message.facts)
    questions = tuple(masked_question(question, secrets) for question in message.questions)
    strongest = sorted(message.facts, key=lambda n: (not n.chosen, list(KIND_WORDS).index(n.fact.kind), -n.fact.odds))
    values = [_shown(noted, reveal) for noted in strongest]
    texts = clear(message) if reveal and clear is not None else {}
    documents = tuple(
        replace(d, text=texts.get(d.name) or mask_in(d.text, secrets), reason=mask_in(d.reason, secrets))
        for d in message.documents
    )
    return ShownMessage(
        message=message,
        subject=mask_in(message.subject, secrets),
        questions=questions,
        likely=next((q.candidates[0] for q in questions if q.candidates), None),
        chosen=tuple(value for value in values if value.noted.chosen),
        others=tuple(value for value in values if not value.noted.chosen),
        documents=documents,
        history=tuple(store.journal(subject=message.id)),
        revealed=reveal,
    )


def question_json(question: Question, settling: str) -> dict[str, object]:
    """Return a question: its code, the finding as a sentence, what is asked, what ``settling`` will change, and its
    candidates, likeliest first."""
    candidates = [_candidate_json(candidate) for candidate in question.candidates]
    asks = {"code": question.code, "sentence": question.sentence, "asks": asked(question), "changes": settling}
    return asks | {"candidates": candidates}


def sender_text(message: MessageRecord) -> str:
    """Return the sender as ``Name <address>``, or what there is of it."""
    if message.sender is None:
        return ""
    name, address = message.sender.name, message.sender.address
    return f"{name} <{address}>" if name and address else name or address


def _candidate_json(candidate: Candidate) -> dict[str, object]:
    return {"ref": candidate.ref, "label": candidate.label, "evidence": list(candidate.evidence)}


def _open_message(message: MessageRecord) -> OpenMessage:
    secrets = secrets_of(message.facts)
    return OpenMessage(
        id=message.id,
        received=message.received,
        kept=message.kept,
        subject=mask_in(message.subject, secrets),
        sender=sender_text(message),
        questions=tuple(masked_question(question, secrets) for question in message.questions),
        changes=tuple(changes(question, message) for question in message.questions),
    )


def masked_question(question: Question, secrets: Iterable[str]) -> Question:
    """Hide codes in a question: in its sentence and in all that its candidates say."""
    hidden = frozenset(secrets)

    def candidate(item: Candidate) -> Candidate:
        ref = mask(item.ref) if item.ref in hidden else item.ref
        return Candidate(ref, mask_in(item.label, hidden), tuple(mask_in(line, hidden) for line in item.evidence))

    return Question(question.code, mask_in(question.sentence, hidden), tuple(candidate(c) for c in question.candidates))


def _shown(noted: Noted, reveal: bool) -> ShownValue:
    fact = noted.fact
    return ShownValue(KIND_WORDS[fact.kind], mask_value(fact.kind, fact.value, reveal=reveal), origin(noted), noted)


def age(message: MessageRecord) -> tuple[str, int]:
    """Oldest first: by the moment received, else kept; then in the order they came in."""
    return message.received or message.kept, int(message.id[1:])
