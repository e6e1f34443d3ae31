"""Customers that were merged into another: their ids stay answerable, and lead to the one that has all of theirs."""

from __future__ import annotations

from collections import defaultdict

import sqlalchemy as sa

from counterfoil.records import schema

_table = schema.customer


def present(conn: sa.Connection, number: int) -> int:
    """Return the number of the customer that an id leads to today: itself, or the one it was merged into."""
    query = sa.select(_table.c.merged_into).where(_table.c.id == sa.bindparam("number"))
    while (into := conn.scalar(query, {"number": number})) is not None:
        number = into
    return number


def merged_numbers(conn: sa.Connection) -> dict[int, list[int]]:
    """Return, for every customer that others were merged into, their numbers, those merged earlier included."""
    rows = conn.execute(sa.select(_table.c.id, _table.c.merged_into).where(_table.c.merged_into.is_not(None)))
    into = {row.id: row.merged_into for row in rows}
    found: dict[int, list[int]] = defaultdict(list)
    for number in sorted(into):
        last = into[number]
        while last in into:
            last = into[last]
        found[last].append(number)
    return dict(found)
