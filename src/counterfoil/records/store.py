"""The records: one database file, its transactions, and everything that can be asked of it.

A :class:`Store` may be used by several threads; each has its own transaction. Inside :meth:`Store.write` all questions
see what the transaction has written so far.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from counterfoil.errors import ArchiveMissing
from counterfoil.model import (
    CustomerProfile,
    IndexEntry,
    JournalEntry,
    Kind,
    MachineProfile,
    MessageRecord,
    Standing,
)
from counterfoil.records import chain, counters, headmark, match_index, migrations, profiles, refs, schema, witness
from counterfoil.records import journal as journal_lines
from counterfoil.records.engine import GROUPED, WRITING, errors_mapped, make_engine
from counterfoil.records.finding import Finding
from counterfoil.records.merged import present
from counterfoil.settings import Settings

_message = schema.message
_KNOWN = sa.select(_message.c.id).where(_message.c.sha256 == sa.bindparam("wanted"))
_KNOWN_AMONG = sa.select(_message.c.sha256).where(_message.c.sha256.in_(sa.bindparam("wanted", expanding=True)))
_ENTRIES = (
    sa.select(_message)
    .where(_message.c.revision > sa.bindparam("after"))
    .order_by(_message.c.revision)
    .limit(sa.bindparam("most"))
)


class Store(Finding):
    """The records of one archive.

    Args:
        path: the database file.
        create: make it; else it must exist.
        settings: for how long a writer waits for another.

    Raises:
        ArchiveMissing: there is no such file, and ``create`` is not set.
        ArchiveDamaged: the file holds no records, or broken ones.
        ArchiveTooNew: a newer version wrote it.
        ArchiveBusy: another run was writing for too long.
        StorageFull: it cannot be made.
    """

    def __init__(self, path: Path, *, create: bool = False, settings: Settings | None = None) -> None:
        self.path = path
        self._local = threading.local()
        if not create and not path.is_file():
            raise ArchiveMissing(f"There are no records in {path}.")
        self._engine = make_engine(path, (settings or Settings()).busy_wait_seconds)
        try:
            if create and not (path.is_file() and path.stat().st_size):
                with self.write() as conn:
                    migrations.create(conn)
                path.chmod(0o600)
            else:
                self._bring_up_to_date()
        except BaseException:
            self.close()
            raise

    def _bring_up_to_date(self) -> None:
        with self.reading() as conn:
            pending = migrations.pending(conn, self.path)
        if pending:
            with self.write() as conn:
                migrations.migrate(conn, self.path)

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()

    # --- transactions -----------------------------------------------------------------------------

    @contextmanager
    def write(self) -> Iterator[sa.Connection]:
        """Hold the write lock for one transaction: committed, durably, at the end; nothing of it stays after an error.

        Inside another one it is part of that.

        Raises:
            ArchiveBusy: another run held the lock for longer than :attr:`Settings.busy_wait_seconds`.
            StorageFull: the disk is full or refuses to be written.
        """
        outer: sa.Connection | None = getattr(self._local, "conn", None)
        if outer is not None:
            yield outer
            return
        with errors_mapped(self.path), self._engine.connect() as opened:
            conn = opened.execution_options(**{WRITING: True, GROUPED: getattr(self._local, "grouped", False)})
            with conn.begin():
                self._local.conn = conn
                try:
                    yield conn
                    match_index.refresh(conn)
                    sealed = chain.seal_marked(conn)
                finally:
                    self._local.conn = None
                    # An interrupt in the middle of a statement leaves a connection that holds no notes any more.
                    if not conn.invalidated:
                        chain.forget(conn)
        if sealed is not None:
            headmark.write(self.path, sealed)

    @contextmanager
    def grouped(self) -> Iterator[None]:
        """Sync the transactions inside together, at the end, in place of each by itself.

        For messages whose originals are durable already: a power cut before the end may take back the last of the
        transactions, never a part of one, and the originals are then filed again. Each still holds for itself against
        a crash or a kill of the program.

        Raises:
            ArchiveBusy, StorageFull: as :meth:`write`.
        """
        self._local.grouped = True
        try:
            yield
        finally:
            self._local.grouped = False
            # One synced transaction makes all before it durable: they stand before it in the same log.
            with self.write() as conn:
                counters.take(conn)

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """Hold a transaction that only reads, one state throughout; inside :meth:`write` it is that transaction."""
        outer: sa.Connection | None = getattr(self._local, "conn", None)
        if outer is not None:
            yield outer
            return
        with errors_mapped(self.path), self._engine.connect() as conn, conn.begin():
            yield conn

    def integrity(self) -> list[str]:
        """Check the database file itself; return a sentence for each fault, none where it is whole.

        Raises:
            ArchiveDamaged: the file is too broken to be checked.
        """
        with self.reading() as conn:
            faults = [f"{line}." for line in conn.scalars(sa.text("PRAGMA integrity_check")) if line != "ok"]
            rows = conn.execute(sa.text("PRAGMA foreign_key_check")).all()
        return faults + [f"Row {row[1]} of {row[0]} belongs to a row of {row[2]} that is not there." for row in rows]

    # --- messages ---------------------------------------------------------------------------------

    def known(self, sha256: str) -> str | None:
        """Return the id of the message with this hash, None where there is none."""
        with self.reading() as conn:
            return refs.ref(refs.MESSAGE, conn.scalar(_KNOWN, {"wanted": sha256}))

    def known_among(self, hashes: Collection[str]) -> set[str]:
        """Return those of some hashes that are a message's."""
        with self.reading() as conn:
            return set(conn.scalars(_KNOWN_AMONG, {"wanted": list(hashes)}))

    def hashes(self) -> set[str]:
        """Return the hashes of all messages."""
        with self.reading() as conn:
            return set(conn.scalars(sa.select(_message.c.sha256)))

    def message_count(self) -> int:
        """Return the number of messages."""
        with self.reading() as conn:
            return conn.scalar(sa.select(sa.func.count()).select_from(_message)) or 0

    def revision(self) -> int:
        """Return the revision of the message changed last; 0 in new records."""
        with self.reading() as conn:
            return conn.scalar(sa.select(sa.func.max(_message.c.revision))) or 0

    def message(self, ref: str) -> MessageRecord:
        """Return a message.

        Args:
            ref: its id, E5.

        Raises:
            RecordUnknown: there is none.
        """
        with self.reading() as conn:
            found = profiles.messages(conn, [refs.number(refs.MESSAGE, ref)])
        if not found:
            raise refs.unknown(refs.MESSAGE, ref)
        return found[0]

    def messages(self, standing: Standing | None = None) -> list[MessageRecord]:
        """Return all messages, or those with a standing, in the order they were kept."""
        with self.reading() as conn:
            return profiles.messages(conn, standing=standing)

    def index_entries(self, after_revision: int, limit: int) -> list[IndexEntry]:
        """Return what the full-text index takes in, in the order of revisions.

        Args:
            after_revision: the last one it has.
            limit: how many at most.
        """
        with self.reading() as conn:
            rows = conn.execute(_ENTRIES, {"after": after_revision, "most": limit}).all()
            ids = [row.id for row in rows]
            documents = schema.document
            texts: dict[int, list[str]] = {}
            query = sa.select(documents.c.message_id, documents.c.text).where(documents.c.message_id.in_(ids))
            for row in conn.execute(query.order_by(documents.c.message_id, documents.c.number)):
                texts.setdefault(row.message_id, []).append(row.text)
            fact = schema.fact
            named = sa.select(fact.c.message_id, fact.c.kind, fact.c.normal).where(
                fact.c.message_id.in_(ids), fact.c.kind.in_([Kind.MAKER.value, Kind.MODEL.value]), fact.c.chosen
            )
            names = {(row.message_id, row.kind): row.normal for row in conn.execute(named)}
        return [_entry(row, texts.get(row.id, []), names) for row in rows]

    def testimony(self) -> str:
        """Return a text that tells these records, as they are now, from others; see records/witness.py."""
        with self.reading() as conn:
            return witness.testimony(conn)

    def bears_out(self, said: str) -> bool:
        """Tell whether a text of :meth:`testimony` is of these records, now or at an earlier time."""
        with self.reading() as conn:
            return witness.is_borne_out(conn, said)

    # --- profiles ---------------------------------------------------------------------------------

    def customer(self, ref: str) -> CustomerProfile:
        """Return a customer, by their id or one merged into it; raises RecordUnknown where there is none."""
        with self.reading() as conn:
            found = profiles.customers(conn, [present(conn, refs.number(refs.CUSTOMER, ref))])
        if not found:
            raise refs.unknown(refs.CUSTOMER, ref)
        return found[0]

    def customers(self) -> list[CustomerProfile]:
        """Return all customers in the order of their ids."""
        with self.reading() as conn:
            return profiles.customers(conn)

    def machine(self, ref: str) -> MachineProfile:
        """Return a machine; raises RecordUnknown where there is none with the id."""
        with self.reading() as conn:
            found = profiles.machines(conn, [refs.number(refs.MACHINE, ref)])
        if not found:
            raise refs.unknown(refs.MACHINE, ref)
        return found[0]

    def machines(self) -> list[MachineProfile]:
        """Return all machines in the order of their ids."""
        with self.reading() as conn:
            return profiles.machines(conn)

    # --- journal ----------------------------------------------------------------------------------

    def journal(
        self,
        *,
        subject: str | None = None,
        limit: int | None = None,
        about: Collection[str] | None = None,
        who: str | None = None,
        since: date | None = None,
        until: date | None = None,
    ) -> list[JournalEntry]:
        """Return lines of the journal, oldest first.

        Args:
            subject: only those on one record.
            limit: only the newest so many.
            about: only those that name one of these ids, as their subject or in what they changed, and the undoings.
            who: only those of one person, upper or lower case.
            since: only those of this day (UTC) or later.
            until: only those of this day (UTC) or earlier.
        """
        with self.reading() as conn:
            return journal_lines.entries(conn, subject, limit, about=about, who=who, since=since, until=until)

    def journal_head(self) -> chain.Head:
        """Return the last line of the journal and its hash; noted elsewhere, it proves that nothing before changed."""
        with self.reading() as conn:
            return chain.head(conn)

    def journal_break(self) -> chain.Break | None:
        """Check the journal; return the first line at which its chain is broken, None where it is whole."""
        with self.reading() as conn:
            return chain.first_break(conn) or headmark.contradiction(conn, self.path)

    def note(self, who: str, action: str, subject: str, why: str, detail: Mapping[str, object]) -> str:
        """Add a line to the journal and return its id.

        Args:
            who: the person.
            action: what was done, one word (reveal, print).
            subject: the id of the record it was done to.
            why: the reason given.
            detail: JSON values; never a code.
        """
        with self.write() as conn:
            number = journal_lines.add(conn, who=who, action=action, subject=subject, why=why, detail=detail)
        return f"{refs.JOURNAL}{number}"


def _entry(row: sa.Row[Any], texts: list[str], names: Mapping[tuple[int, str], str]) -> IndexEntry:
    """Return what the index takes in for a message: its own subject and those of the messages inside, all text."""
    subjects = dict.fromkeys([row.subject, *(layer["subject"] for layer in json.loads(row.layers))])
    sender = " ".join(part for part in (row.sender_name, row.sender_address) if part)
    return IndexEntry(
        message=f"{refs.MESSAGE}{row.id}",
        revision=row.revision,
        again=bool(row.again),
        subject="\n".join(subject for subject in subjects if subject),
        sender=sender,
        body="\n\n".join(text for text in texts if text),
        received=date.fromisoformat(row.received[:10]) if row.received else None,
        maker=names.get((row.id, Kind.MAKER.value), ""),
        model=names.get((row.id, Kind.MODEL.value), ""),
        language=row.language or "",
    )
