"""The tables of the records, in SQLAlchemy Core.

    message ─┬─ document          what the message is made of (codes masked in the text)
             ├─ question          why it is open, or was
             └─ fact ─┬─ piece    two pieces of a folded code, for codes with wrong characters
                      └─ name_key blocking keys of names, and keys for names typed by ear
    customer ── holding ── machine
    bkey, bkey_stale          blocking keys of customers; match_chances: what the archive taught of matching
    journal, rule, counter, migration

A profile is the union of the facts filed to it: ``fact.customer_id`` and ``fact.machine_id`` are set once a value is
filed and taken off again when that is undone. Only ``chosen`` facts are ever filed, all others stay as evidence.

Numbers are handed out by the one row of ``counter`` inside the writing transaction, so that none is ever used twice,
on any database. Times are ISO 8601 in UTC; JSON is text. Portable SQL only: a second database is to follow.
"""

from __future__ import annotations

import sqlalchemy as sa

metadata = sa.MetaData()
#: The facts that say what a machine is; written out, not bound, so that the index over them is used.
MODELS_ONLY = sa.text("kind IN ('maker', 'model')")
#: The facts by which a customer is reached; written out likewise.
CONTACTS_ONLY = sa.text("kind IN ('email_address', 'phone_number')")

counter = sa.Table(
    "counter",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    *(
        sa.Column(name, sa.Integer, nullable=False, server_default="0")
        for name in ("revision", "message", "customer", "machine", "fact", "holding", "question", "journal", "rule")
    ),
)

migration = sa.Table(
    "migration",
    metadata,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("at", sa.Text, nullable=False),
)

customer = sa.Table(
    "customer",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("at", sa.Text, nullable=False),
    # The customer that has all that was filed to this one; the id stays answerable.
    sa.Column("merged_into", sa.Integer, sa.ForeignKey("customer.id"), index=True),
)

machine = sa.Table(
    "machine",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("at", sa.Text, nullable=False),
)

journal = sa.Table(
    "journal",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("who", sa.Text, nullable=False),
    sa.Column("action", sa.Text, nullable=False),
    sa.Column("subject", sa.Text, nullable=False, index=True),
    sa.Column("why", sa.Text, nullable=False),
    # What a reader sees, codes masked; and the changed rows, from which undo restores the state before.
    sa.Column("detail", sa.Text, nullable=False),
    sa.Column("changes", sa.Text),
    # Not part of what is hashed: the undoing line itself says the same.
    sa.Column("undone_by", sa.Integer, sa.ForeignKey("journal.id")),
    # SHA-256 of the line before and of this one; see records/chain.py. Empty until the transaction ends.
    sa.Column("previous", sa.Text),
    sa.Column("hash", sa.Text),
)
#: What the database itself refuses of the journal: a line taken out, put in between, or changed once it is sealed.
JOURNAL_GUARDS: tuple[str, ...] = (
    (
        "CREATE TRIGGER IF NOT EXISTS journal_no_delete BEFORE DELETE ON journal "
        "BEGIN SELECT RAISE(ABORT, 'a line of the journal cannot be taken out'); END"
    ),
    (
        "CREATE TRIGGER IF NOT EXISTS journal_no_insert BEFORE INSERT ON journal "
        "WHEN NEW.id <= (SELECT coalesce(max(id), 0) FROM journal) "
        "BEGIN SELECT RAISE(ABORT, 'a line of the journal can only be added at its end'); END"
    ),
    (
        "CREATE TRIGGER IF NOT EXISTS journal_no_update BEFORE UPDATE OF "
        "id, at, who, action, subject, why, detail, changes, previous, hash ON journal WHEN OLD.hash IS NOT NULL "
        "BEGIN SELECT RAISE(ABORT, 'a line of the journal cannot be changed'); END"
    ),
    (
        "CREATE TRIGGER IF NOT EXISTS journal_undone_once BEFORE UPDATE OF undone_by ON journal "
        "WHEN OLD.undone_by IS NOT NULL AND NEW.undone_by IS NOT OLD.undone_by "
        "BEGIN SELECT RAISE(ABORT, 'a line of the journal is undone once'); END"
    ),
)


def guard_journal(conn: sa.Connection) -> None:
    """Let the database itself refuse to change the journal; another database than SQLite relies on the chain alone."""
    for guard in JOURNAL_GUARDS if conn.dialect.name == "sqlite" else ():
        conn.execute(sa.text(guard))


@sa.event.listens_for(journal, "after_create")
def _guard(_table: sa.Table, conn: sa.Connection, **_: object) -> None:
    guard_journal(conn)


