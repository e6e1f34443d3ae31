"""What a question asks of a person, which answers it takes, and what settling it will change.

An answer is what a settlement needs: a customer, a machine, or a value with its kind. Candidates stand likeliest
first; one that cannot be taken as an answer by itself (a covered code that fits two values) has none.
"""

from __future__ import annotations

from dataclasses import dataclass

from counterfoil.answers.masking import mask
from counterfoil.answers.provenance import KIND_WORDS
from counterfoil.model import CUSTOMER_KINDS, DATE_KINDS, SECRET_KINDS, Candidate, Kind, MessageRecord, Question
from counterfoil.records.codes import corrected, masked

NEW = "new"
#: Question code -> what a person has to find out.
ASKED = {
    "document_unreadable": "What does the document say? Look at it and enter its values, or ask for a readable one.",
    "attachment_missing": "Where is the attachment? Ask the customer for it, or enter the values.",
    "code_conflict": "Which one is right?",
    "code_read_by_eye": "Does the picture really say so? Look at it.",
    "date_ambiguous": "Which day is meant?",
    "date_contradiction": "Which day is right?",
    "check_failed": "What does the original really say?",
    "fact_missing": "What is the missing value? Enter it, or ask the customer for it.",
    "fact_uncertain": "Is this value right?",
    "key_used_elsewhere": "Is it that machine, or was the code mistyped?",
    "holder_unclear": "Whose machine is it now?",
    "customer_unclear": "Whose is it?",
}
_OTHER = "What is right?"


@dataclass(frozen=True, slots=True)
class Answer:
    """What a candidate gives a settlement: the id of a customer (or ``new``), of a machine, or a value of a kind.

    ``value`` is in clear: it is for settling only and never shown.
    """

    customer: str | None = None
    machine: str | None = None
    value: tuple[Kind, str] | None = None


def asked(question: Question) -> str:
    """Return what a question asks: its sentence, and what has to be found out where it does not end in that."""
    if question.sentence.endswith("?"):
        return question.sentence
    return f"{question.sentence} {_to_find_out(question)}"


def _to_find_out(question: Question) -> str:
    return ASKED.get(question.code, _OTHER)


def answer(candidate: Candidate, message: MessageRecord) -> Answer | None:
    """Return what a candidate means for a settlement.

    Args:
        candidate: of a question about the message; values may be covered.
        message: the message.

    Returns:
        The answer, None where the candidate fits no value of the message or more than one.
    """
    ref = candidate.ref
    if ref == NEW or _is_id(ref, "C"):
        return Answer(customer=ref)
    if _is_id(ref, "M"):
        return Answer(machine=ref)
    values: dict[tuple[Kind, str], str] = {}
    for fact in (noted.fact for noted in message.facts):
        if ref in fact.readings or (fact.kind in DATE_KINDS and ref == fact.normal):
            values[fact.kind, ref] = ref
        elif fact.kind in SECRET_KINDS and (found := [r for r in fact.readings if corrected(fact.kind, r) == ref]):
            values[fact.kind, found[0]] = found[0]
        elif ref == fact.value or (fact.kind in SECRET_KINDS and ref in _covered(fact.value)):
            values[fact.kind, fact.normal] = fact.value
    if len(values) != 1:
        return None
    ((kind, _), value) = next(iter(values.items()))
    return Answer(value=(kind, value))


def changes(question: Question, message: MessageRecord) -> str:
    """Return, as a sentence, what settling a question will change; codes are counted, not shown.

    Args:
        question: the question.
        message: the message it is about.
    """
    words = _profile_words(message)
    what = f"its {_listed(words)}" if words else "what is entered"
    match question.code:
        case "holder_unclear":
            return f"Settling files {message.id} with {what}; another customer than the holder may become the holder."
        case "customer_unclear":
            return f"Settling files {message.id} to the customer chosen, with {what}."
        case "key_used_elsewhere":
            return f"Settling files {message.id} with {what} to that machine, which then shows this machine ID."
        case "code_conflict" if any(_is_id(c.ref, "M") for c in question.candidates):
            return (
                f"Settling files {message.id} with {what} to that machine, beside what is on record there. It needs "
                "--sure (in the walk: !); of two codes for one upgrade the restore sheet then gives neither."
            )
        case "document_unreadable" | "attachment_missing" | "fact_missing":
            more = " and what is entered" if words else ""
            return f"Settling files {message.id} with {what}{more}."
        case _:
            return f"Settling files {message.id} with {what}."


def kinds_in(question: Question) -> tuple[Kind, ...]:
    """Return the kinds of values that a question's sentence names, in the order of the sentence."""
    found = []
    for kind in Kind:
        place = question.sentence.find(_IN_SENTENCES.get(kind, KIND_WORDS[kind]))
        if place >= 0:
            found.append((place, kind))
    return tuple(kind for _, kind in sorted(found))


#: Words of the rules' sentences where they differ from those of the answers.
_IN_SENTENCES = {Kind.CUSTOMER_NAME: "customer's name"}


def _profile_words(message: MessageRecord) -> list[str]:
    kinds = dict.fromkeys(n.fact.kind for n in message.facts if n.chosen)
    return [KIND_WORDS[kind] for kind in KIND_WORDS if kind in kinds and kind not in CUSTOMER_KINDS]


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _is_id(ref: str, letter: str) -> bool:
    return ref[:1] == letter and ref[1:].isdecimal() and len(ref) > 1


def _covered(value: str) -> frozenset[str]:
    """Return the forms in which a code may stand in a question, covered by the records or by the answers."""
    return frozenset({mask(value), masked(value)})
