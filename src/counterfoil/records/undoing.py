"""Undo: a line of the journal is taken back, by restoring every row it changed; a new line says so."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from counterfoil.errors import SettlementRefused
from counterfoil.model import JournalEntry
from counterfoil.records import journal, refs, schema
from counterfoil.records.changes import Changes
from counterfoil.records.counters import take
from counterfoil.records.holders import release, supported
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
                f"{entry.id} ({entry.action}) changed no record.", "Only settlements and entries by hand can be undone."
            )
        made: list[Row] = json.loads(packed)
        detail = {"undone": entry.id, "action": entry.action}
        new = journal.add(conn, who=who, action=UNDO_ACTION, subject=entry.subject, why=why, detail=detail)
        conn.execute(sa.update(lines).where(lines.c.id == number), {"undone_by": new})
        _sweep(conn, _take_back(conn, entry, made), entry)
        _refuse_without_holder(conn, entry)
        _look_again(conn, entry.subject)
        return journal.entry(conn, f"{refs.JOURNAL}{new}")


def _take_back(conn: sa.Connection, entry: JournalEntry, made: list[Row]) -> _Touched:
    """Restore rows, the last changed first, after making sure that none was changed again; return whose they were."""
    touched = _Touched(set(), set())
    kept = _kept_holdings(conn, entry, made)
    for change in reversed(made):
        table = schema.UNDOABLE[change["table"]]
        number = change["id"]
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
    return touched


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
    """Tell whether a customer or machine still has anything: facts, holdings, messages."""
    if table not in ("customer", "machine"):
        return False
    column = f"{table}_id"
    return any(
        conn.execute(sa.select(sa.literal(1)).where(other.c[column] == number).limit(1)).first() is not None
        for other in (schema.fact, schema.holding, schema.message)
    )
