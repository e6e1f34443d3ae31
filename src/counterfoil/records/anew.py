"""One message read anew: its rows brought to a new reading, whatever a person decided about them left as it is.

Rows keep their numbers where the value is the same, so that the journal still speaks of the right ones. Values that a
person confirmed, typed or dropped stay so; what has gone into profiles stays there, and where the new reading says
otherwise, that is a question.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from counterfoil.model import Candidate, Fact, Kind, Message, Question, Reading
from counterfoil.records import schema
from counterfoil.records.bulk import insert_many
from counterfoil.records.case import LABELS, as_certain
from counterfoil.records.codes import shown
from counterfoil.records.counters import take
from counterfoil.records.rows import Row, derived_rows, document_row, fact_of, fact_row, message_row
from counterfoil.records.writing import all_facts

#: Begin of the sentences of the questions that a new reading raises about what is filed: the next one answers them.
ANEW = "Read anew,"
_fact, _document = schema.fact, schema.document
#: Columns of a fact that its reading alone decides; `chosen` is decided with what a person said.
_READ = (
    "value", "normal", "key", "document", "page", "x0", "y0", "x1", "y1", "span_start", "span_end", "pattern",
    "check_result", "odds", "readings", "evidence",
)  # fmt: skip
_PLACE = _READ[3:11]
#: Kinds whose normal form is the maker's own name of the thing: a new maker file may know it better.
_NAMES = frozenset({Kind.MAKER, Kind.MODEL, Kind.UPGRADE_NAME})
#: Columns of a message that a new reading does not touch: where it came from, and where it stands.
_KEPT = frozenset({"sha256", "source", "kept"})


@dataclass(frozen=True, slots=True)
class ValueChange:
    """A value that is new (``old`` is None), gone (``new`` is None) or another; as shown, codes masked."""

    kind: Kind
    old: str | None
    new: str | None


@dataclass(slots=True)
class Anew:
    """A message's rows beside its new reading.

    ``rows`` are those of its facts as they will be, ``added`` the numbers of new ones, ``gone`` of those to be deleted;
    ``asked`` are the questions that values already filed raise.
    """

    conn: sa.Connection
    message: sa.Row[Any]
    settled: bool
    rows: list[Row] = field(default_factory=list)
    added: set[int] = field(default_factory=set)
    gone: set[int] = field(default_factory=set)
    asked: list[Question] = field(default_factory=list)
    changes: list[ValueChange] = field(default_factory=list)
    touched: bool = False

    @property
    def owned(self) -> bool:
        """Whether it has been filed, and its values are in profiles."""
        return self.message.customer_id is not None or self.message.machine_id is not None


def fact_rows(conn: sa.Connection, message: int) -> list[sa.Row[Any]]:
    """Return the rows of a message's facts."""
    return list(conn.execute(sa.select(_fact).where(_fact.c.message_id == message).order_by(_fact.c.id)))


def is_same(conn: sa.Connection, message: sa.Row[Any], mail: Message, reading: Reading) -> bool:
    """Tell whether a message is read as it was, so that nothing about it can change.

    Args:
        conn: a connection.
        message: its row.
        mail: the message, read.
        reading: what was read from it now.
    """
    rows = fact_rows(conn, message.id)
    if any(row.journal_id is not None or row.confirmed or row.dropped for row in rows):
        return False
    columns, documents = _columns(message, mail, reading), _documents(message, mail, reading)
    if any(getattr(message, k) != v for k, v in columns.items()) or documents != _document_rows(conn, message.id):
        return False
    new = [fact_row(0, fact, "", chosen=chosen) for fact, chosen in all_facts(reading)]
    was = sorted([[*(getattr(row, k) for k in _READ), row.chosen] for row in rows], key=repr)
    return was == sorted([[*(row[k] for k in _READ), row["chosen"]] for row in new], key=repr)


def _columns(message: sa.Row[Any], mail: Message, reading: Reading) -> Row:
    """Return the columns of a message's row by its new reading."""
    columns = {k: v for k, v in message_row(mail, reading, message.source).items() if k not in _KEPT}
    if all(layer.date is None for layer in mail.layers):
        del columns["dated"]  # it was the time of arrival
    return columns


def _documents(message: sa.Row[Any], mail: Message, reading: Reading) -> list[Row]:
    return [document_row(d, n, reading) | {"message_id": message.id} for n, d in enumerate(mail.documents)]


def _document_rows(conn: sa.Connection, message: int) -> list[Row]:
    query = sa.select(_document).where(_document.c.message_id == message).order_by(_document.c.number)
    return [dict(row._mapping) for row in conn.execute(query)]


