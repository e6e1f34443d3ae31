"""Machines and contacts in short say what the whole profiles say; codes on two machines, proofs, languages."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from records_world import MARIT, SETTINGS, another, fact, message, reading, take

from counterfoil.model import Kind
from counterfoil.records.bench import record
from counterfoil.records.correcting import correct
from counterfoil.records.listing import (
    contacts,
    languages,
    listed_machines,
    proving,
    seen_twice,
    upgrades_by_machine,
)
from counterfoil.records.merging import merge
from counterfoil.records.store import Store

PEOPLE = ("Teun Duinhoven", "Quirin Abt", "Zelda Fink", "Ivo Hruska", "Bodil Uhrskov")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Records with mail, entries at the bench, a correction, a merge, and a machine in two versions."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    rng = random.Random(3)
    for n, name in enumerate(PEOPLE):
        values = another(n, customer_name=name, email_address=f"p{n}@far{n}.example", firmware_version=f"2.{n + 7}")
        for kind in rng.sample([Kind.MODEL, Kind.FIRMWARE_VERSION, Kind.SERIAL_NUMBER, Kind.PURCHASE_DATE], 1):
            del values[kind]
        take(made, reading(values, language="nl" if n == 0 else None), message(sender=f"p{n}@far{n}.example", day=n))
    ident = [fact(Kind.MACHINE_ID, another(1)[Kind.MACHINE_ID]), fact(Kind.MODEL, "Aria 600")]
    record(made, SETTINGS, customer=None, facts=ident, firmware_after="V2.90b", sure=True, who="kim", why="")
    correct(made, SETTINGS, "J1", facts=[fact(Kind.MODEL, "Aria 700")], sure=True, who="kim", why="")
    merge(made, "C1", "C2", who="kim", why="")
    yield made
    made.close()


def test_machines_in_short_are_the_machines(store: Store) -> None:
    """Every machine is there with what its whole profile has last, its firmware and its holder."""
    machines = store.machines()
    listed = listed_machines(store)
    assert [m.id for m in listed] == [m.id for m in machines] and len(listed) == len(PEOPLE)
    for short, whole in zip(listed, machines, strict=True):
        for kind, value in ((Kind.MAKER, short.maker), (Kind.MODEL, short.model)):
            noted = whole.latest(kind)
            assert value == ("" if noted is None else noted.fact.normal)
        serial = whole.latest(Kind.SERIAL_NUMBER)
        assert short.serial_number == ("" if serial is None else serial.fact.value)
        assert short.holder == whole.holder
        assert sorted((v.at[:10], v.stage or "", v.source) for v in short.firmware) == sorted(
            (n.noted, n.when or "", n.source) for n in whole.firmware
        )
    assert {m.model for m in listed} >= {"Aria 500", "Aria 700"}
    assert "V2.90b" in {v.written for m in listed for v in m.firmware}


def test_contacts_in_short_are_the_customers(store: Store) -> None:
    """Every customer is there, merged ones under the id that stands, with the value noted last of each kind."""
    found = contacts(store)
    customers = store.customers()
    assert set(found) == {c.id for c in customers} and len(customers) == len(PEOPLE) - 1
    for customer in customers:
        for kind, (written, normal) in found[customer.id].items():
            last = max((n for n in customer.facts if n.fact.kind is kind), key=lambda n: (n.confirmed, n.at, n.id)).fact
            assert (written, normal) == (last.value, last.normal)


def test_upgrades_are_those_of_the_profiles(store: Store) -> None:
    """The upgrades of each machine are those its whole profile has."""
    assert upgrades_by_machine(store) == {m.id: m.upgrades for m in store.machines() if m.upgrades}


def test_nothing_is_seen_twice_that_is_not(store: Store) -> None:
    """Codes of one machine, however often, are not there; a key on two is, with both, and a dropped one is not."""
    assert seen_twice(store) == []
    own = another(1)
    twice = another(7, product_key=own[Kind.PRODUCT_KEY])
    given = [fact(kind, value) for kind, value in twice.items()]
    record(store, SETTINGS, customer="C1", facts=given, sure=True, who="kim", why="")
    (places,) = seen_twice(store)
    assert [place.machine for place in places] == ["M2", "M6"]
    line = store.journal()[-1].id
    correct(store, SETTINGS, line, facts=[fact(Kind.PRODUCT_KEY, MARIT[Kind.PRODUCT_KEY])], who="kim", why="")
    assert seen_twice(store) == []


def test_what_proves_a_purchase_names_its_message(store: Store) -> None:
    """A day read from mail names the message; one that was said names none."""
    said = [fact(Kind.MACHINE_ID, another(2)[Kind.MACHINE_ID]), fact(Kind.INVOICE_NUMBER, "R-1")]
    record(store, SETTINGS, customer=None, facts=said, who="kim", why="")
    found = list(proving(store))
    assert {(p.machine, p.message) for p in found if p.noted.fact.kind is Kind.INVOICE_NUMBER} == {("M3", None)}
    assert all(p.message is not None for p in found if p.noted.fact.kind is Kind.PURCHASE_DATE)
    assert len(found) > len(PEOPLE) / 2


def test_the_language_of_the_last_message(store: Store) -> None:
    """A customer has the language of their last message that has one; the others none."""
    assert languages(store) == {"C1": "nl"}
