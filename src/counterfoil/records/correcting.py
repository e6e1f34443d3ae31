"""An entry at the bench corrected: new values take the place of old ones, and the first entry stays in the history.

The first line of the journal stays as it is. Its values are taken out of the profiles and kept in the records; all
values that hold, changed or not, stand under the line of the correction, so that what was entered at once stays
together. Undoing the correction brings the first values back.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from counterfoil.errors import SettlementRefused, UsageProblem
from counterfoil.model import CUSTOMER_KINDS, Fact, JournalEntry, Kind, Reading
from counterfoil.records import journal, refs, schema
from counterfoil.records.bench import (
    Staged,
    backwards,
    described,
    odd,
    refuse,
    staged,
    write_entered,
)
from counterfoil.records.case import LABELS, Case, Choice, as_certain
from counterfoil.records.changes import Changes
from counterfoil.records.codes import shown
from counterfoil.records.counters import take
from counterfoil.records.holders import CORRECT_ACTION, RECORD_ACTION
from counterfoil.records.known import gather
from counterfoil.records.linking import Link, find_machine, keys_elsewhere, known_codes
from counterfoil.records.merged import present
from counterfoil.records.rows import Row, fact_of
from counterfoil.records.store import Store
from counterfoil.records.writing import since
from counterfoil.settings import Settings

_fact, _holding = schema.fact, schema.holding
#: What a value is the one of: its kind, and for firmware before or after an update.
_Key = tuple[Kind, str | None]


@dataclass(slots=True)
class _Entered:
    """An entry as it stands: its line, the first line where it was corrected before, and its rows."""

    entry: JournalEntry
    origin: str
    rows: Sequence[sa.Row[Any]]
    customer: int
    machine: int

    @property
    def facts(self) -> list[Staged]:
        """The values entered."""
        return [(as_certain(fact_of(row)), row.stage) for row in self.rows]

    @property
    def at(self) -> str:
        """When the values were so: when they were first entered."""
        return str(self.rows[0].at)


def correct(
    store: Store,
    settings: Settings,
    entry_id: str,
    *,
    facts: Sequence[Fact] = (),
    firmware_before: str | None = None,
    firmware_after: str | None = None,
    drop: Collection[Kind] = (),
    sure: bool = False,
    accepted: Collection[str] = (),
    who: str,
    why: str,
) -> tuple[str, str, str]:
    """Correct values of an entry at the bench; machine and customer stay.

    Args:
        store: the records.
        settings: the shop's.
        entry_id: the line of the entry, or of its last correction: J9.
        facts: the right values, one of a kind.
        firmware_before: the right version before the update.
        firmware_after: the right version after it.
        drop: kinds whose value was entered wrongly and has no right one.
        sure: enter it against contradictions.
        accepted: the contradictions that a person has read and enters it against.
        who: the person.
        why: their reason.

    Returns:
        The ids of the customer, the machine and the new line of the journal.

    Raises:
        RecordUnknown: there is no such line.
        SettlementRefused: it cannot be corrected, nothing would change, or something speaks against a value.
        UsageProblem: a kind was named twice, or nothing was named.
    """
    changed = [*((fact, None) for fact in facts), *staged(firmware_before, firmware_after)]
    _check_named(changed, drop)
    with store.write() as conn:
        old = _entered(conn, entry_id)
        new = _merged(old, changed, drop)
        before = _against(conn, settings, old, old.facts)
        changes = _taken_out(conn, old)
        fresh = [s for s in _against(conn, settings, old, new) if s not in before]
        against = odd([fact for fact, _ in changed], settings) + fresh
        refuse(against, sure=sure, accepted=accepted)
        _refuse_nameless(conn, old, new)
        return _write(conn, changes, old, new, against, who=who, why=why)


def _check_named(changed: Sequence[Staged], drop: Collection[Kind]) -> None:
    keys = {_key(item) for item in changed}
    if not changed and not drop:
        raise UsageProblem("Nothing says what is to be corrected.", "Add --set KIND=VALUE, or --drop KIND.")
    if len(keys) < len(changed) or {kind for kind, _ in keys} & set(drop):
        raise UsageProblem("A kind of value was named twice.", "Name each kind once.")


def _key(item: Staged) -> _Key:
    return item[0].kind, item[1]


def _entered(conn: sa.Connection, entry_id: str) -> _Entered:
    entry = journal.entry(conn, entry_id)
    if entry.action not in (RECORD_ACTION, CORRECT_ACTION):
        raise SettlementRefused(
            f"{entry.id} ({entry.action}) is no entry at the bench.", "Find it with `counterfoil journal M7`."
        )
    if entry.undone_by is not None:
        raise SettlementRefused(f"{entry.id} was undone by {entry.undone_by}.", "Enter it anew.")
    later = corrected_by(conn, entry)
    if later is not None:
        raise SettlementRefused(f"{entry.id} was corrected by {later} already.", f"Correct {later}.")
    number = refs.number(refs.JOURNAL, entry.id)
    own = sa.and_(_fact.c.journal_id == number, _fact.c.message_id.is_(None), sa.not_(_fact.c.dropped))
    rows = conn.execute(sa.select(_fact).where(own).order_by(_fact.c.id)).all()
    if not rows:
        raise SettlementRefused(f"Nothing that {entry.id} entered is left in the records.", "Enter it anew.")
    # Whose the values are today: the customer may have been merged into another, or split off, since.
    customer = next((r.customer_id for r in rows if r.customer_id is not None), None)
    if customer is None:
        customer = present(conn, refs.number(refs.CUSTOMER, str(entry.detail["customer"])))
    machine = refs.number(refs.MACHINE, entry.subject)
    return _Entered(entry, str(entry.detail.get("entry", entry.id)), rows, customer, machine)


def corrected_by(conn: sa.Connection, entry: JournalEntry) -> str | None:
    """Return the line that corrected an entry and stands, None where there is none."""
    lines = schema.journal
    query = sa.select(lines.c.id).where(
        lines.c.action == CORRECT_ACTION,
        lines.c.undone_by.is_(None),
        lines.c.detail.like(f'%"corrects":"{entry.id}"%'),
    )
    return refs.ref(refs.JOURNAL, conn.scalar(query))


def _taken_out(conn: sa.Connection, old: _Entered) -> Changes:
    """Take the values of an entry out of the profiles."""
    changes = Changes(conn)
    for row in old.rows:
        # Kept, as what was entered first; nobody's, and found by no search.
        taken = {"customer_id": None, "machine_id": None, "chosen": False, "dropped": True}
        changes.update("fact", row.id, taken)
    return changes


def _merged(old: _Entered, changed: Sequence[Staged], drop: Collection[Kind]) -> list[Staged]:
    """Return all values that hold: the old ones that stay, then the new ones."""
    known = {_key(item): item[0] for item in old.facts}
    missing = [kind for kind in drop if kind not in {k for k, _ in known}]
    if missing:
        raise SettlementRefused(f"{old.entry.id} entered no {LABELS[missing[0]]}.", "Leave it out.")
    if not drop and all(_key(i) in known and known[_key(i)].value == i[0].value for i in changed):
        raise SettlementRefused(f"{old.entry.id} says so already.", "Nothing is left to correct.")
    replaced = {_key(item) for item in changed}
    kept = [item for item in old.facts if _key(item) not in replaced and item[0].kind not in drop]
    return [*kept, *((as_certain(fact), stage) for fact, stage in changed)]


def _against(conn: sa.Connection, settings: Settings, old: _Entered, facts: Sequence[Staged]) -> list[str]:
    """Return what in the rest of the records speaks against values of the entry's machine."""
    chosen = {fact.kind: fact for fact, stage in facts if stage is None}
    reading = Reading(tuple(chosen.values()), chosen)
    choice = Choice(customer=old.customer, machine=old.machine)
    known = gather(conn, reading, None, settings.name_similarity, ([old.customer], [old.machine]))
    case, link = Case((), None, reading, settings, known, choice), Link()
    machine = find_machine(case, link)
    questions = [*link.questions, *(known_codes(case, machine) if machine is not None else ())]
    questions += keys_elsewhere(case, machine)
    # In the order in which the machine had them: what stands without a stage was noted before any update.
    firmware = sorted(
        (f for f in facts if f[0].kind is Kind.FIRMWARE_VERSION), key=lambda f: (f[1] == "after", f[1] or "")
    )
    return [q.sentence for q in questions] + backwards(conn, old.machine, firmware, until=old.at)


