"""Finding codes in the records: whole, by their end, by a piece from the middle, with wrong characters in them.

How codes are cut for that is said in codes.py. Near misses are looked for among all codes that share two pieces with
what was typed, however many these are: cutting the crowd off would lose the one that is meant.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

import sqlalchemy as sa

from counterfoil.model import CODE_KINDS, CodeHit
from counterfoil.records import refs, schema
from counterfoil.records.bulk import compiled
from counterfoil.records.codes import (
    MOST_PROBES,
    SHORTEST_ENDING,
    SHORTEST_NEAR,
    is_near,
    nearest,
    probes,
    variants,
    weighted_distance,
)
from counterfoil.records.rows import noted_of

_fact = schema.fact
_CODES = sorted(k.value for k in CODE_KINDS)
#: Longer ends are looked up as codes with wrong characters, shorter ones with one wrong character only.
_LONGEST_ENDING, _TWO_WRONG = 8, 6
#: More codes than this that nearly end so are none that anybody means.
_FEW = 12

_HITS = (
    sa.select(_fact, schema.holding.c.customer_id.label("holder"))
    .select_from(
        _fact.outerjoin(
            schema.holding,
            sa.and_(schema.holding.c.machine_id == _fact.c.machine_id, schema.holding.c.until.is_(None)),
        )
    )
    .where(_fact.c.kind.in_(_CODES), sa.not_(_fact.c.dropped))
)
_WHOLE = _HITS.where(_fact.c.key == sa.bindparam("wanted"))
_ENDING = (
    _HITS.where(_fact.c.reversed >= sa.bindparam("low"), _fact.c.reversed < sa.bindparam("high"))
    .order_by(_fact.c.reversed)
    .limit(sa.bindparam("most"))
)
_ONE: sa.ColumnElement[int] = sa.literal_column("1", sa.Integer)
_WHOLE_THERE = sa.select(sa.exists(_ONE).where(_fact.c.key == sa.bindparam("wanted")))
_ENDING_THERE = sa.select(
    sa.exists(_ONE).where(_fact.c.reversed >= sa.bindparam("low"), _fact.c.reversed < sa.bindparam("high"))
)
_THESE = _HITS.where(_fact.c.id.in_(sa.bindparam("ids", expanding=True)))
# The index over the reversed codes holds all that is asked, so that the rows of facts are not touched.
_MIDDLE = (
    sa.select(_fact.c.id)
    .where(_fact.c.reversed > "", sa.func.instr(_fact.c.reversed, sa.bindparam("piece")) > 0)
    .order_by(_fact.c.reversed, _fact.c.id)
    .limit(sa.bindparam("most"))
)
#: Always with the same number of keys, so that one statement serves all.
_SHARING = sa.select(schema.piece.c.fact_id, schema.piece.c.folded).where(
    schema.piece.c.piece.in_([sa.bindparam(f"k{n}", type_=sa.Text) for n in range(MOST_PROBES)])
)
#: Ranges of endings in one statement: older versions of SQLite take 999 parameters.
_AT_ONCE = 400


def find_code(
    conn: sa.Connection, normal: str, *, endings: bool, near: bool, limit: int, middles: bool = False
) -> list[CodeHit]:
    """Return where a code stands; see :meth:`Store.find_code`."""
    if not normal:
        return []
    hits = _looked_up(conn, _WHOLE, _WHOLE_THERE, {"wanted": normal}, "whole")
    if not hits and endings and len(normal) >= SHORTEST_ENDING:
        low = normal[::-1]
        bounds = {"low": low, "high": _after(low), "most": 4 * limit}
        hits = _looked_up(conn, _ENDING, _ENDING_THERE, bounds, "ending")
    if not hits and near and len(normal) >= SHORTEST_NEAR:
        hits = _near(conn, normal, 4 * limit)
    if not hits and middles and len(normal) >= SHORTEST_ENDING:
        inside = conn.scalars(_MIDDLE, {"piece": normal[::-1], "most": 4 * limit}).all()
        hits = _ranked(conn, dict.fromkeys(inside, 0), "middle", 4 * limit)
    if not hits and middles and SHORTEST_ENDING <= len(normal) <= _LONGEST_ENDING:
        hits = _ranked(conn, _near_endings(conn, normal), "near ending", 4 * limit)
    return hits[:limit]


def _looked_up(
    conn: sa.Connection, query: sa.Select[Any], there: sa.Select[Any], values: Mapping[str, object], how: str
) -> list[CodeHit]:
    """Return what a query finds. Whether there is anything is asked first, of the index alone: mostly there is not."""
    ((found,),) = _rows(conn, there, values)
    return _hits(conn.execute(query, dict(values)), how) if found else []


def _rows(conn: sa.Connection, query: sa.Select[Any], values: Mapping[str, object]) -> list[Any]:
    """Return rows from the driver's own cursor, at a third of the cost where they are thousands, or none."""
    statement, order = compiled(query, conn.dialect)
    cursor = conn.connection.cursor()
    try:
        cursor.execute(statement, tuple(values[name] for name in order) if order else values)
        return list(cursor.fetchall())
    finally:
        cursor.close()


