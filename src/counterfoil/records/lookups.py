"""Finding things in the records by what somebody has in hand: a contact, a name, a model; codes: find_codes.py."""

from __future__ import annotations

from collections.abc import Callable, Collection

import sqlalchemy as sa
from rapidfuzz.distance import OSA

from counterfoil.model import DATE_KINDS, Kind
from counterfoil.records import refs, schema
from counterfoil.records.find_names import SUGGESTED_SIMILARITY
from counterfoil.records.linkage import similarity
from counterfoil.records.rows import lookup_key

_fact = schema.fact
#: Rows of alike names looked at, at most: a family name shared by thousands is no answer to a search.
_NAME_ROWS = 2_000
#: Contacts looked at for a piece of one, or one with a typing error in it, at most.
_CONTACT_ROWS = 20_000
_DATES = sorted(kind.value for kind in DATE_KINDS)
#: One wrong letter makes another word of a shorter one.
_SHORTEST_SLIP = 4

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


def names_by_keys(conn: sa.Connection, keys: Collection[str]) -> list[tuple[int, str]]:
    """Return customers and names under any of the keys of :mod:`linkage`."""
    if not keys:
        return []
    return [(row.customer_id, row.value) for row in conn.execute(_NAMES_BY_KEY, {"keys": sorted(keys)})]


_CONTACTS_HOLDING = (
    sa.select(_fact.c.customer_id, _fact.c.key)
    .where(schema.CONTACTS_ONLY, _fact.c.customer_id.is_not(None))
    .distinct()
    .order_by(_fact.c.customer_id, _fact.c.key)
    .limit(_CONTACT_ROWS)
)


def find_contact_pieces(conn: sa.Connection, kind: Kind, piece: str, limit: int) -> list[tuple[str, str]]:
    """Return customers and contacts that hold a piece: anywhere in an e-mail address, at the end of a number.

    Args:
        conn: a connection.
        kind: e-mail address or phone number.
        piece: lower case of an address, with the at sign where it has one; digits of a number.
        limit: how many at most.
    """
    holds = sa.func.instr(_fact.c.key, piece) > 0
    ends = sa.func.substr(_fact.c.key, -len(piece)) == piece
    wanted = sa.and_(_of(kind), holds if kind is Kind.EMAIL_ADDRESS else ends)
    rows = conn.execute(_CONTACTS_HOLDING.where(wanted).limit(limit))
    return [(f"{refs.CUSTOMER}{row.customer_id}", row.key) for row in rows]


def find_near_contacts(conn: sa.Connection, kind: Kind, normal: str, limit: int) -> list[tuple[str, str]]:
    """Return customers and contacts that differ from a normal form in one typing error."""
    half = (len(normal) - 1) // 2
    if half < 2:
        return []
    begins = sa.and_(_fact.c.key >= normal[:half], _fact.c.key < normal[:half] + "\U0010ffff")
    ends = sa.func.substr(_fact.c.key, -half) == normal[-half:]
    length = sa.func.length(_fact.c.key).between(len(normal) - 1, len(normal) + 1)
    rows = conn.execute(_CONTACTS_HOLDING.where(_of(kind), length, sa.or_(begins, ends)))
    near = [row for row in rows if OSA.distance(normal, row.key, score_cutoff=1) == 1]
    return [(f"{refs.CUSTOMER}{row.customer_id}", row.key) for row in near[:limit]]


def _of(kind: Kind) -> sa.ColumnElement[bool]:
    """Return what tells the keys of one kind of contact: asked of the key, which the index over contacts holds."""
    at_sign = sa.func.instr(_fact.c.key, "@")
    return at_sign > 0 if kind is Kind.EMAIL_ADDRESS else at_sign == 0


def find_machines(conn: sa.Connection, text: str, *, whole: bool = False) -> list[str]:
    """Return the ids of the machines whose maker and model hold every word of the text.

    Args:
        conn: a connection.
        text: the words.
        whole: only whole words; else the beginnings of words count.
    """
    words = text.casefold().split()
    if not words:
        return []
    return _machines_called(conn, words, str.__eq__ if whole else lambda word, part: part.startswith(word))


def find_near_machines(conn: sa.Connection, text: str) -> list[str]:
    """Return the ids of the machines whose maker and model nearly hold every word: a letter wrong, no space."""
    words = text.casefold().split()
    if not words or max(map(len, words)) < _SHORTEST_SLIP:
        return []
    return _machines_called(conn, words, _nearly)


def suggest_models(conn: sa.Connection, word: str, limit: int) -> list[str]:
    """Return the words of makers and models most like one that none has, the most alike first."""
    named = sa.select(_fact.c.key).where(schema.MODELS_ONLY, _fact.c.machine_id.is_not(None)).distinct()
    parts = {part for key in conn.scalars(named) for part in key.split() if len(part) >= _SHORTEST_SLIP}
    alike = {part: similarity(word.casefold(), part) for part in parts}
    near = [part for part, how_much in alike.items() if how_much >= SUGGESTED_SIMILARITY]
    return sorted(near, key=lambda part: (-alike[part], part))[:limit]


def _nearly(word: str, part: str) -> bool:
    # Numbers are told apart by one digit, words are not.
    letters = min(len(word), len(part)) >= _SHORTEST_SLIP and not (word + part).isdigit()
    return word == part or (letters and OSA.distance(word, part, score_cutoff=1) <= 1)


def _machines_called(conn: sa.Connection, words: list[str], fits: Callable[[str, str], bool]) -> list[str]:
    named = sa.select(_fact.c.key).where(schema.MODELS_ONLY, _fact.c.machine_id.is_not(None)).distinct()
    parts = {key: _parts(key) for key in conn.scalars(named)}
    alike = [key for key, held in parts.items() if any(fits(word, part) for word in words for part in held)]
    if not alike:
        return []
    query = sa.select(_fact.c.machine_id, _fact.c.key).where(
        _fact.c.key.in_(sorted(alike)), schema.MODELS_ONLY, _fact.c.machine_id.is_not(None)
    )
    has: dict[int, set[str]] = {}
    for row in conn.execute(query.distinct()):
        has.setdefault(row.machine_id, set()).update(parts[row.key])
    found = [m for m, held in has.items() if all(any(fits(word, part) for part in held) for word in words)]
    return [f"{refs.MACHINE}{number}" for number in sorted(found)]


def _parts(key: str) -> set[str]:
    """Return the words of a maker or model, and all of them in one: Lyra III is also written lyraiii, Lyra-III."""
    words = key.split()
    return {*words, "".join(words), "-".join(words)}


def find_dated(conn: sa.Connection, first: str, last: str, limit: int) -> list[tuple[str, Kind, str]]:
    """Return machines with a date of purchase or registration within days, ISO 8601; which of the two, and when."""
    query = (
        sa.select(_fact.c.machine_id, _fact.c.kind, _fact.c.key)
        .where(_fact.c.key.between(first, last), _fact.c.kind.in_(_DATES), _fact.c.machine_id.is_not(None))
        .distinct()
        .order_by(_fact.c.key, _fact.c.machine_id, _fact.c.kind)
        .limit(limit)
    )
    return [(f"{refs.MACHINE}{row.machine_id}", Kind(row.kind), row.key) for row in conn.execute(query)]