message = sa.Table(
    "message",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("sha256", sa.Text, nullable=False, unique=True),
    sa.Column("source", sa.Text, nullable=False),
    sa.Column("kept", sa.Text, nullable=False),
    sa.Column("message_id", sa.Text, nullable=False, index=True),
    sa.Column("received", sa.Text),
    # The date of the confirmation itself: of the layer it came in, else of the message around it.
    sa.Column("dated", sa.Text, nullable=False),
    sa.Column("subject", sa.Text, nullable=False),
    sa.Column("sender_name", sa.Text),
    sa.Column("sender_address", sa.Text),
    sa.Column("standing", sa.Text, nullable=False, index=True),
    sa.Column("customer_id", sa.Integer, sa.ForeignKey("customer.id"), index=True),
    sa.Column("machine_id", sa.Integer, sa.ForeignKey("machine.id"), index=True),
    # The revision at which it was filed to them: tells which holdings it speaks for.
    sa.Column("filed", sa.Integer),
    sa.Column("size", sa.Integer, nullable=False),
    sa.Column("language", sa.Text),
    sa.Column("confirmation", sa.Float, nullable=False),
    sa.Column("mentions_attachment", sa.Boolean, nullable=False),
    sa.Column("signs", sa.Text, nullable=False),
    sa.Column("why", sa.Text, nullable=False),
    sa.Column("defects", sa.Text, nullable=False),
    sa.Column("layers", sa.Text, nullable=False),
    sa.Column("conflicts", sa.Text, nullable=False),
    sa.Column("revision", sa.Integer, nullable=False, unique=True),
    sa.Column("again", sa.Boolean, nullable=False),
)