def _near(conn: sa.Connection, normal: str, most: int) -> list[CodeHit]:
    """Return where codes stand that differ from one in up to two characters, nearest first."""
    keys = probes(normal)
    if not keys:
        return []
    keys += keys[:1] * (MOST_PROBES - len(keys))
    found = nearest(normal, dict(_rows(conn, _SHARING, {f"k{n}": key for n, key in enumerate(keys)})))
    hits = _ranked(conn, found, "near", most)
    # With nothing wrong but look-alikes, any number of them: then every other character is right.
    hits = [hit for hit in hits if not found[hit.noted.id] or is_near(normal, hit.noted.fact.normal)]
    return sorted(hits, key=lambda hit: weighted_distance(normal, hit.noted.fact.normal))


def _near_endings(conn: sa.Connection, normal: str) -> dict[int, float]:
    """Return the ids of facts whose code ends nearly so, with how nearly."""
    found = _ending_in(conn, variants(normal, 1 if len(normal) < _TWO_WRONG else 2))
    if not found and len(normal) < _TWO_WRONG:
        # Two wrong of four or five: an answer only where few codes end so, as in a small shop.
        found = _ending_in(conn, variants(normal, 2))
        return found if len(found) <= _FEW else {}
    return found


def _ending_in(conn: sa.Connection, wanted: Mapping[str, float]) -> dict[int, float]:
    found: dict[int, float] = {}
    lows = sorted((ending[::-1], cost) for ending, cost in wanted.items())
    for start in range(0, len(lows), _AT_ONCE):
        part = lows[start : start + _AT_ONCE]
        bounds = {f"low{n}": low for n, (low, _) in enumerate(part)}
        bounds |= {f"high{n}": _after(low) for n, (low, _) in enumerate(part)}
        for number, low in conn.execute(_ranges(len(part)), bounds):
            found[number] = wanted[low[::-1]]
    return found


@lru_cache(maxsize=32)
def _ranges(count: int) -> sa.TextClause:
    """Return the statement that finds what ends in one of so many ways; the join is written so that none is turned."""
    ranges = ", ".join(f"(:low{n}, :high{n})" for n in range(count))
    return sa.text(
        f"WITH wanted (low, high) AS (VALUES {ranges}) SELECT fact.id, wanted.low FROM wanted CROSS JOIN fact "
        "WHERE fact.reversed >= wanted.low AND fact.reversed < wanted.high"
    )


def _ranked(conn: sa.Connection, ranks: Mapping[int, float], how: str, most: int) -> list[CodeHit]:
    """Return the hits of facts found, the lowest rank first."""
    first = sorted(ranks, key=lambda number: (ranks[number], number))[:most]
    if not first:
        return []
    hits = _hits(conn.execute(_THESE, {"ids": first}), how)
    return sorted(hits, key=lambda hit: ranks[hit.noted.id])


def _after(text: str) -> str:
    """Return the first text that no longer begins with ``text`` (codes are ASCII)."""
    return text[:-1] + chr(ord(text[-1]) + 1)


def _hits(rows: Iterable[sa.Row[Any]], how: str) -> list[CodeHit]:
    """Return one hit per code and place it belongs to: filed ones first; mere evidence only where there is no other."""
    best: dict[tuple[str, str, int | None, str], tuple[int, sa.Row[Any]]] = {}
    for row in rows:
        rank = 0 if row.machine_id is not None else 1 if row.chosen else 2
        source = f"E{row.message_id}" if row.message_id is not None else f"J{row.journal_id}"
        place = (row.kind, row.normal, row.machine_id, source)
        if place not in best or rank < best[place][0]:
            best[place] = (rank, row)
    top: dict[str, int] = {}
    for (_, normal, _, _), (rank, _) in best.items():
        top[normal] = min(rank, top.get(normal, rank))
    kept = [(rank, row) for (_, normal, _, _), (rank, row) in best.items() if rank < 2 or top[normal] == 2]
    return [
        CodeHit(
            noted_of(row),
            refs.ref(refs.CUSTOMER, row.holder),
            refs.ref(refs.MACHINE, row.machine_id),
            refs.ref(refs.MESSAGE, row.message_id),
            how,
        )
        for _, row in sorted(kept, key=lambda pair: (pair[0], pair[1].id))
    ]
