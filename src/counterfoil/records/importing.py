"""A shop's customer list into the records, in one transaction with one line in the journal; and what it would do.

A row that is certainly a known customer adds the contacts they lack; one that is nobody known makes a profile; one that
may be somebody known is a question, and nothing of it is written until a person has said whose it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import sqlalchemy as sa

from counterfoil.errors import UsageProblem
from counterfoil.model import BadRow, CustomerList, Fact, Kind, Question
from counterfoil.records import journal, refs, schema
from counterfoil.records.counters import take
from counterfoil.records.listed import Listed, checked
from counterfoil.records.people import BATCH_ROWS, People
from counterfoil.records.rows import Row, fact_row, now
from counterfoil.records.store import Store
from counterfoil.records.writing import write_facts
from counterfoil.settings import Settings

IMPORT_ACTION = "import"
#: Stands as the subject of its line in the journal, which is about many records.
IMPORT_SUBJECT = "customers"
_NEW = "new"
#: Facts in one statement: what they are found by takes many times their own memory.
_WRITTEN_ROWS = 2_000


@dataclass(frozen=True, slots=True)
class NewCustomer:
    """A row that makes a profile; ``customer`` is its id once written, else None."""

    line: int
    name: str
    customer: str | None = None


@dataclass(frozen=True, slots=True)
class Merge:
    """A row that is a known customer: ``into`` is an id, or the line before that makes the profile; ``added`` are the
    values that the profile lacked."""

    line: int
    name: str
    into: str
    added: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RowQuestion:
    """A row of which a person must say whose it is."""

    line: int
    name: str
    question: Question


@dataclass(slots=True)
class ImportReport:
    """What an import did, or would do. ``same`` counts rows that say nothing new; ``journal`` is set once written."""

    rows: int = 0
    new: list[NewCustomer] = field(default_factory=list)
    same: int = 0
    merged: list[Merge] = field(default_factory=list)
    questions: list[RowQuestion] = field(default_factory=list)
    bad: list[BadRow] = field(default_factory=list)
    journal: str | None = None

    @property
    def changes(self) -> bool:
        """Whether it writes anything."""
        return bool(self.new or self.merged)

    def to_json(self) -> dict[str, object]:
        """Return everything as a dictionary."""
        return {
            "rows": self.rows,
            "new": [{"line": n.line, "name": n.name, "customer": n.customer} for n in self.new],
            "same": self.same,
            "merged": [{"line": m.line, "name": m.name, "into": m.into, "added": list(m.added)} for m in self.merged],
            "questions": [_question_json(asked) for asked in self.questions],
            "bad": [{"line": b.line, "reason": b.reason} for b in self.bad],
            "journal": self.journal,
        }


def import_customers(
    store: Store,
    settings: Settings,
    listed: CustomerList,
    *,
    answers: Mapping[int, str] | None = None,
    distinct: bool = False,
    write: bool = False,
    who: str = "",
    why: str = "",
) -> ImportReport:
    """Take a customer list into the records, or say what that would do.

    Args:
        store: the records.
        settings: the shop's; ``region`` reads telephone numbers of rows without a country.
        listed: the list.
        answers: what a person said to questions asked before: line -> a customer's id, or ``new``.
        distinct: all rows are different people, as a person vouches: they are held against the records only.
        write: write it; else nothing is changed.
        who: the person.
        why: their reason.

    Raises:
        RecordUnknown: an answer names a customer who is not there.
        UsageProblem: an answer is for a line that is no row.
    """
    rows, bad = checked(listed, settings)
    chosen = _chosen(store, rows, answers or {})

    def decided(conn: sa.Connection) -> _Import:
        work = _Import(conn, settings, ImportReport(rows=len(rows) + len(bad), bad=bad), distinct=distinct)
        for n in range(0, len(rows), BATCH_ROWS):
            work.take(rows[n : n + BATCH_ROWS], chosen)
        return work

    # Decided while others may still write: what they show at the desk, and note in the journal, need not wait for it.
    with store.reading() as conn:
        seen, work = _counted(conn), decided(conn)
    if write and work.report.changes:
        with store.write() as conn:
            if _counted(conn) != seen:
                work = decided(conn)
            if work.report.changes:
                work.write(conn, listed, who, why)
    return work.report


def _counted(conn: sa.Connection) -> tuple[int, ...]:
    """Return the numbers handed out last: they tell whether anything was written."""
    return tuple(conn.execute(sa.select(schema.counter)).one())


def _chosen(store: Store, rows: list[Listed], answers: Mapping[int, str]) -> dict[int, int | None]:
    """Return a person's answers: line -> number of a customer, None for a new one."""
    lines = {row.line for row in rows}
    chosen: dict[int, int | None] = {}
    for line, answer in answers.items():
        if line not in lines:
            raise UsageProblem(f"Line {line} is no row that can be taken.", "Answer a line that a question names.")
        is_new = answer.strip().lower() == _NEW
        chosen[line] = None if is_new else refs.number(refs.CUSTOMER, store.customer(answer).id)
    return chosen


