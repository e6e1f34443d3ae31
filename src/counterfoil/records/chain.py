"""The chain of the journal: every line holds the SHA-256 of its own content and of the line before.

The content hashed is the canonical JSON of RFC 8785 (keys in order, no blanks, UTF-8) of all that a line says, with the
hash of the line before under ``previous``; ``undone_by``, which is set later, is left out: the undoing line says the
same under its own hash. The first line follows on :data:`FIRST`. A line that is changed, taken out, put in between or
renumbered breaks the chain there; a last line taken out is told by the counter, which never goes back, by the mark
beside the records (headmark.py), and by a hash noted outside the archive.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from counterfoil.records import refs, schema

#: Stands for the hash of the line before the first.
FIRST = "0" * 64

_table = schema.journal
_SAID = ("id", "at", "who", "action", "subject", "why", "detail", "changes")
_COLUMNS = [_table.c[name] for name in (*_SAID, "undone_by", "previous", "hash")]
#: Key of a connection under which is noted that lines wait to be sealed.
_WAITING = "counterfoil_unsealed"
#: Lines read at once when the whole journal is checked.
_BATCH = 1_000


@dataclass(frozen=True, slots=True)
class Break:
    """A line at which the chain is broken: its id, and a sentence that says how."""

    line: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Head:
    """The last line of the journal: number of lines, its id and hash; no id in an empty journal."""

    lines: int
    line: str | None
    hash: str


def line_hash(row: sa.Row[Any], previous: str) -> str:
    """Return the SHA-256 of a line, as 64 hexadecimal digits.

    Args:
        row: the row of the line.
        previous: the hash of the line before.
    """
    said: dict[str, object] = {name: getattr(row, name) for name in _SAID}
    text = json.dumps(said | {"previous": previous}, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def mark(conn: sa.Connection) -> None:
    """Note that the transaction has lines to be sealed when it ends."""
    conn.info[_WAITING] = True


def forget(conn: sa.Connection) -> None:
    """Forget the note: the transaction is over."""
    conn.info.pop(_WAITING, None)


def seal_marked(conn: sa.Connection) -> Head | None:
    """Seal the lines the transaction added, and return the last line then; None where it added none."""
    if not conn.info.get(_WAITING):
        return None
    seal(conn)
    row = conn.execute(sa.select(_table.c.id, _table.c.hash).order_by(_table.c.id.desc()).limit(1)).one()
    # Numbers have no gap: that of the last line is how many there are, without counting.
    return Head(row.id, f"{refs.JOURNAL}{row.id}", row.hash)


def seal(conn: sa.Connection) -> None:
    """Give every line without a hash its own, in order; from then on it can no longer be changed."""
    rows = conn.execute(sa.select(*_COLUMNS).where(_table.c.hash.is_(None)).order_by(_table.c.id)).all()
    if not rows:
        return
    query = sa.select(_table.c.hash).where(_table.c.id < rows[0].id).order_by(_table.c.id.desc()).limit(1)
    previous = conn.scalar(query) or FIRST
    for row in rows:
        own = line_hash(row, previous)
        conn.execute(sa.update(_table).where(_table.c.id == row.id), {"previous": previous, "hash": own})
        previous = own


def head(conn: sa.Connection) -> Head:
    """Return the last line and how many there are."""
    count = conn.scalar(sa.select(sa.func.count()).select_from(_table)) or 0
    row = conn.execute(sa.select(_table.c.id, _table.c.hash).order_by(_table.c.id.desc()).limit(1)).one_or_none()
    return Head(count, None, FIRST) if row is None else Head(count, f"{refs.JOURNAL}{row.id}", row.hash or "")


def first_break(conn: sa.Connection) -> Break | None:
    """Check the whole chain; return the first line at which it is broken, None where it is whole.

    Checked are the numbers, which have no gap, the hashes, that a line marked as undone is named by a later line that
    says so, and that the last line is the last ever added.
    """
    previous, expected = FIRST, 1
    undone: dict[str, str] = {}
    claimed: dict[str, str] = {}
    for row in _rows(conn):
        ref = f"{refs.JOURNAL}{row.id}"
        if row.id != expected:
            return Break(ref, f"The line {refs.JOURNAL}{expected} before {ref} is missing.")
        if row.hash is None:
            return Break(ref, f"{ref} has no hash.")
        if row.previous != previous:
            return Break(ref, f"{ref} does not follow on the line before it.")
        if line_hash(row, previous) != row.hash:
            return Break(ref, f"{ref} is not as it was written.")
        if row.undone_by is not None:
            undone[ref] = f"{refs.JOURNAL}{row.undone_by}"
        for name in undone_lines(row.detail):
            claimed[name] = ref
        previous, expected = row.hash, expected + 1
    return _at_the_end(conn, undone, claimed, expected)


def undone_lines(detail: str) -> tuple[str, ...]:
    """Return the lines that a line undid, by the text of its detail."""
    if '"undone"' not in detail:
        return ()
    said = json.loads(detail).get("undone", ())
    return (said,) if isinstance(said, str) else tuple(said)


def _at_the_end(conn: sa.Connection, undone: dict[str, str], claimed: dict[str, str], expected: int) -> Break | None:
    """Compare what is marked as undone with what undoing lines say, and the last line with the counter."""
    for ref in sorted(undone.keys() | claimed.keys(), key=lambda text: int(text[1:])):
        if undone.get(ref) != claimed.get(ref):
            said = f"by {claimed[ref]}" if ref in claimed else "by no line of the journal"
            marked = f"by {undone[ref]}" if ref in undone else "not at all"
            return Break(ref, f"{ref} is marked as undone {marked}, but was undone {said}.")
    last = conn.scalar(sa.select(schema.counter.c.journal)) or 0
    if last >= expected:
        return Break(f"{refs.JOURNAL}{expected}", f"The line {refs.JOURNAL}{expected} is missing, and all after it.")
    return None


def _rows(conn: sa.Connection) -> Iterator[sa.Row[Any]]:
    """Yield all lines in order, a bounded number in memory."""
    after = -1
    while rows := conn.execute(
        sa.select(*_COLUMNS).where(_table.c.id > after).order_by(_table.c.id).limit(_BATCH)
    ).all():
        yield from rows
        after = rows[-1].id
