"""Answers offered beside what is on record: a new customer, in its place among the likely ones; a code corrected."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from counterfoil.model import CODE_KINDS, Candidate, Fact, Kind, Question
from counterfoil.records import linkage, refs
from counterfoil.records.case import LABELS, Case
from counterfoil.records.codes import corrected
from counterfoil.records.known import CONTACT_KINDS

NEW = "new"
#: Questions that a new customer may answer.
_WHOSE = frozenset({"customer_unclear", "holder_unclear"})


def offered(case: Case, questions: Iterable[Question]) -> tuple[Question, ...]:
    """Return questions with a new customer among the candidates of those that ask whose the message is.

    A new customer stands behind candidates whose name agrees with the message's and before all others; last of all
    where the message gives no certain name.
    """
    return tuple(_with_new(case, q) if q.code in _WHOSE else q for q in questions)


def _with_new(case: Case, question: Question) -> Question:
    candidates = [c for c in question.candidates if c.ref != NEW]
    new = Candidate(NEW, f"new customer {case.name()}" if case.name() else "new customer", evidence_for_new(case))
    place = len(candidates)
    if case.name() is not None:
        place = next((n for n, c in enumerate(candidates) if not _agrees(case, c)), place)
    return replace(question, candidates=(*candidates[:place], new, *candidates[place:]))


def corrections(fact: Fact) -> tuple[Candidate, ...]:
    """Return the correction of look-alikes that a code admits, as the likeliest answer; none is taken unasked."""
    if fact.kind not in CODE_KINDS:
        return ()
    shown = [corrected(fact.kind, reading) for reading in fact.readings]
    return tuple(Candidate(ref, f"{ref}, look-alikes corrected", fact.evidence) for ref in shown)


def _agrees(case: Case, candidate: Candidate) -> bool:
    return candidate.ref.startswith(refs.CUSTOMER) and case.agrees(int(candidate.ref[1:]))


def evidence_for_new(case: Case) -> tuple[str, ...]:
    """Return in words what speaks for and against somebody who is not on record yet."""
    words = []
    fact = case.found(Kind.CUSTOMER_NAME)
    if fact is None:
        words.append("no name was found: enter one with it")
    elif case.name() is None:
        words.append(f"the name {fact.value} is not certain: enter it with it")
    elif not linkage.one_person(fact.value):
        words.append(f"“{fact.value}” is not a given and a family name of one person")
    else:
        namesakes = [n for n in case.namesakes() if n in case.known.customers]
        words.append(f"{_names(namesakes)} is called alike" if namesakes else "nobody of this name is known")
    for kind in CONTACT_KINDS:
        contact = case.certain(kind)
        if contact is not None:
            owners = sorted(case.known.customers_by(kind, contact.normal))
            known = f"is known, of {_names(owners)}" if owners else "is not known"
            words.append(f"the {LABELS[kind]} {known}")
    held = [m for m in case.machines_named() if m.holder is not None]
    words += [f"M{m.number} would change hands" for m in held]
    return tuple(words)


def _names(numbers: list[int]) -> str:
    return ", ".join(f"C{n}" for n in numbers)
