"""The journal only grows: every way to change, drop, add or renumber a line is refused, or found and named.

The lines are hashed with SHA-256 (FIPS 180-4) over canonical JSON (RFC 8785); how a hash chain shows tampering is
described for logs of certificates in RFC 6962.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from records_world import SETTINGS, another, take, values

from counterfoil.errors import ArchiveDamaged
from counterfoil.records import migrations, schema
from counterfoil.records.chain import FIRST, seal
from counterfoil.records.headmark import HEAD_FILE
from counterfoil.records.merging import merge
from counterfoil.records.store import Store
from counterfoil.records.undoing import undo


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Give records with a journal of five lines: three notes, a merge, its undoing."""
    made = Store(tmp_path / "records.db", create=True)
    take(made, values())
    take(made, another(2, customer_name="Ola Berg", email_address="ola@post.example"))
    for n in range(3):
        made.note("kim", "reveal", "M1", f"reason {n} “ü”\n\t", {"answer": "restore", "n": n})
    done = merge(made, "C1", "C2", who="ada", why="one person")
    undo(made, SETTINGS, done.journal, "kim", "two after all")
    yield made
    made.close()


def _tamper(store: Store, *statements: str) -> None:
    """Change the records past the guards, as somebody with the file in hand could."""
    with store.write() as conn:
        names = conn.scalars(sa.text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).all()
        for name in names:
            if name.startswith("journal_"):
                conn.exec_driver_sql(f"DROP TRIGGER {name}")
        conn.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
        for statement in statements:
            conn.exec_driver_sql(statement)


def test_a_journal_in_order_has_no_break(store: Store) -> None:
    """Lines written one after the other follow on each other; the head is the last of them."""
    assert store.journal_break() is None
    head = store.journal_head()
    assert (head.lines, head.line) == (5, "J5")
    assert head.hash == store.journal()[-1].hash


def test_a_line_can_be_checked_by_hand(store: Store) -> None:
    """The hash is SHA-256 over the line's canonical JSON, keys in order, no blanks, UTF-8, as RFC 8785 writes it."""
    with store.reading() as conn:
        first, second = conn.execute(sa.select(schema.journal).order_by(schema.journal.c.id).limit(2)).all()
    assert first.previous == FIRST
    assert second.previous == first.hash
    text = (
        '{"action":"reveal","at":' + json.dumps(first.at) + ',"changes":null,"detail":'
        '"{\\"answer\\":\\"restore\\",\\"n\\":0}","id":1,"previous":"' + "0" * 64 + '",'
        '"subject":"M1","who":"kim","why":"reason 0 “ü”\\n\\t"}'
    )
    assert hashlib.sha256(text.encode("utf-8")).hexdigest() == first.hash


@pytest.mark.parametrize(
    ("statement", "broken"),
    [
        ("UPDATE journal SET who = 'eve' WHERE id = 2", "J2"),
        ("UPDATE journal SET at = '2020-01-01T00:00:00+00:00' WHERE id = 3", "J3"),
        ("UPDATE journal SET detail = '{}' WHERE id = 1", "J1"),
        ("UPDATE journal SET changes = NULL WHERE id = 4", "J4"),
        ("UPDATE journal SET why = '' WHERE id = 5", "J5"),
        ("DELETE FROM journal WHERE id = 2", "J3"),
        ("DELETE FROM journal WHERE id = 1", "J2"),
        ("UPDATE journal SET id = 9 WHERE id = 3", "J4"),
        ("UPDATE journal SET undone_by = NULL WHERE id = 4", "J4"),
        ("UPDATE journal SET undone_by = 5 WHERE id = 1", "J1"),
        ("UPDATE journal SET hash = NULL WHERE id = 2", "J2"),
        ("UPDATE journal SET hash = previous WHERE id = 2", "J2"),
    ],
)
def test_every_change_is_found_and_the_first_broken_line_named(store: Store, statement: str, broken: str) -> None:
    """A changed field, a line taken out, renumbered, or an undoing denied or invented: the first such line is named."""
    _tamper(store, statement)
    found = store.journal_break()
    assert found is not None
    assert found.line == broken


