"""The database behind the records: how it is opened, how its errors become ours.

SQLite through the sqlcipher3 driver, for the SQLite it brings: versions 3.7.0 to 3.51.2 can damage a database in WAL
mode when a checkpoint resets the log, so an older library is refused. WAL lets readers go on beside a writer;
synchronous=FULL because a commit that was reported must survive a power cut.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlcipher3 import dbapi2

from counterfoil.errors import ArchiveBusy, ArchiveDamaged, CounterfoilError, StorageFull

#: The first version without the fault in resetting the write-ahead log.
SAFE_SQLITE = (3, 51, 3)
#: Connections opened for writing carry this execution option.
WRITING = "counterfoil_writing"
#: And this one where their sync is left to a later transaction, see :meth:`Store.grouped`.
GROUPED = "counterfoil_grouped"

_PRAGMAS = (
    "foreign_keys = ON",
    "journal_mode = WAL",
    "synchronous = FULL",
    "trusted_schema = OFF",
    # In pages of 4 KiB: the log is copied into the file every 16 MB; the default of 4 MB costs 7 % of a long ingest.
    "wal_autocheckpoint = 4000",
)
_MEANINGS: tuple[tuple[tuple[str, ...], type[CounterfoilError], str], ...] = (
    (("disk is full", "readonly database", "read-only", "disk i/o error"), StorageFull, "cannot be written"),
    (("is locked", "busy"), ArchiveBusy, "is being written to by another run"),
    (
        ("malformed", "not a database", "unable to open", "no such table", "no such column", "corrupt"),
        ArchiveDamaged,
        "cannot be read",
    ),
)


def make_engine(path: Path, busy_seconds: float) -> sa.Engine:
    """Return an engine over the SQLite file at ``path``.

    Args:
        path: the file; SQLite makes it where it is missing.
        busy_seconds: how long a statement waits for another writer.

    Raises:
        CounterfoilError: the driver's SQLite is too old to be trusted with a write-ahead log.
    """
    check_version(dbapi2.sqlite_version_info)

    def connect() -> Any:
        # isolation_level=None: the driver must not begin transactions by itself, see _begin.
        return dbapi2.connect(str(path), timeout=busy_seconds, isolation_level=None, check_same_thread=False)

    engine = sa.create_engine("sqlite://", module=dbapi2, creator=connect, poolclass=sa.QueuePool)
    sa.event.listen(engine, "connect", _prepare)
    sa.event.listen(engine, "begin", _begin)
    return engine


def check_version(version: tuple[int, ...]) -> None:
    """Refuse a SQLite with the fault in resetting the write-ahead log.

    Raises:
        CounterfoilError: ``version`` is older than :data:`SAFE_SQLITE`.
    """
    if version < SAFE_SQLITE:
        have, need = (".".join(map(str, v)) for v in (version, SAFE_SQLITE))
        raise CounterfoilError(
            f"The SQLite {have} inside sqlcipher3 can damage the records; {need} or newer is needed.",
            "Run `pip install --upgrade sqlcipher3`, then the command again.",
        )


def _prepare(connection: Any, _record: object) -> None:
    """Set what SQLite keeps per connection. The busy time comes first: entering WAL mode may have to wait already."""
    cursor = connection.cursor()
    for pragma in _PRAGMAS:
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin(connection: sa.Connection) -> None:
    """Begin a transaction; a writer takes the lock at once, or two could read first and then block each other."""
    options = connection.get_execution_options()
    writing = options.get(WRITING, False)
    if writing:
        connection.exec_driver_sql(f"PRAGMA synchronous = {'NORMAL' if options.get(GROUPED, False) else 'FULL'}")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


@contextmanager
def errors_mapped(path: Path) -> Iterator[None]:
    """Turn the database's errors into ours.

    Args:
        path: the database file, named in the message.

    Raises:
        StorageFull: the disk is full or refuses to be written.
        ArchiveBusy: another run held the write lock for too long.
        ArchiveDamaged: the file is not a database, or a broken one, or contradicts itself.
    """
    try:
        yield
    except sa.exc.DBAPIError as error:
        raise translated(error.orig or error, path) from error
    except dbapi2.Error as error:
        raise translated(error, path) from error


def translated(error: BaseException, path: Path) -> CounterfoilError:
    """Return our error for one of the database's."""
    text = str(error).lower()
    for words, cls, what in _MEANINGS:
        if any(word in text for word in words):
            return cls(f"The records in {path} {what}: {error}.")
    if isinstance(error, dbapi2.IntegrityError):
        return ArchiveDamaged(f"The records in {path} refused a contradicting entry: {error}.")
    return CounterfoilError(f"The records in {path} failed: {error}.")