class _Import:
    """One import under way. New customers have negative numbers until they are written."""

    def __init__(self, conn: sa.Connection, settings: Settings, report: ImportReport, *, distinct: bool) -> None:
        self.report = report
        self.people = People(conn, settings.name_similarity, distinct=distinct)
        self.facts: list[tuple[int, Fact]] = []

    def take(self, rows: list[Listed], chosen: Mapping[int, int | None]) -> None:
        """Decide some rows, in the order of the list."""
        self.people.fetch(rows, [n for row in rows if (n := chosen.get(row.line)) is not None])
        for row in rows:
            same = self.people.same(row)
            if same is not None and chosen.get(row.line) in (None, same):
                self.report.same += 1
                continue
            found = chosen[row.line] if row.line in chosen else self.people.find(row)
            if isinstance(found, Question):
                self.report.questions.append(RowQuestion(row.line, row.names[0], found))
            elif found is None:
                self._make(row)
            else:
                self._merge(row, found, named=row.line in chosen)

    def _make(self, row: Listed) -> None:
        number = -len(self.report.new) - 1
        self.report.new.append(NewCustomer(row.line, row.names[0]))
        self.people.add(number, row)
        self.facts += [(number, fact) for fact in row.facts]

    def _merge(self, row: Listed, number: int, *, named: bool) -> None:
        """Add what a known customer lacks: contacts; a name only where a person said that it is theirs."""
        person = self.people.by_number[number]
        lacking = [k for k in row.lookups if not person.knows(k) and (named or k[0] is not Kind.CUSTOMER_NAME)]
        if not lacking:
            self.report.same += 1
            return
        rest = row.only(lacking)
        added = tuple(fact.value for fact in rest.facts)
        self.report.merged.append(Merge(row.line, row.names[0], self.people.label(number), added))
        self.people.add(number, rest)
        self.facts += [(number, fact) for fact in rest.facts]

    def write(self, conn: sa.Connection, listed: CustomerList, who: str, why: str) -> None:
        """Write the new profiles and all values, with one line in the journal."""
        report, at = self.report, now()
        last = take(conn, customer=len(report.new), fact=len(self.facts))
        first, first_fact = int(last.customer) - len(report.new) + 1, int(last.fact) - len(self.facts) + 1
        report.new = [replace(n, customer=f"{refs.CUSTOMER}{first + at_}") for at_, n in enumerate(report.new)]
        detail = self._detail(listed)
        entry = journal.add(
            conn, who=who, action=IMPORT_ACTION, subject=IMPORT_SUBJECT, why=why, detail=detail, changes=[]
        )
        if report.new:
            made = [{"id": first + n, "at": at} for n in range(len(report.new))]
            conn.execute(sa.insert(schema.customer), made)
        for n in range(0, len(self.facts), _WRITTEN_ROWS):
            rows: list[Row] = []
            for fact_number, (number, fact) in enumerate(self.facts[n : n + _WRITTEN_ROWS], first_fact + n):
                row = fact_row(fact_number, fact, at, chosen=True)
                row["journal_id"], row["customer_id"] = entry, number if number > 0 else first - number - 1
                rows.append(row)
            write_facts(conn, rows)
        changes: list[Row] = [
            {"table": table, "id": start, "to": end, "how": "insert_many", "after": {}}
            for table, start, end in (("customer", first, last.customer), ("fact", first_fact, last.fact))
            if end >= start
        ]
        journal.complete(conn, entry, detail, changes)
        report.journal = f"{refs.JOURNAL}{entry}"

    def _detail(self, listed: CustomerList) -> Row:
        """Return what a reader of the journal sees."""
        report = self.report
        made = [n.customer for n in report.new]
        return {
            "file": listed.name,
            "rows": report.rows,
            "new": len(made),
            "customers": [made[0], made[-1]] if made else [],
            "merged": [[merge.line, merge.into] for merge in report.merged],
            "same": report.same,
            "questions": [asked.line for asked in report.questions],
            "bad": [row.line for row in report.bad],
        }


def _question_json(asked: RowQuestion) -> Row:
    candidates = [{"ref": c.ref, "label": c.label, "evidence": list(c.evidence)} for c in asked.question.candidates]
    sentence = asked.question.sentence
    return {"line": asked.line, "name": asked.name, "sentence": sentence, "candidates": candidates}
