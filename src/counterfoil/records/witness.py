"""What tells these records, as they are now, from all others: also from themselves put back from a backup.

The newest message, with its hash and the moment it was kept, vouches for all that came in before it: messages are never
taken out, their numbers never used twice. The last line of the journal, with its place in the chain, vouches for every
change made to them since. Records that still have both hold all that these records held then.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from counterfoil.records import refs, schema

_message, _journal = schema.message, schema.journal
_COLUMNS = (_message.c.id, _message.c.sha256, _message.c.kept)
_NEWEST = sa.select(*_COLUMNS).order_by(_message.c.id.desc()).limit(1)
_LINE = sa.select(_journal.c.id, _journal.c.hash).where(_journal.c.hash.is_not(None))
_LAST = _LINE.order_by(_journal.c.id.desc()).limit(1)
#: Stands for the message or the line where there is none yet.
_NONE = "-"


def testimony(conn: sa.Connection) -> str:
    """Return a text that names the newest message and the last line of the journal.

    Args:
        conn: a connection.
    """
    message, line = conn.execute(_NEWEST).one_or_none(), conn.execute(_LAST).one_or_none()
    return f"{_message_text(message)} {_line_text(line)}"


def is_borne_out(conn: sa.Connection, said: str) -> bool:
    """Tell whether the message and the line that a text of :func:`testimony` names are in the records as they were.

    Args:
        conn: a connection.
        said: the text.
    """
    message, _, line = said.partition(" ")
    return _has_message(conn, message) and _has_line(conn, line)


def _has_message(conn: sa.Connection, said: str) -> bool:
    number = _number(said, refs.MESSAGE)
    found = None if number is None else conn.execute(sa.select(*_COLUMNS).where(_message.c.id == number)).one_or_none()
    return said == _message_text(found)


def _has_line(conn: sa.Connection, said: str) -> bool:
    number = _number(said, refs.JOURNAL)
    found = None if number is None else conn.execute(_LINE.where(_journal.c.id == number)).one_or_none()
    return said == _line_text(found)


def _message_text(row: sa.Row[Any, Any, Any] | None) -> str:
    return _NONE if row is None else f"{refs.MESSAGE}{row.id}/{row.sha256}/{row.kept}"


def _line_text(row: sa.Row[Any, Any] | None) -> str:
    return _NONE if row is None else f"{refs.JOURNAL}{row.id}/{row.hash}"


def _number(said: str, letter: str) -> int | None:
    """Return the number a text begins with, behind its letter; None where it names nothing."""
    digits = said[1:].partition("/")[0]
    return int(digits) if said[:1] == letter and digits.isascii() and digits.isdigit() and len(digits) < 18 else None
