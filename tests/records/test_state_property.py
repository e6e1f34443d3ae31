"""The records as a state machine: whatever is taken in, settled, merged, split, handed over and undone, in any order,
undoing what stands brings back what a fresh ingest of the same mail makes."""

from __future__ import annotations

import json
import re
import shutil
import tempfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from records_world import SETTINGS, another, fact, message, take

from counterfoil.answers.reports import export
from counterfoil.errors import CounterfoilError, SettlementRefused
from counterfoil.model import CustomerList, Kind, ListRow, Message, Standing
from counterfoil.records import schema
from counterfoil.records.bench import record
from counterfoil.records.correcting import correct
from counterfoil.records.handover import NEW, NOBODY, correct_dates, hand_over
from counterfoil.records.importing import import_customers
from counterfoil.records.merging import merge, split
from counterfoil.records.settling import settle
from counterfoil.records.store import Store
from counterfoil.records.undoing import undo

NAMES = ("Marit Solvang", "Marita Solvang", "Ola Solvang", "Teun Duinhoven")
MAILS = ("family@post.example", "teun@post.example", None)
#: People who have nothing to do with anybody above, one for each message that comes in later.
STRANGERS = ("Quirin Abt", "Zelda Fink", "Ivo Hruska", "Bodil Uhrskov", "Yann Le Goff", "Pia Cremonesi", "Oskar Wlk")

Mail = tuple[str, str | None, int, int]
mails = st.tuples(st.sampled_from(NAMES), st.sampled_from(MAILS), st.integers(1, 3), st.integers(1, 3))
customers = st.integers(1, 6).map("C{}".format)
machines = st.integers(1, 4).map("M{}".format)
messages = st.integers(1, 7).map("E{}".format)
days = st.dates(date(2025, 6, 1), date(2025, 12, 31))


def values_of(mail: Mail) -> dict[Kind, str]:
    """Return the values of a message."""
    name, address, machine, upgrade = mail
    own, more = another(machine), another(upgrade + 50)
    found = own | {k: more[k] for k in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)} | {Kind.CUSTOMER_NAME: name}
    found |= {Kind.PURCHASE_DATE: f"2025-01-0{machine}"}
    found.pop(Kind.EMAIL_ADDRESS)
    return found | ({Kind.EMAIL_ADDRESS: address} if address else {})


def _stranger(number: int) -> dict[Kind, str]:
    return another(200 + number, customer_name=STRANGERS[number], email_address=f"s{number}@far.example")


def exported(store: Store) -> list[str]:
    """Return the export with customers and machines numbered by where they first stand: no id is used twice."""
    text = "\n".join(json.dumps(line, sort_keys=True) for line in export(store))
    known: dict[str, str] = {}
    for found in re.findall(r'"([CM]\d+)"', text):
        known.setdefault(found, f"{found[0]}#{len(known) + 1}")
    text = re.sub(r'"([CM]\d+)"', lambda m: f'"{known[m[1]]}"', text)
    return sorted(text.splitlines())


