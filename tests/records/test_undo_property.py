"""Undo as a property: whatever is settled, in whatever order, undoing it all leads back to where it began."""

from __future__ import annotations

import tempfile
from functools import partial
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from records_world import SETTINGS, another, dump, fact, take

from counterfoil.errors import CounterfoilError, SettlementRefused
from counterfoil.model import Kind, Standing
from counterfoil.records.bench import record
from counterfoil.records.correcting import correct
from counterfoil.records.settling import settle, undo
from counterfoil.records.store import Store

NAMES = ("Marit Solvang", "Marita Solvang", "Ola Solvang", "Teun Duinhoven")
MAILS = ("family@post.example", "teun@post.example", None)

#: A message: whose name, which address, which machine, which upgrade.
mails = st.tuples(st.sampled_from(NAMES), st.sampled_from(MAILS), st.integers(1, 3), st.integers(1, 3))
refs = st.integers(1, 6)
settlements = st.one_of(
    st.tuples(st.just("aside"), refs),
    st.tuples(st.just("settle"), refs, st.sampled_from(["new", "C1", "C2", "C3", None]), st.booleans()),
    st.tuples(st.just("name"), refs, st.sampled_from(NAMES)),
    st.tuples(st.just("drop"), refs, st.sampled_from([Kind.SERIAL_NUMBER, Kind.EMAIL_ADDRESS])),
    st.tuples(st.just("bench"), st.integers(1, 3), st.sampled_from(["new", "C1", None])),
    st.tuples(st.just("correct"), st.integers(1, 9), st.sampled_from(["2.39", "2.50"])),
    st.tuples(st.just("undo"), st.integers(1, 9)),
)


def _mail(store: Store, name: str, mail: str | None, machine: int, upgrade: int) -> None:
    own, more = another(machine), another(upgrade + 50)
    take(
        store,
        own
        | {k: more[k] for k in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)}
        | {Kind.CUSTOMER_NAME: name, Kind.PURCHASE_DATE: f"2025-0{machine + upgrade}-01"}
        | ({Kind.EMAIL_ADDRESS: mail} if mail else {}),
    )


def _do(store: Store, step: tuple[object, ...]) -> None:
    """Do one step; what is refused changes nothing."""
    by_kim = partial(settle, store, SETTINGS, who="kim", why="test")
    try:
        match step:
            case ("aside", ref):
                by_kim(f"E{ref}", aside=True)
            case ("settle", ref, customer, sure):
                by_kim(f"E{ref}", customer=customer, sure=bool(sure))  # type: ignore[arg-type]
            case ("name", ref, name):
                by_kim(f"E{ref}", facts=[fact(Kind.CUSTOMER_NAME, str(name))])
            case ("drop", ref, kind):
                by_kim(f"E{ref}", customer="new", drop=[Kind(str(kind))])
            case ("bench", machine, customer):
                made = another(int(str(machine)), customer_name="Runa Aldermoor")
                facts = [fact(k, made[k]) for k in (Kind.MACHINE_ID, Kind.CUSTOMER_NAME)]
                record(store, SETTINGS, customer=customer, facts=facts, firmware_after="2.40", who="kim", why="test")  # type: ignore[arg-type]
            case ("correct", ref, version):
                correct(store, SETTINGS, f"J{ref}", firmware_after=str(version), who="kim", why="test")
            case ("undo", ref):
                undo(store, SETTINGS, f"J{ref}", "kim", "test")
    except CounterfoilError:
        pass


def _undo_all(store: Store) -> None:
    """Undo all that stands, the newest first; an entry on which another rests waits for the next round."""
    left = [e.id for e in reversed(store.journal()) if e.action != "undo" and e.undone_by is None]
    while left:
        waiting = []
        for ref in left:
            try:
                undo(store, SETTINGS, ref, "kim", "back to the start")
            except SettlementRefused:
                waiting.append(ref)
        assert len(waiting) < len(left), f"no way back from {waiting}"
        left = waiting


def _check_state(store: Store) -> None:
    """What holds at every moment, whatever was done."""
    assert store.integrity() == []
    customers, machines = {c.id: c for c in store.customers()}, {m.id: m for m in store.machines()}
    for machine in machines.values():
        assert sum(h.until is None for h in machine.holders) <= 1
        assert machine.facts or machine.holders, f"{machine.id} is empty"
    for customer in customers.values():
        assert customer.facts or customer.holdings or customer.messages, f"{customer.id} is empty"
    for message in store.messages():
        if message.standing is Standing.FILED:
            assert message.questions == ()
            assert message.customer in customers and message.machine in machines
            assert message.customer in {h.customer for h in machines[str(message.machine)].holders}
        else:
            assert message.customer is None and message.machine is None
            assert (message.standing is Standing.OPEN) == bool(message.questions)


FAST = settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@FAST
@given(st.lists(mails, min_size=2, max_size=6), st.lists(settlements, max_size=9))
def test_undoing_all_leads_back(made: list[tuple[str, str | None, int, int]], steps: list[tuple[object, ...]]) -> None:
    """After any settlements, entries by hand and undos, undoing the rest restores every row there was."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store(Path(folder) / "records.db", create=True)
        for mail in made:
            _mail(store, *mail)
        before = dump(store)
        for step in steps:
            _do(store, step)
        _check_state(store)
        _undo_all(store)
        assert dump(store) == before
        store.close()


@FAST
@given(st.lists(st.one_of(mails, settlements), max_size=12))
def test_records_hold_together(steps: list[tuple[object, ...]]) -> None:
    """With messages filed in between, the records never contradict themselves: owners exist, nothing empty stays."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store(Path(folder) / "records.db", create=True)
        for step in steps:
            if step[0] in NAMES:
                _mail(store, *step)  # type: ignore[arg-type]
            else:
                _do(store, step)
            _check_state(store)
        store.close()
