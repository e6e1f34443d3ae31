"""The records as a database: opening, transactions, two writers, errors."""

from __future__ import annotations

import multiprocessing
import sqlite3
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa
from records_world import MARIT, SETTINGS, another, dump, fact, message, reading, take, values
from sqlcipher3 import dbapi2

from counterfoil.errors import (
    ArchiveBusy,
    ArchiveDamaged,
    ArchiveMissing,
    ArchiveTooNew,
    CounterfoilError,
    RecordUnknown,
    StorageFull,
)
from counterfoil.model import Document, Kind, Standing
from counterfoil.records import engine, migrations, schema
from counterfoil.records.store import Store
from counterfoil.settings import Settings


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the records are."""
    return tmp_path / "records.db"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    """New records, which a test may break."""
    made = Store(path, create=True, settings=SETTINGS)
    yield made
    made.close()


# --- opening --------------------------------------------------------------------------------------


def test_missing_file(path: Path) -> None:
    """Without a file, and without leave to make one, nothing is made."""
    with pytest.raises(ArchiveMissing, match=str(path)):
        Store(path)
    assert not path.exists()


def test_opening_again_keeps_all(store: Store, path: Path) -> None:
    """What was written is there when the file is opened again, also with `create`."""
    take(store, MARIT)
    before = dump(store)
    for create in (False, True):
        again = Store(path, create=create)
        assert dump(again) == before
        again.close()


def test_pragmas(store: Store) -> None:
    """Every connection has the write-ahead log, full sync, foreign keys, and a time to wait."""
    for opener in (store.reading, store.write):
        with opener() as conn:
            found = {p: conn.scalar(sa.text(f"PRAGMA {p}")) for p in ("journal_mode", "synchronous", "foreign_keys")}
            wait = conn.scalar(sa.text("PRAGMA busy_timeout"))
        assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}
        assert wait == SETTINGS.busy_wait_seconds * 1000


@pytest.mark.parametrize("version", [(3, 40, 1), (3, 51, 2)])
def test_old_sqlite_is_refused(version: tuple[int, int, int]) -> None:
    """A SQLite with the fault in resetting the write-ahead log is refused, with the cure."""
    with pytest.raises(CounterfoilError, match=r"3\.51\.3") as refused:
        engine.check_version(version)
    assert "pip install" in refused.value.next_step
    engine.check_version((3, 51, 3))


@pytest.mark.parametrize("content", [b"not a database at all" * 400, b"SQLite format 3\x00" + b"\xff" * 5000])
def test_no_database(path: Path, content: bytes) -> None:
    """A file that is no database is damage."""
    path.write_bytes(content)
    with pytest.raises(ArchiveDamaged, match=str(path)):
        Store(path)


def test_foreign_database(path: Path) -> None:
    """A database without our tables is not taken for an archive."""
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE something (a)")
    other.close()
    with pytest.raises(ArchiveDamaged, match="no records"):
        Store(path)


@pytest.mark.parametrize("first", [1, 5, 20])
def test_damaged_pages_are_reported(store: Store, path: Path, first: int) -> None:
    """Pages overwritten with rubbish are found: when the file is opened, or by its check."""
    for number in range(40):
        take(store, another(number, customer_name=f"Runa Test{number}x", email_address=f"p{number}@post.example"))
    store.close()
    data = bytearray(path.read_bytes())
    data[first * 4096 : (first + 3) * 4096] = b"\xa5" * (4096 * 3)
    path.write_bytes(data)
    try:
        found = Store(path).integrity()
    except ArchiveDamaged as error:
        found = [str(error)]
    assert found


# --- migrations -----------------------------------------------------------------------------------


def test_newer_archive_is_refused(store: Store, path: Path) -> None:
    """An archive that a newer version changed is refused by the name of the change."""
    with store.write() as conn:
        conn.execute(sa.insert(schema.migration), {"name": "0099 of the future", "at": "2030"})
    with pytest.raises(ArchiveTooNew, match="0099 of the future"):
        Store(path)


def test_migrations_run_once_in_order(store: Store, path: Path) -> None:
    """Missing migrations run in order, once, and are written down."""
    ran: list[str] = []
    later = [migrations.Migration(f"000{n} more", lambda conn, n=n: ran.append(str(n))) for n in (2, 3)]  # type: ignore[misc]
    known = [*migrations.MIGRATIONS, *later]
    with store.write() as conn:
        assert migrations.migrate(conn, path, known) == ("0002 more", "0003 more")
        assert migrations.migrate(conn, path, known) == ()
    assert ran == ["2", "3"]


def test_failed_migration_changes_nothing(store: Store, path: Path) -> None:
    """A migration that fails leaves the tables, and the list of those applied, as they were."""

    def broken(conn: sa.Connection) -> None:
        conn.execute(sa.text("CREATE TABLE half (a INTEGER)"))
        conn.execute(sa.text("INSERT INTO nowhere VALUES (1)"))

    known = [*migrations.MIGRATIONS, migrations.Migration("0002 broken", broken)]
    with pytest.raises(ArchiveDamaged), store.write() as conn:
        migrations.migrate(conn, path, known)
    with store.reading() as conn:
        assert not sa.inspect(conn).has_table("half")
        assert [m.name for m in migrations.pending(conn, path, known)] == ["0002 broken"]


# --- transactions ---------------------------------------------------------------------------------


def test_error_rolls_back(store: Store) -> None:
    """Nothing of a transaction stays when it ends in an error, and the store goes on working."""
    before = dump(store)
    with pytest.raises(ZeroDivisionError), store.write():
        take(store, MARIT)
        store.note("kim", "print", "M1", "asked", {})
        raise ZeroDivisionError
    assert dump(store) == before and store.journal() == []
    assert take(store, MARIT)[0] == "E1"


def test_reader_sees_one_state(store: Store) -> None:
    """A reading transaction sees one state throughout, whatever another thread commits meanwhile."""
    take(store, MARIT)
    with store.reading() as conn:
        count = sa.select(sa.func.count()).select_from(schema.message)
        assert conn.scalar(count) == 1
        thread = threading.Thread(target=take, args=(store, another(2)))
        thread.start()
        thread.join()
        assert conn.scalar(count) == 1
    assert store.message_count() == 2


def test_two_threads_write_in_turn(store: Store) -> None:
    """Several threads that write at once wait for each other; every message is there once, every id is its own."""

    def work(first: int) -> None:
        for number in range(first, first + 10):
            take(store, another(number, customer_name=f"Runa Nr{number}", email_address=f"p{number}@post.example"))

    threads = [threading.Thread(target=work, args=(n * 100,)) for n in range(1, 4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    messages = store.messages()
    assert sorted(m.id for m in messages) == sorted(f"E{n}" for n in range(1, 31))
    assert store.revision() == 30 and store.integrity() == []


def _hold(path: Path, begun: Path, seconds: float) -> None:
    other = Store(path)
    with other.write():
        other.note("other", "print", "M1", "slow", {})
        begun.touch()
        time.sleep(seconds)
    other.close()


def test_second_process_waits(store: Store, path: Path, tmp_path: Path) -> None:
    """While another process writes, a second waits and then writes; with no patience left it says so."""
    # A file tells when: semaphores need shared memory, which a bare machine may not give to everybody.
    begun = tmp_path / "begun"
    process = multiprocessing.get_context("spawn").Process(target=_hold, args=(path, begun, 1.0))
    process.start()
    deadline = time.monotonic() + 30
    while not begun.exists() and time.monotonic() < deadline:
        time.sleep(0.01)
    hasty = Store(path, settings=Settings(busy_wait_seconds=0.05))
    with pytest.raises(ArchiveBusy, match="another run"):
        hasty.note("hasty", "print", "M1", "now", {})
    store.note("patient", "print", "M1", "later", {})
    process.join()
    assert [e.who for e in store.journal()] == ["other", "patient"]
    hasty.close()


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("database or disk is full", StorageFull),
        ("attempt to write a readonly database", StorageFull),
        ("disk I/O error", StorageFull),
        ("database is locked", ArchiveBusy),
        ("database disk image is malformed", ArchiveDamaged),
        ("file is not a database", ArchiveDamaged),
        ("unable to open database file", ArchiveDamaged),
        ("no such table: fact", ArchiveDamaged),
    ],
)
def test_errors_of_the_database(tmp_path: Path, text: str, wanted: type[CounterfoilError]) -> None:
    """Each way in which SQLite fails becomes one of our errors that names the file."""
    error = engine.translated(dbapi2.OperationalError(text), tmp_path / "records.db")
    assert type(error) is wanted
    assert "records.db" in str(error)


def test_full_disk(store: Store) -> None:
    """A database that cannot grow is reported as a full disk, and nothing half written stays."""
    take(store, MARIT)
    before = dump(store)
    big = message(Document("body", 0, "x" * 4_000_000, ()))
    with pytest.raises(StorageFull), store.write() as conn:
        conn.execute(sa.text("PRAGMA max_page_count = 60"))
        take(store, another(2), big)
    store.close()
    assert dump(store) == before


# --- messages -------------------------------------------------------------------------------------


def test_message_as_kept(store: Store) -> None:
    """A message record gives back what was read, with places, and the reason for its standing."""
    mail = message(Document("body", 0, "My key: SPQ4-7RTW-M2XA.", ()), subject="Code 9KDW-4HPX-77RA-B2NE")
    read = replace(reading(MARIT), signs=("maker's sender",), language="en")
    ref, _ = take(store, read, mail)
    record = store.message(ref.lower())
    assert (record.sha256, record.source, record.standing) == (mail.sha256, "inbox/1.eml", Standing.FILED)
    assert record.received == "2025-03-10T09:30:00+00:00"
    assert {n.fact for n in record.facts} == set(read.facts)
    assert "maker's sender" in record.signs and len(record.signs) > 1
    assert "SPQ4" not in record.documents[0].text and "9KDW" not in record.subject
    assert store.known(mail.sha256) == ref and store.known("0" * 64) is None
    assert store.hashes() == {mail.sha256}


def test_messages_by_standing(store: Store) -> None:
    """Messages are listed by standing in the order they were kept, with their questions."""
    take(store, MARIT)
    take(store, values(customer_name="Marit"))
    take(store, reading(MARIT, confirmation=-1.0))
    assert [m.id for m in store.messages()] == ["E1", "E2", "E3"]
    assert [m.id for m in store.messages(Standing.OPEN)] == ["E2"]
    assert store.messages(Standing.OPEN)[0].questions


@pytest.mark.parametrize("ref", ["E9", "C9", "M9", "", "E", "7", "E0", "E1 OR 1=1", "E" + "9" * 40, "É1"])
def test_unknown_refs(store: Store, ref: str) -> None:
    """Ids that no record has, and texts that are no ids, are named as such."""
    for ask in (store.message, store.customer, store.machine):
        with pytest.raises(RecordUnknown):
            ask(ref)


def test_index_entries(store: Store) -> None:
    """The index gets each message once per revision, in order, with masked text, maker, model and day."""
    body = Document("body", 0, "The key is SPQ4-7RTW-M2XA, keep it.", ())
    take(store, replace(reading(MARIT), redacted={"body": "The key is ••••-••••-••••, keep it."}), message(body))
    take(store, another(2))
    first, second = store.index_entries(0, 10)
    assert (first.message, first.revision, first.again) == ("E1", 1, False)
    assert first.body == "The key is ••••-••••-••••, keep it."
    assert (first.maker, first.model, str(first.received)) == ("Halden", "Aria 500", "2025-03-10")
    assert "marit@post.example" in first.sender
    assert [e.message for e in store.index_entries(1, 10)] == ["E2"]
    assert [e.message for e in store.index_entries(0, 1)] == ["E1"]
    assert store.index_entries(second.revision, 10) == [] and store.revision() == second.revision


def test_codes_are_in_no_text(store: Store, path: Path) -> None:
    """Product keys and activation codes stand in the table of facts alone: not in texts, questions or subjects."""
    key = MARIT[Kind.PRODUCT_KEY]
    take(store, values(customer_name="Marit"), message(Document("body", 0, f"My key: {key}", ()), subject=key))
    with store.reading() as conn:
        for table in schema.metadata.sorted_tables:
            rows = conn.execute(sa.select(table)).all()
            assert table.name == "fact" or key not in repr(rows), table.name


def test_notes(store: Store) -> None:
    """Notes are lines of the journal, oldest first, found by their record, the newest when limited."""
    for number in range(1, 4):
        assert store.note("kim", "reveal", f"M{number % 2}", "asked", {"codes": number}) == f"J{number}"
    assert [e.id for e in store.journal()] == ["J1", "J2", "J3"]
    assert [e.id for e in store.journal(subject="m1")] == ["J1", "J3"]
    assert [e.id for e in store.journal(limit=2)] == ["J2", "J3"]
    assert store.journal()[0].detail == {"codes": 1}


def test_fact_keeps_everything(store: Store) -> None:
    """Every field of a fact comes back as it was, readings and evidence included."""
    odd = fact(Kind.INVOICE_NUMBER, "R-77", odds=1.25)
    odd = replace(odd, readings=("a", ""), evidence=("near label", "“quoted”\nline"))
    ref, _ = take(store, reading(MARIT, odd))
    assert odd in {n.fact for n in store.message(ref).facts}