def renew(conn: sa.Connection, message: sa.Row[Any], mail: Message, reading: Reading, *, settled: bool) -> Anew:
    """Bring a message's facts, documents and columns to a new reading; standing, questions and profiles stay.

    Args:
        conn: a connection that writes.
        message: its row.
        mail: the message, read.
        reading: what was read from it now.
        settled: whether a person has settled it: then no row is deleted, since undo may need it.

    Returns:
        What changed.
    """
    work = Anew(conn, message, settled)
    columns = _columns(message, mail, reading)
    old = fact_rows(conn, message.id)
    _match(work, old, reading, columns.get("dated", message.dated))
    before = {row.kind: row for row in old if row.chosen}
    _compare(work, before)
    _write_facts(work, old)
    _write_documents(work, _documents(message, mail, reading))
    changed = {k: v for k, v in columns.items() if getattr(message, k) != v}
    if changed:
        work.touched = True
        conn.execute(sa.update(schema.message).where(schema.message.c.id == message.id), changed)
    return work


def _match(work: Anew, old: Sequence[sa.Row[Any]], reading: Reading, at: str) -> None:
    """Find the row of each new value, and decide which are chosen."""
    fixed = {row.kind for row in old if row.confirmed and not row.dropped}
    dropped = {row.kind for row in old if row.dropped} - fixed
    owned = {row.kind: row for row in old if row.customer_id is not None or row.machine_id is not None}
    left = {row.id: row for row in old if row.journal_id is None}
    facts = sorted(enumerate(all_facts(reading)), key=lambda item: (not item[1][1], item[0]))
    found: list[tuple[int, Fact, bool, sa.Row[Any] | None]] = []
    for order, (fact, chosen) in facts:
        row = _row_of(fact, chosen, left, owned.get(fact.kind.value))
        if row is not None:
            del left[row.id]
        found.append((order, fact, chosen, row))
    new = sum(row is None for *_, row in found)
    number = int(take(work.conn, fact=new).fact) - new if new else 0
    for _, fact, chosen, row in sorted(found, key=lambda item: item[0]):
        if row is None:
            number += 1
            own = fact_row(number, fact, at, chosen=False) | {"message_id": work.message.id}
            work.added.add(number)
        else:
            own = {**row._mapping, **{k: v for k, v in fact_row(row.id, fact, at, chosen=False).items() if k in _READ}}
        held = owned.get(fact.kind.value)
        if fact.kind.value in fixed:
            own["chosen"] = bool(row is not None and row.chosen)
        elif held is not None:
            own["chosen"] = row is not None and row.id == held.id
        else:
            own["chosen"] = chosen and fact.kind.value not in dropped
        work.rows.append(own)
    for row in old:
        if row.journal_id is None and row.id not in left:
            continue
        human = row.journal_id is not None or row.confirmed or row.dropped or work.settled
        if human or (row.kind in owned and owned[row.kind].id == row.id):
            stays = row.chosen and (row.kind in fixed or row.kind in owned)
            work.rows.append({**row._mapping, "chosen": bool(stays)})
        else:
            work.gone.add(row.id)
    work.rows.sort(key=lambda row: row["id"])
    _ask(work, reading, fixed, owned)


def _row_of(fact: Fact, chosen: bool, left: dict[int, sa.Row[Any]], owned: sa.Row[Any] | None) -> sa.Row[Any] | None:
    """Return the row that already holds a value: the filed one for the chosen, then that at the same place."""
    if chosen and owned is not None and owned.id in left and _equal(owned, fact):
        return owned
    wanted = fact_row(0, fact, "", chosen=False)
    best, most = None, 0
    for row in left.values():
        if row.kind == fact.kind.value and row.normal == fact.normal and not (owned is not None and row.id == owned.id):
            there = row.document == fact.place.document
            rank = 1 + 2 * there + 4 * all(getattr(row, name) == wanted[name] for name in _PLACE)
            if rank > most:
                best, most = row, rank
    return best


def _equal(owned: sa.Row[Any], fact: Fact) -> bool:
    """Tell whether a filed value is the one read now; a name a maker gave, where it is written the same."""
    return bool(owned.normal == fact.normal or (fact.kind in _NAMES and owned.value == fact.value))


def _ask(work: Anew, reading: Reading, fixed: set[str], owned: dict[str, sa.Row[Any]]) -> None:
    """Ask where a value that has been filed is read otherwise now, or not at all."""
    before = set(json.loads(work.message.conflicts))
    for kind, row in owned.items():
        if kind in fixed:
            continue
        fact, was = reading.chosen.get(Kind(kind)), fact_of(row)
        several = reading.conflicts.get(Kind(kind), ())
        if fact is None:
            work.asked.append(_question(was, [], f"{ANEW} the {LABELS[was.kind]} {_said(was)} is no longer found."))
        elif several and kind not in before:
            every = " and ".join(dict.fromkeys(_said(f) for f in several))
            said = f"{ANEW} the message holds different values for the {LABELS[was.kind]}: {every}."
            work.asked.append(_question(was, several, said))
        elif not _equal(row, fact):
            said = f"{ANEW} the {LABELS[was.kind]} is {_said(fact)}; {_said(was)} is filed."
            work.asked.append(_question(was, [fact], said))


