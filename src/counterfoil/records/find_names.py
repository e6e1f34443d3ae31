"""Finding customers by a name as somebody says or types it: parts in any order, begun, misspelt, by ear, pet forms.

Each part typed is first taken to parts of names there are, with how they are alike; then the customers are fetched who
have one for every part. So nothing is cut off however many bear a name, and nobody is looked at who does not.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import sqlalchemy as sa
from rapidfuzz.distance import OSA

from counterfoil.records import linkage, refs, schema
from counterfoil.records.nicknames_data import full_forms
from counterfoil.records.sounds import heard_as, turned_key

_fact, _key = schema.fact, schema.name_key
#: Customers of one name looked at, at most: a family name shared by thousands is no answer to a search.
_NAME_ROWS = 2_000
#: Parts of names that one part typed is taken for, at most, the most alike first.
_MOST_PARTS = 60
#: Similarity from which what sounds alike is taken for it: short codes are shared by too many other names.
_HEARD_SIMILARITY = 0.7
#: One wrong letter makes another name of a shorter part.
_SHORTEST_SLIP = 4
#: A given name of so many letters is known in another spelling.
_LONG_FORM = 6
#: Similarity of what is suggested where nothing is found.
SUGGESTED_SIMILARITY = 0.78

#: How a part typed is like a part of a name, the surest first, with the score each gives.
SAME, BEGINS, NICKNAME, SLIP, HEARD, ALIKE = "same", "begins", "nickname", "slip", "heard", "alike"
_SCORES = {SAME: 1.0, BEGINS: 0.97, NICKNAME: 0.95, SLIP: 0.93, HEARD: 0.9}
_ORDER = (*_SCORES, ALIKE)
#: The highest character there is closes a range: every key that begins in some way lies below.
_LAST = "\U0010ffff"

_DISTINCT = sa.select(_key.c.name_key).where(_key.c.name_key >= sa.bindparam("low")).distinct()
_BETWEEN = _DISTINCT.where(_key.c.name_key < sa.bindparam("high"))


@dataclass(frozen=True, slots=True)
class NameHit:
    """A customer whose name answers; ``how`` is the least sure way in which a part of it was found, see above.

    ``known`` is the name as written, ``score`` 0 to 1.
    """

    customer: str
    known: str
    score: float
    how: str


@dataclass(frozen=True, slots=True)
class _Taken:
    """A part typed, and the parts of names it may stand for besides those it begins, each with how and how well."""

    typed: str
    others: Mapping[str, tuple[str, float]]

    def how(self, part: str) -> tuple[str, float] | None:
        """Return how a part of a name answers to it, None where it does not."""
        if part == self.typed:
            return SAME, _SCORES[SAME]
        if part.startswith(self.typed):
            return BEGINS, _SCORES[BEGINS]
        return self.others.get(part)


def find_names(conn: sa.Connection, text: str, limit: int, *, exactly: bool = False) -> list[NameHit]:
    """Return the customers whose name answers to a text; see :meth:`Store.find_names`."""
    typed = list(dict.fromkeys(linkage.parts(text)))[:8]
    if not typed:
        return []
    # Two parts of a name to the letter need no others beside them; a single part is shared by many who differ in it.
    found = _answering(conn, [_Taken(part, {}) for part in typed]) if exactly or len(typed) > 1 else []
    if not exactly and not any(hit.how == SAME for hit in found):
        found = _answering(conn, [_taken_for(conn, part) for part in typed])
    return found[:limit]


def _answering(conn: sa.Connection, taken: Sequence[_Taken]) -> list[NameHit]:
    """Return the customers whose name answers to all parts typed, each by their best name, the best first."""
    best: dict[int, NameHit] = {}
    for number, name in _having(conn, taken):
        hit = _compared(taken, number, name)
        if hit is not None and (number not in best or hit.score > best[number].score):
            best[number] = hit
    return [hit for _, hit in sorted(best.items(), key=lambda item: (-item[1].score, item[0]))]


def suggest_names(conn: sa.Connection, text: str, limit: int = 3) -> list[str]:
    """Return the parts of names most like a part typed that nobody has, the most alike first; for "did you mean"."""
    found: dict[str, float] = {}
    for part in linkage.parts(text):
        if len(part) < _SHORTEST_SLIP:
            continue
        near = {*_under(conn, linkage.word_key(part[:1])), *_ending(conn, part[-1:])}
        for other in near:
            alike = linkage.similarity(part, other)
            if alike >= SUGGESTED_SIMILARITY and len(other) >= _SHORTEST_SLIP:
                found[other] = max(alike, found.get(other, 0.0))
    return sorted(found, key=lambda other: (-found[other], other))[:limit]


def _taken_for(conn: sa.Connection, part: str) -> _Taken:
    """Return the parts of names that a part typed may be, besides those that are or begin the same."""
    found: dict[str, tuple[str, float]] = {}

    def add(others: Iterable[str], how: str) -> None:
        for other in others:
            if not other.startswith(part):
                found.setdefault(other, (how, _SCORES[how]))

    add(_forms(conn, part), NICKNAME)
    near = _near(conn, part) if len(part) >= _SHORTEST_SLIP else set()
    add((other for other in near if _slip(part, other)), SLIP)
    for key in heard_as(part):
        add((o for o in _under(conn, key, len(key)) if linkage.similarity(part, o) >= _HEARD_SIMILARITY), HEARD)
    for other in near:
        alike = linkage.similarity(part, other)
        if alike >= linkage.SEARCH_SIMILARITY and not other.startswith(part):
            found.setdefault(other, (ALIKE, min(alike, 0.99) * _SCORES[HEARD]))
    ranked = sorted(found.items(), key=lambda item: (-item[1][1], -linkage.similarity(part, item[0]), item[0]))
    return _Taken(part, dict(ranked[:_MOST_PARTS]))


def _forms(conn: sa.Connection, part: str) -> list[str]:
    """Return the parts of names that one is short for, or that are short for it; Elisabeth counts as Elizabeth."""
    forms = sorted(full_forms(part))
    if not forms:
        return []
    keys = [linkage.word_key(form) for form in forms]
    found = [row[2:] for row in conn.scalars(sa.select(_key.c.name_key).where(_key.c.name_key.in_(keys)).distinct())]
    for form in forms:
        if len(form) >= _LONG_FORM:
            found += [
                other for key in heard_as(form)[:1] for other in _under(conn, key, len(key)) if _slip(form, other)
            ]
    return found


def _slip(typed: str, other: str) -> bool:
    """Tell whether two parts differ by one typing error: a letter wrong, missing, too many, or two swapped."""
    return len(other) >= _SHORTEST_SLIP and OSA.distance(typed, other, score_cutoff=1) == 1


def _near(conn: sa.Connection, part: str) -> set[str]:
    """Return the parts of names that share a half with one typed: one error leaves one of the halves whole."""
    half = (len(part) - 1) // 2
    return {*_under(conn, linkage.word_key(part[:half])), *_ending(conn, part[-half:])}


def _under(conn: sa.Connection, begin: str, left_out: int = 2) -> list[str]:
    """Return the ends of all keys that begin so, without the first characters, which name the kind of key."""
    rows = conn.scalars(_BETWEEN, {"low": begin, "high": begin + _LAST})
    return [row[left_out:] for row in rows]


def _ending(conn: sa.Connection, end: str) -> list[str]:
    return [turned[::-1] for turned in _under(conn, turned_key(end))]


def _having(conn: sa.Connection, taken: Sequence[_Taken]) -> list[tuple[int, str]]:
    """Return customers and names that have, for every part typed, one of the parts it was taken for."""
    each = []
    for part in taken:
        begin = linkage.word_key(part.typed)
        begun = sa.and_(_key.c.name_key >= begin, _key.c.name_key < begin + _LAST)
        others = [linkage.word_key(other) for other in part.others]
        each.append(sa.select(_key.c.fact_id).where(sa.or_(begun, _key.c.name_key.in_(others)) if others else begun))
    these = sa.intersect(*each) if len(each) > 1 else each[0]
    query = sa.select(_fact.c.customer_id, _fact.c.value).where(_fact.c.id.in_(these), _fact.c.customer_id.is_not(None))
    rows = conn.execute(query.distinct().order_by(_fact.c.customer_id).limit(_NAME_ROWS))
    return [(row.customer_id, row.value) for row in rows]


def _compared(taken: Sequence[_Taken], number: int, name: str) -> NameHit | None:
    """Return how a name answers to the parts typed; None where two of them were taken for the same part of it."""
    left, scores, hows = list(linkage.parts(name)), [], []
    for part in sorted(taken, key=lambda t: -len(t.typed)):
        ways = {other: how for other in left if (how := part.how(other)) is not None}
        if not ways:
            return None
        best = max(ways, key=lambda other: ways[other][1])
        left.remove(best)
        hows.append(ways[best][0])
        scores.append(ways[best][1])
    whole = 1.0 if not left else 0.999
    weakest = max(hows, key=_ORDER.index)
    return NameHit(f"{refs.CUSTOMER}{number}", name, round(whole * sum(scores) / len(scores), 4), weakest)
