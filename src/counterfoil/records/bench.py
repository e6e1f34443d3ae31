"""At the bench: a machine entered by hand, with the codes off the card and the firmware before and after an update."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import sqlalchemy as sa

from counterfoil.errors import SettlementRefused, UsageProblem
from counterfoil.model import CUSTOMER_KINDS, Fact, Kind, Place, Question, Reading
from counterfoil.patterns.normal import normal_version
from counterfoil.records import journal, refs
from counterfoil.records.case import Case, Choice, as_certain, refuse_odd
from counterfoil.records.changes import Changes
from counterfoil.records.codes import shown
from counterfoil.records.contradictions import contradictions
from counterfoil.records.counters import take
from counterfoil.records.holders import RECORD_ACTION, hold
from counterfoil.records.known import KnownMachine, gather
from counterfoil.records.linking import (
    Link,
    find_customer,
    find_machine,
    keys_elsewhere,
    known_codes,
    misread_machine_id,
)
from counterfoil.records.rows import Row, fact_row, now
from counterfoil.records.store import Store
from counterfoil.records.writing import make_profiles, owned_by, since, write_facts
from counterfoil.settings import Settings

#: Stands as the document's name of values that come from no document.
BENCH = "bench"


def record(
    store: Store,
    settings: Settings,
    *,
    customer: str | None,
    facts: Sequence[Fact],
    firmware_before: str | None = None,
    firmware_after: str | None = None,
    sure: bool = False,
    who: str,
    why: str,
) -> tuple[str, str, str]:
    """Enter a machine by hand: found by its machine ID or serial number, or new.

    Args:
        store: the records.
        settings: the shop's.
        customer: whose it is: an id, ``new``, or None to let the rules find a known customer by name and contact, or
            make a new one where nobody is alike; the holder where no value says who it is.
        facts: what was read off the machine and the card, one value of a kind.
        firmware_before: the version before an update, or the one noted.
        firmware_after: the version after it.
        sure: enter it against contradictions.
        who: the person.
        why: their reason.

    Returns:
        The ids of the customer, the machine and the journal entry.

    Raises:
        RecordUnknown: there is no such customer.
        SettlementRefused: a value contradicts the records or its check digit, or it cannot be told whose it is.
        UsageProblem: nothing identifies the machine, or a kind was given twice.
    """
    with store.write() as conn:
        number = None
        if customer is not None and customer.strip().lower() != "new":
            number = refs.number(refs.CUSTOMER, store.customer(customer).id)
        refuse_odd("Nothing was entered", facts, settings, sure=sure)
        reading = _reading(facts)
        choice = Choice(customer=number, new_customer=customer is not None and number is None, sure=sure)
        known = gather(conn, reading, None, settings.name_similarity, ([number] if number else [], ()))
        case = Case((), None, reading, settings, known, choice)
        link = Link()
        machine = find_machine(case, link)
        _refuse(_contradictions(conn, case, machine, link), sure=sure)
        find_customer(case, machine, link)
        if customer is None and machine is not None and CUSTOMER_KINDS.isdisjoint(reading.chosen):
            # Nothing was said about anybody: the machine stays with whoever holds it.
            link.customer = machine.holder
        if link.customer is not None and link.new_machine:
            _refuse(misread_machine_id(conn, case, link.customer), sure=sure)
        if machine is not None and not sure:
            _refuse_taking_over(machine, link)
        if machine is None and not link.new_machine:
            raise SettlementRefused("Nothing was entered: its identifiers belong to more than one machine.")
        if link.customer is None and not link.new_customer:
            _refuse(link.questions, sure=False)
            raise SettlementRefused("Nothing was entered: no customer was named.", "Name a customer, or give a name.")
        if link.new_customer and Kind.CUSTOMER_NAME not in reading.chosen:
            raise SettlementRefused("Nothing was entered: a new customer needs a name.", "Give the name.")
        firmware = _firmware(firmware_before, firmware_after)
        return _write(conn, case, link, machine, firmware, who=who, why=why)


def _refuse_taking_over(machine: KnownMachine, link: Link) -> None:
    """Refuse to let a machine change hands in passing: one mistyped number would give its codes to somebody else."""
    customer = None if link.customer is None else f"{refs.CUSTOMER}{link.customer}"
    if customer is None and not link.new_customer:
        return
    what = None
    if machine.holder is not None and machine.holder != link.customer:
        what = f"M{machine.number} is held by C{machine.holder}"
    elif machine.holder is None and any(former == link.customer for former, _ in machine.former):
        until = max(day for former, day in machine.former if former == link.customer)
        what = f"{customer} had M{machine.number} until {until}, and nobody has it now"
    if what is not None:
        step = (
            f"Say first who has it: `counterfoil handover M{machine.number} --to {customer or 'new'}`; or add --sure."
        )
        raise SettlementRefused(f"Nothing was entered: {what}.", step)


def _reading(facts: Sequence[Fact]) -> Reading:
    """Return what was entered as a reading, every value certain."""
    chosen = {fact.kind: as_certain(replace(fact, place=Place(BENCH))) for fact in facts}
    if len(chosen) < len(facts):
        raise UsageProblem("A kind of value was given twice.", "Give each kind once.")
    if Kind.MACHINE_ID not in chosen and Kind.SERIAL_NUMBER not in chosen:
        raise UsageProblem("Nothing says which machine it is.", "Give its machine ID or its serial number.")
    return Reading(tuple(chosen.values()), chosen)


def _contradictions(conn: sa.Connection, case: Case, machine: KnownMachine | None, link: Link) -> list[Question]:
    """Return what speaks against entering the values."""
    found = list(link.questions)
    if machine is not None:
        found += known_codes(case, machine)
    found += keys_elsewhere(case, machine)
    return found + contradictions(conn, case, None if machine is None else machine.number)


def _refuse(questions: Iterable[Question], *, sure: bool) -> None:
    text = " ".join(q.sentence for q in questions)
    if text and not sure:
        raise SettlementRefused(f"Nothing was entered. {text}")


def _firmware(before: str | None, after: str | None) -> list[tuple[Fact, str]]:
    """Return firmware versions as facts with their stage; a version that is none is refused."""
    found = []
    for version, stage in ((before, "before"), (after, "after")):
        if version is None:
            continue
        normal = normal_version(version)
        if not normal:
            raise UsageProblem(f"{version!r} is no firmware version.", "Give it as digits and dots: 2.10.")
        fact = Fact(Kind.FIRMWARE_VERSION, version.strip(), normal, Place(BENCH), "entered by hand")
        found.append((as_certain(fact), stage))
    return found


def _write(
    conn: sa.Connection,
    case: Case,
    link: Link,
    machine: KnownMachine | None,
    firmware: Sequence[tuple[Fact, str]],
    *,
    who: str,
    why: str,
) -> tuple[str, str, str]:
    """Write profiles, facts and holder, with their line in the journal."""
    changes, at = Changes(conn), now()
    facts: list[tuple[Fact, str | None]] = [(fact, None) for fact in case.reading.chosen.values()]
    facts += firmware
    last = take(conn, customer=int(link.new_customer), machine=int(machine is None), fact=len(facts), revision=1)
    customer_number = int(last.customer) if link.customer is None else link.customer
    machine_number = int(last.machine) if machine is None else machine.number
    customer_ref, machine_ref = f"{refs.CUSTOMER}{customer_number}", f"{refs.MACHINE}{machine_number}"
    detail = {
        "customer": customer_ref,
        "machine": machine_ref,
        "revision": last.revision,
        "values": [_described(fact, stage) for fact, stage in facts],
        "sure": case.choice is not None and case.choice.sure,
        "before": {"holder": None if machine is None else refs.ref(refs.CUSTOMER, machine.holder)},
        "after": {"holder": customer_ref},
    }
    entry = journal.add(conn, who=who, action=RECORD_ACTION, subject=machine_ref, why=why, detail=detail, changes=[])
    make_profiles(changes, customer_number if link.new_customer else None, machine_number if machine is None else None)
    rows: list[Row] = []
    for n, (fact, stage) in enumerate(facts):
        row = fact_row(int(last.fact) - len(facts) + 1 + n, fact, at, chosen=True)
        row |= {"journal_id": entry, "confirmed": True, "stage": stage}
        rows.append(row | owned_by(fact.kind, customer_number, machine_number))
    write_facts(conn, rows)
    for row in rows:
        changes.inserted("fact", row["id"])
    day = since(case.reading, at)
    source = f"{refs.JOURNAL}{entry}"
    hold(changes, customer_number, machine_number, day, source, int(last.revision), fresh=machine is None)
    journal.complete(conn, entry, detail, changes.made)
    return customer_ref, machine_ref, source


def _described(fact: Fact, stage: str | None) -> Row:
    described = {"kind": fact.kind.value, "value": shown(fact.kind, fact.value)}
    return described | ({"when": stage} if stage else {})
