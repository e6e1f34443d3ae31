"""The last line of the journal noted in a file beside the records: lines taken off its end are missed then, even where
somebody who knows the tables set the counter back or calculated the chain anew.

The mark is written after the transaction: it may be behind the journal, as after a kill, but never ahead of it.
"""

from __future__ import annotations

import os
import re
from contextlib import suppress
from pathlib import Path

import sqlalchemy as sa

from counterfoil.records import refs, schema
from counterfoil.records.chain import Break, Head

#: Beside the records.
HEAD_FILE = "journal.head"
_MARK = re.compile(r"(J([0-9]+)) ([0-9a-f]{64})\n")


def write(records: Path, head: Head) -> None:
    """Note the last line.

    Args:
        records: the database file.
        head: the last line.
    """
    path = records.with_name(HEAD_FILE)
    new = path.with_name(f"{HEAD_FILE}.{os.getpid()}.tmp")
    # The journal itself is durable already. A mark that cannot be written stays at an older line, and still holds.
    with suppress(OSError):
        try:
            new.write_text(f"{head.line} {head.hash}\n", encoding="ascii")
            new.replace(path)
        except OSError:
            new.unlink(missing_ok=True)


def contradiction(conn: sa.Connection, records: Path) -> Break | None:
    """Compare the journal with the mark.

    Args:
        conn: a connection.
        records: the database file.

    Returns:
        What is wrong; None where the line marked is in the journal as it was, or no mark is there.
    """
    try:
        text = records.with_name(HEAD_FILE).read_text(encoding="ascii", errors="replace")
    except OSError:
        return None
    if not text.strip("\0"):
        # Not synced: after a power cut it may be empty, and tells nothing until the next line.
        return None
    mark = _MARK.fullmatch(text)
    if mark is None:
        return Break(HEAD_FILE, f"The file {HEAD_FILE} does not name a line and its hash.")
    line, number, hashed = mark.groups()
    table = schema.journal
    found = conn.execute(sa.select(table.c.hash).where(table.c.id == int(number))).one_or_none()
    if found is None:
        last = conn.scalar(sa.select(sa.func.max(table.c.id))) or 0
        missing = f"{refs.JOURNAL}{last + 1}"
        return Break(missing, f"The line {missing} is missing, and all after it: {HEAD_FILE} names {line}.")
    if found.hash != hashed:
        return Break(line, f"{line} has another hash than {HEAD_FILE} names: the journal was written anew.")
    return None
