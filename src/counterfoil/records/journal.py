"""The journal: who did and saw what, when and why. Lines are only added; an undone line says by which line."""

from __future__ import annotations

from collections.abc import Mapping

import sqlalchemy as sa

from counterfoil.model import JournalEntry
from counterfoil.records import refs, schema
from counterfoil.records.counters import take
from counterfoil.records.rows import Row, journal_of, now, packed

_table = schema.journal


def add(
    conn: sa.Connection,
    *,
    who: str,
    action: str,
    subject: str,
    why: str,
    detail: Mapping[str, object],
    changes: list[Row] | None = None,
) -> int:
    """Add a line and return its number.

    Args:
        conn: a connection that writes.
        who: the person, as the operating system or the caller knows them.
        action: what was done, one word: settle, undo, record, reveal.
        subject: the id of the record it was done to.
        why: the reason given.
        detail: what a reader of the journal sees; JSON values, codes masked.
        changes: the changed rows, from which undo restores the state before.
    """
    number = take(conn, journal=1).journal
    conn.execute(
        sa.insert(_table),
        {
            "id": number,
            "at": now(),
            "who": who,
            "action": action,
            "subject": subject,
            "why": why,
            "detail": packed(dict(detail)),
            "changes": None if changes is None else packed(changes),
        },
    )
    return int(number)


def complete(conn: sa.Connection, number: int, detail: Mapping[str, object], changes: list[Row]) -> None:
    """Fill in what an entry of the running transaction changed; its number had to be known before."""
    conn.execute(
        sa.update(_table).where(_table.c.id == number),
        {"detail": packed(dict(detail)), "changes": packed(changes)},
    )


def entry(conn: sa.Connection, text: str) -> JournalEntry:
    """Return one line.

    Raises:
        RecordUnknown: there is none with this id.
    """
    number = refs.number(refs.JOURNAL, text)
    row = conn.execute(sa.select(_table).where(_table.c.id == number)).one_or_none()
    if row is None:
        raise refs.unknown(refs.JOURNAL, text)
    return journal_of(row)


def entries(conn: sa.Connection, subject: str | None, limit: int | None) -> list[JournalEntry]:
    """Return lines, oldest first; with a limit, the newest so many."""
    query = sa.select(_table).order_by(_table.c.id.desc()).limit(limit)
    if subject is not None:
        query = query.where(_table.c.subject == refs.subject(subject))
    return [journal_of(row) for row in reversed(conn.execute(query).all())]