def test_a_last_line_taken_out_is_found(store: Store) -> None:
    """Without its last line the chain itself is whole: the counter, and a head noted elsewhere, tell."""
    head = store.journal_head()
    store.note("kim", "reveal", "M1", "the last", {})
    _tamper(store, "DELETE FROM journal WHERE id = 6")
    found = store.journal_break()
    assert found is not None
    assert found.line == "J6"
    assert store.journal_head() == head


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE journal SET why = 'other' WHERE id = 2",
        "UPDATE journal SET hash = 'x' WHERE id = 2",
        "UPDATE journal SET undone_by = 1 WHERE id = 4",
        "UPDATE journal SET undone_by = NULL WHERE id = 4",
        "DELETE FROM journal WHERE id = 5",
        "DELETE FROM journal",
        "INSERT OR REPLACE INTO journal (id, at, who, action, subject, why, detail) VALUES (2, '', '', '', '', '', '')",
        "INSERT INTO journal (id, at, who, action, subject, why, detail) VALUES (0, '', '', '', '', '', '')",
    ],
)
def test_the_records_refuse_to_change_the_journal(store: Store, statement: str) -> None:
    """No statement changes, removes or replaces a line, not even one of ours by mistake."""
    before = store.journal()
    with pytest.raises(ArchiveDamaged), store.write() as conn:
        conn.exec_driver_sql(statement)
    assert store.journal() == before
    assert store.journal_break() is None


def test_a_refused_change_leaves_no_line(store: Store) -> None:
    """A transaction that fails leaves no line and no gap behind."""
    with pytest.raises(RuntimeError), store.write():
        store.note("kim", "reveal", "M1", "never", {})
        raise RuntimeError
    assert store.note("kim", "reveal", "M1", "next", {}) == "J6"
    assert store.journal_break() is None


def test_an_older_archive_gets_its_hashes(store: Store) -> None:
    """Lines written before there was a chain are sealed when the archive is opened, and guarded from then on."""
    _tamper(
        store,
        "UPDATE journal SET previous = NULL, hash = NULL",
        "DELETE FROM migration WHERE name LIKE '%journal chain%'",
    )
    store.close()
    opened = Store(store.path)
    assert opened.journal_break() is None
    assert all(line.hash for line in opened.journal())
    with pytest.raises(ArchiveDamaged), opened.write() as conn:
        conn.exec_driver_sql("DELETE FROM journal WHERE id = 1")
    with opened.reading() as conn:
        assert migrations.pending(conn, opened.path) == []
    opened.close()


def test_lines_are_found_by_person_day_and_record(store: Store) -> None:
    """The journal answers by who, by day, and by every record that a line's detail names."""
    assert [line.id for line in store.journal(who="ADA")] == ["J4"]
    assert store.journal(who="nobody") == []
    assert [line.id for line in store.journal(about=["C2"])] == ["J4", "J5"]
    assert [line.id for line in store.journal(about=["m1"], limit=2)][-1] == "J5"
    from datetime import UTC, datetime, timedelta

    today = datetime.now(UTC).date()
    assert len(store.journal(since=today - timedelta(days=1), until=today)) == 5
    assert store.journal(until=today - timedelta(days=2)) == []


def _chained_anew(store: Store, *statements: str) -> None:
    """Change the journal as somebody would who knows the tables: guards off, counter set, every hash made anew."""
    _tamper(store, *statements)
    with store.write() as conn:
        for name in ("journal_no_update", "journal_undone_once"):
            conn.exec_driver_sql(f"DROP TRIGGER IF EXISTS {name}")
        conn.execute(sa.update(schema.journal).values(previous=None, hash=None))
        last = sa.select(sa.func.max(schema.journal.c.id)).scalar_subquery()
        conn.execute(sa.update(schema.counter).values(journal=last))
        seal(conn)


def test_a_journal_written_anew_is_found_by_the_mark_beside_it(store: Store) -> None:
    """Lines taken off the end with the counter set back, or a chain calculated anew after a change: the records agree
    with themselves, the mark in the archive's folder does not."""
    mark = store.path.with_name(HEAD_FILE)
    assert mark.read_text() == f"J5 {store.journal_head().hash}\n"
    store.note("kim", "reveal", "M1", "the last", {})
    _chained_anew(store, "DELETE FROM journal WHERE id = 6")
    found = store.journal_break()
    assert found is not None and found.line == "J6"
    mark.write_text(f"J5 {store.journal_head().hash}\n")
    assert store.journal_break() is None
    _chained_anew(store, "UPDATE journal SET who = 'eve' WHERE id = 2")
    found = store.journal_break()
    assert found is not None and found.line == "J5" and "written anew" in found.sentence


def test_a_mark_that_is_missing_or_behind_is_none_of_its_business(store: Store) -> None:
    """An archive without a mark, as older ones are, a mark that a kill left behind and one emptied by a power cut
    contradict nothing; a mark that is no mark does."""
    mark = store.path.with_name(HEAD_FILE)
    behind = mark.read_text()
    store.note("kim", "reveal", "M1", "one more", {})
    mark.write_text(behind)
    assert store.journal_break() is None
    mark.write_text("")
    assert store.journal_break() is None
    mark.unlink()
    assert store.journal_break() is None
    mark.write_text("J6\n")
    found = store.journal_break()
    assert found is not None and found.line == HEAD_FILE
