"""What writes rows: numbers, whole messages in few statements, ownership, holders."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import sqlalchemy as sa

from counterfoil.model import CUSTOMER_KINDS, Decision, Document, Fact, Kind, Message, Reading, Standing
from counterfoil.records import refs, schema
from counterfoil.records.bulk import insert_many
from counterfoil.records.changes import Changes
from counterfoil.records.counters import take
from counterfoil.records.holders import hold
from counterfoil.records.rows import (
    Row,
    derived_rows,
    document_row,
    fact_row,
    message_row,
    now,
    packed,
    questions_rows,
)


def all_facts(reading: Reading) -> list[tuple[Fact, bool]]:
    """Return every fact of a reading with whether it is chosen; of equal ones only the first is."""
    left = dict(reading.chosen)
    found = []
    for fact in reading.facts:
        chosen = left.get(fact.kind) == fact
        if chosen:
            del left[fact.kind]
        found.append((fact, chosen))
    return found + [(fact, True) for fact in left.values()]


def write_message(
    conn: sa.Connection, message: Message, reading: Reading, source: str, decision: Decision, own: frozenset[Kind]
) -> tuple[int, Decision]:
    """Write a message with all that belongs to it, and file it where the decision says so.

    Args:
        conn: a connection that writes.
        message: the message.
        reading: what was read from it.
        source: where it came from, as shown to people.
        decision: what filing decided.
        own: the kinds whose chosen fact goes into the profiles.

    Returns:
        The message's number, and the decision with the ids of new profiles.
    """
    facts = all_facts(reading)
    new_customer, new_machine = int(decision.new_customer), int(decision.new_machine)
    questions = len(decision.questions)
    last = take(
        conn, revision=1, message=1, fact=len(facts), question=questions, customer=new_customer, machine=new_machine
    )
    number = int(last.message)
    customer = last.customer if new_customer else _number(refs.CUSTOMER, decision.customer)
    machine = last.machine if new_machine else _number(refs.MACHINE, decision.machine)
    changes = Changes(conn)
    make_profiles(changes, customer if new_customer else None, machine if new_machine else None)
    filed = decision.standing is Standing.FILED
    if not filed:
        customer = machine = None
    row = message_row(message, reading, source)
    row |= {"id": number, "standing": decision.standing.value, "filed": last.revision if filed else None}
    row |= {"customer_id": customer, "machine_id": machine, "why": packed(decision.why)}
    row |= {"revision": last.revision, "again": False}
    insert_many(conn, schema.message, [row])
    _write_documents(conn, number, message.documents, reading)
    rows = _fact_rows(facts, int(last.fact) - len(facts) + 1, number, row["dated"])
    for fact in rows if filed else ():
        if fact["chosen"] and fact["kind"] in own:
            fact |= owned_by(Kind(fact["kind"]), customer, machine)
    write_facts(conn, rows)
    if customer is not None and machine is not None:
        day, ref = since(reading, row["dated"]), f"{refs.MESSAGE}{number}"
        hold(changes, customer, machine, day, ref, int(last.revision), fresh=decision.new_machine)
    if questions:
        insert_many(
            conn, schema.question, questions_rows(decision.questions, number, int(last.question) - questions + 1)
        )
    if filed:
        customer_ref, machine_ref = refs.ref(refs.CUSTOMER, customer), refs.ref(refs.MACHINE, machine)
        decision = replace(decision, customer=customer_ref, machine=machine_ref)
    return number, decision


def make_profiles(changes: Changes, customer: int | None, machine: int | None) -> None:
    """Make an empty customer and an empty machine with the numbers given; None makes none."""
    if customer is not None:
        changes.insert("customer", {"id": customer, "at": now()})
    if machine is not None:
        changes.insert("machine", {"id": machine, "at": now()})


def owned_by(kind: Kind, customer: int | None, machine: int | None) -> Row:
    """Return the columns that give a fact to its profile: what a person is called to the customer, all else to the
    machine."""
    if kind in CUSTOMER_KINDS:
        return {"customer_id": customer, "machine_id": None}
    return {"customer_id": None, "machine_id": machine}


def write_facts(conn: sa.Connection, rows: Sequence[Row]) -> None:
    """Insert rows of facts and all by which they are found."""
    insert_many(conn, schema.fact, rows)
    pieces, names = derived_rows(rows)
    insert_many(conn, schema.piece, pieces)
    insert_many(conn, schema.name_key, names)


def stated_day(reading: Reading) -> str | None:
    """Return from when the customer has the machine as the message states it: purchase, else registration."""
    for kind in (Kind.PURCHASE_DATE, Kind.REGISTRATION_DATE):
        fact = reading.chosen.get(kind)
        if fact is not None and kind not in reading.conflicts and len(fact.readings) < 2:
            return fact.normal
    return None


def since(reading: Reading, dated: str) -> str:
    """Return from when the customer has the machine, ISO 8601: purchase, else registration, else the message's day."""
    return stated_day(reading) or dated[:10]


def _write_documents(conn: sa.Connection, number: int, documents: Sequence[Document], reading: Reading) -> None:
    rows = [document_row(d, n, reading) | {"message_id": number} for n, d in enumerate(documents)]
    insert_many(conn, schema.document, rows)


def _fact_rows(facts: Sequence[tuple[Fact, bool]], first: int, message: int, at: str) -> list[Row]:
    """Return the rows of a message's facts; of a code's many places, the chosen one is the one it is found by."""
    best: dict[tuple[Kind, str], int] = {}
    for n, (fact, chosen) in enumerate(facts):
        if chosen or (fact.kind, fact.normal) not in best:
            best[fact.kind, fact.normal] = n
    rows = []
    for n, (fact, chosen) in enumerate(facts):
        row = fact_row(first + n, fact, at, chosen=chosen, once=best[fact.kind, fact.normal] == n)
        rows.append(row | {"message_id": message})
    return rows


def _number(letter: str, ref: str | None) -> int | None:
    return None if ref is None else refs.number(letter, ref)
