"""Settling: a person says whose a message is, corrects what was read, or puts it aside; and takes that back.

What a person says is taken as certain, and the message is decided anew with it: it is filed, or the settlement is
refused with the contradiction that remains. Every settlement is a line of the journal with the rows it changed.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import sqlalchemy as sa

from counterfoil.errors import SettlementRefused, UsageProblem
from counterfoil.model import (
    Decision,
    Document,
    Fact,
    Kind,
    MessageRecord,
    Problem,
    Question,
    Reading,
    Standing,
)
from counterfoil.records import extensions, journal, profiles, refs, schema
from counterfoil.records.case import Case, Choice, as_certain, refuse_odd
from counterfoil.records.changes import Changes
from counterfoil.records.codes import shown
from counterfoil.records.counters import take
from counterfoil.records.filing import judge
from counterfoil.records.holders import hold, release
from counterfoil.records.known import gather
from counterfoil.records.rows import Row, fact_of, fact_row, packed
from counterfoil.records.store import Store
from counterfoil.records.undoing import in_use, undo
from counterfoil.records.writing import make_profiles, owned_by, since, stated_day, write_facts
from counterfoil.settings import Settings

__all__ = ["SETTLE_ACTION", "decide_again", "settle", "undo"]

SETTLE_ACTION = "settle"
_NEW = "new"
_fact = schema.fact


def settle(
    store: Store,
    settings: Settings,
    message_id: str,
    *,
    customer: str | None = None,
    machine: str | None = None,
    facts: Sequence[Fact] = (),
    drop: Sequence[Kind] = (),
    aside: bool = False,
    sure: bool = False,
    who: str,
    why: str,
) -> MessageRecord:
    """Settle a message: file it as a person says, or put it aside. A filed one may be settled again.

    Args:
        store: the records.
        settings: the shop's.
        message_id: E5.
        customer: the customer's id, ``new`` for a new profile, None to let the rules find it.
        machine: the machine's id, ``new``, or None to let the rules find it.
        facts: values that are right; each takes the place of what was read of its kind.
        drop: kinds of which everything read is wrong.
        aside: put it aside; nothing of it stays in the profiles.
        sure: the original really says so: file against questions that remain.
        who: the person.
        why: their reason.

    Returns:
        The message as it stands now.

    Raises:
        RecordUnknown: there is no such message, customer or machine.
        SettlementRefused: a contradiction remains, or it cannot be told whose it is.
        UsageProblem: the arguments contradict each other.
    """
    if aside and (customer or machine or facts or drop):
        raise UsageProblem("A message is put aside as a whole.", "Leave the other options out.")
    with store.write() as conn:
        work = _Work(conn, settings, refs.number(refs.MESSAGE, message_id), message_id)
        before = work.summary()
        if work.message.standing == Standing.OPEN.value and not aside:
            # Filed, and opened by a question about one of its values: it stays whose it is unless told otherwise.
            customer = customer or refs.ref(refs.CUSTOMER, work.was.customer)
            machine = machine or refs.ref(refs.MACHINE, work.was.machine)
        work.release()
        choice = _choice(store, customer, machine, sure=sure)
        work.number = journal.add(conn, who=who, action=SETTLE_ACTION, subject=work.ref, why=why, detail={}, changes=[])
        refuse_odd(f"{work.ref} is not settled", facts, settings, sure=sure)
        if aside:
            work.put_aside()
        else:
            work.correct(facts, drop)
            work.file(choice)
        work.prune()
        detail: Row = {"before": before, "after": work.summary(), "values": [_described(f) for f in facts]}
        detail |= {"dropped": [k.value for k in drop], "sure": sure}
        journal.complete(conn, work.number, detail, work.changes.made)
        return profiles.messages(conn, [work.message.id])[0]


def decide_again(
    store: Store,
    settings: Settings,
    message_id: str,
    *,
    customer: str | None = None,
    machine: str | None = None,
    facts: Sequence[Fact] = (),
) -> Decision:
    """Decide about an open message by what is known today, and what a person might answer; writes nothing.

    Args:
        store: the records.
        settings: the shop's.
        message_id: E5.
        customer, machine, facts: as for :func:`settle`; without any, what the rules alone decide.

    Returns:
        The decision: the questions as they stand now, or where it would be filed.

    Raises:
        RecordUnknown: there is no such message, customer or machine.
    """
    choice = None
    if customer or machine or facts:
        choice = _choice(store, customer, machine, sure=False)
    with store.reading() as conn:
        work = _Work(conn, settings, refs.number(refs.MESSAGE, message_id), message_id)
        reading = replace(work.reading(), mentions_attachment=bool(work.message.mentions_attachment))
        said = {fact.kind: as_certain(fact) for fact in facts}
        open_conflicts = {kind: values for kind, values in reading.conflicts.items() if kind not in said}
        reading = replace(reading, chosen={**reading.chosen, **said}, conflicts=open_conflicts)
        sender = work.message.sender_address
        extra = ([n for n in [choice and choice.customer] if n], [n for n in [choice and choice.machine] if n])
        known = gather(conn, reading, sender, settings.name_similarity, extra)
        return judge(conn, Case(work.documents(), sender, reading, settings, known, choice, work.received))


def _choice(store: Store, customer: str | None, machine: str | None, *, sure: bool) -> Choice:
    """Return what a person chose; the records named must exist."""
    whose, which = _chosen(store, refs.CUSTOMER, customer), _chosen(store, refs.MACHINE, machine)
    return Choice(whose, _is_new(customer), which, _is_new(machine), sure)


def _is_new(text: str | None) -> bool:
    return text is not None and text.strip().lower() == _NEW


def _chosen(store: Store, letter: str, text: str | None) -> int | None:
    """Return the number of the record chosen, None for none or a new one; it must exist."""
    if text is None or _is_new(text):
        return None
    profile = store.customer(text) if letter == refs.CUSTOMER else store.machine(text)
    return refs.number(letter, profile.id)


def _described(fact: Fact) -> Row:
    return {"kind": fact.kind.value, "value": shown(fact.kind, fact.value)}


@dataclass(slots=True)
class _Was:
    """The profiles a message was filed to."""

    customer: int | None
    machine: int | None


class _Work:
    """One settlement under way: the message's rows, and all changes made to them."""

    def __init__(self, conn: sa.Connection, settings: Settings, message: int, text: str) -> None:
        self.conn, self.settings = conn, settings
        self.changes = Changes(conn)
        self.number = 0
        row = conn.execute(sa.select(schema.message).where(schema.message.c.id == message)).one_or_none()
        if row is None:
            raise refs.unknown(refs.MESSAGE, text)
        self.message = row
        self.ref = f"{refs.MESSAGE}{row.id}"
        self.was = _Was(row.customer_id, row.machine_id)

    @property
    def received(self) -> date | None:
        """The day the message was received."""
        return date.fromisoformat(self.message.received[:10]) if self.message.received else None

    # --- the message as it stands -----------------------------------------------------------------

    def fact_rows(self) -> Sequence[sa.Row[Any]]:
        """Return the rows of the message's facts."""
        query = sa.select(_fact).where(_fact.c.message_id == self.message.id).order_by(_fact.c.id)
        return self.conn.execute(query).all()

    def summary(self) -> Row:
        """Return what a reader of the journal sees of the message's state."""
        record = profiles.messages(self.conn, [self.message.id])[0]
        values = {n.fact.kind.value: shown(n.fact.kind, n.fact.value) for n in record.facts if n.chosen}
        return {
            "standing": record.standing.value,
            "customer": record.customer,
            "machine": record.machine,
            "questions": [q.code for q in record.questions],
            "chosen": values,
        }

    def reading(self) -> Reading:
        """Return the reading as corrected so far; what a person confirmed is certain and in no conflict."""
        rows = [row for row in self.fact_rows() if not row.dropped]
        facts = [as_certain(fact_of(row)) if row.confirmed else fact_of(row) for row in rows]
        chosen = {f.kind: f for f, row in zip(facts, rows, strict=True) if row.chosen}
        confirmed = {Kind(row.kind) for row in rows if row.confirmed}
        conflicts = {}
        for name, normals in json.loads(self.message.conflicts).items():
            several = tuple(f for f in facts if f.kind == name and f.normal in normals)
            if Kind(name) not in confirmed and len({f.normal for f in several}) > 1:
                conflicts[Kind(name)] = several
        return Reading(tuple(facts), chosen, conflicts, self.message.confirmation)

    def documents(self) -> list[Document]:
        """Return the message's documents as far as the rules look at them."""
        table = schema.document
        query = sa.select(table).where(table.c.message_id == self.message.id).order_by(table.c.number)
        return [
            Document(
                name=row.name,
                layer=row.layer,
                text="",
                lines=(),
                problem=Problem(row.problem) if row.problem else None,
                reason=row.reason,
                inline=bool(row.inline),
            )
            for row in self.conn.execute(query)
        ]

    # --- the steps --------------------------------------------------------------------------------

    def release(self) -> None:
        """Take the message out of the profiles it was filed to, so that it does not speak for itself."""
        for row in self.fact_rows():
            if row.customer_id is not None or row.machine_id is not None:
                self.changes.update("fact", row.id, {"customer_id": None, "machine_id": None})
        self._set({"customer_id": None, "machine_id": None, "filed": None})
        if self.was.machine is not None:
            release(self.changes, self.was.machine, message=self.message.id)

    def correct(self, facts: Sequence[Fact], drop: Sequence[Kind]) -> None:
        """Take wrong values out, and put right ones in."""
        kinds = [f.kind for f in facts]
        if len(set(kinds)) < len(kinds) or set(kinds) & set(drop):
            raise UsageProblem("A kind of value was named twice.", "Name each kind once.")
        for row in self.fact_rows():
            if Kind(row.kind) in drop:
                self.changes.update("fact", row.id, {"dropped": True, "chosen": False})
        for fact in facts:
            self._put(fact)

    def _put(self, fact: Fact) -> None:
        """Choose and confirm the reading with this value, or add the value where nothing was read so."""
        rows = [row for row in self.fact_rows() if row.kind == fact.kind.value]
        same = [row for row in rows if row.normal == fact.normal]
        best = max(same, key=lambda row: (row.chosen, row.odds, -row.id), default=None)
        plain = best is not None and not best.readings and best.check_result == fact.check.value
        for row in rows:
            if row.chosen and not (plain and best is not None and row.id == best.id):
                self.changes.update("fact", row.id, {"chosen": False})
        if plain and best is not None:
            self.changes.update("fact", best.id, {"chosen": True, "confirmed": True, "dropped": False})
            return
        number = int(take(self.conn, fact=1).fact)
        new = fact_row(number, as_certain(fact), self.message.dated, chosen=True)
        new |= {"message_id": self.message.id, "journal_id": self.number, "confirmed": True}
        write_facts(self.conn, [new])
        self.changes.inserted("fact", number)

    def put_aside(self) -> None:
        """Set the standing to aside; the questions no longer matter."""
        self._set({"standing": Standing.ASIDE.value, "why": packed(["put aside by a person"])})
        self._settle_questions()

    def file(self, choice: Choice) -> None:
        """Decide anew with the person's choice, and file; or refuse."""
        reading = self.reading()
        extra = ([n for n in [choice.customer] if n], [n for n in [choice.machine] if n])
        sender = self.message.sender_address
        known = gather(self.conn, reading, sender, self.settings.name_similarity, extra)
        case = Case(self.documents(), sender, reading, self.settings, known, choice, self.received)
        if choice.new_customer and case.name() is None:
            raise SettlementRefused(f"{self.ref} gives no certain name for a new customer.")
        decision = judge(self.conn, case)
        if decision.standing is not Standing.FILED:
            raise _refusal(self.ref, decision.questions)
        mine = choice.customer is None or choice.customer == self.was.customer
        if not mine and not choice.sure and case.is_stranger(choice.customer or 0):
            known_as = case.known.customers[choice.customer or 0].label
            raise SettlementRefused(
                f"{self.ref} is not settled: nothing in it agrees with {refs.CUSTOMER}{choice.customer} ({known_as}).",
                "Check the id; add --sure if it is really theirs.",
            )
        self._own(decision, case)
        self._settle_questions()

    def _own(self, decision: Decision, case: Case) -> None:
        """Give the chosen facts to the profiles, and the machine to its holder."""
        more = take(self.conn, customer=int(decision.new_customer), machine=int(decision.new_machine))
        customer = more.customer if decision.new_customer else refs.number(refs.CUSTOMER, decision.customer or "")
        machine = more.machine if decision.new_machine else refs.number(refs.MACHINE, decision.machine or "")
        make_profiles(
            self.changes, customer if decision.new_customer else None, machine if decision.new_machine else None
        )
        own = case.owned_kinds()
        for row in self.fact_rows():
            if row.chosen and row.kind in own:
                self.changes.update("fact", row.id, owned_by(Kind(row.kind), customer, machine))
        revision = int(take(self.conn, revision=1).revision)
        values = {"customer_id": customer, "machine_id": machine, "filed": revision, "why": packed(decision.why)}
        self._set({"standing": Standing.FILED.value, **values}, revision)
        day, stated = since(case.reading, self.message.dated), stated_day(case.reading) is not None
        hold(self.changes, customer, machine, day, self.ref, revision, stated=stated)

    def _settle_questions(self) -> None:
        table = schema.question
        query = sa.select(table.c.id).where(table.c.message_id == self.message.id, table.c.settled_by.is_(None))
        for number in self.conn.scalars(query).all():
            self.changes.update("question", number, {"settled_by": self.number})

    def prune(self) -> None:
        """Remove the profiles the message was filed to where nothing is left of them."""
        for table, number in (("machine", self.was.machine), ("customer", self.was.customer)):
            if number is not None and not in_use(self.conn, table, number):
                if table == "machine":
                    self._refuse_extended(f"{refs.MACHINE}{number}")
                self.changes.delete(table, number)

    def _refuse_extended(self, machine: str) -> None:
        """Refuse to leave nothing of a machine for which an extension of cover was bought."""
        standing = extensions.standing_on(self.conn, [machine])
        if standing:
            lines = ", ".join(standing)
            raise SettlementRefused(
                f"{self.ref} is not settled: nothing would be left of {machine}, on which {lines} rests.",
                f"Undo {lines} first, and enter the extension for the right machine.",
            )

    def _set(self, values: Row, revision: int | None = None) -> None:
        """Change the message's row; the index has to look again."""
        if revision is None:
            revision = int(take(self.conn, revision=1).revision)
        self.changes.update("message", self.message.id, values | {"revision": revision, "again": True})


def _refusal(ref: str, questions: Iterable[Question]) -> SettlementRefused:
    """Return why a settlement is refused: the questions that remain, and what answers them."""
    asked = list(questions)
    text = " ".join(q.sentence for q in asked) or "It cannot be told which machine or customer it belongs to."
    codes = {q.code for q in asked}
    if codes & {"customer_unclear", "holder_unclear"}:
        named = ", ".join(dict.fromkeys(c.ref for q in asked for c in q.candidates if c.ref[:1] == refs.CUSTOMER))
        some = f" ({named})" if named else ""
        return SettlementRefused(f"{ref} is not settled: {text}", f"Name the customer{some}, or ask for a new one.")
    return SettlementRefused(f"{ref} is not settled: {text}")