document = sa.Table(
    "document",
    metadata,
    sa.Column("message_id", sa.Integer, sa.ForeignKey("message.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("layer", sa.Integer, nullable=False),
    sa.Column("media_type", sa.Text, nullable=False),
    sa.Column("pages", sa.Integer, nullable=False),
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("problem", sa.Text),
    sa.Column("reason", sa.Text, nullable=False),
    sa.Column("inline", sa.Boolean, nullable=False),
    sa.Column("size", sa.Integer, nullable=False),
)

fact = sa.Table(
    "fact",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("message_id", sa.Integer, sa.ForeignKey("message.id", ondelete="CASCADE"), index=True),
    sa.Column("journal_id", sa.Integer, sa.ForeignKey("journal.id"), index=True),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("value", sa.Text, nullable=False),
    sa.Column("normal", sa.Text, nullable=False),
    # What the value is looked up by: the normal form, folded further for words and addresses.
    sa.Column("key", sa.Text, nullable=False),
    # The normal form of a code from its last character on; set once per code and message.
    sa.Column("reversed", sa.Text),
    sa.Column("document", sa.Text, nullable=False),
    sa.Column("page", sa.Integer),
    sa.Column("x0", sa.Float),
    sa.Column("y0", sa.Float),
    sa.Column("x1", sa.Float),
    sa.Column("y1", sa.Float),
    sa.Column("span_start", sa.Integer),
    sa.Column("span_end", sa.Integer),
    sa.Column("pattern", sa.Text, nullable=False),
    sa.Column("check_result", sa.Text, nullable=False),
    sa.Column("odds", sa.Float, nullable=False),
    sa.Column("readings", sa.Text),
    sa.Column("evidence", sa.Text),
    sa.Column("stage", sa.Text),
    sa.Column("chosen", sa.Boolean, nullable=False),
    sa.Column("confirmed", sa.Boolean, nullable=False),
    sa.Column("dropped", sa.Boolean, nullable=False),
    sa.Column("customer_id", sa.Integer, sa.ForeignKey("customer.id"), index=True),
    sa.Column("machine_id", sa.Integer, sa.ForeignKey("machine.id"), index=True),
    sa.Column("at", sa.Text, nullable=False),
    sa.Index("ix_fact_key", "key", "kind"),
    sa.Index("ix_fact_reversed", "reversed"),
    # Makers and models are few and repeat in every message: searched through by word, so kept apart.
    sa.Index("ix_fact_model", "key", "machine_id", sqlite_where=MODELS_ONLY, postgresql_where=MODELS_ONLY),
    # Contacts are searched through for a piece of one: the index alone answers that.
    sa.Index("ix_fact_contact", "key", "customer_id", sqlite_where=CONTACTS_ONLY, postgresql_where=CONTACTS_ONLY),
)

piece = sa.Table(
    "piece",
    metadata,
    sa.Column("piece", sa.Text, primary_key=True),
    sa.Column(
        "fact_id",
        sa.Integer,
        sa.ForeignKey("fact.id", ondelete="CASCADE"),
        primary_key=True,
        autoincrement=False,
        index=True,
    ),
    # The whole code: a look-up compares it with thousands of others without asking for their facts.
    sa.Column("folded", sa.Text, nullable=False),
    sqlite_with_rowid=False,
)

name_key = sa.Table(
    "name_key",
    metadata,
    sa.Column("name_key", sa.Text, primary_key=True),
    sa.Column(
        "fact_id",
        sa.Integer,
        sa.ForeignKey("fact.id", ondelete="CASCADE"),
        primary_key=True,
        autoincrement=False,
        index=True,
    ),
    sqlite_with_rowid=False,
)

#: Hashed keys under which a customer is found by what is alike; see match_index.py. Derived from their facts.
bkey = sa.Table(
    "bkey",
    metadata,
    sa.Column("key", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("customer", sa.Integer, primary_key=True, autoincrement=False, index=True),
    sqlite_with_rowid=False,
)
#: Customers whose keys no longer follow from their facts; made anew before they are used, and when a transaction ends.
bkey_stale = sa.Table(
    "bkey_stale",
    metadata,
    sa.Column("customer", sa.Integer, primary_key=True, autoincrement=False),
)
_STALE = (
    "BEGIN INSERT INTO bkey_stale SELECT DISTINCT customer_id FROM ({}) WHERE customer_id IS NOT NULL "
    "AND customer_id NOT IN (SELECT customer FROM bkey_stale); END"
)
_NEW_OWNER, _OLD_OWNER = "SELECT NEW.customer_id AS customer_id", "SELECT OLD.customer_id AS customer_id"
#: Whoever changes the owner of a fact, and however, the keys of both owners are made anew.
BKEY_TRIGGERS: tuple[str, ...] = (
    (
        "CREATE TRIGGER IF NOT EXISTS bkey_fact_insert AFTER INSERT ON fact WHEN NEW.customer_id IS NOT NULL "
        + _STALE.format(_NEW_OWNER)
    ),
    (
        "CREATE TRIGGER IF NOT EXISTS bkey_fact_update AFTER UPDATE OF customer_id, kind, value, normal ON fact "
        "WHEN NEW.customer_id IS NOT NULL OR OLD.customer_id IS NOT NULL "
        + _STALE.format(f"{_NEW_OWNER} UNION {_OLD_OWNER}")
    ),
    (
        "CREATE TRIGGER IF NOT EXISTS bkey_fact_delete AFTER DELETE ON fact WHEN OLD.customer_id IS NOT NULL "
        + _STALE.format(_OLD_OWNER)
    ),
)


def make_bkey_triggers(conn: sa.Connection) -> None:
    """Let the database mark customers whose keys must be made anew."""
    for trigger in BKEY_TRIGGERS if conn.dialect.name == "sqlite" else ():
        conn.execute(sa.text(trigger))


@sa.event.listens_for(metadata, "after_create")
def _mark_stale(_target: sa.MetaData, conn: sa.Connection, **_: object) -> None:
    make_bkey_triggers(conn)


#: The chances learned from the archive, as JSON; no row: those shipped.
match_chances = sa.Table(
    "match_chances",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("chances", sa.Text, nullable=False),
)

holding = sa.Table(
    "holding",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("machine_id", sa.Integer, sa.ForeignKey("machine.id"), nullable=False, index=True),
    sa.Column("customer_id", sa.Integer, sa.ForeignKey("customer.id"), nullable=False, index=True),
    sa.Column("since", sa.Text),
    sa.Column("until", sa.Text),
    # The message (E5) or journal entry (J9) that began it, and the one that ended it.
    sa.Column("source", sa.Text, nullable=False),
    sa.Column("ended_by", sa.Text),
    # The revision at which it began: what was filed earlier speaks for an earlier holding.
    sa.Column("revision", sa.Integer, nullable=False),
)

question = sa.Table(
    "question",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("message_id", sa.Integer, sa.ForeignKey("message.id", ondelete="CASCADE"), nullable=False, index=True),
    sa.Column("code", sa.Text, nullable=False),
    sa.Column("sentence", sa.Text, nullable=False),
    sa.Column("candidates", sa.Text, nullable=False),
    sa.Column("settled_by", sa.Integer, sa.ForeignKey("journal.id")),
)

rule = sa.Table(
    "rule",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
    # Lower case; messages sent from it are put aside.
    sa.Column("address", sa.Text, nullable=False, unique=True),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("journal_id", sa.Integer, sa.ForeignKey("journal.id"), nullable=False),
)

#: How far a folder on a mail server was read. It stands in this file so that a backup brings back marks and messages of
#: the same moment: a mark newer than the messages would pass mail over.
mailbox_mark = sa.Table(
    "mailbox_mark",
    metadata,
    sa.Column("account", sa.Text, primary_key=True),
    sa.Column("folder", sa.Text, primary_key=True),
    sa.Column("uidvalidity", sa.Integer, nullable=False),
    sa.Column("last_uid", sa.Integer, nullable=False),
    # UIDs up to the mark that could not be taken in and are tried again, as JSON.
    sa.Column("left", sa.Text, nullable=False),
    sa.Column("at", sa.Text, nullable=False),
)

#: Tables that a journal entry may change and undo restore, in the order in which rows can be put back.
UNDOABLE: dict[str, sa.Table] = {
    t.name: t for t in (customer, machine, message, fact, holding, question, rule, match_chances)
}
