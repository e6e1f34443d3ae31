"""What can keep a message open, one small rule a question: what was read, what is missing, what is uncertain."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from counterfoil.model import (
    ALSO_IN_SYMBOL,
    ALSO_IN_TEXT,
    CODE_KINDS,
    DATE_KINDS,
    Candidate,
    Check,
    Document,
    Fact,
    Kind,
    Problem,
    Question,
)
from counterfoil.records.case import CONFIRMED_ODDS, LABELS, Case
from counterfoil.records.offers import corrections

#: Question codes in the order in which they are asked.
ORDER = (
    "document_unreadable",
    "attachment_missing",
    "code_conflict",
    "code_read_by_eye",
    "date_ambiguous",
    "date_contradiction",
    "check_failed",
    "fact_missing",
    "fact_uncertain",
    "key_used_elsewhere",
    "holder_unclear",
    "customer_unclear",
)
#: Begin of the names of documents that were attached for their own sake.
_ATTACHED = ("pdf:", "picture:", "file:")
#: Begin of the names of documents whose text was read off a picture.
_SEEN = ("picture:", "scan:", "layer:")
_PROBLEMS = {
    Problem.ENCRYPTED: "is encrypted",
    Problem.SCANNED: "is a scan without text",
    Problem.PICTURE: "is a picture",
    Problem.DAMAGED: "is damaged",
    Problem.TOO_LARGE: "is too large to be read",
    Problem.UNKNOWN_TYPE: "is of a type that is not read",
}


def about_reading(case: Case) -> list[Question]:
    """Return the questions that the reading alone raises, in order."""
    return [question for rule in _RULES for question in rule(case)]


def document_unreadable(case: Case) -> Iterable[Question]:
    """Ask for every document that could not be read and was not merely decoration."""
    if case.choice is not None:
        return
    for document in case.documents:
        if is_unread(document):
            yield Question("document_unreadable", _why_unread(document), case.candidates())
        elif case.missing and is_seen(document) and not any(_is_code_in(document, f) for f in case.reading.facts):
            name = document.name.partition(":")[2]
            sentence = f"The document {name} was read by eye from a picture, and no code was found in it."
            yield Question("document_unreadable", sentence, case.candidates())


def is_seen(document: Document) -> bool:
    """Tell whether a document was read off a picture."""
    return document.name.startswith(_SEEN) and document.problem is None and not document.inline


def _is_code_in(document: Document, fact: Fact) -> bool:
    return fact.kind in CODE_KINDS and fact.place.document == document.name


def is_unread(document: Document) -> bool:
    """Tell whether a document that was attached for its own sake could not be read."""
    return document.problem not in (None, Problem.EMPTY) and not document.inline


def _why_unread(document: Document) -> str:
    name = document.name.partition(":")[2] or document.name
    what = _PROBLEMS.get(document.problem or Problem.DAMAGED, "could not be read")
    reason = f": {document.reason.rstrip('.')}." if document.reason else "."
    return f"The document {name} {what}{reason}"


def attachment_missing(case: Case) -> Iterable[Question]:
    """Ask where the text speaks of an attachment, none came, and what is needed is not in the text."""
    attached = any(d.name.startswith(_ATTACHED) and not d.inline for d in case.documents)
    if case.choice is None and case.reading.mentions_attachment and case.missing and not attached:
        sentence = f"The message speaks of an attachment, but none came with it; not found: {_list(case.missing)}."
        yield Question("attachment_missing", sentence, case.candidates())


def code_conflict(case: Case) -> Iterable[Question]:
    """Ask where the message holds two different values for a code."""
    for kind in sorted(CODE_KINDS & set(case.reading.conflicts)):
        values = case.reading.conflicts[kind]
        shown = " and ".join(dict.fromkeys(case.shown(f) for f in values))
        sentence = f"The message holds different values for the {LABELS[kind]}: {shown}."
        yield Question("code_conflict", sentence, _values(case, values))


def code_read_by_eye(case: Case) -> Iterable[Question]:
    """Ask for every code that was read off a picture only: letters and digits look alike there."""
    for kind in sorted(CODE_KINDS):
        fact = case.found(kind)
        if fact is not None and kind not in case.reading.conflicts and is_by_eye(case, fact):
            wrong = ", and its check digit does not fit" if fact.check is Check.FAILED else ""
            sentence = f"The {LABELS[kind]} {case.shown(fact)} was read by eye from a picture{wrong}."
            offered = (*_values(case, [fact]), *corrections(fact))
            # A reading that cannot be right is not the likeliest.
            likely = offered[::-1] if fact.check is Check.FAILED and len(offered) == 2 else offered
            yield Question("code_read_by_eye", sentence, likely)


def is_by_eye(case: Case, fact: Fact) -> bool:
    """Tell whether a code rests on a picture alone, and nobody has confirmed it.

    It does not where a text, or a QR or bar code, gives it too; or where its check digit is right and the same
    characters stand in a text of the message, or in the records.
    """
    if fact.kind not in CODE_KINDS or fact.odds >= CONFIRMED_ODDS:
        return False
    same = [f for f in case.reading.facts if f.kind is fact.kind and f.normal == fact.normal]
    if any(not f.by_eye or ALSO_IN_SYMBOL in f.evidence for f in (*same, fact)):
        return False
    elsewhere = ALSO_IN_TEXT in fact.evidence or bool(case.known.machines_by(fact.kind, fact.normal))
    return not (fact.check is Check.PASSED and elsewhere)


def date_ambiguous(case: Case) -> Iterable[Question]:
    """Ask where a date can be read in two ways, or two dates of one kind stand in the message."""
    for kind in sorted(DATE_KINDS):
        fact = case.found(kind)
        if kind in case.reading.conflicts:
            values = case.reading.conflicts[kind]
            shown = " and ".join(dict.fromkeys(f.value for f in values))
            sentence = f"The message holds different values for the {LABELS[kind]}: {shown}."
            yield Question("date_ambiguous", sentence, _values(case, values))
        elif fact is not None and len(fact.readings) > 1:
            sentence = f"The {LABELS[kind]} “{fact.value}” can be read as {' or '.join(fact.readings)}."
            candidates = tuple(Candidate(r, r, _place(fact)) for r in fact.readings)
            yield Question("date_ambiguous", sentence, candidates)


def check_failed(case: Case) -> Iterable[Question]:
    """Ask where a code's check digit says that it was misread or mistyped."""
    for kind in sorted(CODE_KINDS):
        fact = case.found(kind)
        if fact is not None and fact.check is Check.FAILED and not is_by_eye(case, fact):
            sentence = f"The check digit of the {LABELS[kind]} {case.shown(fact)} does not fit: a character is wrong."
            yield Question("check_failed", sentence, (*corrections(fact), *_values(case, [fact])))


