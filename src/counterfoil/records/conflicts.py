"""Filed values that contradict each other, looked for over all records: what a person filed against a check, what a
merge brought together, what came in before a rule was there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa

from counterfoil.model import SOLD_SINCE, Check, Kind
from counterfoil.records import refs, schema
from counterfoil.records.case import LABELS
from counterfoil.records.codes import shown
from counterfoil.records.contradictions import is_before, sold_since
from counterfoil.records.rows import fact_of, source_of

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
    found = [
        *_on_two_machines(conn),
        *_two_serial_numbers(conn),
        *_two_codes(conn),
        *_failed(conn),
        *_dates(conn),
        *_two_purchases(conn),
        *_before_sold(conn),
    ]
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
            if kind in _IDENTIFIERS and _of_different_makers(conn, machines):
                continue
            where = " and ".join(f"{refs.MACHINE}{n}" for n in machines)
            code = "code_conflict" if kind in _IDENTIFIERS else "key_used_elsewhere"
            yield code, f"The {LABELS[kind]} {shown(kind, rows[0].value)} is on {where}.", rows


def _of_different_makers(conn: sa.Connection, machines: Sequence[int]) -> bool:
    """Tell whether each of some machines has makers, and no two of them share one."""
    query = sa.select(_fact.c.machine_id, _fact.c.key).where(
        _fact.c.machine_id.in_(machines), _fact.c.kind == Kind.MAKER.value
    )
    pairs = {(row.machine_id, row.key) for row in conn.execute(query)}
    return len({maker for _, maker in pairs}) == len(pairs) and {number for number, _ in pairs} == set(machines)


def _two_serial_numbers(conn: sa.Connection) -> _Found:
    """Find machines with two serial numbers: a board is swapped, a type plate is not."""
    owned = sa.and_(_fact.c.machine_id.is_not(None), _fact.c.kind == Kind.SERIAL_NUMBER.value)
    several = sa.func.count(sa.distinct(_fact.c.normal)) > 1
    query = sa.select(_fact.c.machine_id).where(owned).group_by(_fact.c.machine_id).having(several)
    for machine in sorted(conn.scalars(query).all()):
        rows = conn.execute(sa.select(_fact).where(owned, _fact.c.machine_id == machine).order_by(_fact.c.id)).all()
        different = {row.normal: row for row in reversed(rows)}
        yield (
            "code_conflict",
            f"{refs.MACHINE}{machine} has {len(different)} serial numbers.",
            sorted(different.values(), key=lambda row: row.id),
        )


def _two_codes(conn: sa.Connection) -> _Found:
    """Find product keys that gave two activation codes for one machine ID, and codes of two keys or machine IDs.

    A code whose machine ID is not known is held against those of all machine IDs.
    """
    by_key: dict[tuple[int, str], dict[str, dict[str, sa.Row[Any]]]] = {}
    by_code: dict[tuple[int, str], dict[tuple[Kind, str], sa.Row[Any]]] = {}
    for codes in _by_source(conn, (*_SECRETS, Kind.MACHINE_ID)):
        key, code, board = (codes.get(k) for k in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE, Kind.MACHINE_ID))
        if code is None:
            continue
        of = by_code.setdefault((code.machine_id, code.normal), {})
        for row in (key, board):
            if row is not None:
                of.setdefault((Kind(row.kind), row.normal), row)
        if key is not None:
            boards = by_key.setdefault((key.machine_id, key.normal), {})
            boards.setdefault("" if board is None else board.normal, {}).setdefault(code.normal, code)
    for (machine, _), boards in sorted(by_key.items()):
        for found in _contradicting(boards):
            sentence = f"{refs.MACHINE}{machine} has {len(found)} activation codes for one product key."
            yield "code_conflict", sentence, found
    for (machine, _), rows in sorted(by_code.items()):
        for kind in (Kind.PRODUCT_KEY, Kind.MACHINE_ID):
            several = [row for (of_kind, _), row in rows.items() if of_kind is kind]
            if len(several) > 1:
                sentence = f"{refs.MACHINE}{machine} has one activation code for {len(several)} {LABELS[kind]}s."
                yield "code_conflict", sentence, several


def _contradicting(boards: dict[str, dict[str, sa.Row[Any]]]) -> Iterator[list[sa.Row[Any]]]:
    """Yield the different codes of each machine ID, and those of none with all that differ from them."""
    known = {normal: row for board, codes in boards.items() if board for normal, row in codes.items()}
    loose = {normal: row for normal, row in boards.get("", {}).items() if normal not in known}
    yield from (list(codes.values()) for board, codes in boards.items() if board and len(codes) > 1)
    if loose and len(loose | known) > 1:
        yield list((known | loose).values())


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


def _two_purchases(conn: sa.Connection) -> _Found:
    """Find machines that one customer bought on two days, by different messages."""
    owned = sa.and_(
        _fact.c.machine_id.is_not(None), _fact.c.kind == Kind.PURCHASE_DATE.value, _message.c.customer_id.is_not(None)
    )
    query = sa.select(_fact, _message.c.customer_id.label("buyer"))
    query = query.join(_message, _message.c.id == _fact.c.message_id).where(owned)
    days: dict[tuple[int, int], dict[str, sa.Row[Any]]] = {}
    for row in conn.execute(query.order_by(_fact.c.machine_id, _fact.c.id)):
        days.setdefault((row.machine_id, row.buyer), {}).setdefault(row.normal, row)
    for (machine, buyer), found in days.items():
        if len(found) > 1:
            listed = " and ".join(sorted(found))
            sentence = f"{refs.MACHINE}{machine} was bought by {refs.CUSTOMER}{buyer} on {listed}."
            yield "date_contradiction", sentence, list(found.values())


def _before_sold(conn: sa.Connection) -> _Found:
    """Find dates before the machine's model was sold, as far as its maker's file says since when it is."""
    told = sa.and_(
        _fact.c.machine_id.is_not(None), _fact.c.kind == Kind.MODEL.value, _fact.c.evidence.contains(SOLD_SINCE)
    )
    # The one noted last counts: reading anew brings it to what the file says today.
    models = {row.machine_id: row for row in conn.execute(sa.select(_fact).where(told).order_by(_fact.c.id))}
    dates = [kind.value for kind in _DATES]
    for machine, model in sorted(models.items()):
        since = sold_since(fact_of(model))
        query = sa.select(_fact).where(_fact.c.machine_id == machine, _fact.c.kind.in_(dates)).order_by(_fact.c.id)
        for row in conn.execute(query).all() if since is not None else ():
            if is_before(row.normal, since or ""):
                said = f"The {LABELS[Kind(row.kind)]} {row.normal} of {refs.MACHINE}{machine}"
                sentence = f"{said} lies before {since}, since when the {model.normal} is sold."
                yield "date_contradiction", sentence, [row, model]


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