def _question(was: Fact, others: Sequence[Fact], sentence: str) -> Question:
    filed = Candidate(_said(was), _said(was), (f"filed, read in {was.place.document}",))
    rest = [Candidate(_said(f), _said(f), (f"in {f.place.document}", *f.evidence)) for f in others]
    return Question("code_conflict", sentence, (*(c for c in rest if c.ref != filed.ref or len(rest) == 1), filed))


def _said(fact: Fact) -> str:
    return shown(fact.kind, fact.value)


def _compare(work: Anew, before: dict[str, sa.Row[Any]]) -> None:
    """Note for each kind what is chosen now in place of what was."""
    after = {row["kind"]: row for row in work.rows if row["chosen"]}
    for kind in Kind:
        old, new = before.get(kind.value), after.get(kind.value)
        if (old.normal if old is not None else None) != (new["normal"] if new else None):
            # Written the same and understood otherwise: what it is understood as tells them apart.
            column = "normal" if old is not None and new and old.value == new["value"] else "value"
            was = None if old is None else shown(kind, getattr(old, column))
            work.changes.append(ValueChange(kind, was, shown(kind, new[column]) if new else None))


def _write_facts(work: Anew, old: Sequence[sa.Row[Any]]) -> None:
    """Write the rows that differ, and all by which the message's facts are found."""
    conn, was = work.conn, {row.id: dict(row._mapping) for row in old}
    _mark_once(work.rows)
    changed = [row for row in work.rows if row["id"] in was and row != was[row["id"]]]
    if not (changed or work.added or work.gone):
        return
    work.touched = True
    for table in (schema.piece, schema.name_key):
        conn.execute(sa.delete(table).where(table.c.fact_id.in_(sorted(was))))
    conn.execute(sa.delete(_fact).where(_fact.c.id.in_(sorted(work.gone))))
    for row in changed:
        conn.execute(sa.update(_fact).where(_fact.c.id == row["id"]), row)
    insert_many(conn, _fact, [row for row in work.rows if row["id"] in work.added])
    pieces, names = derived_rows(work.rows)
    insert_many(conn, schema.piece, pieces)
    insert_many(conn, schema.name_key, names)


def _mark_once(rows: Sequence[Row]) -> None:
    """Let each code be found by its ending once in a message: at the chosen place, else at the first."""
    best: dict[tuple[str, str], Row] = {}
    for row in rows:
        if row["reversed"] is None and row["kind"] not in _CODES:
            continue
        key = (row["kind"], row["normal"])
        if key not in best or (row["chosen"] and not best[key]["chosen"]):
            best[key] = row
    for row in rows:
        if row["kind"] in _CODES:
            row["reversed"] = row["normal"][::-1] if best[row["kind"], row["normal"]] is row else None


_CODES = frozenset(k.value for k in (Kind.MACHINE_ID, Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE))


def _write_documents(work: Anew, rows: Sequence[Row]) -> None:
    if _document_rows(work.conn, work.message.id) == list(rows):
        return
    work.touched = True
    work.conn.execute(sa.delete(_document).where(_document.c.message_id == work.message.id))
    insert_many(work.conn, _document, rows)


def reading_of(work: Anew, reading: Reading) -> Reading:
    """Return the new reading with what a person decided and what has been filed in place of what was read."""
    conn = work.conn
    rows = [row for row in fact_rows(conn, work.message.id) if not row.dropped]
    facts = [as_certain(fact_of(row)) if row.confirmed else fact_of(row) for row in rows]
    chosen = {fact.kind: fact for fact, row in zip(facts, rows, strict=True) if row.chosen}
    certain = {Kind(row.kind) for row in rows if row.confirmed}
    conflicts = {kind: several for kind, several in reading.conflicts.items() if kind not in certain}
    return Reading(
        tuple(facts),
        chosen,
        conflicts,
        reading.confirmation,
        reading.signs,
        reading.confirmation_layer,
        reading.mentions_attachment,
        reading.language,
    )


def standing_questions(conn: sa.Connection, message: int) -> Iterator[sa.Row[Any]]:
    """Yield the rows of the questions of a message that nobody has settled."""
    table = schema.question
    yield from conn.execute(
        sa.select(table).where(table.c.message_id == message, table.c.settled_by.is_(None)).order_by(table.c.id)
    )
