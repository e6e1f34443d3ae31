"""Merging and splitting customers: nothing is lost, ids stay answerable, a machine goes with its messages, undo."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from records_world import SETTINGS, another, dump, fact, message, take, values

from counterfoil.errors import RecordUnknown, SettlementRefused, UsageProblem
from counterfoil.model import Kind
from counterfoil.records.bench import record
from counterfoil.records.merging import merge, refuse_strangers, split
from counterfoil.records.settling import settle
from counterfoil.records.store import Store
from counterfoil.records.undoing import undo


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Give records with Marit twice: C1 with M1 (E1), and C2, under another address, with M2 (E2)."""
    made = Store(tmp_path / "records.db", create=True)
    take(made, values())
    mail = {"email_address": "m.solvang@mail.example", "customer_name": "Marit Aldermoor"}
    take(made, another(2, **mail), message(sender="m.solvang@mail.example"))
    yield made
    made.close()


def test_a_merge_keeps_every_name_contact_message_and_machine(store: Store) -> None:
    """After a merge the one profile has all of both, and every value still names the message it was read from."""
    before = {n.id: n.source for ref in ("C1", "C2") for n in store.customer(ref).facts}
    done = merge(store, "C1", "C2", who="kim", why="married")
    one = store.customer("C1")
    assert (done.customer, done.other) == ("C1", "C2")
    assert set(one.values(Kind.CUSTOMER_NAME)) == {"Marit Solvang", "Marit Aldermoor"}
    assert set(one.values(Kind.EMAIL_ADDRESS)) == {"marit@post.example", "m.solvang@mail.example"}
    assert one.messages == ("E1", "E2")
    assert {h.machine for h in one.holdings} == {"M1", "M2"}
    assert {n.id: n.source for n in one.facts} == before
    assert [c.id for c in store.customers()] == ["C1"]


def test_a_merged_id_leads_to_the_other_customer(store: Store) -> None:
    """C2 is answered by C1, which names it; also when C1 is merged further; a new message of either is filed there."""
    merge(store, "C1", "C2", who="kim", why="")
    assert store.customer("C2").id == "C1"
    assert store.customer("C2").merged == ("C2",)
    _, decision = take(store, another(3, email_address="m.solvang@mail.example", customer_name="Marit Aldermoor"))
    assert decision.customer == "C1"
    take(store, another(4, email_address="ola@post.example", customer_name="Ola Berg"))
    merge(store, "C3", "C2", who="kim", why="")
    assert {store.customer(ref).id for ref in ("C1", "C2", "C3")} == {"C3"}
    assert store.customer("c1").merged == ("C1", "C2")


def test_strangers_are_not_merged_unasked(store: Store) -> None:
    """Two who share no part of a name, no contact and no machine are refused by name; a shared given name suffices."""
    take(store, another(4, email_address="ola@post.example", customer_name="Ola Bergset"))
    with pytest.raises(SettlementRefused, match=r"Marit Solvang \(C1\) and Ola Bergset \(C3\) share no part"):
        refuse_strangers(store, "C1", "C3", SETTINGS.name_similarity)
    refuse_strangers(store, "C1", "C2", SETTINGS.name_similarity)


def test_a_merge_is_refused_where_there_is_nothing_to_merge(store: Store) -> None:
    """A customer is not merged into itself, not even by a merged id, and unknown ids are said to be unknown."""
    merge(store, "C1", "C2", who="kim", why="")
    state = dump(store)
    for other in ("C1", "C2"):
        with pytest.raises(SettlementRefused, match="one customer already"):
            merge(store, "C1", other, who="kim", why="")
    with pytest.raises(RecordUnknown):
        merge(store, "C1", "C9", who="kim", why="")
    assert dump(store) == state


def test_undoing_a_merge_restores_every_row(store: Store) -> None:
    """Undo gives each profile its own back, to the row; both lines stay in the journal, with before and after."""
    state = dump(store)
    done = merge(store, "C1", "C2", who="kim", why="")
    line = undo(store, SETTINGS, done.journal, "kim", "two people after all")
    assert dump(store) == state
    merged, undone = store.journal()
    assert merged.undone_by == undone.id == line.id
    assert undone.detail["before"] == merged.detail["after"]
    assert undone.detail["after"] == merged.detail["before"]


def test_undoing_a_merge_names_what_was_filed_since(store: Store) -> None:
    """A message filed between merge and undo goes back with the machine it is about, and the line names it."""
    done = merge(store, "C1", "C2", who="kim", why="")
    again = another(2, email_address="m.solvang@mail.example", customer_name="Marit Aldermoor")
    ref, decision = take(store, again)
    assert decision.customer == "C1"
    line = undo(store, SETTINGS, done.journal, "kim", "")
    assert store.message(ref).customer == "C2"
    assert ref in store.customer("C2").messages
    assert line.detail["filed_since"] == [ref]


