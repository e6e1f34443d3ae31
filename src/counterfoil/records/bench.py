"""At the bench: a machine entered by hand, with the codes off the card and the firmware before and after an update."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace

import sqlalchemy as sa

from counterfoil.errors import SettlementRefused, UsageProblem
from counterfoil.model import CUSTOMER_KINDS, Fact, Kind, Place, Question, Reading
from counterfoil.patterns.normal import normal_version
from counterfoil.records import journal, refs, schema
from counterfoil.records.case import Case, Choice, as_certain, odd_values
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
from counterfoil.records.rows import Row, fact_row, now, source_of
from counterfoil.records.store import Store
from counterfoil.records.versions import version_key
from counterfoil.records.writing import make_profiles, owned_by, since, write_facts
from counterfoil.settings import Settings

#: Stands as the document's name of values that come from no document.
BENCH = "bench"
_IF_SURE = "Correct the value, or add --sure if it really is so."
#: A firmware version and when it was seen: before or after an update.
Staged = tuple[Fact, str | None]


@dataclass(slots=True)
class _Plan:
    """An entry before it is written: where it belongs, what speaks against it, and why it cannot be written at all."""

    case: Case
    link: Link
    machine: KnownMachine | None
    firmware: list[Staged]
    objections: list[str] = field(default_factory=list)
    stop: SettlementRefused | None = None


def record(
    store: Store,
    settings: Settings,
    *,
    customer: str | None,
    facts: Sequence[Fact],
    firmware_before: str | None = None,
    firmware_after: str | None = None,
    sure: bool = False,
    accepted: Collection[str] = (),
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
        accepted: contradictions a person has read and enters it against, as :func:`objections` gave them; any other
            refuses the entry.
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
        plan = _plan(conn, store, settings, customer, facts, staged(firmware_before, firmware_after), sure=sure)
        refuse(plan.objections, sure=sure, accepted=accepted)
        if plan.stop is not None:
            raise plan.stop
        return _write(conn, plan, against=plan.objections, who=who, why=why)


def objections(
    store: Store,
    settings: Settings,
    *,
    customer: str | None,
    facts: Sequence[Fact],
    firmware_before: str | None = None,
    firmware_after: str | None = None,
) -> tuple[str, ...]:
    """Return in sentences what speaks against an entry; nothing is written. Args and errors: see :func:`record`.

    Raises:
        SettlementRefused: it cannot be entered, whoever is sure.
    """
    with store.reading() as conn:
        plan = _plan(conn, store, settings, customer, facts, staged(firmware_before, firmware_after), sure=False)
    if plan.stop is not None:
        raise plan.stop
    return tuple(plan.objections)


def _plan(
    conn: sa.Connection,
    store: Store,
    settings: Settings,
    customer: str | None,
    facts: Sequence[Fact],
    firmware: list[Staged],
    *,
    sure: bool,
) -> _Plan:
    """Find machine and customer, and what speaks against the values."""
    number = None
    if customer is not None and customer.strip().lower() != "new":
        number = refs.number(refs.CUSTOMER, store.customer(customer).id)
    reading = _reading(facts)
    choice = Choice(customer=number, new_customer=customer is not None and number is None, sure=sure)
    known = gather(conn, reading, None, settings.name_similarity, ([number] if number else [], ()))
    case, link = Case((), None, reading, settings, known, choice), Link()
    machine = find_machine(case, link)
    plan = _Plan(case, link, machine, firmware, odd(facts, settings))
    plan.objections += [q.sentence for q in _contradictions(conn, case, machine, link)]
    typed = [(fact, None) for kind, fact in reading.chosen.items() if kind is Kind.FIRMWARE_VERSION]
    plan.objections += backwards(conn, None if machine is None else machine.number, [*typed, *firmware])
    find_customer(case, machine, link)
    if customer is None and machine is not None and CUSTOMER_KINDS.isdisjoint(reading.chosen):
        # Nothing was said about anybody: the machine stays with whoever holds it.
        link.customer = machine.holder
    if link.customer is not None and link.new_machine:
        plan.objections += [q.sentence for q in misread_machine_id(conn, case, link.customer)]
    plan.objections += _taking_over(machine, link)
    plan.stop = _stop(plan)
    return plan


def _stop(plan: _Plan) -> SettlementRefused | None:
    """Return why it cannot be told which machine it is, or whose."""
    link = plan.link
    if plan.machine is None and not link.new_machine:
        return SettlementRefused("Nothing was entered: its identifiers belong to more than one machine.")
    if link.customer is None and not link.new_customer:
        asked = " ".join(q.sentence for q in link.questions)
        next_step = "Name the customer with --customer C3, or --customer new and --set customer_name=NAME."
        return SettlementRefused(f"Nothing was entered. {asked or 'No customer was named.'}", next_step)
    if link.new_customer and Kind.CUSTOMER_NAME not in plan.case.reading.chosen:
        return SettlementRefused(
            "Nothing was entered: a new customer needs a name.", "Add --set customer_name=NAME, or name a known one."
        )
    return None


def _reading(facts: Sequence[Fact]) -> Reading:
    """Return what was entered as a reading, every value certain."""
    chosen = {fact.kind: as_certain(replace(fact, place=Place(BENCH))) for fact in facts}
    if len(chosen) < len(facts):
        raise UsageProblem("A kind of value was given twice.", "Give each kind once.")
    if Kind.MACHINE_ID not in chosen and Kind.SERIAL_NUMBER not in chosen:
        raise UsageProblem(
            "Nothing says which machine it is.", "Add --set machine_id=VALUE or --set serial_number=VALUE."
        )
    return Reading(tuple(chosen.values()), chosen)


def odd(facts: Sequence[Fact], settings: Settings) -> list[str]:
    """Return as sentences what is odd about the values themselves: check digits, shapes, dates with two readings."""
    return [f"{sentence[:1].upper()}{sentence[1:]}." for sentence in odd_values(facts, settings)]


def _contradictions(conn: sa.Connection, case: Case, machine: KnownMachine | None, link: Link) -> list[Question]:
    """Return what in the records, or in the values themselves, speaks against entering the values."""
    found = list(link.questions)
    if machine is not None:
        found += known_codes(case, machine)
    found += keys_elsewhere(case, machine)
    return found + contradictions(conn, case, None if machine is None else machine.number)


def _taking_over(machine: KnownMachine | None, link: Link) -> list[str]:
    """Say where a machine would change hands in passing: one mistyped number would give its codes to somebody else."""
    if machine is None or (link.customer is None and not link.new_customer):
        return []
    customer = None if link.customer is None else f"{refs.CUSTOMER}{link.customer}"
    what = None
    if machine.holder is not None and machine.holder != link.customer:
        what = f"M{machine.number} is held by C{machine.holder}"
    elif machine.holder is None and any(former == link.customer for former, _ in machine.former):
        until = max(day for former, day in machine.former if former == link.customer)
        what = f"{customer} had M{machine.number} until {until}, and nobody has it now"
    step = f"say first who has it: `counterfoil handover M{machine.number} --to {customer or 'new'}`"
    return [] if what is None else [f"{what}; {step}."]


def refuse(objections: Iterable[str], *, sure: bool, accepted: Collection[str]) -> None:
    """Refuse an entry against which something speaks that nobody has accepted.

    Raises:
        SettlementRefused: names all of it.
    """
    text = " ".join(sentence for sentence in objections if sentence not in accepted)
    if text and not sure:
        raise SettlementRefused(f"Nothing was entered. {text}", _IF_SURE)


# --- firmware -------------------------------------------------------------------------------------


def staged(before: str | None, after: str | None) -> list[Staged]:
    """Return firmware versions as facts with their stage.

    Raises:
        UsageProblem: one holds no version.
    """
    found: list[Staged] = []
    for version, stage in ((before, "before"), (after, "after")):
        if version is None:
            continue
        normal = normal_version(version)
        if not normal:
            raise UsageProblem(f"{version!r} is no firmware version.", "Give it as digits and dots: 2.10.")
        fact = Fact(Kind.FIRMWARE_VERSION, version.strip(), normal, Place(BENCH), "entered by hand")
        found.append((as_certain(fact), stage))
    return found


def backwards(
    conn: sa.Connection, machine: int | None, firmware: Sequence[Staged], until: str | None = None
) -> list[str]:
    """Say where firmware goes backwards: after an update, or against what was noted last.

    Args:
        conn: a connection.
        machine: its number, None for a new one.
        firmware: the versions, in the order in which the machine had them.
        until: only what was noted up to then counts, ISO 8601 in UTC.
    """
    last = None if machine is None else _last_noted(conn, machine, until)
    found = []
    for n, (fact, _) in enumerate(firmware):
        key = version_key(fact.value)
        earlier = [other for other, _ in firmware[:n]]
        for other in earlier:
            older = version_key(other.value)
            if key is not None and older is not None and key < older:
                found.append(f"The firmware after the update, {fact.value}, is older than before it, {other.value}.")
        noted = None if last is None else version_key(last.value)
        if last is not None and key is not None and noted is not None and key < noted:
            when = f"{last.at[:10]} ({source_of(last)})"
            found.append(f"The firmware {fact.value} is older than {last.value}, noted of M{machine} on {when}.")
    return found


def _last_noted(conn: sa.Connection, machine: int, until: str | None) -> sa.Row[tuple[object, ...]] | None:
    """Return the row of the firmware noted last; of one moment, the one after an update."""
    table = schema.fact
    query = sa.select(table).where(table.c.machine_id == machine, table.c.kind == Kind.FIRMWARE_VERSION.value)
    rows = [row for row in conn.execute(query) if until is None or row.at <= until]
    stages = {"before": 0, None: 1, "after": 2}
    return max(rows, key=lambda row: (row.at, stages.get(row.stage, 1), row.id), default=None)


# --- writing --------------------------------------------------------------------------------------


def _write(conn: sa.Connection, plan: _Plan, *, against: Sequence[str], who: str, why: str) -> tuple[str, str, str]:
    """Write profiles, facts and holder, with their line in the journal."""
    changes, at, link, machine = Changes(conn), now(), plan.link, plan.machine
    facts: list[Staged] = [(fact, None) for fact in plan.case.reading.chosen.values()]
    facts += plan.firmware
    last = take(conn, customer=int(link.new_customer), machine=int(machine is None), fact=len(facts), revision=1)
    customer_number = int(last.customer) if link.customer is None else link.customer
    machine_number = int(last.machine) if machine is None else machine.number
    customer_ref, machine_ref = f"{refs.CUSTOMER}{customer_number}", f"{refs.MACHINE}{machine_number}"
    detail: Row = {"customer": customer_ref, "machine": machine_ref, "revision": last.revision}
    detail |= {"values": described(facts), "sure": bool(against), "against": list(against)}
    holder = None if machine is None else refs.ref(refs.CUSTOMER, machine.holder)
    detail |= {"before": {"holder": holder}, "after": {"holder": customer_ref}}
    entry = journal.add(conn, who=who, action=RECORD_ACTION, subject=machine_ref, why=why, detail=detail, changes=[])
    make_profiles(changes, customer_number if link.new_customer else None, machine_number if machine is None else None)
    first = int(last.fact) - len(facts) + 1
    for row in write_entered(conn, facts, first, entry, at, customer_number, machine_number):
        changes.inserted("fact", row["id"])
    day = since(plan.case.reading, at)
    source = f"{refs.JOURNAL}{entry}"
    hold(changes, customer_number, machine_number, day, source, int(last.revision), fresh=machine is None)
    journal.complete(conn, entry, detail, changes.made)
    return customer_ref, machine_ref, source


def write_entered(
    conn: sa.Connection, facts: Sequence[Staged], first: int, entry: int, at: str, customer: int, machine: int
) -> list[Row]:
    """Write facts that a person entered, and return their rows.

    Args:
        conn: a connection that writes.
        facts: the facts, firmware with its stage.
        first: the number of the first one; the others follow.
        entry: the number of the line in the journal.
        at: when it was so, ISO 8601 in UTC.
        customer: whose name and contacts they are.
        machine: the number of the machine.
    """
    rows: list[Row] = []
    for n, (fact, stage) in enumerate(facts):
        row = fact_row(first + n, fact, at, chosen=True)
        row |= {"journal_id": entry, "confirmed": True, "stage": stage}
        rows.append(row | owned_by(fact.kind, customer, machine))
    write_facts(conn, rows)
    return rows


def described(facts: Iterable[Staged]) -> list[Row]:
    """Return facts as a line of the journal shows them: codes masked, firmware with its stage."""
    found = []
    for fact, stage in facts:
        row = {"kind": fact.kind.value, "value": shown(fact.kind, fact.value)}
        found.append(row | ({"when": stage} if stage else {}))
    return found
