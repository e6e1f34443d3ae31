"""Settling open messages, and taking that back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from records_world import MARIT, SETTINGS, another, codes, dump, fact, message, reading, take, values

from counterfoil.errors import RecordUnknown, SettlementRefused, UsageProblem
from counterfoil.model import Check, Document, Kind, MessageRecord, Problem, Standing
from counterfoil.records.settling import settle as settle_any
from counterfoil.records.settling import undo as undo_any
from counterfoil.records.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """New records; whatever a test did, the file and its references are in order afterwards."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    yield made
    assert made.integrity() == []
    made.close()


def settle(store: Store, ref: str, **more: Any) -> MessageRecord:
    """Settle as the person kim."""
    return settle_any(store, SETTINGS, ref, **({"who": "kim", "why": "asked the customer"} | more))


def undo(store: Store, ref: str) -> str:
    """Undo as the person kim; return the new line's id."""
    return undo_any(store, SETTINGS, ref, "kim", "was wrong").id


def stranger(number: int = 2, **changes: str | None) -> dict[Kind, str]:
    """Return the values of somebody else's machine."""
    return another(number, **({"customer_name": "Teun Duinhoven", "email_address": "teun@post.example"} | changes))


# --- choosing -------------------------------------------------------------------------------------


def test_choose_a_known_customer(store: Store) -> None:
    """Choosing the customer files the message there and settles its questions."""
    take(store, MARIT)
    ref, _ = take(store, another(2, email_address="second@post.example"))
    record = settle(store, ref, customer="c1")
    assert (record.standing, record.customer, record.machine, record.questions) == (Standing.FILED, "C1", "M2", ())
    assert "second@post.example" in store.customer("C1").values(Kind.EMAIL_ADDRESS)


def test_choose_a_new_customer(store: Store) -> None:
    """A new customer is made on demand, though somebody alike is known."""
    take(store, MARIT)
    ref, _ = take(store, another(2, email_address="second@post.example"))
    assert settle(store, ref, customer="new").customer == "C2"


def test_rules_find_the_customer_once_values_are_there(store: Store) -> None:
    """With the missing value given, the rules find the customer themselves."""
    take(store, MARIT)
    ref, _ = take(store, another(2, product_key=None))
    record = settle(store, ref, facts=[fact(Kind.PRODUCT_KEY, "AAAA-BBBB-CCCC")])
    assert (record.standing, record.customer) == (Standing.FILED, "C1")
    (given,) = [n for n in record.facts if n.fact.kind is Kind.PRODUCT_KEY]
    assert given.confirmed and given.chosen and given.source == "J1"


def test_unknown_records(store: Store) -> None:
    """Messages, customers and machines that do not exist are named as such, and nothing is changed."""
    ref, _ = take(store, values(customer_name="Marit"))
    before = dump(store)
    for more in ({"customer": "C9"}, {"customer": "M1"}, {"customer": "new", "machine": "M4"}):
        with pytest.raises(RecordUnknown):
            settle(store, ref, **more)
    with pytest.raises(RecordUnknown):
        settle(store, "E99", customer="new")
    assert dump(store) == before
    assert store.journal() == []


def test_trade_in_moves_the_machine(store: Store) -> None:
    """Settling a known machine to another customer ends the holder on the day the new one begins."""
    take(store, MARIT)
    upgrade = stranger(5)
    found = values(
        customer_name="Teun Duinhoven", email_address="teun@post.example", purchase_date="2025-09-02",
        product_key=upgrade[Kind.PRODUCT_KEY], activation_code=upgrade[Kind.ACTIVATION_CODE],
    )  # fmt: skip
    ref, decision = take(store, found, message(day=180))
    assert codes(decision) == ["holder_unclear"]
    before = dump(store)
    settle(store, ref, customer="new")
    holders = [(h.customer, h.since, h.until) for h in store.machine("M1").holders]
    assert holders == [("C1", "2025-03-01", "2025-09-02"), ("C2", "2025-09-02", None)]
    assert store.machine("M1").holder == "C2"
    undo(store, "J1")
    assert dump(store) == before


