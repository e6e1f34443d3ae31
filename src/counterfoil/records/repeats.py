"""Messages that say again what an earlier one said: delivered twice, or one confirmation forwarded once more."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator

import sqlalchemy as sa

from counterfoil.model import Kind
from counterfoil.records import refs, schema

_fact, _message = schema.fact, schema.message
#: What makes two messages one confirmation: the activation code is the same, and of the others none is different.
_TELLING = (Kind.ACTIVATION_CODE, Kind.PRODUCT_KEY, Kind.MACHINE_ID, Kind.SERIAL_NUMBER)
_BATCH = 500


def repeats(conn: sa.Connection, numbers: Collection[int]) -> dict[int, str]:
    """Return, of messages that repeat an earlier one, the id of the first that they repeat.

    Args:
        conn: a connection.
        numbers: the messages asked about.
    """
    found: dict[int, set[int]] = defaultdict(set)
    wanted = sorted(numbers)
    for n in range(0, len(wanted), _BATCH):
        part = wanted[n : n + _BATCH]
        for later, earlier in (*_delivered_again(conn, part), *_confirmed_again(conn, part)):
            found[later].add(earlier)
    return {later: f"{refs.MESSAGE}{min(earlier)}" for later, earlier in found.items()}


def _delivered_again(conn: sa.Connection, numbers: list[int]) -> Iterator[tuple[int, int]]:
    """Yield messages with the Message-ID of an earlier one (RFC 5322, section 3.6.4: it is unique to a message)."""
    other = _message.alias()
    query = (
        sa.select(_message.c.id, other.c.id)
        .join(other, sa.and_(other.c.message_id == _message.c.message_id, other.c.id < _message.c.id))
        .where(_message.c.id.in_(numbers), _message.c.message_id != "")
    )
    yield from ((row[0], row[1]) for row in conn.execute(query))


def _confirmed_again(conn: sa.Connection, numbers: list[int]) -> Iterator[tuple[int, int]]:
    """Yield messages with the activation code of an earlier one, and no other product key, machine ID or serial."""
    other = _fact.alias()
    code = Kind.ACTIVATION_CODE.value
    query = (
        sa.select(_fact.c.message_id, other.c.message_id)
        .join(other, sa.and_(other.c.key == _fact.c.key, other.c.kind == code))
        .where(_fact.c.message_id.in_(numbers), _fact.c.kind == code, _fact.c.chosen, other.c.chosen)
        .where(other.c.message_id < _fact.c.message_id)
        .distinct()
    )
    pairs = [(row[0], row[1]) for row in conn.execute(query)]
    codes = _codes(conn, sorted({number for pair in pairs for number in pair}))
    for later, earlier in pairs:
        a, b = codes[later], codes[earlier]
        if all(a[kind] == b[kind] for kind in a.keys() & b.keys()):
            yield later, earlier


def _codes(conn: sa.Connection, numbers: list[int]) -> dict[int, dict[str, str]]:
    """Return the chosen codes of messages."""
    found: dict[int, dict[str, str]] = defaultdict(dict)
    kinds = [kind.value for kind in _TELLING]
    for n in range(0, len(numbers), _BATCH):
        part = _fact.c.message_id.in_(numbers[n : n + _BATCH])
        query = sa.select(_fact.c.message_id, _fact.c.kind, _fact.c.normal)
        for row in conn.execute(query.where(part, _fact.c.chosen, _fact.c.kind.in_(kinds))):
            found[row.message_id][row.kind] = row.normal
    return found
