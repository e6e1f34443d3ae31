"""Numbers of records, handed out by one row inside the writing transaction: none is ever used twice."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from counterfoil.records import schema

_NAMES = tuple(c.name for c in schema.counter.columns if c.name != "id")
_TAKE = (
    sa.update(schema.counter)
    .where(schema.counter.c.id == 1)
    .values({name: schema.counter.c[name] + sa.bindparam(f"more_{name}") for name in _NAMES})
    .returning(*(schema.counter.c[name] for name in _NAMES))
)


def take(conn: sa.Connection, **more: int) -> sa.Row[Any]:
    """Take new numbers, all in one statement.

    Args:
        conn: a connection that writes.
        more: how many of each column of the counter.

    Returns:
        The last number taken of each.
    """
    return conn.execute(_TAKE, {f"more_{name}": more.get(name, 0) for name in _NAMES}).one()