def _refuse_nameless(conn: sa.Connection, old: _Entered, new: Sequence[Staged]) -> None:
    """Refuse to leave a machine without any identifier, or a customer without a name."""
    kinds = {fact.kind for fact, _ in new}
    for column, number, wanted, what in (
        (_fact.c.machine_id, old.machine, (Kind.MACHINE_ID, Kind.SERIAL_NUMBER), "the machine without an identifier"),
        (_fact.c.customer_id, old.customer, (Kind.CUSTOMER_NAME,), "the customer without a name"),
    ):
        rest = sa.select(_fact.c.id).where(column == number, _fact.c.kind.in_([k.value for k in wanted])).limit(1)
        if kinds.isdisjoint(wanted) and conn.scalar(rest) is None:
            raise SettlementRefused(
                f"{old.entry.id} is not corrected: it would leave {what}.",
                f"Undo {old.entry.id} if all of it is wrong.",
            )


def _write(
    conn: sa.Connection,
    changes: Changes,
    old: _Entered,
    new: Sequence[Staged],
    against: Sequence[str],
    *,
    who: str,
    why: str,
) -> tuple[str, str, str]:
    customer, machine = f"{refs.CUSTOMER}{old.customer}", f"{refs.MACHINE}{old.machine}"
    detail: Row = {"corrects": old.entry.id, "entry": old.origin, "customer": customer, "machine": machine}
    detail |= {"before": _values(old.facts), "after": _values(new), "values": described(new)}
    detail |= {"sure": bool(against), "against": list(against)}
    line = journal.add(conn, who=who, action=CORRECT_ACTION, subject=machine, why=why, detail=detail, changes=[])
    first = int(take(conn, fact=len(new)).fact) - len(new) + 1
    for row in write_entered(conn, new, first, line, old.at, old.customer, old.machine):
        # Whose it is stands beside it: after a merge or split since, undoing must wait for that to be undone.
        owner = {name: row[name] for name in ("customer_id", "machine_id")}
        changes.made.append({"table": "fact", "id": row["id"], "how": "insert", "after": owner})
    _hold_since(conn, changes, old, new)
    journal.complete(conn, line, detail, changes.made)
    return customer, machine, f"{refs.JOURNAL}{line}"


