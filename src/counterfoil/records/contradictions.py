"""Questions about values that contradict each other, or what is on record: dates, and where the other side stands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import timedelta

import sqlalchemy as sa

from counterfoil.model import CODE_KINDS, DATE_KINDS, SOLD_SINCE, Candidate, Fact, Kind, Question
from counterfoil.records import refs, schema
from counterfoil.records.case import LABELS, Case
from counterfoil.records.codes import shown
from counterfoil.records.rows import fact_of, source_of

_fact = schema.fact
#: A message may be read on the day before the one on which it was written: the world has 26 hours of time zones.
_ZONES = timedelta(days=1)


def contradictions(conn: sa.Connection, case: Case, machine: int | None) -> list[Question]:
    """Ask where dates cannot all be right.

    Asked for: registered before purchased; purchased or registered after the message was received, or before the model
    was sold; another purchase date than the one on record of the machine and its holder; another registration date for
    codes on record.

    Args:
        conn: a connection.
        case: the message.
        machine: the number of the machine it is about, None for a new or unknown one.
    """
    dates = {kind: fact for kind in DATE_KINDS if (fact := case.certain(kind)) and len(fact.readings) < 2}
    questions = [*_backwards(dates), *_too_late(case, dates), *_too_early(conn, case, machine, dates)]
    if machine is not None and dates:
        questions += _otherwise(conn, case, machine, dates)
    return questions


def _backwards(dates: dict[Kind, Fact]) -> Iterable[Question]:
    bought, registered = dates.get(Kind.PURCHASE_DATE), dates.get(Kind.REGISTRATION_DATE)
    if bought is not None and registered is not None and registered.normal < bought.normal:
        sentence = f"By its dates the machine was registered on {registered.normal}, before the day it was bought."
        yield Question("date_contradiction", sentence, tuple(_as_read(fact) for fact in (bought, registered)))


def _too_late(case: Case, dates: dict[Kind, Fact]) -> Iterable[Question]:
    if case.received is None:
        return
    last = (case.received + _ZONES).isoformat()
    for kind in sorted(dates):
        fact = dates[kind]
        if fact.normal > last:
            sentence = f"The {LABELS[kind]} {fact.normal} lies after the day of the message, {case.received}."
            yield Question("date_contradiction", sentence, (_as_read(fact),))


def _too_early(conn: sa.Connection, case: Case, machine: int | None, dates: dict[Kind, Fact]) -> Iterable[Question]:
    """Ask where the machine is older than its model: read in the message, or on record of the machine."""
    model = case.found(Kind.MODEL)
    if model is not None and (model.odds <= 0 or Kind.MODEL in case.reading.conflicts):
        model = None
    if model is None and machine is not None and dates:
        query = sa.select(_fact).where(_fact.c.machine_id == machine, _fact.c.kind == Kind.MODEL.value)
        row = conn.execute(query.order_by(_fact.c.id.desc()).limit(1)).one_or_none()
        model = None if row is None else fact_of(row)
    since = None if model is None else sold_since(model)
    for kind in sorted(dates):
        fact = dates[kind]
        if model is not None and since is not None and is_before(fact.normal, since):
            sentence = f"The {LABELS[kind]} {fact.normal} lies before {since}, since when the {model.normal} is sold."
            yield Question("date_contradiction", sentence, (_as_read(fact),))


def sold_since(model: Fact) -> str | None:
    """Return the year, month or day (ISO 8601) from which a model is sold, None where its maker's file says nothing."""
    days = (words.removeprefix(SOLD_SINCE) for words in model.evidence if words.startswith(SOLD_SINCE))
    return next(days, None)


def is_before(day: str, since: str) -> bool:
    """Tell whether a day lies before a year, month or day; all ISO 8601."""
    return day[: len(since)] < since


def _otherwise(conn: sa.Connection, case: Case, machine: int, dates: dict[Kind, Fact]) -> Iterable[Question]:
    """Ask where the machine has another date on record, read from what should say the same."""
    known = case.known.machines.get(machine)
    if known is None or known.holder is None or not case.agrees(known.holder):
        # Somebody else bought it on another day: whose it is, is asked anyway.
        return
    kinds = [k.value for k in (*DATE_KINDS, Kind.ACTIVATION_CODE)]
    query = sa.select(_fact).where(_fact.c.machine_id == machine, _fact.c.kind.in_(kinds)).order_by(_fact.c.id)
    rows = conn.execute(query).all()
    code = case.found(Kind.ACTIVATION_CODE)
    # The same activation code is the same confirmation; another one, as after a swapped board, has a day of its own.
    same = {source_of(row) for row in rows if code is not None and row.normal == code.normal and row.kind == code.kind}
    for kind, fact in sorted(dates.items()):
        held = [r for r in rows if r.kind == kind and (kind is Kind.PURCHASE_DATE or source_of(r) in same)]
        if held and all(r.normal != fact.normal for r in held):
            other = held[-1]
            sentence = f"M{machine} has the {LABELS[kind]} {other.normal} on record, the message says {fact.normal}."
            yield Question("date_contradiction", sentence, (_as_read(fact), _on_record(other)))


def _as_read(fact: Fact) -> Candidate:
    page = f", page {fact.place.page}" if fact.place.page else ""
    return Candidate(fact.normal, f"{LABELS[fact.kind]} {fact.value}", (f"in {fact.place.document}{page}",))


def _on_record(row: sa.Row[tuple[object, ...]]) -> Candidate:
    fact = fact_of(row)
    return Candidate(fact.normal, f"{LABELS[fact.kind]} {fact.value}", (f"on record from {_place(row)}",))


def _place(row: sa.Row[tuple[object, ...]]) -> str:
    fact = fact_of(row)
    page = f", page {fact.place.page}" if fact.place.page else ""
    return f"{source_of(row)}, {fact.place.document}{page}"


def with_sources(conn: sa.Connection, case: Case, questions: Sequence[Question]) -> list[Question]:
    """Add to every machine offered in a question about codes where its codes were read: the other side's evidence.

    Args:
        conn: a connection.
        case: the message.
        questions: the questions of one message.
    """
    asked = [q for q in questions if q.code in ("code_conflict", "key_used_elsewhere")]
    offered = {c.ref for q in asked for c in q.candidates}
    numbers = {int(ref[1:]) for ref in offered if ref[:1] == refs.MACHINE and ref[1:].isdecimal()}
    if not numbers:
        return list(questions)
    kinds = sorted(kind.value for kind in CODE_KINDS)
    query = sa.select(_fact).where(_fact.c.machine_id.in_(sorted(numbers)), _fact.c.kind.in_(kinds))
    rows = conn.execute(query.order_by(_fact.c.at, _fact.c.id)).all()
    # Told last, and so kept, is what stands beside the very code that the message has as well.
    own = {(f.kind, f.normal) for kind in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE) if (f := case.found(kind))}
    beside = {(row.machine_id, source_of(row)) for row in rows if (row.kind, row.normal) in own}
    latest: dict[tuple[int, str], str] = {}
    for row in sorted(rows, key=lambda row: (row.machine_id, source_of(row)) in beside):
        kind = Kind(row.kind)
        latest[row.machine_id, row.kind] = f"{LABELS[kind]} {shown(kind, row.value)} in {_place(row)}"
    places = {f"{refs.MACHINE}{n}": tuple(latest[n, k] for k in kinds if (n, k) in latest) for n in sorted(numbers)}
    return [
        replace(q, candidates=tuple(replace(c, evidence=c.evidence + places.get(c.ref, ())) for c in q.candidates))
        if q in asked
        else q
        for q in questions
    ]
