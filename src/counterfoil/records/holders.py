"""Who has a machine, from when to when."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa

from counterfoil.records import refs, schema
from counterfoil.records.changes import Changes
from counterfoil.records.counters import take

#: Actions of journal entries: a machine entered by hand, one that changed hands, profiles merged and split.
RECORD_ACTION, HANDOVER_ACTION, MERGE_ACTION, SPLIT_ACTION = "record", "handover", "merge", "split"
#: A bench entry corrected: who has the machine is still said by the entry.
CORRECT_ACTION = "correct"
#: Those that say who has a machine.
_SPEAKING = (RECORD_ACTION, HANDOVER_ACTION)

_table = schema.holding


def hold(
    changes: Changes,
    customer: int,
    machine: int,
    day: str,
    source: str,
    revision: int,
    *,
    fresh: bool = False,
    stated: bool = True,
) -> None:
    """Let a customer be the holder of a machine from a day on; the holder before stops being it on that day.

    A customer who held it earlier stays what they were where the day lies within their time, where it is only the day
    of a message, or where a person noted that they handed it over: to send an old confirmation once more does not take
    a machine back.

    Args:
        changes: writes, and remembers what it wrote.
        customer: the number of the customer.
        machine: the number of the machine.
        day: ISO 8601.
        source: the message or journal entry that says so.
        revision: the one at which it is said.
        fresh: True for a new machine, which nobody can have held.
        stated: False where ``day`` is that of the message: the message states neither purchase nor registration.
    """
    if not fresh:
        query = sa.select(_table).where(_table.c.machine_id == machine).order_by(_table.c.id)
        rows = changes.conn.execute(query).all()
        current = next((r for r in reversed(rows) if r.until is None), None)
        if current is not None and current.customer_id == customer:
            return
        mine = [r for r in rows if r.customer_id == customer and r.until is not None]
        if any(day < r.until for r in mine):
            return
        if source.startswith(refs.MESSAGE) and any(not stated or _handed_over(changes.conn, r.ended_by) for r in mine):
            return
        if current is not None:
            changes.update("holding", current.id, {"until": max(day, current.since or day), "ended_by": source})
        else:
            day = max([day, *(r.until for r in rows if r.until is not None and _handed_over(changes.conn, r.ended_by))])
    changes.insert(
        "holding",
        {
            "id": int(take(changes.conn, holding=1).holding),
            "machine_id": machine,
            "customer_id": customer,
            "since": day,
            "until": None,
            "source": source,
            "ended_by": None,
            "revision": revision,
        },
    )


def release(changes: Changes, machine: int, *, message: int | None = None) -> None:
    """Take back the holdings of a machine that nothing speaks for any more.

    The holder before then goes on for as long as the one taken back had it.

    Args:
        changes: writes, and remembers what it wrote.
        machine: the number of the machine.
        message: a message that is being taken out of the profiles, and speaks for nothing.
    """
    query = sa.select(_table).where(_table.c.machine_id == machine).order_by(_table.c.id)
    for number in [row.id for row in changes.conn.execute(query)]:
        # Fetched anew each time: the one before may have been taken back, or changed by that.
        rows = changes.conn.execute(query).all()
        row = next(r for r in rows if r.id == number)
        if supported(changes.conn, row, message=message):
            continue
        before = next((r for r in reversed(rows) if r.id < number and r.ended_by == row.source), None)
        changes.delete("holding", number)
        if before is not None:
            changes.update("holding", before.id, {"until": row.until, "ended_by": row.ended_by})


def supported(
    conn: sa.Connection, held: sa.Row[Any], *, message: int | None = None, journal: int | None = None
) -> bool:
    """Tell whether a filed message, or an entry made by hand, speaks for a holding.

    Args:
        conn: a connection.
        held: the row of the holding.
        message: a message that does not count.
        journal: a journal entry that does not count.
    """
    filed = schema.message
    query = sa.select(filed.c.id).where(
        filed.c.machine_id == held.machine_id,
        filed.c.customer_id == held.customer_id,
        filed.c.filed >= held.revision,
    )
    if any(number != message for number in conn.scalars(query)):
        return True
    return any(
        number != journal and customer == held.customer_id and revision >= held.revision
        for number, customer, revision in speaking_entries(conn, held.machine_id)
    )


def speaking_entries(conn: sa.Connection, machine: int) -> Iterator[tuple[int, int, int]]:
    """Yield the entries by hand that say who has a machine: their number, the customer's number today, the revision.

    Whom an entry named may have been merged into another customer since, or split off from one.
    """
    lines = schema.journal
    query = sa.select(lines.c.id, lines.c.detail).where(
        lines.c.subject == refs.ref(refs.MACHINE, machine), lines.c.action.in_(_SPEAKING), lines.c.undone_by.is_(None)
    )
    rows = conn.execute(query.order_by(lines.c.id)).all()
    moves = _moves(conn) if rows else []
    for row in rows:
        detail = json.loads(row.detail)
        named = detail.get("customer")
        if named is None:
            continue
        entry = f"{refs.JOURNAL}{row.id}"
        for number, move in moves:
            if number > row.id:
                named = _moved(named, entry, move)
        yield row.id, refs.number(refs.CUSTOMER, named), detail.get("revision", 0)


def _moves(conn: sa.Connection) -> list[tuple[int, dict[str, Any]]]:
    """Return all merges and splits that stand, oldest first."""
    lines = schema.journal
    query = sa.select(lines.c.id, lines.c.detail).where(
        lines.c.action.in_((MERGE_ACTION, SPLIT_ACTION)), lines.c.undone_by.is_(None)
    )
    return [(row.id, json.loads(row.detail)) for row in conn.execute(query.order_by(lines.c.id))]


def _moved(named: str, entry: str, move: dict[str, Any]) -> str:
    """Return whom an entry is about after a merge or split."""
    if move.get("merged") == named:
        return str(move["customer"])
    if move.get("customer") == named and entry in move.get("entries", ()):
        return str(move["to"])
    return named


def _handed_over(conn: sa.Connection, ended_by: str | None) -> bool:
    """Tell whether it was a person who noted that a machine changed hands."""
    if ended_by is None or not ended_by.startswith(refs.JOURNAL):
        return False
    lines = schema.journal
    action = conn.scalar(sa.select(lines.c.action).where(lines.c.id == refs.number(refs.JOURNAL, ended_by)))
    return action == HANDOVER_ACTION


def join(changes: Changes, machine: int) -> None:
    """Join two times in a row in which the same customer has a machine, as a merge leaves them."""
    query = sa.select(_table).where(_table.c.machine_id == machine).order_by(_table.c.id)
    rows = list(changes.conn.execute(query))
    while len(rows) > 1:
        first, second = rows[0], rows[1]
        if first.customer_id == second.customer_id and first.ended_by == second.source:
            changes.update("holding", first.id, {"until": second.until, "ended_by": second.ended_by})
            changes.delete("holding", second.id)
            rows = list(changes.conn.execute(query.where(_table.c.id >= first.id)))
        else:
            rows = rows[1:]