def _values(facts: Iterable[Staged]) -> Row:
    return {" ".join(filter(None, (fact.kind.value, stage))): shown(fact.kind, fact.value) for fact, stage in facts}


def _hold_since(conn: sa.Connection, changes: Changes, old: _Entered, new: Sequence[Staged]) -> None:
    """Let the holder have the machine from the corrected day on, where it was this entry that said from when."""
    before, after = (since(_dates(facts), old.at) for facts in (old.facts, new))
    of_machine = sa.select(_holding).where(_holding.c.machine_id == old.machine)
    begun = conn.execute(of_machine.where(_holding.c.source == old.origin, _holding.c.since == before)).first()
    if begun is None or after == before:
        return
    ended = conn.execute(of_machine.where(_holding.c.ended_by == old.origin)).first()
    if ended is not None:
        # Whoever had it before had it up to that day; not less than from the day on which they got it.
        after = max(after, ended.since or after)
        changes.update("holding", ended.id, {"until": after})
    if begun.until is not None:
        after = min(after, begun.until)
    changes.update("holding", begun.id, {"since": after})


def _dates(facts: Sequence[Staged]) -> Reading:
    chosen = {fact.kind: fact for fact, _ in facts if fact.kind not in CUSTOMER_KINDS}
    return Reading(tuple(chosen.values()), chosen)
