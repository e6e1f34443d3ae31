"""Undo: a line of the journal is taken back, by restoring every row it changed; a new line says so."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from counterfoil.errors import SettlementRefused
from counterfoil.model import JournalEntry
from counterfoil.records import extensions, journal, refs, schema
from counterfoil.records.changes import Changes
from counterfoil.records.counters import take
from counterfoil.records.holders import CORRECT_ACTION, MERGE_ACTION, SPLIT_ACTION, release, supported
from counterfoil.records.rows import Row
from counterfoil.records.store import Store
from counterfoil.settings import Settings

UNDO_ACTION = "undo"
_LATER = "Undo the later entries of the journal on the same record first."


@dataclass(frozen=True, slots=True)
class _Touched:
    """Customers and machines that rows belonged to before they were restored."""

    customers: set[int]
    machines: set[int]

    def add(self, table: str, row: sa.Row[Any] | None) -> None:
        """Note whose a row is, if it is there."""
        columns = {} if row is None else row._mapping
        for name, numbers in (("customer", self.customers), ("machine", self.machines)):
            number = columns.get("id" if table == name else f"{name}_id")
            if number is not None:
                numbers.add(number)


def undo(store: Store, settings: Settings, journal_id: str, who: str, why: str) -> JournalEntry:
    """Take back what a settlement, or an entry made by hand, changed.

    Profiles it made stay where later messages were filed to them.

    Args:
        store: the records.
        settings: the shop's.
        journal_id: J9.
        who: the person.
        why: their reason.

    Returns:
        The new line of the journal.

    Raises:
        RecordUnknown: there is no such line.
        SettlementRefused: it changed nothing, was undone already, or what it changed was changed again since.
    """
    del settings  # for later: who may undo whose entries
    with store.write() as conn:
        entry = journal.entry(conn, journal_id)
        number = refs.number(refs.JOURNAL, entry.id)
        lines = schema.journal
        packed = conn.scalar(sa.select(lines.c.changes).where(lines.c.id == number))
        if entry.undone_by is not None:
            raise SettlementRefused(f"{entry.id} was undone already, by {entry.undone_by}.", "Nothing is left to undo.")
        if packed is None:
            raise SettlementRefused(
                f"{entry.id} ({entry.action}) changed nothing that undo can restore.",
                "Settlements, entries by hand and imports can be undone.",
            )
        _refuse_corrected(conn, entry)
        made: list[Row] = json.loads(packed)
        detail = {"undone": entry.id, "action": entry.action, **_turned(entry), **_filed_since(conn, entry)}
        new = journal.add(conn, who=who, action=UNDO_ACTION, subject=entry.subject, why=why, detail=detail)
        conn.execute(sa.update(lines).where(lines.c.id == number), {"undone_by": new})
        touched = _take_back(conn, entry, made)
        _follow(conn, entry)
        _sweep(conn, touched, entry)
        _refuse_without_holder(conn, entry)
        _refuse_later_holders(conn, entry, touched.machines)
        _refuse_without_machine(conn, entry, touched.machines)
        _look_again(conn, entry.subject)
        return journal.entry(conn, f"{refs.JOURNAL}{new}")


def _take_back(conn: sa.Connection, entry: JournalEntry, made: list[Row]) -> _Touched:
    """Restore rows, the last changed first, after making sure that none was changed again; return whose they were."""
    touched = _Touched(set(), set())
    kept = _kept_holdings(conn, entry, made)
    owners: set[int] = set()
    for change in reversed(made):
        table = schema.UNDOABLE[change["table"]]
        number = change["id"]
        if change["how"] == "insert_many":
            owners |= _take_back_many(conn, entry, change)
            continue
        if (change["table"], number) in kept:
            continue
        row = conn.execute(sa.select(table).where(table.c.id == number)).one_or_none()
        touched.add(change["table"], row)
        _refuse_without_profiles(conn, entry, change.get("before", {}))
        if change["how"] == "delete":
            if row is None:
                conn.execute(sa.insert(table), change["before"])
            continue
        if row is None or not _stands(row, change["after"]):
            raise SettlementRefused(f"{entry.id} is not undone: its {change['table']} was changed again since.", _LATER)
        if change["how"] == "update":
            conn.execute(sa.update(table).where(table.c.id == number), change["before"])
        elif not in_use(conn, change["table"], number):
            conn.execute(sa.delete(table).where(table.c.id == number))
    many = [range(c["id"], c["to"] + 1) for c in made if c["how"] == "insert_many" and c["table"] == "customer"]
    touched.customers.update(n for n in owners if not any(n in made_here for made_here in many))
    return touched


def _refuse_corrected(conn: sa.Connection, entry: JournalEntry) -> None:
    """Refuse to undo an entry at the bench whose values a correction has taken the place of."""
    lines = schema.journal
    corrects = sa.and_(lines.c.action == CORRECT_ACTION, lines.c.detail.like(f'%"corrects":"{entry.id}"%'))
    _refuse_resting(entry, list(conn.scalars(sa.select(lines.c.id).where(corrects, lines.c.undone_by.is_(None)))))


def _turned(entry: JournalEntry) -> Row:
    """Return what an entry says was before and after, the other way round."""
    return {
        name: entry.detail[other] for name, other in (("before", "after"), ("after", "before")) if other in entry.detail
    }


def _parties(entry: JournalEntry) -> tuple[int, int] | None:
    """Return who gives back and who gets back when a merge or split is undone; None for other entries."""
    names = {MERGE_ACTION: ("customer", "merged"), SPLIT_ACTION: ("to", "customer")}.get(entry.action)
    if names is None:
        return None
    giver, taker = (refs.number(refs.CUSTOMER, str(entry.detail[name])) for name in names)
    return giver, taker


def _filed_since(conn: sa.Connection, entry: JournalEntry) -> Row:
    """Name the messages filed to the customer of a merge or split since: a person must see whose they are."""
    parties = _parties(entry)
    if parties is None:
        return {}
    table = schema.message
    query = sa.select(table.c.id).where(table.c.customer_id == parties[0], table.c.filed > entry.detail["revision"])
    numbers = conn.scalars(query.order_by(table.c.id)).all()
    return {"filed_since": [f"{refs.MESSAGE}{n}" for n in numbers]} if numbers else {}


def _follow(conn: sa.Connection, entry: JournalEntry) -> None:
    """Let messages filed since a merge or split follow the machine they were filed by, back to its holder.

    Raises:
        SettlementRefused: a later entry decided about one of them.
    """
    parties = _parties(entry)
    if parties is None:
        return
    giver, taker = parties
    table, held, fact = schema.message, schema.holding, schema.fact
    machines = {
        number: set(conn.scalars(sa.select(held.c.machine_id).where(held.c.customer_id == number)))
        for number in (giver, taker)
    }
    query = sa.select(table.c.id, table.c.machine_id).where(table.c.customer_id == giver).order_by(table.c.id)
    for row in conn.execute(query).all():
        if row.machine_id in machines[giver] or row.machine_id not in machines[taker]:
            continue
        users = _changing(conn, "message", row.id, row.id, refs.number(refs.JOURNAL, entry.id))
        if users:
            later = ", ".join(f"{refs.JOURNAL}{n}" for n in users)
            raise SettlementRefused(f"{entry.id} is not undone: {later} rests on it.", f"Undo {later} first.")
        conn.execute(sa.update(table).where(table.c.id == row.id), {"customer_id": taker})
        own = sa.and_(fact.c.message_id == row.id, fact.c.customer_id == giver)
        conn.execute(sa.update(fact).where(own), {"customer_id": taker})


def _refuse_later_holders(conn: sa.Connection, entry: JournalEntry, machines: set[int]) -> None:
    """Refuse to give a machine back to a holder where somebody else has it, or had it, by a later entry."""
    held, later = schema.holding, schema.holding.alias()
    query = (
        sa.select(held.c.machine_id)
        .join(later, sa.and_(later.c.machine_id == held.c.machine_id, later.c.id > held.c.id))
        .where(held.c.machine_id.in_(sorted(machines)), held.c.until.is_(None))
    )
    number = conn.scalar(query.order_by(held.c.machine_id).limit(1))
    if number is not None:
        raise SettlementRefused(f"{entry.id} is not undone: {refs.MACHINE}{number} had another holder since.", _LATER)


def _refuse_without_machine(conn: sa.Connection, entry: JournalEntry, machines: set[int]) -> None:
    """Refuse to take a machine away on which an extension of cover rests: it would be lost without a word."""
    there = set(conn.scalars(sa.select(schema.machine.c.id).where(schema.machine.c.id.in_(sorted(machines)))))
    lost = extensions.standing_on(conn, [f"{refs.MACHINE}{n}" for n in sorted(machines - there)])
    if lost:
        later = ", ".join(lost)
        raise SettlementRefused(f"{entry.id} is not undone: {later} rests on it.", f"Undo {later} first.")


def _take_back_many(conn: sa.Connection, entry: JournalEntry, change: Row) -> set[int]:
    """Delete the facts that a list brought, or the profiles it made, where nothing else is in them.

    Returns:
        The customers whose facts were deleted.

    Raises:
        SettlementRefused: a later entry changed some of the rows.
    """
    first, last, name = change["id"], change["to"], change["table"]
    _refuse_resting(entry, _changing(conn, name, first, last, refs.number(refs.JOURNAL, entry.id)))
    table = schema.UNDOABLE[name]
    own = table.c.id.between(first, last)
    if name == "customer":
        unused = set(conn.scalars(sa.select(table.c.id).where(own))) - _used(conn, first, last)
        rests = {
            n for (what, number), users in _needed(conn).items() if what == name and number in unused for n in users
        }
        _refuse_resting(entry, sorted(rests))
        for numbers in _parts(sorted(unused)):
            conn.execute(sa.delete(table).where(table.c.id.in_(numbers)))
        return set()
    owners = {n for n in conn.scalars(sa.select(table.c.customer_id).where(own).distinct()) if n is not None}
    conn.execute(sa.delete(table).where(own))
    return owners


def _refuse_resting(entry: JournalEntry, users: list[int]) -> None:
    if users:
        later = ", ".join(f"{refs.JOURNAL}{n}" for n in users)
        raise SettlementRefused(f"{entry.id} is not undone: {later} rests on it.", f"Undo {later} first.")


def _used(conn: sa.Connection, first: int, last: int) -> set[int]:
    """Return the customers of a range that have anything: facts, holdings, messages, ids that lead there."""
    into = schema.customer.c.merged_into
    columns = [into, *(t.c.customer_id for t in (schema.fact, schema.holding, schema.message))]
    used = {n for c in columns for n in conn.scalars(sa.select(c).where(c.between(first, last)).distinct())}
    own = sa.select(schema.customer.c.id).where(schema.customer.c.id.between(first, last), into.is_not(None))
    return used | set(conn.scalars(own))


def _parts(numbers: list[int]) -> list[list[int]]:
    return [numbers[n : n + 500] for n in range(0, len(numbers), 500)]


def _changing(conn: sa.Connection, table: str, first: int, last: int, after: int) -> list[int]:
    """Return the later entries, not undone, that changed one of a range of rows."""
    lines = schema.journal
    query = sa.select(lines.c.id, lines.c.changes).where(
        lines.c.id > after, lines.c.changes.is_not(None), lines.c.undone_by.is_(None)
    )
    return [
        row.id
        for row in conn.execute(query.order_by(lines.c.id))
        if any(c["table"] == table and first <= c["id"] <= last for c in json.loads(row.changes))
    ]


def _refuse_without_profiles(conn: sa.Connection, entry: JournalEntry, before: Row) -> None:
    """Refuse to give a row back to a profile that a later entry removed."""
    for name in ("customer", "machine"):
        table, number = schema.UNDOABLE[name], before.get(f"{name}_id")
        if number is not None and conn.scalar(sa.select(table.c.id).where(table.c.id == number)) is None:
            raise SettlementRefused(f"{entry.id} is not undone: its {name} was removed since.", _LATER)


def _refuse_without_holder(conn: sa.Connection, entry: JournalEntry) -> None:
    """Refuse to file a message back to a customer who, by a later entry, never had the machine."""
    if not entry.subject.startswith(refs.MESSAGE):
        return
    table, held = schema.message, schema.holding
    query = (
        sa.select(held.c.id)
        .select_from(
            table.outerjoin(
                held, sa.and_(held.c.customer_id == table.c.customer_id, held.c.machine_id == table.c.machine_id)
            )
        )
        .where(table.c.id == refs.number(refs.MESSAGE, entry.subject), table.c.machine_id.is_not(None))
    )
    rows = conn.execute(query).all()
    if rows and all(row.id is None for row in rows):
        raise SettlementRefused(f"{entry.id} is not undone: its holder was taken back since.", _LATER)


def _sweep(conn: sa.Connection, touched: _Touched, entry: JournalEntry) -> None:
    """Remove holdings and profiles that an entry undone earlier left standing for the sake of this one.

    Raises:
        SettlementRefused: another entry would need them to be undone.
    """
    changes = Changes(conn)
    for machine in sorted(touched.machines):
        release(changes, machine)
    removed = [c["before"] for c in changes.made if c["how"] == "delete"]
    touched.customers.update(row["customer_id"] for row in removed)
    for name, numbers in (("machine", touched.machines), ("customer", touched.customers)):
        table = schema.UNDOABLE[name]
        for number in sorted(numbers):
            if not in_use(conn, name, number):
                removed += [{f"{name}_id": n} for n in conn.scalars(sa.select(table.c.id).where(table.c.id == number))]
                conn.execute(sa.delete(table).where(table.c.id == number))
    needed = _needed(conn) if removed else {}
    for row in removed:
        names = [name for name in ("customer", "machine") if f"{name}_id" in row]
        users = set.intersection(*(needed.get((name, row[f"{name}_id"]), set()) for name in names))
        if users:
            first = ", ".join(f"{refs.JOURNAL}{n}" for n in sorted(users))
            raise SettlementRefused(f"{entry.id} is not undone: {first} rests on it.", f"Undo {first} first.")


def _needed(conn: sa.Connection) -> dict[tuple[str, int], set[int]]:
    """Return which profiles the entries not yet undone would give rows back to: profile -> numbers of entries."""
    lines = schema.journal
    query = sa.select(lines.c.id, lines.c.changes).where(lines.c.changes.is_not(None), lines.c.undone_by.is_(None))
    needed: dict[tuple[str, int], set[int]] = {}
    for row in conn.execute(query):
        for change in json.loads(row.changes):
            for name in ("customer", "machine"):
                number = change.get("before", {}).get(f"{name}_id")
                if number is not None:
                    needed.setdefault((name, number), set()).add(row.id)
    return needed


def _stands(row: sa.Row[Any], after: Row) -> bool:
    return all(row._mapping[k] == v for k, v in after.items())


def _kept_holdings(conn: sa.Connection, entry: JournalEntry, made: list[Row]) -> set[tuple[str, int]]:
    """Return the holdings that stay as they are, because messages filed later, or other entries, say the same."""
    message = refs.number(refs.MESSAGE, entry.subject) if entry.subject.startswith(refs.MESSAGE) else None
    own = refs.number(refs.JOURNAL, entry.id)
    kept: set[tuple[str, int]] = set()
    for change in made:
        if change["table"] == "holding" and change["how"] == "insert":
            table = schema.holding
            row = conn.execute(sa.select(table).where(table.c.id == change["id"])).one_or_none()
            if row is not None and supported(conn, row, message=message, journal=own):
                kept.add(("holding", change["id"]))
                # Whoever had it before stays the one who had it before.
                kept |= {("holding", c["id"]) for c in made if c["table"] == "holding" and c["how"] == "update"}
    return kept


def _look_again(conn: sa.Connection, subject: str) -> None:
    """Give the message a new revision, so that the index looks at it again."""
    if subject.startswith(refs.MESSAGE):
        table = schema.message
        revision = int(take(conn, revision=1).revision)
        number = refs.number(refs.MESSAGE, subject)
        conn.execute(sa.update(table).where(table.c.id == number), {"revision": revision, "again": True})


def in_use(conn: sa.Connection, table: str, number: int) -> bool:
    """Tell whether a customer or machine still has anything: facts, holdings, messages, an id that leads there."""
    if table not in ("customer", "machine"):
        return False
    column, customers = f"{table}_id", schema.customer
    if table == "customer":
        merged = sa.or_(
            customers.c.merged_into == number, sa.and_(customers.c.id == number, customers.c.merged_into.is_not(None))
        )
        if conn.execute(sa.select(customers.c.id).where(merged).limit(1)).first() is not None:
            return True
    return any(
        conn.execute(sa.select(sa.literal(1)).where(other.c[column] == number).limit(1)).first() is not None
        for other in (schema.fact, schema.holding, schema.message)
    )
