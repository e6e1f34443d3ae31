"""Whose is a row of a customer list: held against the customers on record and the rows before it, in memory.

The rules are those for mail: a shared contact under an agreeing name is certain, whatever is merely alike a question.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import sqlalchemy as sa

from counterfoil.model import CUSTOMER_KINDS, Candidate, Kind, Question
from counterfoil.records import linkage, match_blocking, match_compare, match_index, schema
from counterfoil.records.listed import Key, Listed
from counterfoil.records.match_learning import current
from counterfoil.records.weighing import Weighing

_fact = schema.fact
_K = TypeVar("_K", bound=Hashable)
#: Rows looked up together, and values in one statement.
BATCH_ROWS = 250
_MOST_VALUES = 500
_MOST_CANDIDATES = 10

_BY_KEY = sa.select(_fact.c.customer_id).where(
    _fact.c.key.in_(sa.bindparam("keys", expanding=True)), _fact.c.customer_id.is_not(None)
)
_BY_NAME = (
    sa.select(_fact.c.customer_id)
    .select_from(schema.name_key.join(_fact, _fact.c.id == schema.name_key.c.fact_id))
    .where(
        schema.name_key.c.name_key.in_(sa.bindparam("keys", expanding=True)),
        _fact.c.customer_id.is_not(None),
        _fact.c.chosen,
    )
)
_FACTS = (
    sa.select(_fact.c.customer_id, _fact.c.kind, _fact.c.value, _fact.c.normal, _fact.c.key)
    .where(
        _fact.c.customer_id.in_(sa.bindparam("keys", expanding=True)),
        _fact.c.kind.in_([k.value for k in CUSTOMER_KINDS]),
    )
    .order_by(_fact.c.at, _fact.c.id)
)


@dataclass(slots=True)
class Person:
    """A customer as far as a list needs them. ``line`` is the row that makes them, where they are not on record yet.

    ``values`` are pairs of a kind and what is compared of it. Kept small: a list makes tens of thousands.
    """

    names: tuple[str, ...] = ()
    values: tuple[tuple[Kind, str], ...] = ()
    keys: frozenset[Key] = frozenset()
    line: int | None = None

    def compared(self) -> match_compare.Person:
        """Return the customer as they are compared."""
        return _compared(self.values)

    def addresses(self) -> list[str]:
        """Return the folded postal addresses."""
        return [key for kind, key in self.keys if kind is Kind.POSTAL_ADDRESS]

    def knows(self, key: Key) -> bool:
        """Tell whether a value is known of them already; an address also where one of two says more than the other."""
        if key in self.keys:
            return True
        whole = key[1]
        return key[0] is Kind.POSTAL_ADDRESS and any(
            own.startswith(whole) or whole.startswith(own) for own in self.addresses()
        )


def _compared(values: Iterable[tuple[Kind, str]]) -> match_compare.Person:
    by_kind: dict[str, list[str]] = defaultdict(list)
    for kind, value in values:
        by_kind[kind.value].append(value)
    return match_index.person_of(by_kind)


def _to_compare(fact_kind: Kind, value: str, normal: str) -> str:
    return value if fact_kind.value in match_index.AS_WRITTEN else normal


class _Under(Generic[_K]):
    """Numbers under keys. Nearly every key has one number alone, which needs no set of its own."""

    def __init__(self) -> None:
        self._held: dict[_K, int | set[int]] = {}

    def add(self, key: _K, number: int) -> None:
        """Put a number under a key."""
        held = self._held.get(key)
        if held is None:
            self._held[key] = number
        elif isinstance(held, set):
            held.add(number)
        elif held != number:
            self._held[key] = {held, number}

    def get(self, key: _K) -> Collection[int]:
        """Return the numbers under a key."""
        held = self._held.get(key)
        return () if held is None else held if isinstance(held, set) else (held,)


class People:
    """Everybody whom rows of a list may be: customers on record, fetched as needed, and rows taken as new before.

    Args:
        conn: a connection.
        threshold: Jaro-Winkler similarity from which parts of names are alike.
        distinct: rows of the list are different people, whatever they share.
    """

    def __init__(self, conn: sa.Connection, threshold: float, *, distinct: bool) -> None:
        self._conn, self._threshold, self._distinct = conn, threshold, distinct
        self.by_number: dict[int, Person] = {}
        self._with_key: _Under[Key] = _Under()
        self._with_name_key: _Under[str] = _Under()
        # Of the rows alone: customers on record are found by the keys kept there.
        self._with_block: _Under[int] = _Under()
        # The row looked at last as it is compared, with its keys: often it is added next.
        self._last: tuple[Listed, match_compare.Person, set[int]] | None = None
        self._model = current(conn)
        self._on_record = conn.scalar(sa.select(schema.bkey.c.customer).limit(1)) is not None

    # --- filling ----------------------------------------------------------------------------------

    def fetch(self, rows: Sequence[Listed], chosen: Collection[int] = ()) -> None:
        """Fetch the customers on record who may be one of the rows, and those chosen by a person."""
        keys = {key for row in rows for _, key in row.keys}
        names = {key for row in rows for name in row.names for key in linkage.wanted_keys(name)}
        found = set(chosen) | self._numbers(_BY_KEY, keys) | self._numbers(_BY_NAME, names)
        self._load(found)

    def _load(self, numbers: set[int]) -> None:
        for part in _parts(sorted(number for number in numbers if number not in self.by_number)):
            for row in self._conn.execute(_FACTS, {"keys": part}):
                self._learn(row.customer_id, Kind(row.kind), row.value, row.normal, row.key)

    def _numbers(self, query: sa.Select[Any], keys: set[str]) -> set[int]:
        return {n for part in _parts(sorted(keys)) for n in self._conn.scalars(query, {"keys": part})}

    def _learn(self, number: int, kind: Kind, value: str, normal: str, key: str) -> None:
        person = self.by_number.setdefault(number, Person())
        person.values += ((kind, _to_compare(kind, value, normal)),)
        person.keys |= {(kind, key)}
        self._note(number, person, kind, value, (kind, key))

    def _note(self, number: int, person: Person, kind: Kind, value: str, key: Key) -> None:
        """Let a person be found by a value."""
        if kind is Kind.CUSTOMER_NAME:
            if value not in person.names:
                person.names += (value,)
            for name_key in linkage.stored_keys(value):
                self._with_name_key.add(name_key, number)
        self._with_key.add(key, number)

    def add(self, number: int, row: Listed) -> None:
        """Take a row, or what it adds, as known of a person from now on."""
        person = self.by_number.get(number)
        if person is None:
            person = self.by_number[number] = Person(line=row.line)
        person.values += tuple((f.kind, _to_compare(f.kind, f.value, f.normal)) for f in row.facts)
        person.keys = person.keys | row.keys if person.keys else row.keys
        for fact, key in zip(row.facts, row.lookups, strict=True):
            self._note(number, person, fact.kind, fact.value, key)
        if number < 0:
            known = self._last is not None and self._last[0] is row
            own = self._last[2] if self._last is not None and known else match_blocking.keys(person.compared())
            for block in own:
                self._with_block.add(block, number)

    # --- asking -----------------------------------------------------------------------------------

    def same(self, row: Listed) -> int | None:
        """Return whom a row says nothing new about: the same name, and every contact and address known."""
        name = row.names[0]
        rest = row.keys - row.of(Kind.CUSTOMER_NAME)
        near = self._sharing(row.keys)
        for number in sorted(near, key=lambda n: (n < 0, abs(n))):
            person = self.by_number[number]
            whole = person.keys == row.keys
            known = bool(rest) and all(person.knows(key) for key in rest) and not self._apart(number)
            if whole or (known and any(_same_name(name, other) for other in person.names)):
                return number
        return None

    def find(self, row: Listed) -> int | Question | None:
        """Return whose a row is: a customer's number, None for somebody new, or the question that remains."""
        name = row.names[0]
        sharing = {n for n in self._sharing(row.contacts) if not self._apart(n)}
        agreeing = sorted(n for n in sharing if self._agrees(row, n))
        namesakes = self._namesakes(row)
        if len(agreeing) == 1 and not self._rivals(name, agreeing[0], namesakes):
            return agreeing[0]
        if agreeing:
            said = "More than one customer has a name like this, and one of the contacts."
        elif sharing:
            said = f"A contact of the row is known, but not under the name {name}."
        elif namesakes:
            said = f"A customer with a name like {name} is known, but no contact agrees."
        elif self._neighbours(row):
            said = f"A customer with a part of the name {name} is known at the same postal address."
        elif namesakes := self._likely(row):
            said = f"{name} may be somebody known under another spelling or a short name."
        else:
            return None
        return Question("customer_unclear", said, self._candidates(row, {*sharing, *namesakes, *self._neighbours(row)}))

    def _likely(self, row: Listed) -> set[int]:
        """Return who a row may be under another spelling, by all the evidence together."""
        wanted = _compared((f.kind, _to_compare(f.kind, f.value, f.normal)) for f in row.facts)
        own = match_blocking.keys(wanted)
        self._last = (row, wanted, own)
        numbers = set(match_index.alike(self._conn, wanted)) if self._on_record else set()
        self._load(numbers)
        if not self._distinct:
            under = (self._with_block.get(key) for key in own | match_blocking.name_keys(wanted))
            shared = Counter(n for found in under if len(found) <= match_blocking.MOST_ROWS for n in found)
            numbers |= set(sorted(shared, key=lambda n: (-shared[n], -n))[: match_index.MOST_ALIKE])
        people = {n: self.by_number[n].compared() for n in numbers if n in self.by_number}
        return set(Weighing(self._model, wanted, people).likely())

    def label(self, number: int) -> str:
        """Return what a person is called: C12, or the line of the list."""
        return f"C{number}" if number > 0 else f"line {self.by_number[number].line}"

    def _apart(self, number: int) -> bool:
        """Tell whether a row of the same list is another person by what was said about the list."""
        return self._distinct and number < 0

    def _sharing(self, keys: Iterable[Key]) -> set[int]:
        return set().union(*(self._with_key.get(key) for key in keys))

    def _agrees(self, row: Listed, number: int) -> bool:
        known = self.by_number[number].names
        return any(_agree(name, other, self._threshold) for name in row.names for other in known)

    def _namesakes(self, row: Listed) -> set[int]:
        found = set()
        for name in row.names:
            keys = linkage.wanted_keys(name)
            for number in set().union(*(self._with_name_key.get(key) for key in keys)):
                known = self.by_number[number].names
                if not self._apart(number) and any(linkage.names_near(name, other, self._threshold) for other in known):
                    found.add(number)
        return found

    def _rivals(self, name: str, number: int, namesakes: set[int]) -> bool:
        """Tell whether somebody else has the very name that this one's only agrees with."""
        if any(_same_name(name, other) for other in self.by_number[number].names):
            return False
        others = namesakes - {number}
        return any(_same_name(name, other) for n in others for other in self.by_number[n].names)

    def _neighbours(self, row: Listed) -> set[int]:
        return {
            n
            for n in self._sharing(row.of(Kind.POSTAL_ADDRESS))
            if not self._apart(n)
            and any(linkage.shared_parts(row.names[0], o, self._threshold) for o in self.by_number[n].names)
        }

    def _candidates(self, row: Listed, numbers: set[int]) -> tuple[Candidate, ...]:
        found = []
        for number in numbers:
            person = self.by_number[number]
            shared = sorted(row.keys & person.keys - row.of(Kind.CUSTOMER_NAME))
            words = [f"same {_WORDS[kind]}" for kind in dict.fromkeys(kind for kind, _ in shared)]
            best = linkage.most_similar(row.names[0], person.names, self._threshold)
            words.append("no name is known" if best is None else linkage.compared(row.names[0], best, self._threshold))
            score = 4 * self._agrees(row, number) + 2 * len(shared)
            named = Candidate(self.label(number), best or "", tuple(words))
            found.append((-score, number < 0, abs(number), named))
        return tuple(item[3] for item in sorted(found, key=lambda item: item[:3])[:_MOST_CANDIDATES])


_WORDS = {
    Kind.EMAIL_ADDRESS: "e-mail address",
    Kind.PHONE_NUMBER: "phone number",
    Kind.POSTAL_ADDRESS: "postal address",
}


def _same_name(a: str, b: str) -> bool:
    return _same_parts(a, b) or linkage.same_name(a, b)


def _agree(a: str, b: str, threshold: float) -> bool:
    """Tell whether names agree; of one part only, as of a firm, where they are the same."""
    return _same_parts(a, b) or linkage.names_agree(a, b, threshold)


def _same_parts(a: str, b: str) -> bool:
    """Tell whether two names are the same words; a father and a son of one name are not one person."""
    return linkage.parts(a) == linkage.parts(b) and linkage.generation(a)[1] == linkage.generation(b)[1]


def _parts(values: Sequence[object]) -> list[Sequence[object]]:
    return [values[n : n + _MOST_VALUES] for n in range(0, len(values), _MOST_VALUES)]