def test_old_confirmation_of_the_former_holder(store: Store) -> None:
    """An old confirmation that turns up late goes to the former holder without giving the machine back."""
    take(store, MARIT)
    ref, _ = take(
        store, values(customer_name="Teun Duinhoven", email_address=None, purchase_date="2025-09-02"), message(day=200)
    )
    settle(store, ref, customer="new")
    late, decision = take(store, MARIT)
    assert codes(decision) == ["holder_unclear"]
    settle(store, late, customer="C1")
    assert store.machine("M1").holder == "C2"
    assert len(store.machine("M1").holders) == 2


# --- correcting -----------------------------------------------------------------------------------


def test_correction_replaces_what_was_read(store: Store) -> None:
    """A corrected value is filed, confirmed; what was read stays as evidence and is no longer found as the code."""
    ref, _ = take(store, reading(MARIT, fact(Kind.MACHINE_ID, "HG-204S18-K", odds=2.0)))
    settle(store, ref, facts=[fact(Kind.MACHINE_ID, "HG-204518-K")])
    assert store.machine("M1").values(Kind.MACHINE_ID) == ("HG-204518-K",)
    read = {n.fact.value: (n.chosen, n.confirmed) for n in store.message(ref).facts if n.fact.kind is Kind.MACHINE_ID}
    assert read == {"HG-204S18-K": (False, False), "HG-204518-K": (True, True)}
    assert [h.machine for h in store.find_code("HG204518K")] == ["M1"]


def test_confirming_what_was_read_keeps_its_place(store: Store) -> None:
    """Where the value given is the one that was read, that reading is confirmed, with its page."""
    ref, _ = take(store, reading(MARIT, fact(Kind.MACHINE_ID, "HG-204518-K", odds=2.0)))
    record = settle(store, ref, facts=[fact(Kind.MACHINE_ID, "hg 204518 k")])
    (noted,) = [n for n in record.facts if n.fact.kind is Kind.MACHINE_ID]
    assert noted.confirmed and noted.source == ref and noted.fact.place.page == 1


def test_conflict_needs_the_value(store: Store) -> None:
    """Of two values in conflict a person must name one; being sure does not choose."""
    two = (fact(Kind.PRODUCT_KEY, "SPQ4-7RTW-M2XA"), fact(Kind.PRODUCT_KEY, "SPQ4-7RTW-M2XB"))
    read = reading(MARIT, conflicts={Kind.PRODUCT_KEY: two})
    ref, _ = take(store, type(read)((*read.facts, two[1]), read.chosen, read.conflicts, 6.0))
    for sure in (False, True):
        with pytest.raises(SettlementRefused, match="different values"):
            settle(store, ref, customer="new", sure=sure)
    settle(store, ref, facts=[two[1]])
    assert store.machine("M1").values(Kind.PRODUCT_KEY) == ("SPQ4-7RTW-M2XB",)


def test_date_is_chosen(store: Store) -> None:
    """An ambiguous date is settled by naming it; the holder's time begins on it."""
    date = fact(Kind.PURCHASE_DATE, "3/4/2025", readings=("2025-04-03", "2025-03-04"))
    ref, _ = take(store, reading(MARIT, date))
    with pytest.raises(SettlementRefused, match="2025-04-03 or 2025-03-04"):
        settle(store, ref, customer="new")
    settle(store, ref, facts=[fact(Kind.PURCHASE_DATE, "2025-03-04")])
    assert store.machine("M1").holders[0].since == "2025-03-04"


def test_dropped_values(store: Store) -> None:
    """A dropped kind is no longer among the facts, and is not filed."""
    ref, _ = take(store, values(customer_name="Marit"))
    record = settle(store, ref, facts=[fact(Kind.CUSTOMER_NAME, "Marit Solvang")], drop=[Kind.SERIAL_NUMBER])
    assert Kind.SERIAL_NUMBER not in {n.fact.kind for n in record.facts}
    assert store.machine("M1").values(Kind.SERIAL_NUMBER) == ()
    assert store.find_code("773140922") == []


