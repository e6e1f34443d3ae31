"""Named changes of the tables, in order, and the table of those applied.

A new archive gets today's tables at once, with every migration marked as applied; an older one gets those it lacks.
To change the tables: change schema.py, and add a migration that brings an existing archive to the same tables.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from counterfoil.errors import ArchiveDamaged, ArchiveTooNew
from counterfoil.model import Kind
from counterfoil.records import chain, match_index, schema
from counterfoil.records.bulk import insert_many
from counterfoil.records.rows import derived_rows


@dataclass(frozen=True, slots=True)
class Migration:
    """One change: its name, which is kept in the archive for ever, and what it does."""

    name: str
    apply: Callable[[sa.Connection], None]


def _rules(conn: sa.Connection) -> None:
    """Add the rules that put messages aside, and their numbers."""
    schema.rule.create(conn, checkfirst=True)
    if "rule" not in {column["name"] for column in sa.inspect(conn).get_columns(schema.counter.name)}:
        conn.execute(sa.text("ALTER TABLE counter ADD COLUMN rule INTEGER NOT NULL DEFAULT 0"))


def _merged_customers(conn: sa.Connection) -> None:
    """Let a customer point to the one it was merged into."""
    if "merged_into" not in {column["name"] for column in sa.inspect(conn).get_columns(schema.customer.name)}:
        conn.execute(sa.text("ALTER TABLE customer ADD COLUMN merged_into INTEGER REFERENCES customer (id)"))
        conn.execute(sa.text("CREATE INDEX ix_customer_merged_into ON customer (merged_into)"))


def _journal_chain(conn: sa.Connection) -> None:
    """Give every line of the journal its hash, and let the database refuse to change it."""
    there = {column["name"] for column in sa.inspect(conn).get_columns(schema.journal.name)}
    for name in ("previous", "hash"):
        if name not in there:
            conn.execute(sa.text(f"ALTER TABLE journal ADD COLUMN {name} TEXT"))
    chain.seal(conn)
    schema.guard_journal(conn)


def _blocking_keys(conn: sa.Connection) -> None:
    """Add the blocking keys of customers, and make those of the customers there are."""
    for table in (schema.bkey, schema.bkey_stale, schema.match_chances):
        table.create(conn, checkfirst=True)
    schema.make_bkey_triggers(conn)
    match_index.rebuild(conn)


def _message_ids(conn: sa.Connection) -> None:
    """Let a message that was delivered twice be found by its Message-ID."""
    conn.execute(sa.text("CREATE INDEX IF NOT EXISTS ix_message_message_id ON message (message_id)"))


def _keys_anew(conn: sa.Connection) -> None:
    """Make the blocking keys anew: there is one more for a name."""
    match_index.rebuild(conn)


def _forgiving_search(conn: sa.Connection) -> None:
    """Cut codes into four, give names keys by ear and by their ends, and keep contacts in an index of their own."""
    conn.execute(
        sa.text(
            f"CREATE INDEX IF NOT EXISTS ix_fact_contact ON fact (key, customer_id) WHERE {schema.CONTACTS_ONLY.text}"
        )
    )
    schema.piece.drop(conn, checkfirst=True)
    schema.piece.create(conn)
    conn.execute(sa.delete(schema.name_key))
    fact = schema.fact
    wanted = sa.or_(fact.c.reversed.is_not(None), fact.c.kind == Kind.CUSTOMER_NAME.value)
    columns = (fact.c.id, fact.c.kind, fact.c.value, fact.c.normal, fact.c.reversed, fact.c.chosen)
    done = 0
    while rows := conn.execute(
        sa.select(*columns).where(wanted, fact.c.id > done).order_by(fact.c.id).limit(5_000)
    ).all():
        pieces, names = derived_rows([dict(row._mapping) for row in rows])
        insert_many(conn, schema.piece, pieces)
        insert_many(conn, schema.name_key, names)
        done = rows[-1].id


def _mailbox_marks(conn: sa.Connection) -> None:
    """Add the marks of folders on mail servers."""
    schema.mailbox_mark.create(conn, checkfirst=True)


MIGRATIONS: tuple[Migration, ...] = (
    Migration("0001 first tables", schema.metadata.create_all),
    Migration("0002 rules", _rules),
    Migration("0003 merged customers", _merged_customers),
    Migration("0004 journal chain", _journal_chain),
    Migration("0005 blocking keys", _blocking_keys),
    Migration("0006 message ids", _message_ids),
    Migration("0007 keys of initials", _keys_anew),
    Migration("0008 forgiving search", _forgiving_search),
    Migration("0009 mailbox marks", _mailbox_marks),
)


def create(conn: sa.Connection, migrations: Sequence[Migration] = MIGRATIONS) -> None:
    """Make today's tables in an empty database."""
    schema.metadata.create_all(conn)
    conn.execute(sa.insert(schema.counter), {"id": 1})
    _mark(conn, [m.name for m in migrations])


def migrate(conn: sa.Connection, path: Path, migrations: Sequence[Migration] = MIGRATIONS) -> tuple[str, ...]:
    """Apply the migrations an archive lacks, inside the caller's transaction.

    Args:
        conn: a connection that may write.
        path: the database file, named in messages.
        migrations: all that this version knows, in order.

    Returns:
        The names of those applied now.

    Raises:
        ArchiveTooNew: a newer version applied one that this version does not know.
        ArchiveDamaged: the file holds no tables of ours.
    """
    missing = pending(conn, path, migrations)
    for change in missing:
        change.apply(conn)
    _mark(conn, [m.name for m in missing])
    return tuple(m.name for m in missing)


def pending(conn: sa.Connection, path: Path, migrations: Sequence[Migration] = MIGRATIONS) -> list[Migration]:
    """Return the migrations an archive lacks; raises as :func:`migrate`."""
    if not sa.inspect(conn).has_table(schema.migration.name):
        raise ArchiveDamaged(f"{path} holds no records.")
    applied = set(conn.scalars(sa.select(schema.migration.c.name)))
    beyond = sorted(applied - {m.name for m in migrations})
    if beyond:
        raise ArchiveTooNew(f"{path} was changed by a newer version: {', '.join(beyond)}.")
    return [m for m in migrations if m.name not in applied]


def _mark(conn: sa.Connection, names: Sequence[str]) -> None:
    """Write down which migrations were applied, and when."""
    at = datetime.now(UTC).isoformat(timespec="seconds")
    if names:
        conn.execute(sa.insert(schema.migration), [{"name": name, "at": at} for name in names])
