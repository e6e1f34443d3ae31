"""Profiles and messages as the records know them: derived from the facts filed, nothing of them is stored twice."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from typing import Any

import sqlalchemy as sa

from counterfoil.model import (
    CustomerProfile,
    FirmwareNote,
    Holding,
    Kind,
    MachineProfile,
    Mailbox,
    MessageRecord,
    Noted,
    Standing,
    Upgrade,
    board_now,
)
from counterfoil.records import refs, schema
from counterfoil.records.merged import merged_numbers
from counterfoil.records.repeats import repeats
from counterfoil.records.rows import document_of, noted_of, question_of, source_of

_fact, _message, _holding = schema.fact, schema.message, schema.holding
#: Ids in one statement, well below what databases take.
_BATCH = 500


def customers(conn: sa.Connection, numbers: Collection[int] | None = None) -> list[CustomerProfile]:
    """Return customers by number, all when ``numbers`` is None; those that do not exist, or were merged into another
    one, are left out."""
    merged = merged_numbers(conn)
    gone = {number for several in merged.values() for number in several}
    ids = [number for number in _existing(conn, schema.customer, numbers) if number not in gone]
    facts = _rows_by(conn, _fact, "customer_id", numbers, _fact.c.at, _fact.c.id)
    holdings = _rows_by(conn, _holding, "customer_id", numbers, _holding.c.id)
    messages = _rows_by(conn, _message, "customer_id", numbers, _message.c.id)
    return [
        CustomerProfile(
            id=f"{refs.CUSTOMER}{number}",
            facts=tuple(noted_of(row) for row in facts[number]),
            holdings=tuple(_holding_of(row) for row in holdings[number]),
            messages=tuple(f"{refs.MESSAGE}{row.id}" for row in messages[number]),
            merged=tuple(f"{refs.CUSTOMER}{n}" for n in merged.get(number, ())),
        )
        for number in ids
    ]


def machines(conn: sa.Connection, numbers: Collection[int] | None = None) -> list[MachineProfile]:
    """Return machines by number, all when ``numbers`` is None; those that do not exist are left out."""
    ids = _existing(conn, schema.machine, numbers)
    facts = _rows_by(conn, _fact, "machine_id", numbers, _fact.c.at, _fact.c.id)
    holdings = _rows_by(conn, _holding, "machine_id", numbers, _holding.c.id)
    messages = _rows_by(conn, _message, "machine_id", numbers, _message.c.id)
    return [
        MachineProfile(
            id=f"{refs.MACHINE}{number}",
            facts=tuple(noted_of(row) for row in facts[number]),
            upgrades=upgrades(facts[number]),
            firmware=_firmware(facts[number]),
            holders=tuple(_holding_of(row) for row in holdings[number]),
            messages=tuple(f"{refs.MESSAGE}{row.id}" for row in messages[number]),
        )
        for number in ids
    ]


def messages(
    conn: sa.Connection, numbers: Collection[int] | None = None, standing: Standing | None = None
) -> list[MessageRecord]:
    """Return messages by number; all, or those with a standing, when ``numbers`` is None."""
    query = sa.select(_message).order_by(_message.c.id)
    if standing is not None:
        query = query.where(_message.c.standing == standing.value)
        numbers = list(conn.scalars(query.with_only_columns(_message.c.id)))
    rows = [row for part in _parts(_message.c.id, numbers) for row in conn.execute(query.where(part))]
    facts = _rows_by(conn, _fact, "message_id", numbers, _fact.c.id)
    documents = _rows_by(conn, schema.document, "message_id", numbers, schema.document.c.number)
    questions = _rows_by(conn, schema.question, "message_id", numbers, schema.question.c.id)
    again = repeats(conn, [row.id for row in rows])
    return [
        replace(_message_of(row, facts[row.id], documents[row.id], questions[row.id]), repeats=again.get(row.id))
        for row in rows
    ]


def _message_of(
    row: sa.Row[Any],
    facts: Sequence[sa.Row[Any]],
    documents: Sequence[sa.Row[Any]],
    questions: Sequence[sa.Row[Any]],
) -> MessageRecord:
    sender = None if row.sender_address is None else Mailbox(row.sender_name or "", row.sender_address)
    return MessageRecord(
        id=f"{refs.MESSAGE}{row.id}",
        sha256=row.sha256,
        source=row.source,
        kept=row.kept,
        message_id=row.message_id,
        received=row.received,
        subject=row.subject,
        sender=sender,
        standing=Standing(row.standing),
        customer=refs.ref(refs.CUSTOMER, row.customer_id),
        machine=refs.ref(refs.MACHINE, row.machine_id),
        questions=tuple(question_of(q) for q in questions if q.settled_by is None),
        facts=tuple(noted_of(f) for f in facts if not f.dropped),
        documents=tuple(document_of(d) for d in documents),
        defects=tuple(json.loads(row.defects)),
        signs=(*json.loads(row.signs), *json.loads(row.why)),
        language=row.language,
    )


# --- what is derived from a machine's facts --------------------------------------------------------


def upgrades(facts: Sequence[sa.Row[Any]]) -> tuple[Upgrade, ...]:
    """Return a machine's upgrades, oldest first.

    The product key, activation code, name and machine ID that came with one message, or were entered at once, make one
    upgrade; the same codes for the same machine ID again add nothing to it.

    Args:
        facts: rows of the facts filed to the machine, oldest first.
    """
    wanted = (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE, Kind.UPGRADE_NAME, Kind.MACHINE_ID)
    by_source: dict[str, dict[Kind, sa.Row[Any]]] = defaultdict(dict)
    boards: list[tuple[str, str, int, bool]] = []
    for row in facts:
        kind = Kind(row.kind)
        if kind in wanted:
            by_source[_group(row)][kind] = row
        if kind is Kind.MACHINE_ID:
            boards.append((row.normal, row.at, row.id, bool(row.confirmed)))
    now = board_now(boards)
    swapped = len({board[0] for board in boards}) > 1
    merged: list[Upgrade] = []
    for source, found in by_source.items():
        if Kind.PRODUCT_KEY in found or Kind.ACTIVATION_CODE in found:
            _merge(merged, _upgrade(source, found, now if swapped else None))
    return tuple(merged)


def _group(row: sa.Row[Any]) -> str:
    """Return what holds facts of one upgrade together: the message, corrections to it included, else the entry."""
    return f"{refs.MESSAGE}{row.message_id}" if row.message_id is not None else source_of(row)


def _upgrade(source: str, found: dict[Kind, sa.Row[Any]], swapped: tuple[str | None, str] | None) -> Upgrade:
    key, code = found.get(Kind.PRODUCT_KEY), found.get(Kind.ACTIVATION_CODE)
    name, board = found.get(Kind.UPGRADE_NAME), found.get(Kind.MACHINE_ID)
    anchor = code if code is not None else key
    assert anchor is not None, "an upgrade has a product key or an activation code"
    if swapped is None:
        live = True
    elif board is not None:
        live = board.normal == swapped[0]
    else:
        # Made for a machine ID that is not known: live unless the board was swapped after it.
        live = anchor.at >= swapped[1]
    return Upgrade(
        name=name.value if name is not None else None,
        product_key=noted_of(key) if key is not None else None,
        activation_code=noted_of(code) if code is not None else None,
        machine_id=board.normal if board is not None else None,
        live=live,
        source=source,
    )


def _merge(merged: list[Upgrade], new: Upgrade) -> None:
    """Add an upgrade, or complete the one it repeats."""
    for n, old in enumerate(merged):
        if _same(old.product_key, new.product_key) and _same(old.activation_code, new.activation_code):
            if old.machine_id and new.machine_id and old.machine_id != new.machine_id:
                continue
            if not _shares(old.product_key, new.product_key) and not _shares(old.activation_code, new.activation_code):
                continue
            fuller = old if old.activation_code is not None or new.activation_code is None else new
            merged[n] = Upgrade(
                name=old.name or new.name,
                product_key=old.product_key or new.product_key,
                activation_code=old.activation_code or new.activation_code,
                machine_id=old.machine_id or new.machine_id,
                live=(old if old.machine_id else new).live if old.live != new.live else old.live,
                source=fuller.source,
            )
            return
    merged.append(new)


def _same(a: Noted | None, b: Noted | None) -> bool:
    return a is None or b is None or a.fact.normal == b.fact.normal


def _shares(a: Noted | None, b: Noted | None) -> bool:
    return a is not None and b is not None and a.fact.normal == b.fact.normal


def _firmware(facts: Iterable[sa.Row[Any]]) -> tuple[FirmwareNote, ...]:
    return tuple(
        FirmwareNote(row.normal, row.at[:10], row.stage, source_of(row), row.value)
        for row in facts
        if row.kind == Kind.FIRMWARE_VERSION
    )


def _holding_of(row: sa.Row[Any]) -> Holding:
    return Holding(
        f"{refs.CUSTOMER}{row.customer_id}", f"{refs.MACHINE}{row.machine_id}", row.since, row.until, row.source
    )


# --- fetching -------------------------------------------------------------------------------------


def _existing(conn: sa.Connection, table: sa.Table, numbers: Collection[int] | None) -> list[int]:
    query = sa.select(table.c.id).order_by(table.c.id)
    return [number for part in _parts(table.c.id, numbers) for number in conn.scalars(query.where(part))]


def _rows_by(
    conn: sa.Connection, table: sa.Table, column: str, numbers: Collection[int] | None, *order: sa.ColumnElement[Any]
) -> defaultdict[int, list[sa.Row[Any]]]:
    """Return rows grouped by a column, in order; all that have it set when ``numbers`` is None."""
    held = table.c[column]
    query = sa.select(table).where(held.is_not(None)).order_by(*order)
    grouped: defaultdict[int, list[sa.Row[Any]]] = defaultdict(list)
    for part in _parts(held, numbers):
        for row in conn.execute(query.where(part)):
            grouped[row._mapping[held]].append(row)
    return grouped


def _parts(column: sa.ColumnElement[Any], numbers: Collection[int] | None) -> list[sa.ColumnElement[bool]]:
    """Return conditions that together select ``numbers``, each short enough for one statement."""
    if numbers is None:
        return [sa.true()]
    wanted = sorted(set(numbers))
    return [column.in_(wanted[n : n + _BATCH]) for n in range(0, len(wanted), _BATCH)]
