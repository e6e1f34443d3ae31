"""Old originals read anew: new patterns over what was kept, human decisions standing, in one transaction.

A dry run does the same and takes the transaction back: what it shows is what a run that writes does. Messages that a
person has not decided and that are not filed are decided by the ordinary rules; one that is filed stays so, and where a
value of it would change it is opened with a question.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import sqlalchemy as sa

from counterfoil.model import Decision, Document, Kind, Message, Question, Reading, Standing
from counterfoil.records import journal, refs, schema
from counterfoil.records.anew import ANEW, Anew, ValueChange, is_same, reading_of, renew, standing_questions
from counterfoil.records.case import Case, Choice
from counterfoil.records.changes import Changes
from counterfoil.records.counters import take
from counterfoil.records.filing import judge
from counterfoil.records.holders import hold
from counterfoil.records.known import gather
from counterfoil.records.rows import Row, packed, question_of, questions_rows
from counterfoil.records.store import Store
from counterfoil.records.writing import make_profiles, owned_by, since, stated_day
from counterfoil.settings import Settings

REREAD_ACTION = "reread"
#: Stands as the subject of its line in the journal, which is about many messages.
REREAD_SUBJECT = "messages"
#: How often messages that are still open are looked at again, since another one was filed meanwhile.
_PASSES = 5
_message, _fact = schema.message, schema.fact


@dataclass(frozen=True, slots=True)
class Target:
    """A message to be read anew: its id, the hash of its original, the maker chosen in it."""

    id: str
    sha256: str
    maker: str | None
    standing: Standing


@dataclass(slots=True)
class MessageChange:
    """What reading anew does to one message. ``asked`` and ``answered`` are sentences of questions, codes masked."""

    id: str
    before: Standing
    after: Standing
    values: list[ValueChange] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)
    answered: list[str] = field(default_factory=list)
    customer: str | None = None
    machine: str | None = None
    text: bool = False
    """Whether what is stored of its reading or its text changes, were it only a place or an odds."""

    @property
    def seen(self) -> bool:
        """Whether more changes than what only programs look at."""
        return bool(self.values or self.asked or self.answered or self.before is not self.after)

    def to_json(self) -> dict[str, object]:
        """Return everything as a dictionary."""
        return {
            "id": self.id,
            "before": self.before.value,
            "after": self.after.value,
            "values": [{"kind": v.kind.value, "old": v.old, "new": v.new} for v in self.values],
            "asked": self.asked,
            "answered": self.answered,
            "customer": self.customer,
            "machine": self.machine,
        }


class _TakenBack(Exception):
    """Ends a transaction that is not to be kept: a dry run, or one that changed nothing."""


def targets(store: Store, *, since_day: str | None = None, maker: str | None = None) -> list[Target]:
    """Return the messages to be read anew, in the order they were kept.

    Args:
        store: the records.
        since_day: ISO 8601; only those received (kept, where nothing tells) on this day or later.
        maker: only those of this maker, and those in which no maker was found.
    """
    day = sa.func.coalesce(_message.c.received, _message.c.kept)
    chosen = sa.and_(_fact.c.message_id == _message.c.id, _fact.c.kind == Kind.MAKER.value, _fact.c.chosen)
    query = sa.select(_message.c.id, _message.c.sha256, _message.c.standing, _fact.c.normal.label("maker"))
    query = query.select_from(_message.outerjoin(_fact, chosen)).order_by(_message.c.id)
    if since_day is not None:
        query = query.where(day >= since_day)
    with store.reading() as conn:
        found = {row.id: row for row in conn.execute(query)}
    return [
        Target(f"{refs.MESSAGE}{row.id}", row.sha256, row.maker, Standing(row.standing))
        for row in found.values()
        if maker is None or row.maker is None or row.maker.casefold() == maker.casefold()
    ]


def is_unchanged(store: Store, target: Target, mail: Message, reading: Reading) -> bool:
    """Tell whether nothing about a message can change: it is read as it was, and no question waits.

    Args:
        store: the records.
        target: the message.
        mail: the message, read now.
        reading: what was read from it now.
    """
    with store.reading() as conn:
        number = refs.number(refs.MESSAGE, target.id)
        row = conn.execute(sa.select(_message).where(_message.c.id == number)).one()
        return row.standing != Standing.OPEN.value and is_same(conn, row, mail, reading)


def renew_messages(
    store: Store,
    settings: Settings,
    read: Sequence[tuple[str, Message, Reading]],
    *,
    write: bool,
    scope: Row,
    who: str,
    why: str,
) -> tuple[list[MessageChange], str | None]:
    """Bring messages to their new readings, or say what that would do; in one transaction.

    Args:
        store: the records.
        settings: the shop's.
        read: id, message and new reading of each.
        write: write it; else nothing is changed.
        scope: what was asked for, for the journal.
        who: the person.
        why: their reason.

    Returns:
        What changes, message by message, and the line of the journal (None unless written).
    """
    found: list[MessageChange] = []
    line: str | None = None
    try:
        with store.write() as conn:
            number = journal.add(conn, who=who, action=REREAD_ACTION, subject=REREAD_SUBJECT, why=why, detail={})
            run = _Run(conn, settings, number)
            for ref, mail, reading in read:
                run.take(ref, mail, reading)
            run.again()
            found = [change for change in run.changes.values() if change.seen or change.text]
            if not write or not found:
                raise _TakenBack
            detail = scope | {"read": len(read), "changed": [change.to_json() for change in found if change.seen]}
            detail["text_only"] = [change.id for change in found if not change.seen]
            _note(conn, number, detail)
            line = f"{refs.JOURNAL}{number}"
    except _TakenBack:
        pass
    return found, line


def _note(conn: sa.Connection, number: int, detail: Row) -> None:
    """Fill in the line of the journal; it names no rows to be restored: what was read before can be read again."""
    table = schema.journal
    conn.execute(sa.update(table).where(table.c.id == number), {"detail": packed(detail)})


class _Run:
    """One run under way."""

    def __init__(self, conn: sa.Connection, settings: Settings, line: int) -> None:
        self.conn, self.settings, self.line = conn, settings, line
        self.changes: dict[str, MessageChange] = {}
        self._open: dict[str, tuple[Anew, tuple[Document, ...], Reading]] = {}

    def take(self, ref: str, mail: Message, reading: Reading) -> None:
        """Bring one message to its new reading, and decide it anew as far as no person has."""
        row = self._row(ref)
        change = MessageChange(ref, Standing(row.standing), Standing(row.standing))
        self.changes[ref] = change
        asked = {question.sentence for question in standing_questions(self.conn, row.id)}
        settled = self._settled(row)
        work = renew(self.conn, row, mail, reading, settled=settled)
        change.values, change.text = work.changes, work.touched
        if work.owned:
            self._filed(change, work, mail.documents, reading)
        elif not (settled and row.standing == Standing.ASIDE.value):
            self._decide(change, work, mail.documents, reading)
        else:
            # What a person put aside stays aside, but the index must not keep words of the text as it was.
            self._set(change, work, {})
        self._compare(change, row.id, asked)

    def again(self) -> None:
        """Look again at what is still open, as long as something gets filed: one may answer the other's question."""
        for _ in range(_PASSES):
            filed = False
            for ref, (work, documents, reading) in list(self._open.items()):
                change = self.changes[ref]
                asked = {question.sentence for question in standing_questions(self.conn, work.message.id)}
                self._decide(change, work, documents, reading)
                self._compare(change, work.message.id, asked)
                filed = filed or change.after is Standing.FILED
            if not filed:
                return

    # --- deciding ---------------------------------------------------------------------------------

    def _decide(self, change: MessageChange, work: Anew, documents: Sequence[Document], reading: Reading) -> None:
        """Decide a message that is in no profile by the ordinary rules."""
        self._open.pop(change.id, None)
        case = self._case(work, documents, reading, None)
        decision = judge(self.conn, case)
        self._ask(work.message.id, decision.questions if decision.standing is Standing.OPEN else ())
        change.after = decision.standing
        columns: Row = {"standing": decision.standing.value, "why": packed(decision.why)}
        if decision.standing is Standing.FILED:
            columns |= self._own(change, work, case, decision)
        elif decision.standing is Standing.OPEN:
            self._open[change.id] = (work, tuple(documents), reading)
        self._set(change, work, columns)

    def _filed(self, change: MessageChange, work: Anew, documents: Sequence[Document], reading: Reading) -> None:
        """Ask where values already filed would change; add those that are new and fit without a question."""
        row = work.message
        asked = list(work.asked)
        choice = Choice(customer=row.customer_id, machine=row.machine_id)
        case = self._case(work, documents, reading, choice)
        fresh = [r for r in work.rows if r["chosen"] and r["customer_id"] is None and r["machine_id"] is None]
        fresh = [r for r in fresh if Kind(r["kind"]) in case.owned_kinds()]
        if fresh and not asked and row.customer_id is not None and row.machine_id is not None:
            decision = judge(self.conn, case)
            if decision.standing is Standing.FILED:
                self._give(fresh, row.customer_id, row.machine_id)
                change.text = True
            elif not work.settled:
                asked += decision.questions
        others = [q for q in map(question_of, standing_questions(self.conn, row.id)) if not q.sentence.startswith(ANEW)]
        asked += [q for q in others if q not in asked]
        self._ask(row.id, asked)
        change.after = Standing.OPEN if asked else Standing.FILED
        self._set(change, work, {"standing": change.after.value})

    def _case(self, work: Anew, documents: Sequence[Document], reading: Reading, choice: Choice | None) -> Case:
        """Return a message before the rules."""
        composed = reading_of(work, reading)
        sender = work.message.sender_address
        extra = ([n for n in [choice.customer] if n], [n for n in [choice.machine] if n]) if choice else ((), ())
        known = gather(self.conn, composed, sender, self.settings.name_similarity, extra)
        received = date.fromisoformat(work.message.received[:10]) if work.message.received else None
        return Case(tuple(documents), sender, composed, self.settings, known, choice, received)

    # --- writing ----------------------------------------------------------------------------------

    def _own(self, change: MessageChange, work: Anew, case: Case, decision: Decision) -> Row:
        """File a message: give its facts to the profiles, and the machine to its holder; return its new columns."""
        more = take(self.conn, revision=1, customer=int(decision.new_customer), machine=int(decision.new_machine))
        customer = more.customer if decision.new_customer else refs.number(refs.CUSTOMER, decision.customer or "")
        machine = more.machine if decision.new_machine else refs.number(refs.MACHINE, decision.machine or "")
        writes = Changes(self.conn)
        make_profiles(writes, customer if decision.new_customer else None, machine if decision.new_machine else None)
        own = case.owned_kinds()
        self._give([r for r in work.rows if r["chosen"] and Kind(r["kind"]) in own], customer, machine)
        dated = self._row(change.id).dated
        day, stated = since(case.reading, dated), stated_day(case.reading) is not None
        hold(writes, customer, machine, day, change.id, int(more.revision), stated=stated)
        change.customer, change.machine = f"{refs.CUSTOMER}{customer}", f"{refs.MACHINE}{machine}"
        return {"customer_id": customer, "machine_id": machine, "filed": int(more.revision)}

    def _give(self, rows: Sequence[Row], customer: int, machine: int) -> None:
        for row in rows:
            owner = owned_by(Kind(row["kind"]), customer, machine)
            self.conn.execute(sa.update(_fact).where(_fact.c.id == row["id"]), owner)
            row.update(owner)

    def _ask(self, message: int, questions: Collection[Question]) -> None:
        """Let exactly these questions stand: others are settled by this run's line, new ones are added."""
        table = schema.question
        wanted = {(q.code, q.sentence): q for q in questions}
        for row in list(standing_questions(self.conn, message)):
            if wanted.pop((row.code, row.sentence), None) is None:
                self.conn.execute(sa.update(table).where(table.c.id == row.id), {"settled_by": self.line})
        if wanted:
            first = int(take(self.conn, question=len(wanted)).question) - len(wanted) + 1
            self.conn.execute(sa.insert(table), questions_rows(list(wanted.values()), message, first))

    def _set(self, change: MessageChange, work: Anew, columns: Row) -> None:
        """Write a message's standing where it differs, and let the index look again where anything did."""
        row = self._row(change.id)
        differs = {k: v for k, v in columns.items() if getattr(row, k) != v}
        if differs or work.touched:
            revision = int(take(self.conn, revision=1).revision)
            differs |= {"revision": revision, "again": True}
            self.conn.execute(sa.update(_message).where(_message.c.id == row.id), differs)
            change.text = True

    # --- looking ----------------------------------------------------------------------------------

    def _row(self, ref: str) -> sa.Row[Any]:
        number = refs.number(refs.MESSAGE, ref)
        return self.conn.execute(sa.select(_message).where(_message.c.id == number)).one()

    def _settled(self, row: sa.Row[Any]) -> bool:
        """Tell whether a settlement of the message stands: decisions of a person are not decided again."""
        if any(reason.endswith("by a person") for reason in json.loads(row.why)):
            return True
        lines = schema.journal
        query = sa.select(lines.c.detail).where(
            lines.c.subject == f"{refs.MESSAGE}{row.id}", lines.c.changes.is_not(None), lines.c.undone_by.is_(None)
        )
        return any("before" in json.loads(detail) for detail in self.conn.scalars(query))

    def _compare(self, change: MessageChange, message: int, before: set[str]) -> None:
        """Note which questions came and went."""
        after = {question.sentence for question in standing_questions(self.conn, message)}
        change.asked = sorted((set(change.asked) | (after - before)) & after)
        change.answered = sorted(set(change.answered) | (before - after))
