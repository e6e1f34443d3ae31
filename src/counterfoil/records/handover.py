"""A machine changes hands by hand: trade-in, sale, gift; and the dates of a holder are put right.

What is known of the machine, its codes included, stays with the machine: whoever holds it now gets them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import sqlalchemy as sa

from counterfoil.errors import SettlementRefused, UsageProblem
from counterfoil.model import CUSTOMER_KINDS, Fact, Kind, Place
from counterfoil.records import journal, refs, schema
from counterfoil.records.case import LABELS, as_certain, refuse_odd
from counterfoil.records.changes import Changes
from counterfoil.records.counters import take
from counterfoil.records.holders import HANDOVER_ACTION
from counterfoil.records.lookups import find_contacts
from counterfoil.records.rows import Row, fact_row, now
from counterfoil.records.store import Store
from counterfoil.records.writing import make_profiles, owned_by, write_facts
from counterfoil.settings import Settings

#: The action of a journal entry that corrects a holder's dates.
DATES_ACTION = "holder dates"
#: Said in place of a customer's id: somebody not on record yet; nobody, as after a trade-in or when it was scrapped.
NEW, NOBODY = "new", "nobody"
#: Stands as the document's name of what a person said at a handover.
HANDOVER = "handover"
_holding = schema.holding


@dataclass(frozen=True, slots=True)
class HandedOver:
    """What a handover did: the machine, who has it now (None: nobody), and the line of the journal."""

    machine: str
    customer: str | None
    journal: str


def hand_over(
    store: Store,
    settings: Settings,
    machine: str,
    to: str,
    *,
    on: date,
    facts: Sequence[Fact] = (),
    sure: bool = False,
    who: str,
    why: str,
) -> HandedOver:
    """Let a machine change hands on a day.

    Args:
        store: the records.
        settings: the shop's.
        machine: the machine's id, M7.
        to: the id of the customer who has it from then on, :data:`NEW` or :data:`NOBODY`.
        on: the day.
        facts: name and contacts of a new customer.
        sure: the new customer really is somebody else than the one who has one of the contacts already.
        who: the person.
        why: their reason.

    Raises:
        RecordUnknown: there is no such machine or customer.
        SettlementRefused: they have it already, the day lies before the holder's time or in the future, or a value
            fails its checks or is another customer's.
        UsageProblem: values are missing, or given for somebody who is on record.
    """
    with store.write() as conn:
        number = refs.number(refs.MACHINE, store.machine(machine).id)
        said = to.strip().lower()
        known = None if said in (NEW, NOBODY) else refs.number(refs.CUSTOMER, store.customer(to).id)
        current = _current(conn, number)
        _refuse_day(conn, number, current, known, on, nobody=said == NOBODY)
        _refuse_values(conn, settings, facts, new=said == NEW, sure=sure)
        return _write(conn, number, current, known, said, on, facts, who=who, why=why)


def _write(
    conn: sa.Connection,
    machine: int,
    current: sa.Row[Any] | None,
    known: int | None,
    said: str,
    on: date,
    facts: Sequence[Fact],
    *,
    who: str,
    why: str,
) -> HandedOver:
    """Write the handover with its line in the journal."""
    new = said == NEW
    last = take(conn, customer=int(new), fact=len(facts), holding=int(said != NOBODY), revision=1)
    customer = int(last.customer) if new else known
    before = None if current is None else f"{refs.CUSTOMER}{current.customer_id}"
    after = refs.ref(refs.CUSTOMER, customer)
    detail: Row = {"customer": after, "revision": int(last.revision), "on": on.isoformat()}
    detail |= {"before": {"holder": before}, "after": {"holder": after}}
    subject = f"{refs.MACHINE}{machine}"
    entry = journal.add(conn, who=who, action=HANDOVER_ACTION, subject=subject, why=why, detail=detail, changes=[])
    source = f"{refs.JOURNAL}{entry}"
    changes = Changes(conn)
    if new:
        make_profiles(changes, customer, None)
        _write_values(changes, facts, int(last.fact) - len(facts) + 1, customer, entry)
    if current is not None:
        changes.update("holding", current.id, {"until": on.isoformat(), "ended_by": source})
    if customer is not None:
        row = {"id": int(last.holding), "machine_id": machine, "customer_id": customer, "since": on.isoformat()}
        row |= {"until": None, "source": source, "ended_by": None, "revision": int(last.revision)}
        changes.insert("holding", row)
    journal.complete(conn, entry, detail, changes.made)
    return HandedOver(subject, after, source)


def _write_values(changes: Changes, facts: Sequence[Fact], first: int, customer: int | None, entry: int) -> None:
    """Write what is known of a new customer."""
    rows = []
    for number, fact in enumerate(facts, start=first):
        row = fact_row(number, as_certain(replace(fact, place=Place(HANDOVER))), now(), chosen=True)
        rows.append(row | {"journal_id": entry, "confirmed": True} | owned_by(fact.kind, customer, None))
    write_facts(changes.conn, rows)
    for row in rows:
        changes.inserted("fact", row["id"])


def _current(conn: sa.Connection, machine: int) -> sa.Row[Any] | None:
    query = sa.select(_holding).where(_holding.c.machine_id == machine, _holding.c.until.is_(None))
    return conn.execute(query.order_by(_holding.c.id.desc()).limit(1)).one_or_none()


def _refuse_day(
    conn: sa.Connection, machine: int, current: sa.Row[Any] | None, known: int | None, on: date, *, nobody: bool
) -> None:
    """Refuse a handover that changes nothing, or on a day on which it cannot have been."""
    if current is None and nobody:
        raise SettlementRefused(f"M{machine} is in nobody's hands already.", "Nothing is left to do.")
    if current is not None and known == current.customer_id:
        raise SettlementRefused(f"C{known} has M{machine} already.", "To correct a date, use `counterfoil holder`.")
    _refuse_future(on)
    query = sa.select(sa.func.max(_holding.c.since), sa.func.max(_holding.c.until))
    since, until = conn.execute(query.where(_holding.c.machine_id == machine)).one()
    latest = max([day for day in (since, until) if day is not None], default=None)
    if latest is not None and on.isoformat() < latest:
        what = f"M{machine} cannot change hands on {on.isoformat()}: its holders are known up to {latest}."
        raise SettlementRefused(what, "Give a later day with --on, or correct theirs with `counterfoil holder`.")


def _refuse_future(day: date) -> None:
    if day > date.today():
        raise SettlementRefused(f"{day.isoformat()} is in the future.", "Note it when it has happened.")


def _refuse_values(conn: sa.Connection, settings: Settings, facts: Sequence[Fact], *, new: bool, sure: bool) -> None:
    """Refuse values that no new customer can have, or that one on record has."""
    kinds = [fact.kind for fact in facts]
    if not new:
        if facts:
            raise UsageProblem("Values were given for somebody who is on record.", "Give them with `--to new` only.")
        return
    if Kind.CUSTOMER_NAME not in kinds or not CUSTOMER_KINDS.issuperset(kinds) or len(set(kinds)) < len(kinds):
        raise UsageProblem(
            "A new customer needs a name, and takes one value of each kind.", "Add --set customer_name=NAME."
        )
    refuse_odd("The machine stays where it is", facts, settings, sure=sure)
    for fact in facts:
        others = [] if fact.kind is Kind.CUSTOMER_NAME else find_contacts(conn, fact.kind, fact.normal)
        if others and not sure:
            what = f"The {LABELS[fact.kind]} {fact.value} is that of {', '.join(others)}."
            raise SettlementRefused(what, f"Say --to {others[0]}, or add --sure if they share it.")


# --- dates ------------------------------------------------------------------------------------------


def correct_dates(
    store: Store,
    machine: str,
    customer: str,
    *,
    since: date | None = None,
    until: date | None = None,
    who: str,
    why: str,
) -> HandedOver:
    """Correct from when to when a customer has or had a machine; who was before or after moves along where they meet.

    Args:
        store: the records.
        machine: the machine's id.
        customer: the id of a holder, now or before; of several times the last one is meant.
        since: the first day, None to leave it.
        until: the last day, None to leave it; only of a holder who no longer has it.
        who: the person.
        why: their reason.

    Raises:
        RecordUnknown: there is no such machine or customer.
        SettlementRefused: they never had it, or the days would overlap those of another holder or lie in the future.
        UsageProblem: no day was given.
    """
    if since is None and until is None:
        raise UsageProblem("No day was given.", "Add --from or --to.")
    with store.write() as conn:
        number = refs.number(refs.MACHINE, store.machine(machine).id)
        person = refs.number(refs.CUSTOMER, store.customer(customer).id)
        rows = list(conn.execute(sa.select(_holding).where(_holding.c.machine_id == number).order_by(_holding.c.id)))
        at = max((n for n, row in enumerate(rows) if row.customer_id == person), default=None)
        if at is None:
            raise SettlementRefused(f"C{person} never had M{number}.", f"Look at `counterfoil machine M{number}`.")
        row = rows[at]
        days = _days(row, since, until)
        detail: Row = {"before": _spoken(row.customer_id, row.since, row.until), "after": _spoken(person, *days)}
        subject = f"{refs.MACHINE}{number}"
        entry = journal.add(conn, who=who, action=DATES_ACTION, subject=subject, why=why, detail=detail, changes=[])
        changes = Changes(conn)
        _meet(changes, rows, at, days)
        changes.update("holding", row.id, {"since": days[0], "until": days[1]})
        journal.complete(conn, entry, detail, changes.made)
    return HandedOver(subject, f"{refs.CUSTOMER}{person}", f"{refs.JOURNAL}{entry}")


def _spoken(customer: int, since: str | None, until: str | None) -> Row:
    return {"holder": f"{refs.CUSTOMER}{customer}", "from": since, "to": until}


def _days(row: sa.Row[Any], since: date | None, until: date | None) -> tuple[str | None, str | None]:
    """Return the corrected days of a holding."""
    for day in (since, until):
        if day is not None:
            _refuse_future(day)
    if until is not None and row.until is None:
        what = f"C{row.customer_id} still has M{row.machine_id}."
        raise SettlementRefused(what, "To note that it was handed over, use `counterfoil handover`.")
    first = row.since if since is None else since.isoformat()
    last = row.until if until is None else until.isoformat()
    if first is not None and last is not None and last < first:
        raise SettlementRefused(f"{last} lies before {first}.", "Give both days with --from and --to.")
    return first, last


def _meet(changes: Changes, rows: Sequence[sa.Row[Any]], at: int, days: tuple[str | None, str | None]) -> None:
    """Move the days of the holders before and after along where they meet; refuse where times would overlap."""
    row, (since, until) = rows[at], days
    if at > 0 and since != row.since and since is not None:
        before = rows[at - 1]
        if before.ended_by == row.source and before.until == row.since:
            _refuse_order(before.since, since, before)
            changes.update("holding", before.id, {"until": since})
        else:
            _refuse_order(before.until, since, before)
    if at + 1 < len(rows) and until != row.until and until is not None:
        after = rows[at + 1]
        if row.ended_by == after.source and after.since == row.until:
            _refuse_order(until, after.until, after)
            changes.update("holding", after.id, {"since": until})
        else:
            _refuse_order(until, after.since, after)


def _refuse_order(first: str | None, second: str | None, other: sa.Row[Any]) -> None:
    if first is not None and second is not None and second < first:
        time = f"{other.since or 'unknown'} to {other.until or 'today'}"
        what = f"C{other.customer_id} has or had M{other.machine_id} from {time}: the times would overlap."
        raise SettlementRefused(what, "Correct the dates of that holder first.")
