"""The blocking keys of customers in the records: kept in step with their facts, and asked who is alike.

The database itself marks a customer whose facts came, went or changed their owner (triggers of schema.py), so whatever
files, settles, merges or undoes need not think of it. The keys of marked customers are made anew before they are used
and when the transaction ends: a reader always finds them right.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from functools import lru_cache

import sqlalchemy as sa

from counterfoil.model import CUSTOMER_KINDS, Kind
from counterfoil.records import schema
from counterfoil.records.bulk import insert_many
from counterfoil.records.engine import WRITING
from counterfoil.records.match_blocking import MOST_ROWS, keys, name_keys
from counterfoil.records.match_compare import Person
from counterfoil.records.match_people import person

#: Kinds compared as written, not in normal form.
AS_WRITTEN = frozenset({Kind.CUSTOMER_NAME.value, Kind.POSTAL_ADDRESS.value})

_fact, _bkey, _stale = schema.fact, schema.bkey, schema.bkey_stale
#: Customers in one statement, well below what databases take.
_BATCH = 500
#: Customers with the most keys in common who are looked at closely.
MOST_ALIKE = 8
#: A key of names counts for so many others.
_NAME_TELLS = 3
#: Keys in one statement; SQLite joins 500 parts of a statement at most.
_MOST_KEYS = 400

_STALE = sa.select(_stale.c.customer).order_by(_stale.c.customer).limit(_BATCH)
_KINDS = ", ".join(f"'{kind.value}'" for kind in sorted(CUSTOMER_KINDS))
_KEYS_OF = sa.select(_bkey.c.customer, _bkey.c.key).where(_bkey.c.customer.in_(sa.bindparam("ids", expanding=True)))
_CLEAR = sa.delete(_stale).where(_stale.c.customer.in_(sa.bindparam("ids", expanding=True)))
_REMOVE = sa.delete(_bkey).where(
    _bkey.c.key == sa.bindparam("old_key"), _bkey.c.customer == sa.bindparam("old_customer")
)


def people(conn: sa.Connection, customers: Collection[int]) -> dict[int, Person]:
    """Return customers as they are compared; one without a name or contact is left out.

    Args:
        conn: a connection.
        customers: their numbers.
    """
    if not customers:
        return {}
    wanted = sorted(customers)
    rows = conn.execute(_facts(len(wanted)), {f"c{n}": number for n, number in enumerate(wanted)})
    values: dict[int, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for customer, kind, value, normal in rows:
        values[customer][kind].append(value if kind in AS_WRITTEN else normal)
    return {customer: person_of(found) for customer, found in values.items()}


def person_of(values: Mapping[str, list[str]]) -> Person:
    """Return somebody from their values by the name of the kind; names and addresses as written, contacts normal."""
    return person(
        values.get(Kind.CUSTOMER_NAME, ()),
        values.get(Kind.EMAIL_ADDRESS, ()),
        values.get(Kind.PHONE_NUMBER, ()),
        values.get(Kind.POSTAL_ADDRESS, ()),
    )


@lru_cache(maxsize=64)
def _facts(number: int) -> sa.TextClause:
    """Return the statement that fetches what so many customers are compared by; as text, at half the cost."""
    ids = ", ".join(f":c{n}" for n in range(number))
    return sa.text(
        f"SELECT customer_id, kind, value, normal FROM fact WHERE customer_id IN ({ids}) AND kind IN ({_KINDS}) "
        "ORDER BY at, id"
    )


def refresh(conn: sa.Connection) -> None:
    """Make the keys of the marked customers anew, inside the caller's transaction, which must be one that writes."""
    while numbers := conn.scalars(_STALE).all():
        _renew(conn, numbers)
        conn.execute(_CLEAR, {"ids": numbers})


def rebuild(conn: sa.Connection) -> None:
    """Make all keys anew from the facts."""
    conn.execute(sa.delete(_bkey))
    conn.execute(sa.delete(_stale))
    conn.execute(sa.insert(_stale).from_select(["customer"], sa.select(schema.customer.c.id)))
    refresh(conn)


def _renew(conn: sa.Connection, numbers: Collection[int]) -> None:
    """Put in the keys that customers lack, and take out those that no longer follow from their facts."""
    wanted = {(key, number) for number, known in people(conn, numbers).items() for key in keys(known)}
    there = {(row.key, row.customer) for row in conn.execute(_KEYS_OF, {"ids": numbers})}
    old = sorted(there - wanted)
    if old:
        conn.execute(_REMOVE, [{"old_key": key, "old_customer": customer} for key, customer in old])
    insert_many(conn, _bkey, [{"key": key, "customer": customer} for key, customer in sorted(wanted - there)])


def alike(conn: sa.Connection, wanted: Person, most: int = MOST_ALIKE) -> list[int]:
    """Return the customers who share the most keys with somebody, the most first.

    A key of names counts for several others: a whole street must not hide the one of a like name who has moved.

    Args:
        conn: a connection.
        wanted: who is looked for.
        most: how many at most.
    """
    if conn.get_execution_options().get(WRITING, False):
        refresh(conn)
    names = name_keys(wanted)
    own = [*sorted(names), *sorted(keys(wanted) - names)][:_MOST_KEYS]
    if not own:
        return []
    values = {f"k{n}": key for n, key in enumerate(own)} | {"most": most}
    return list(conn.scalars(_under(min(len(names), len(own)), len(own)), values))


@lru_cache(maxsize=256)
def _under(names: int, number: int) -> sa.TextClause:
    """Return the statement that counts the keys in common, those of names first; one with too many rows is skipped,
    at a bounded cost."""
    few = f"(SELECT count(*) FROM (SELECT 1 FROM bkey WHERE key = :k{{0}} LIMIT {MOST_ROWS + 1})) <= {MOST_ROWS}"
    one = f"SELECT customer, {{1}} AS telling FROM bkey WHERE key = :k{{0}} AND {few}"
    every = " UNION ALL ".join(one.format(n, _NAME_TELLS if n < names else 1) for n in range(number))
    return sa.text(
        f"SELECT customer FROM ({every}) AS shared GROUP BY customer ORDER BY sum(telling) DESC, customer LIMIT :most"
    )