def fact_missing(case: Case) -> Iterable[Question]:
    """Ask for what is needed and was not found, where no lost document explains it already."""
    explained = any(document_unreadable(case)) or any(attachment_missing(case))
    if not case.missing or (explained and case.choice is None):
        return
    machines = {
        number
        for kind in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
        if (fact := case.found(kind)) is not None
        for number in case.known.machines_by(kind, fact.normal)
    }
    candidates = [
        Candidate(f"M{n}", case.known.machines[n].label, ("has the same product key or activation code",))
        for n in sorted(machines)
    ]
    sentence = f"Not found in the message: {_list(case.missing)}."
    yield Question("fact_missing", sentence, (*candidates, *case.candidates()))


def fact_uncertain(case: Case) -> Iterable[Question]:
    """Ask where something needed was read, but not surely enough."""
    for fact in case.required():
        if fact.kind in CODE_KINDS and (fact.kind in case.reading.conflicts or is_by_eye(case, fact)):
            continue
        if fact.check is not Check.FAILED and fact.odds < case.settings.filing_odds:
            sentence = f"The {LABELS[fact.kind]} {case.shown(fact)} was read, but not surely enough to file by it."
            yield Question("fact_uncertain", sentence, (*corrections(fact), *_values(case, [fact])))


def name_conflict(case: Case) -> Iterable[Question]:
    """Ask where the message names two different customers."""
    values = case.reading.conflicts.get(Kind.CUSTOMER_NAME, ())
    if values and not (case.choice is not None and case.choice.names_customer):
        shown = " and ".join(dict.fromkeys(f.value for f in values))
        yield Question("customer_unclear", f"The message names different customers: {shown}.", case.candidates())


def explained(questions: Iterable[Question]) -> bool:
    """Tell whether a document that is lost or unread may still tell what is missing."""
    return any(q.code in ("document_unreadable", "attachment_missing") for q in questions)


def in_order(questions: Iterable[Question]) -> tuple[Question, ...]:
    """Return questions in the order in which they are asked, each sentence once."""
    return tuple(sorted(dict.fromkeys(questions), key=lambda q: ORDER.index(q.code)))


_RULES: tuple[Callable[[Case], Iterable[Question]], ...] = (
    document_unreadable,
    attachment_missing,
    code_conflict,
    code_read_by_eye,
    date_ambiguous,
    check_failed,
    fact_missing,
    fact_uncertain,
    name_conflict,
)


def _list(kinds: Iterable[Kind]) -> str:
    words = ["machine ID or serial number" if k is Kind.MACHINE_ID else LABELS[k] for k in kinds]
    return ", ".join(words)


def _values(case: Case, facts: Iterable[Fact]) -> tuple[Candidate, ...]:
    """Return the values themselves as candidates, likeliest first; codes that are kept like valuables stay covered."""
    by_normal: dict[str, list[Fact]] = {}
    for fact in sorted(facts, key=lambda f: -f.odds):
        by_normal.setdefault(fact.normal, []).append(fact)
    return tuple(
        Candidate(case.shown(same[0]), case.shown(same[0]), tuple(e for f in same for e in (*_place(f), *f.evidence)))
        for same in by_normal.values()
    )


def _place(fact: Fact) -> tuple[str, ...]:
    page = f", page {fact.place.page}" if fact.place.page else ""
    return (f"in {fact.place.document}{page}",)