class Desk(RuleBasedStateMachine):
    """One archive, and everything a person may do to it."""

    #: Whether a filed message may be opened again by a question about one of its values, as reading anew does.
    may_be_asked_about = False

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="counterfoil-state-"))
        self.store = Store(self.folder / "records.db", create=True)
        self.taken: list[tuple[dict[Kind, str], Message]] = []
        self.strangers = 0

    def _take(self, values: dict[Kind, str]) -> None:
        mail = message(day=len(self.taken))
        self.taken.append((values, mail))
        take(self.store, values, mail)

    @initialize(made=st.lists(mails, min_size=2, max_size=5))
    def first(self, made: list[Mail]) -> None:
        """Mail that is there before anybody decides anything."""
        for mail in made:
            self._take(values_of(mail))

    @precondition(lambda self: self.strangers < len(STRANGERS))
    @rule()
    def arrives(self) -> None:
        """Mail of somebody else comes in between."""
        self._take(_stranger(self.strangers))
        self.strangers += 1

    def _do(self, step: Callable[[], object]) -> None:
        """Do a step; one that is refused must change nothing."""
        before = exported(self.store)
        try:
            step()
        except CounterfoilError:
            assert exported(self.store) == before

    @rule(ref=messages, to=st.one_of(customers, st.sampled_from(["new", None])), sure=st.booleans())
    def settled(self, ref: str, to: str | None, sure: bool) -> None:
        """A message is settled."""
        self._do(lambda: settle(self.store, SETTINGS, ref, customer=to, sure=sure, who="kim", why=""))

    @rule(ref=messages)
    def put_aside(self, ref: str) -> None:
        """A message is put aside."""
        self._do(lambda: settle(self.store, SETTINGS, ref, aside=True, who="kim", why=""))

    @rule(into=customers, other=customers)
    def merged(self, into: str, other: str) -> None:
        """Two customers become one."""
        self._do(lambda: merge(self.store, into, other, who="kim", why=""))

    @rule(
        of=customers, refs=st.lists(messages, min_size=1, max_size=3, unique=True), to=st.one_of(st.none(), customers)
    )
    def parted(self, of: str, refs: list[str], to: str | None) -> None:
        """Messages are split off."""
        self._do(lambda: split(self.store, SETTINGS, of, refs, to=to, who="kim", why=""))

    @rule(of=customers, name=st.sampled_from(NAMES))
    def name_parted(self, of: str, name: str) -> None:
        """A name is split off."""
        named = [(Kind.CUSTOMER_NAME, name)]
        self._do(lambda: split(self.store, SETTINGS, of, [], values=named, who="kim", why=""))

    @rule(machine=machines, to=st.one_of(customers, st.sampled_from([NEW, NOBODY])), on=days)
    def handed_over(self, machine: str, to: str, on: date) -> None:
        """A machine changes hands."""
        facts = [fact(Kind.CUSTOMER_NAME, "Runa Aldermoor")] if to == NEW else []
        self._do(lambda: hand_over(self.store, SETTINGS, machine, to, on=on, facts=facts, who="kim", why=""))

    @rule(machine=machines, customer=customers, since=days)
    def dated(self, machine: str, customer: str, since: date) -> None:
        """The dates of a holder are corrected."""
        self._do(lambda: correct_dates(self.store, machine, customer, since=since, who="kim", why=""))

    @rule(machine=st.integers(1, 3), to=st.one_of(st.none(), st.just("new"), customers))
    def at_the_bench(self, machine: int, to: str | None) -> None:
        """A machine is entered by hand."""
        own = another(machine, customer_name="Runa Aldermoor")
        facts = [fact(k, own[k]) for k in (Kind.MACHINE_ID, Kind.CUSTOMER_NAME)]
        self._do(
            lambda: record(self.store, SETTINGS, customer=to, facts=facts, firmware_after="2.40", who="kim", why="")
        )

    @rule(
        line=st.integers(1, 12),
        name=st.one_of(st.none(), st.sampled_from(NAMES)),
        version=st.sampled_from(("2.50", "3.1")),
    )
    def corrected(self, line: int, name: str | None, version: str) -> None:
        """An entry by hand is corrected."""
        facts = [] if name is None else [fact(Kind.CUSTOMER_NAME, name)]
        self._do(
            lambda: correct(
                self.store, SETTINGS, f"J{line}", facts=facts, firmware_after=version, sure=True, who="kim", why=""
            )
        )

    @rule(people=st.lists(st.tuples(st.sampled_from(NAMES), st.sampled_from(MAILS)), min_size=1, max_size=3))
    def listed(self, people: list[tuple[str, str | None]]) -> None:
        """A list of customers is taken in."""
        rows = tuple(
            ListRow(n, (name,), (mail,) if mail else (), ("+44 7700 900123",), ())
            for n, (name, mail) in enumerate(people, start=2)
        )
        given = CustomerList("list.csv", "utf-8", ",", {}, (), rows, ())
        self._do(lambda: import_customers(self.store, SETTINGS, given, write=True, who="kim", why=""))

    @rule(line=st.integers(1, 12))
    def undone(self, line: int) -> None:
        """A line of the journal is taken back."""
        self._do(lambda: undo(self.store, SETTINGS, f"J{line}", "kim", ""))

    @invariant()
    def holds_together(self) -> None:
        """No machine has two holders, the one it has is the last, nobody has it back whom a handover ended; owners
        exist; a filed message's customer has or had its machine."""
        known = {c.id for c in self.store.customers()}
        held = {m.id: m for m in self.store.machines()}
        for machine in held.values():
            assert all(h.until is not None for h in machine.holders[:-1])
            assert {h.customer for h in machine.holders} <= known
        self._stays_handed_over()
        for mail in self.store.messages():
            if mail.standing is Standing.FILED:
                assert mail.customer in known
                assert mail.customer in {h.customer for h in held[str(mail.machine)].holders}
            elif not (self.may_be_asked_about and mail.standing is Standing.OPEN):
                assert mail.customer is None and mail.machine is None

    def _stays_handed_over(self) -> None:
        """Whom a handover ended has the machine again by another entry by hand only."""
        table, by_hand = schema.holding, {e.id for e in self.store.journal() if e.action in ("handover", "record")}
        with self.store.reading() as conn:
            rows = conn.execute(sa.select(table).order_by(table.c.id)).all()
        ended = {(row.machine_id, row.customer_id) for row in rows if row.ended_by in by_hand}
        for row in rows:
            if row.until is None and (row.machine_id, row.customer_id) in ended:
                assert row.source in by_hand, f"M{row.machine_id} went back to C{row.customer_id} by {row.source}"

    def teardown(self) -> None:
        """Undo all that stands, the newest first, and compare with a fresh ingest of the same mail."""
        try:
            left = [e.id for e in reversed(self.store.journal()) if e.action != "undo" and e.undone_by is None]
            while left:
                waiting = []
                for ref in left:
                    try:
                        undo(self.store, SETTINGS, ref, "kim", "back to the start")
                    except SettlementRefused:
                        waiting.append(ref)
                assert len(waiting) < len(left), f"no way back from {waiting}"
                left = waiting
            assert self.store.integrity() == []
            assert self.store.journal_break() is None
            fresh = Store(self.folder / "fresh.db", create=True)
            for values, mail in self.taken:
                take(fresh, values, mail)
            assert exported(self.store) == exported(fresh)
            fresh.close()
        finally:
            self.store.close()
            shutil.rmtree(self.folder, ignore_errors=True)


BOUNDED = settings(
    max_examples=10, stateful_step_count=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)


def test_undoing_all_brings_a_fresh_ingest_back() -> None:
    """After any sequence of decisions with mail in between, undoing all gives the export of a fresh ingest."""
    run_state_machine_as_test(Desk, settings=BOUNDED)


@pytest.mark.long
def test_undoing_all_brings_a_fresh_ingest_back_at_length() -> None:
    """The same with more and longer sequences."""
    more = settings(BOUNDED, max_examples=40, stateful_step_count=25)
    run_state_machine_as_test(Desk, settings=more)
