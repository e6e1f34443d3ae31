"""Changes of rows that can be taken back: each is remembered as it is made, and put into the journal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa

from counterfoil.records import schema
from counterfoil.records.rows import Row

#: Columns that tell the index to look again; they grow with every change and are not part of a state.
_MARKS = frozenset({"revision", "again"})


class Changes:
    """Writes to the tables of :data:`schema.UNDOABLE`, one row at a time, and remembers what stood there before.

    Args:
        conn: a connection that writes.
    """

    def __init__(self, conn: sa.Connection) -> None:
        self.conn = conn
        self.made: list[Row] = []

    def insert(self, table: str, row: Row) -> None:
        """Insert a row that holds no values (customer, machine, holding)."""
        self.conn.execute(sa.insert(schema.UNDOABLE[table]), row)
        self.made.append({"table": table, "id": row["id"], "how": "insert", "after": row})

    def inserted(self, table: str, number: int) -> None:
        """Remember a row inserted elsewhere, by its id alone: the journal keeps no second copy of a code."""
        self.made.append({"table": table, "id": number, "how": "insert", "after": {}})

    def update(self, table: str, number: int, values: Mapping[str, Any]) -> None:
        """Change some columns of a row; nothing is written or remembered where they say so already."""
        held = schema.UNDOABLE[table]
        row = self.conn.execute(sa.select(held).where(held.c.id == number)).one()._mapping
        before = {k: row[k] for k, v in values.items() if row[k] != v}
        if not before:
            return
        after = {k: values[k] for k in before}
        self.conn.execute(sa.update(held).where(held.c.id == number), after)
        kept = [k for k in before if k not in _MARKS]
        if kept:
            change = {"before": {k: before[k] for k in kept}, "after": {k: after[k] for k in kept}}
            self.made.append({"table": table, "id": number, "how": "update", **change})

    def delete(self, table: str, number: int) -> None:
        """Delete a row of a table that holds no values (customer, machine, holding)."""
        held = schema.UNDOABLE[table]
        row = dict(self.conn.execute(sa.select(held).where(held.c.id == number)).one()._mapping)
        self.conn.execute(sa.delete(held).where(held.c.id == number))
        self.made.append({"table": table, "id": number, "how": "delete", "before": row})