def test_one_time_of_holding_is_joined(tmp_path: Path) -> None:
    """A machine that went from one profile to the other has, once they are one, one holder from the first day on."""
    store = Store(tmp_path / "records.db", create=True)
    take(store, values())
    take(store, another(5, email_address="m.berg@post.example", customer_name="Mari Berg"))
    ref, _ = take(store, values(customer_name="Mari Berg", email_address="m.berg@post.example", purchase_date=None))
    settle(store, SETTINGS, ref, customer="C2", who="kim", why="")
    assert [(h.customer, h.until is None) for h in store.machine("M1").holders] == [("C1", False), ("C2", True)]
    state = dump(store)
    done = merge(store, "C1", "C2", who="kim", why="")
    assert [(h.customer, h.since, h.until) for h in store.machine("M1").holders] == [("C1", "2025-03-01", None)]
    undo(store, SETTINGS, done.journal, "kim", "")
    assert dump(store) == state
    store.close()


def test_a_split_takes_messages_with_their_machine(store: Store) -> None:
    """Messages split off take their names, contacts and machine to a new customer, and keep their provenance."""
    merge(store, "C1", "C2", who="kim", why="")
    before = {n.id: n.source for n in store.customer("C1").facts}
    done = split(store, SETTINGS, "C1", ["E2"], who="kim", why="mother and daughter")
    other = store.customer(done.customer)
    assert done.customer == "C3"
    assert other.values(Kind.CUSTOMER_NAME) == ("Marit Aldermoor",)
    assert other.values(Kind.EMAIL_ADDRESS) == ("m.solvang@mail.example",)
    assert (other.messages, store.machine("M2").holder) == (("E2",), "C3")
    assert store.customer("C1").messages == ("E1",)
    assert {n.id: n.source for ref in ("C1", "C3") for n in store.customer(ref).facts} == before


def test_undoing_a_split_restores_every_row(store: Store) -> None:
    """Undo puts everything back and takes the new customer away; with a message filed there since, that follows."""
    merge(store, "C1", "C2", who="kim", why="")
    state = dump(store)
    done = split(store, SETTINGS, "C1", ["E2"], who="kim", why="")
    undo(store, SETTINGS, done.journal, "kim", "")
    assert dump(store) == state
    done = split(store, SETTINGS, "C1", ["E2"], who="kim", why="")
    ref, decision = take(store, another(2, email_address="m.solvang@mail.example", customer_name="Marit Aldermoor"))
    assert decision.customer == done.customer
    undo(store, SETTINGS, done.journal, "kim", "")
    assert store.message(ref).customer == "C1"


def test_a_machine_is_not_parted_from_its_messages(store: Store) -> None:
    """Where two messages and an entry by hand are about one machine, all of them go or none; the refusal names them."""
    take(store, values(purchase_date=None))
    facts = [fact(Kind.MACHINE_ID, "HG-204518-K")]
    record(store, SETTINGS, customer=None, facts=facts, firmware_after="2.40", who="kim", why="")
    take(store, another(7))
    with pytest.raises(SettlementRefused, match=r"M1 would be parted: E3, J1"):
        split(store, SETTINGS, "C1", ["E1"], who="kim", why="")
    done = split(store, SETTINGS, "C1", ["E1", "E3", "J1"], who="kim", why="")
    assert store.machine("M1").holder == done.customer
    settle(store, SETTINGS, "E1", aside=True, who="kim", why="")
    settle(store, SETTINGS, "E3", aside=True, who="kim", why="")
    assert store.machine("M1").holder == done.customer, "the entry by hand still speaks for whom it was split off to"


def test_single_values_are_split_off(store: Store) -> None:
    """A name and an address can go alone, as typed or folded, wherever they were read; to a new or a known customer."""
    merge(store, "C1", "C2", who="kim", why="")
    named = [(Kind.CUSTOMER_NAME, "marit aldermoor"), (Kind.EMAIL_ADDRESS, "M.Solvang@mail.example")]
    done = split(store, SETTINGS, "C1", [], values=named, who="kim", why="")
    assert store.customer(done.customer).values(Kind.CUSTOMER_NAME) == ("Marit Aldermoor",)
    assert store.customer("C1").values(Kind.EMAIL_ADDRESS) == ("marit@post.example",)
    assert store.customer("C1").messages == ("E1", "E2")
    with pytest.raises(SettlementRefused, match="has no email address"):
        split(store, SETTINGS, "C1", [], values=[(Kind.EMAIL_ADDRESS, "nobody@post.example")], who="kim", why="")


def test_a_split_that_leaves_nobody_is_refused(store: Store) -> None:
    """Neither of the two may be without a name; what is not this customer's cannot be split off; nothing is written."""
    state = dump(store)
    refused: list[tuple[list[str], list[tuple[Kind, str]], str]] = [
        (["E1"], [], "no name left"),
        (["E2"], [], "not filed to C1"),
        ([], [(Kind.EMAIL_ADDRESS, "marit@post.example")], "new customer would have no name"),
    ]
    for sources, chosen, said in refused:
        with pytest.raises(SettlementRefused, match=said):
            split(store, SETTINGS, "C1", sources, values=chosen, who="kim", why="")
    with pytest.raises(UsageProblem):
        split(store, SETTINGS, "C1", [], who="kim", why="")
    with pytest.raises(RecordUnknown):
        split(store, SETTINGS, "C1", ["E9"], who="kim", why="")
    assert dump(store) == state
