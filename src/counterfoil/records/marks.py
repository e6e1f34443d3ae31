"""How far folders on mail servers were read: the UIDVALIDITY and the last UID of each (RFC 3501, section 2.3.1.1)."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass

import sqlalchemy as sa

from counterfoil.records import schema
from counterfoil.records.rows import now
from counterfoil.records.store import Store

_mark = schema.mailbox_mark


@dataclass(frozen=True, slots=True)
class Mark:
    """How far a folder was read.

    ``uidvalidity`` is what the server calls this numbering of the folder, ``last`` the highest UID dealt with; those in
    ``left`` are below it and could not be taken in.
    """

    uidvalidity: int
    last: int = 0
    left: tuple[int, ...] = ()


def read_mark(store: Store, account: str, folder: str) -> Mark | None:
    """Return the mark of a folder, None where it was never read.

    Args:
        store: the records.
        account: user, host and port.
        folder: its name.
    """
    with store.reading() as conn:
        return _read(conn, account, folder)


def move_mark(
    store: Store, account: str, folder: str, uidvalidity: int, *, kept: Collection[int], left: Collection[int]
) -> None:
    """Move the mark of a folder on, durably, in a transaction of its own. It never goes back within one numbering.

    Args:
        store: the records.
        account: user, host and port.
        folder: its name.
        uidvalidity: the numbering.
        kept: UIDs of messages that are durably kept, or are gone from the server.
        left: UIDs of messages that could not be taken in and are to be tried again.
    """
    with store.write() as conn:
        old = _read(conn, account, folder)
        if old is None or old.uidvalidity != uidvalidity:
            old = Mark(uidvalidity)
        last = max((old.last, *kept, *left))
        still = sorted((set(old.left) | set(left)) - set(kept))
        conn.execute(sa.delete(_mark).where(_mark.c.account == account, _mark.c.folder == folder))
        row = {"uidvalidity": uidvalidity, "last_uid": last, "left": json.dumps(still), "at": now()}
        conn.execute(sa.insert(_mark), {"account": account, "folder": folder, **row})


def _read(conn: sa.Connection, account: str, folder: str) -> Mark | None:
    row = conn.execute(sa.select(_mark).where(_mark.c.account == account, _mark.c.folder == folder)).first()
    return None if row is None else Mark(row.uidvalidity, row.last_uid, tuple(json.loads(row.left)))
