"""Filed values that contradict each other, looked for over all records: what a person filed against a check, what a
merge brought together, what came in before a rule was there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa

from counterfoil.model import Check, Kind
from counterfoil.records import refs, schema
from counterfoil.records.case import LABELS
from counterfoil.records.codes import shown
from counterfoil.records.rows import source_of

_fact, _message = schema.fact, schema.message
_SECRETS = (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
_IDENTIFIERS = (Kind.MACHINE_ID, Kind.SERIAL_NUMBER)
_DATES = (Kind.PURCHASE_DATE, Kind.REGISTRATION_DATE)


@dataclass(frozen=True, slots=True)
class Conflict:
    """Values that cannot all be right: a question code, a sentence, the evidence of each side, and the line of the
    journal by which a person filed one of them knowing that (None: nobody has)."""

    code: str
    sentence: str
    evidence: tuple[str, ...]
    accepted_by: str | None = None


def conflicts(conn: sa.Connection) -> list[Conflict]:
    """Return all conflicts among filed values, by kind and then by machine.

    Args:
        conn: a connection.
    """
    sure = _filed_surely(conn)
    found = [*_on_two_machines(conn), *_two_codes(conn), *_failed(conn), *_dates(conn)]
    return [
        Conflict(code, sentence, tuple(_side(row) for row in rows), _accepted(rows, sure))
        for code, sentence, rows in found
    ]


_Found = Iterator[tuple[str, str, Sequence[sa.Row[Any]]]]


def _on_two_machines(conn: sa.Connection) -> _Found:
    """Find codes that are on two machines; a short serial number may repeat between makers."""
    for kind in (*_IDENTIFIERS, *_SECRETS):
        owned = sa.and_(_fact.c.kind == kind.value, _fact.c.machine_id.is_not(None))
        several = sa.func.count(sa.distinct(_fact.c.machine_id)) > 1
        keys = conn.scalars(sa.select(_fact.c.key).where(owned).group_by(_fact.c.key).having(several)).all()
        for key in sorted(keys):
            rows = conn.execute(sa.select(_fact).where(owned, _fact.c.key == key).order_by(_fact.c.id)).all()
            machines = sorted({row.machine_id for row in rows})
            if kind in _IDENTIFIERS and len(_makers(conn, machines)) == len(machines):
                continue
            where = " and ".join(f"{refs.MACHINE}{n}" for n in machines)
            code = "code_conflict" if kind in _IDENTIFIERS else "key_used_elsewhere"
            yield code, f"The {LABELS[kind]} {shown(kind, rows[0].value)} is on {where}.", rows


def _makers(conn: sa.Connection, machines: Sequence[int]) -> set[str]:
    query = sa.select(_fact.c.key).where(_fact.c.machine_id.in_(machines), _fact.c.kind == Kind.MAKER.value)
    return set(conn.scalars(query.distinct()))


def _two_codes(conn: sa.Connection) -> _Found:
    """Find product keys that gave two activation codes for one machine ID."""
    upgrades: dict[tuple[int, str, str], dict[str, sa.Row[Any]]] = {}
    for codes in _by_source(conn, (*_SECRETS, Kind.MACHINE_ID)):
        key, code = codes.get(Kind.PRODUCT_KEY), codes.get(Kind.ACTIVATION_CODE)
        if key is not None and code is not None:
            board = codes[Kind.MACHINE_ID].normal if Kind.MACHINE_ID in codes else ""
            upgrades.setdefault((key.machine_id, key.normal, board), {}).setdefault(code.normal, code)
    for (machine, _, _), found in sorted(upgrades.items()):
        if len(found) > 1:
            sentence = f"{refs.MACHINE}{machine} has {len(found)} activation codes for one product key."
            yield "code_conflict", sentence, list(found.values())


def _by_source(conn: sa.Connection, kinds: Sequence[Kind]) -> Iterator[dict[Kind, sa.Row[Any]]]:
    """Yield the facts of these kinds that came to a machine together: by one message, or entered at once."""
    names = [kind.value for kind in kinds]
    query = sa.select(_fact).where(_fact.c.machine_id.is_not(None), _fact.c.kind.in_(names))
    source = sa.func.coalesce(_fact.c.message_id, -_fact.c.journal_id)
    group: dict[Kind, sa.Row[Any]] = {}
    last: tuple[int, str] | None = None
    for row in conn.execute(query.order_by(_fact.c.machine_id, source, _fact.c.id)):
        # What a person corrected in a message belongs to the message.
        own = row.machine_id, f"{refs.MESSAGE}{row.message_id}" if row.message_id is not None else source_of(row)
        if own != last and group:
            yield group
            group = {}
        group[Kind(row.kind)], last = row, own
    if group:
        yield group


def _failed(conn: sa.Connection) -> _Found:
    """Find filed codes whose check digit does not fit."""
    owned = sa.and_(_fact.c.machine_id.is_not(None), _fact.c.check_result == Check.FAILED.value)
    for row in conn.execute(sa.select(_fact).where(owned).order_by(_fact.c.machine_id, _fact.c.id)).all():
        kind = Kind(row.kind)
        value = f"{LABELS[kind]} {shown(kind, row.value)}"
        yield "check_failed", f"The check digit of the {value} of {refs.MACHINE}{row.machine_id} does not fit.", [row]


def _dates(conn: sa.Connection) -> _Found:
    """Find dates of one message that contradict each other, or the day the message was received."""
    for dates in _by_source(conn, _DATES):
        bought, registered = dates.get(Kind.PURCHASE_DATE), dates.get(Kind.REGISTRATION_DATE)
        if bought is not None and registered is not None and registered.normal < bought.normal:
            machine = f"{refs.MACHINE}{bought.machine_id}"
            yield "date_contradiction", f"{machine} was registered before it was bought.", [bought, registered]
    # Compared as text: ISO 8601 sorts as time does. One day more for the time zones.
    late = sa.and_(
        _fact.c.machine_id.is_not(None),
        _fact.c.kind.in_([kind.value for kind in _DATES]),
        _message.c.received.is_not(None),
        _fact.c.normal > sa.func.substr(_message.c.received, 1, 10),
    )
    query = sa.select(_fact, _message.c.received).join(_message, _message.c.id == _fact.c.message_id).where(late)
    for row in conn.execute(query.order_by(_fact.c.machine_id, _fact.c.id)).all():
        if _days_apart(row.received[:10], row.normal) > 1:
            said = f"The {LABELS[Kind(row.kind)]} {row.normal} of {refs.MACHINE}{row.machine_id}"
            yield "date_contradiction", f"{said} lies after the day of its message, {row.received[:10]}.", [row]


def _days_apart(first: str, second: str) -> int:
    try:
        return (date.fromisoformat(second) - date.fromisoformat(first)).days
    except ValueError:
        # A date that could not be read in one way keeps the text it was written with.
        return 0


def _side(row: sa.Row[Any]) -> str:
    """Say where a value stands."""
    kind = Kind(row.kind)
    page = f", page {row.page}" if row.page else ""
    where = f"{source_of(row)}, {row.document}{page}"
    return f"{LABELS[kind]} {shown(kind, row.value)} of {refs.MACHINE}{row.machine_id}: {where}"


def _filed_surely(conn: sa.Connection) -> dict[str, str]:
    """Return, for each message or machine settled or entered against questions that remained, the line that did it."""
    lines = schema.journal
    query = sa.select(lines.c.id, lines.c.subject).where(
        lines.c.undone_by.is_(None), lines.c.detail.like('%"sure":true%')
    )
    found: dict[str, str] = {}
    for row in conn.execute(query.order_by(lines.c.id)):
        found[row.subject] = f"{refs.JOURNAL}{row.id}"
        found[f"{refs.JOURNAL}{row.id}"] = f"{refs.JOURNAL}{row.id}"
    return found


def _accepted(rows: Sequence[sa.Row[Any]], sure: dict[str, str]) -> str | None:
    sources = (f"{refs.MESSAGE}{r.message_id}" if r.message_id is not None else source_of(r) for r in rows)
    return next((sure[source] for source in sources if source in sure), None)
