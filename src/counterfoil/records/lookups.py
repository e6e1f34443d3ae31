"""Finding things in the records by what somebody has in hand: a code or the end of it, a contact, a name, a model."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from functools import lru_cache
from typing import Any

import sqlalchemy as sa

from counterfoil.model import CODE_KINDS, CodeHit, Kind
from counterfoil.records import linkage, refs, schema
from counterfoil.records.codes import (
    PIECE_ROWS,
    SHORTEST_ENDING,
    SHORTEST_NEAR,
    WRONG,
    is_near,
    probes,
    weighted_distance,
)
from counterfoil.records.rows import lookup_key, noted_of

_fact = schema.fact
_CODES = sorted(k.value for k in CODE_KINDS)
#: Rows of alike names looked at, at most: a family name shared by thousands is no answer to a search.
_NAME_ROWS = 2_000

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
_NEAR = _HITS.where(_fact.c.id.in_(sa.bindparam("ids", expanding=True)))


def find_code(conn: sa.Connection, normal: str, *, endings: bool, near: bool, limit: int) -> list[CodeHit]:
    """Return where a code stands; see :meth:`Store.find_code`."""
    if not normal:
        return []
    hits = _hits(conn.execute(_WHOLE, {"wanted": normal}), "whole")
    if not hits and endings and len(normal) >= SHORTEST_ENDING:
        low = normal[::-1]
        bounds = {"low": low, "high": _after(low), "most": 4 * limit}
        hits = _hits(conn.execute(_ENDING, bounds), "ending")
    if not hits and near and len(normal) >= SHORTEST_NEAR:
        found = near_facts(conn, normal)
        if found:
            alike = _hits(conn.execute(_NEAR, {"ids": found}), "near")
            hits = sorted(alike, key=lambda hit: weighted_distance(normal, hit.noted.fact.normal))
    return hits[:limit]


def near_facts(conn: sa.Connection, normal: str, wrong: int = WRONG) -> list[int]:
    """Return the ids of facts whose code differs from ``normal`` in one up to ``wrong`` characters, nearest first."""
    keys = probes(normal)
    if not keys:
        return []
    rows = conn.execute(_pieces(len(keys)), {f"k{n}": key for n, key in enumerate(keys)})
    found = {row.id: row.normal for row in rows}
    near = [(weighted_distance(normal, code), number) for number, code in found.items() if is_near(normal, code, wrong)]
    return [number for distance, number in sorted(near) if distance]


@lru_cache(maxsize=64)
def _pieces(number: int) -> sa.TextClause:
    """Return the statement that looks under a number of pieces, at a bounded number of rows under each."""
    one = (
        "SELECT fact.id AS id, fact.normal AS normal "
        "FROM (SELECT fact_id FROM piece WHERE piece = :k{} LIMIT {}) AS p{} "
        "JOIN fact ON fact.id = p{}.fact_id"
    )
    return sa.text(" UNION ".join(one.format(n, PIECE_ROWS, n, n) for n in range(number)))


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


_CONTACTS = (
    sa.select(_fact.c.customer_id)
    .where(
        _fact.c.key == sa.bindparam("wanted"), _fact.c.kind == sa.bindparam("of_kind"), _fact.c.customer_id.is_not(None)
    )
    .distinct()
    .order_by(_fact.c.customer_id)
)


def find_contacts(conn: sa.Connection, kind: Kind, normal: str) -> list[str]:
    """Return the ids of the customers with a contact of this kind and normal form."""
    wanted = {"wanted": lookup_key(kind, normal), "of_kind": kind.value}
    return [f"{refs.CUSTOMER}{number}" for number in conn.scalars(_CONTACTS, wanted)]


_NAMES = sa.select(_fact.c.customer_id, _fact.c.value).select_from(
    schema.name_key.join(_fact, _fact.c.id == schema.name_key.c.fact_id)
)
_OWNED = _fact.c.customer_id.is_not(None)
_NAMES_BY_KEY = (
    _NAMES.where(schema.name_key.c.name_key.in_(sa.bindparam("keys", expanding=True)), _OWNED)
    .distinct()
    .limit(_NAME_ROWS)
)
_NAMES_BY_BEGIN = (
    _NAMES.where(
        schema.name_key.c.name_key >= sa.bindparam("low"), schema.name_key.c.name_key < sa.bindparam("high"), _OWNED
    )
    .distinct()
    .limit(_NAME_ROWS)
)


def names_by_keys(conn: sa.Connection, keys: Collection[str]) -> list[tuple[int, str]]:
    """Return customers and names under any of the keys of :mod:`linkage`."""
    if not keys:
        return []
    return [(row.customer_id, row.value) for row in conn.execute(_NAMES_BY_KEY, {"keys": sorted(keys)})]


def find_names(conn: sa.Connection, text: str, limit: int) -> list[tuple[str, float]]:
    """Return customers whose name answers to a typed text; see :meth:`Store.find_names`."""
    typed = linkage.parts(text)
    if not typed:
        return []
    best: dict[int, float] = {}

    def add(rows: Iterable[tuple[int, str]]) -> None:
        for customer, name in rows:
            score = linkage.search_similarity(typed, name)
            if score > best.get(customer, 0.0):
                best[customer] = score

    if len(typed) > 1:
        add(names_by_keys(conn, linkage.wanted_keys(text)))
    longest = max(typed, key=len)
    add(_names_beginning(conn, longest))
    if len(best) < limit and len(longest) > 2:
        add(_names_beginning(conn, longest[:2]))
    ranked = sorted(best.items(), key=lambda item: (-item[1], item[0]))
    return [(f"{refs.CUSTOMER}{number}", round(score, 4)) for number, score in ranked[:limit]]


def _names_beginning(conn: sa.Connection, begin: str) -> list[tuple[int, str]]:
    low = linkage.word_key(begin)
    # The highest character there is closes the range: every key that begins with `low` lies below.
    rows = conn.execute(_NAMES_BY_BEGIN, {"low": low, "high": low + "\U0010ffff"})
    return [(row.customer_id, row.value) for row in rows]


def find_machines(conn: sa.Connection, text: str) -> list[str]:
    """Return the ids of the machines whose maker and model hold every word of the text (beginnings count)."""
    words = text.casefold().split()
    if not words:
        return []
    named = sa.select(_fact.c.key).where(schema.MODELS_ONLY, _fact.c.machine_id.is_not(None)).distinct()
    alike = [key for key in conn.scalars(named) if any(part.startswith(w) for w in words for part in key.split())]
    if not alike:
        return []
    query = sa.select(_fact.c.machine_id, _fact.c.key).where(
        _fact.c.key.in_(sorted(alike)), schema.MODELS_ONLY, _fact.c.machine_id.is_not(None)
    )
    has: dict[int, set[str]] = {}
    for row in conn.execute(query.distinct()):
        has.setdefault(row.machine_id, set()).update(row.key.split())
    found = [m for m, held in has.items() if all(any(part.startswith(word) for part in held) for word in words)]
    return [f"{refs.MACHINE}{number}" for number in sorted(found)]