def test_unread_document_is_answered_by_its_values(store: Store) -> None:
    """A scan that a person reads is settled with the values in it; without them it is refused."""
    scan = Document("pdf:scan.pdf", 0, "", (), problem=Problem.SCANNED, reason="Pictures only.")
    ref, _ = take(store, reading({Kind.CUSTOMER_NAME: "Marit Solvang"}), message(scan))
    with pytest.raises(SettlementRefused, match="Not found"):
        settle(store, ref, customer="new")
    kinds = (Kind.MACHINE_ID, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
    assert settle(store, ref, facts=[fact(k, MARIT[k]) for k in kinds]).standing is Standing.FILED


# --- refused --------------------------------------------------------------------------------------


def test_failed_check_is_refused_unless_sure(store: Store) -> None:
    """A typed code whose check digit fails is refused, and taken when the original really says so."""
    ref, _ = take(store, values(machine_id=None, serial_number=None))
    wrong = fact(Kind.MACHINE_ID, "HG-204519-K", check=Check.FAILED, odds=-2.0)
    with pytest.raises(SettlementRefused, match="check digit"):
        settle(store, ref, facts=[wrong])
    assert settle(store, ref, facts=[wrong], sure=True).machine == "M1"


@pytest.mark.parametrize(
    "odd",
    [
        fact(Kind.PRODUCT_KEY, "AB-1", odds=2.0),
        fact(Kind.PURCHASE_DATE, "3/4/2025", readings=("2025-04-03", "2025-03-04")),
    ],
)
def test_odd_values_are_refused(store: Store, odd: Any) -> None:
    """A typed value that looks like none of the maker's, or can be read in two ways, is refused unless sure."""
    ref, _ = take(store, values(customer_name="Marit"))
    right = fact(Kind.CUSTOMER_NAME, "Marit Solvang")
    with pytest.raises(SettlementRefused):
        settle(store, ref, facts=[right, odd])
    assert settle(store, ref, facts=[right, odd], sure=True).standing is Standing.FILED


def test_contradicting_activation_code_is_refused(store: Store) -> None:
    """Another activation code for a known product key is refused, and the code is not in the message of the error."""
    take(store, MARIT)
    ref, _ = take(store, values(activation_code="9KDW-4HPX-77RA-B2NF"))
    with pytest.raises(SettlementRefused, match="another activation code") as refused:
        settle(store, ref, customer="C1")
    assert "9KDW" not in str(refused.value)
    assert settle(store, ref, customer="C1", sure=True).standing is Standing.FILED


def test_key_on_another_machine_is_refused(store: Store) -> None:
    """A product key used on another machine is refused; choosing that machine, as after a new board, is right."""
    take(store, MARIT)
    found = another(2, product_key=MARIT[Kind.PRODUCT_KEY], serial_number=None)
    ref, _ = take(store, found)
    with pytest.raises(SettlementRefused, match="another machine"):
        settle(store, ref, customer="C1")
    record = settle(store, ref, customer="C1", machine="M1")
    assert (record.machine, len(store.machine("M1").values(Kind.MACHINE_ID))) == ("M1", 2)


def test_unclear_customer_is_refused_with_the_candidates(store: Store) -> None:
    """Without a choice an unclear customer stays unclear, sure or not; the next step names the candidates."""
    take(store, MARIT)
    ref, _ = take(store, another(2, email_address="second@post.example"))
    for sure in (False, True):
        with pytest.raises(SettlementRefused) as refused:
            settle(store, ref, facts=[fact(Kind.INVOICE_NUMBER, "R 77")], sure=sure)
        assert "C1" in refused.value.next_step


def test_new_customer_needs_a_name(store: Store) -> None:
    """A new profile without a name is refused, sure or not."""
    ref, _ = take(store, values(customer_name=None))
    with pytest.raises(SettlementRefused, match="name"):
        settle(store, ref, customer="new", sure=True)


def test_refused_settlement_changes_nothing(store: Store) -> None:
    """After a refusal everything, the journal too, is as it was."""
    take(store, MARIT)
    ref, _ = take(store, values(activation_code="9KDW-4HPX-77RA-B2NF"))
    before = dump(store)
    with pytest.raises(SettlementRefused):
        settle(store, ref, customer="C1", facts=[fact(Kind.MODEL, "Aria 700")])
    assert dump(store) == before and store.journal() == []


def test_arguments_that_contradict(store: Store) -> None:
    """A kind named twice, or values for a message put aside, are wrong use."""
    ref, _ = take(store, values(customer_name="Marit"))
    with pytest.raises(UsageProblem):
        settle(store, ref, aside=True, customer="new")
    with pytest.raises(UsageProblem):
        settle(store, ref, facts=[fact(Kind.MODEL, "A"), fact(Kind.MODEL, "B")])
    with pytest.raises(UsageProblem):
        settle(store, ref, facts=[fact(Kind.MODEL, "A")], drop=[Kind.MODEL])


# --- aside, again, undone -------------------------------------------------------------------------


def test_aside_takes_a_filed_message_out(store: Store) -> None:
    """Putting a filed message aside removes what only it brought; undo brings it all back."""
    ref, _ = take(store, MARIT)
    before = dump(store)
    record = settle(store, ref, aside=True)
    assert (record.standing, record.customer, record.questions) == (Standing.ASIDE, None, ())
    assert store.customers() == []
    assert store.machines() == []
    undo(store, "J1")
    assert dump(store) == before


def test_filed_wrongly_is_settled_again(store: Store) -> None:
    """A filed message can be settled to another customer; an emptied profile disappears, its id is not used again."""
    take(store, MARIT)
    ref, _ = take(store, stranger())
    assert settle(store, ref, customer="C1").customer == "C1"
    with pytest.raises(RecordUnknown):
        store.customer("C2")
    _, decision = take(store, stranger(3, customer_name="Runa Aldermoor", email_address="runa@post.example"))
    assert decision.customer == "C3"


def test_undo_restores_exactly(store: Store) -> None:
    """Undo restores every row: standing, questions, facts, ownership, holders."""
    take(store, MARIT)
    ref, _ = take(store, reading(another(2, email_address="x@post.example"), fact(Kind.MODEL, "Aria", odds=-1.0)))
    before = dump(store)
    more = [fact(Kind.MODEL, "Aria 700"), fact(Kind.SERIAL_NUMBER, "123456")]
    settle(store, ref, customer="new", facts=more, drop=[Kind.UPGRADE_NAME])
    assert dump(store) != before
    undo(store, "J1")
    assert dump(store) == before
    assert [q.code for q in store.message(ref).questions] == ["customer_unclear"]


def test_undo_twice_and_undo_of_undo(store: Store) -> None:
    """An entry is undone once; undoing, or what changed no record, cannot be undone."""
    ref, _ = take(store, values(customer_name="Marit"))
    settle(store, ref, aside=True)
    assert undo(store, "J1") == "J2"
    for again in ("J1", "J2", store.note("kim", "reveal", "M1", "asked", {})):
        with pytest.raises(SettlementRefused):
            undo(store, again)
    with pytest.raises(RecordUnknown):
        undo(store, "J77")
    first = store.journal(subject=ref)[0]
    assert (first.action, first.undone_by) == ("settle", "J2")


def test_undo_in_order(store: Store) -> None:
    """What was changed again since cannot be undone before the later change is."""
    take(store, MARIT)
    ref, _ = take(store, another(2, email_address="x@post.example"))
    before = dump(store)
    settle(store, ref, customer="C1")
    settle(store, ref, customer="new")
    with pytest.raises(SettlementRefused, match="changed again"):
        undo(store, "J1")
    undo(store, "J2")
    undo(store, "J1")
    assert dump(store) == before


def test_undo_leaves_what_others_rest_on(store: Store) -> None:
    """A profile made by a settlement stays after its undo where a later message was filed to it."""
    ref, _ = take(store, values(customer_name="Marit"))
    settle(store, ref, facts=[fact(Kind.CUSTOMER_NAME, "Marit Solvang")])
    later, decision = take(store, another(2))
    assert decision.customer == "C1"
    undo(store, "J1")
    assert store.message(ref).standing is Standing.OPEN
    assert [h.machine for h in store.customer("C1").holdings] == ["M2"]
    assert [m.id for m in store.machines()] == ["M2"]
    assert store.message(later).customer == "C1"


def test_undo_of_a_moved_machine_with_a_later_message(store: Store) -> None:
    """Where a later message was filed to the new holder, undo of the settlement leaves the machine with them."""
    take(store, MARIT)
    moved = stranger(5, machine_id=MARIT[Kind.MACHINE_ID], serial_number=None, purchase_date="2025-09-02")
    ref, _ = take(store, moved, message(day=200))
    settle(store, ref, customer="new")
    _, decision = take(store, stranger(6, machine_id=MARIT[Kind.MACHINE_ID], serial_number=None))
    assert decision.customer == "C2"
    undo(store, "J1")
    assert store.machine("M1").holder == "C2"
    assert len([h for h in store.machine("M1").holders if h.until is None]) == 1


def test_journal_tells_before_and_after_without_codes(store: Store) -> None:
    """The journal says who settled what from which state to which, and why; no code stands in it."""
    ref, _ = take(store, values(customer_name="Marit", activation_code=None))
    settle(store, ref, facts=[fact(Kind.CUSTOMER_NAME, "Marit Solvang"), fact(Kind.ACTIVATION_CODE, "9KDW-4HPX-77RA")])
    (entry,) = store.journal(subject=ref)
    assert (entry.who, entry.why, entry.subject) == ("kim", "asked the customer", ref)
    before, after = entry.detail["before"], entry.detail["after"]
    assert isinstance(before, dict) and isinstance(after, dict)
    assert (before["standing"], after["standing"], after["customer"]) == ("open", "filed", "C1")
    assert "9KDW" not in repr(entry) and "SPQ4" not in repr(entry) and "77RA" in repr(entry)


def test_index_looks_again(store: Store) -> None:
    """After a settlement and after an undo the index is told to look at the message again."""
    ref, _ = take(store, values(customer_name="Marit"))
    first = store.revision()
    settle(store, ref, aside=True)
    (entry,) = store.index_entries(first, 10)
    assert (entry.message, entry.again) == (ref, True)
    undo(store, "J1")
    assert [e.message for e in store.index_entries(entry.revision, 10)] == [ref]


def test_a_complete_stranger_is_refused_unless_somebody_is_sure(store: Store) -> None:
    """A customer with whom nothing in the message agrees is most likely a mistyped id: refused unless sure."""
    take(store, MARIT)
    take(store, another(2, customer_name="Ola Kvist", email_address="ola@far.example"))
    changes = {"customer_name": "Winifred Hasp", "email_address": "winifred@hasp.example", "phone_number": None}
    odd = another(3, product_key=None, postal_address=None, **changes)
    ref, decision = take(store, odd, message(day=30))
    assert decision.standing is Standing.OPEN
    given = [fact(Kind.PRODUCT_KEY, "SPQ4-99ZZ-1121")]
    with pytest.raises(SettlementRefused, match="nothing in it agrees with C2"):
        settle(store, ref, customer="C2", facts=given)
    assert store.message(ref).standing is Standing.OPEN
    settle(store, ref, customer="C2", facts=given, sure=True)
    assert store.message(ref).customer == "C2"
