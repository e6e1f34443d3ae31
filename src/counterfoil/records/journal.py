"""The journal: who did and saw what, when and why. Lines are only added; an undone line says by which line."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from datetime import date, timedelta

import sqlalchemy as sa

from counterfoil.model import JournalEntry
from counterfoil.records import chain, refs, schema
from counterfoil.records.counters import take
from counterfoil.records.rows import Row, journal_of, now, packed

_table = schema.journal
#: Keys of a line's detail under which values stand, which may look like ids.
_VALUES = frozenset({"chosen", "values", "names", "value"})


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
    chain.mark(conn)
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


def entries(
    conn: sa.Connection,
    subject: str | None,
    limit: int | None,
    *,
    about: Collection[str] | None = None,
    who: str | None = None,
    since: date | None = None,
    until: date | None = None,
) -> list[JournalEntry]:
    """Return lines, oldest first; with a limit, the newest so many. See :meth:`Store.journal`."""
    query = sa.select(_table).order_by(_table.c.id.desc()).limit(limit)
    if subject is not None:
        query = query.where(_table.c.subject == refs.subject(subject))
    if about is not None:
        query = query.where(_table.c.id.in_(_mentioning(conn, about)))
    if who is not None:
        # Folded here: what a database takes for the same letter depends on the database.
        names = [n for n in conn.scalars(sa.select(_table.c.who).distinct()) if n.casefold() == who.strip().casefold()]
        query = query.where(_table.c.who.in_(names))
    if since is not None:
        query = query.where(_table.c.at >= since.isoformat())
    if until is not None:
        query = query.where(_table.c.at < (until + timedelta(days=1)).isoformat())
    return [journal_of(row) for row in reversed(conn.execute(query).all())]


def _mentioning(conn: sa.Connection, about: Collection[str]) -> list[int]:
    """Return the numbers of the lines whose subject or detail names one of some ids, and of those that undid them."""
    wanted = {text.strip().upper() for text in about}
    found: set[int] = set()
    for row in conn.execute(sa.select(_table.c.id, _table.c.subject, _table.c.detail, _table.c.undone_by)):
        if f"{refs.JOURNAL}{row.id}" in wanted or row.subject in wanted:
            hit = True
        else:
            # Looked into only where the text holds one at all: most lines are about something else.
            hit = any(f'"{text}"' in row.detail for text in wanted) and bool(wanted & _named(json.loads(row.detail)))
        if hit:
            found |= {row.id, *([row.undone_by] if row.undone_by is not None else ())}
    return sorted(found)


def _named(detail: object) -> set[str]:
    """Return all texts in the detail of a line that may be ids of records; values read from mail are left out."""
    if isinstance(detail, str):
        return {detail}
    if isinstance(detail, dict):
        inner = [v for k, v in detail.items() if k not in _VALUES]
        return {k for k in detail if k not in _VALUES}.union(*map(_named, inner))
    return set[str]().union(*map(_named, detail)) if isinstance(detail, list) else set()
