"""Who has a machine, from when to when."""

from __future__ import annotations

import json
from typing import Any

import sqlalchemy as sa

from counterfoil.records import refs, schema
from counterfoil.records.changes import Changes
from counterfoil.records.counters import take

#: The action of a journal entry that enters a machine by hand.
RECORD_ACTION = "record"

_table = schema.holding


def hold(
    changes: Changes, customer: int, machine: int, day: str, source: str, revision: int, *, fresh: bool = False
) -> None:
    """Let a customer be the holder of a machine from a day on; the holder before stops being it on that day.

    A customer who held it earlier stays what they were where the day lies within their time: an old confirmation does
    not take a machine back.

    Args:
        changes: writes, and remembers what it wrote.
        customer: the number of the customer.
        machine: the number of the machine.
        day: ISO 8601.
        source: the message or journal entry that says so.
        revision: the one at which it is said.
        fresh: True for a new machine, which nobody can have held.
    """
    if not fresh:
        query = sa.select(_table).where(_table.c.machine_id == machine).order_by(_table.c.id)
        rows = changes.conn.execute(query).all()
        current = next((r for r in reversed(rows) if r.until is None), None)
        if current is not None and current.customer_id == customer:
            return
        if any(r.customer_id == customer and r.until is not None and day < r.until for r in rows):
            return
        if current is not None:
            changes.update("holding", current.id, {"until": max(day, current.since or day), "ended_by": source})
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
    lines = schema.journal
    entries = sa.select(lines.c.id, lines.c.detail).where(
        lines.c.subject == refs.ref(refs.MACHINE, held.machine_id),
        lines.c.action == RECORD_ACTION,
        lines.c.undone_by.is_(None),
    )
    wanted = refs.ref(refs.CUSTOMER, held.customer_id)
    for row in conn.execute(entries):
        detail = json.loads(row.detail)
        if row.id != journal and detail.get("customer") == wanted and detail.get("revision", 0) >= held.revision:
            return True
    return False
