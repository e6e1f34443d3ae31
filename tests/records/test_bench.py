"""Entries at the bench."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from records_world import MARIT, SETTINGS, another, dump, fact, take, values

from counterfoil.errors import RecordUnknown, SettlementRefused, UsageProblem
from counterfoil.model import Check, Fact, Kind, Standing
from counterfoil.records.bench import objections
from counterfoil.records.bench import record as record_any
from counterfoil.records.handover import NOBODY, hand_over
from counterfoil.records.settling import undo
from counterfoil.records.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """New records; whatever a test did, the file and its references are in order afterwards."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    yield made
    assert made.integrity() == []
    made.close()


def facts(found: dict[Kind, str]) -> list[Fact]:
    """Return values as a person typed them."""
    return [fact(kind, value) for kind, value in found.items()]


def record(store: Store, given: list[Fact], **more: Any) -> tuple[str, str, str]:
    """Enter values at the bench."""
    return record_any(store, SETTINGS, **({"customer": None, "who": "kim", "why": "at the bench"} | more), facts=given)


def test_new_machine_of_a_new_customer(store: Store) -> None:
    """A machine entered by hand makes profiles whose values come from the journal."""
    assert record(store, facts(values(purchase_date=None)), customer="new") == ("C1", "M1", "J1")
    machine = store.machine("M1")
    assert {n.source for n in machine.facts} == {"J1"}
    assert all(n.confirmed for n in machine.facts)
    (upgrade,) = machine.upgrades
    assert upgrade.live and upgrade.source == "J1"
    assert [h.source for h in machine.holders] == ["J1"]


def test_firmware_before_and_after(store: Store) -> None:
    """Firmware before and after an update of a known machine is noted, and the machine stays with its holder."""
    take(store, values(firmware_version=None))
    given = facts({Kind.MACHINE_ID: "hg 204518 k"})
    assert record(store, given, firmware_before="V2.10", firmware_after="2.40")[:2] == ("C1", "M1")
    notes = store.machine("M1").firmware
    assert [(n.version, n.when, n.source) for n in notes] == [("2.10", "before", "J1"), ("2.40", "after", "J1")]
    latest = store.machine("M1").latest(Kind.FIRMWARE_VERSION)
    assert latest is not None and latest.fact.normal == "2.40"


def test_rules_find_a_known_customer(store: Store) -> None:
    """With a known contact and an agreeing name the customer is found; a near name is asked about."""
    take(store, MARIT)
    assert record(store, facts(another(2)))[0] == "C1"
    with pytest.raises(SettlementRefused, match="known"):
        record(store, facts(another(3, customer_name="Marita Solvang", email_address=None)))


def test_later_mail_finds_what_was_entered(store: Store) -> None:
    """A confirmation that comes by mail later is filed to the machine entered by hand and doubles nothing."""
    record(store, facts(values()), customer="new")
    _, decision = take(store, MARIT)
    assert (decision.standing, decision.customer, decision.machine) == (Standing.FILED, "C1", "M1")
    assert len(store.machine("M1").upgrades) == 1


@pytest.mark.parametrize(
    "changed",
    [
        {"product_key": MARIT[Kind.PRODUCT_KEY]},
        {"activation_code": MARIT[Kind.ACTIVATION_CODE]},
        {"machine_id": MARIT[Kind.MACHINE_ID]},
        {"machine_id": "HG-204519-K"},
    ],
)
def test_contradictions_are_refused_unless_sure(store: Store, changed: dict[str, str]) -> None:
    """A key on another machine, a known ID with another serial number, an ID one character off: refused, or sure."""
    take(store, MARIT)
    before = dump(store)
    with pytest.raises(SettlementRefused) as refused:
        record(store, facts(another(2, **changed)), customer="C1")
    assert "SPQ4" not in str(refused.value) and "9KDW" not in str(refused.value)
    assert dump(store) == before and store.journal() == []
    assert record(store, facts(another(2, **changed)), customer="C1", sure=True)[0] == "C1"


def test_failed_check_digit_is_refused(store: Store) -> None:
    """A typed code whose check digit fails is refused."""
    given = [*facts(values(machine_id=None)), fact(Kind.MACHINE_ID, "HG-1", check=Check.FAILED, odds=-3.0)]
    with pytest.raises(SettlementRefused, match="check digit"):
        record(store, given, customer="new")


def test_wrong_use(store: Store) -> None:
    """No identifier, a kind twice, a version that is none, a new customer without a name, an unknown one."""
    ident = facts({Kind.MACHINE_ID: "HG-204518-K"})
    with pytest.raises(UsageProblem, match="which machine"):
        record(store, facts({Kind.MODEL: "Aria"}), customer="new")
    with pytest.raises(UsageProblem, match="twice"):
        record(store, ident * 2, customer="new")
    with pytest.raises(UsageProblem, match="firmware"):
        record(store, facts(values()), customer="new", firmware_after="new")
    for customer in ("new", None):
        with pytest.raises(SettlementRefused, match="name"):
            record(store, ident, customer=customer)
    with pytest.raises(RecordUnknown):
        record(store, ident, customer="C5")
    assert store.machines() == []


def test_undo_of_an_entry(store: Store) -> None:
    """Undo of an entry by hand removes exactly what it brought."""
    take(store, MARIT)
    before = dump(store)
    record(store, facts(another(2, customer_name="Teun Duinhoven", email_address="t@post.example")), customer="new")
    record(store, facts({Kind.MACHINE_ID: MARIT[Kind.MACHINE_ID]}), firmware_after="2.40")
    undo(store, SETTINGS, "J2", "kim", "wrong machine")
    undo(store, SETTINGS, "J1", "kim", "wrong machine")
    assert dump(store) == before


def test_undo_out_of_order_leaves_nothing_empty(store: Store) -> None:
    """A profile kept for the sake of a later entry goes when that one is undone too."""
    before = dump(store)
    record(store, facts(values()), customer="new")
    record(store, facts({Kind.MACHINE_ID: MARIT[Kind.MACHINE_ID]}), firmware_after="2.40")
    undo(store, SETTINGS, "J1", "kim", "wrong")
    assert [m.id for m in store.machines()] == ["M1"]
    undo(store, SETTINGS, "J2", "kim", "wrong")
    assert dump(store) == before


def test_journal_holds_no_code(store: Store) -> None:
    """The line in the journal shows keys and codes by their ends only."""
    record(store, facts(values()), customer="new", firmware_after="2.40")
    (entry,) = store.journal(subject="M1")
    assert (entry.action, entry.detail["customer"]) == ("record", "C1")
    assert "SPQ4" not in repr(entry) and "M2XA" in repr(entry) and "9KDW" not in repr(entry)


def test_a_machine_does_not_change_hands_in_passing(store: Store) -> None:
    """A known machine entered for somebody who has it not, by a mistyped number or for a former holder, is refused;
    with --sure it changes hands, and the line says from whom to whom."""
    take(store, MARIT)
    take(store, another(2, customer_name="Ola Kvist", email_address="ola@far.example"))
    given = facts({Kind.MACHINE_ID: MARIT[Kind.MACHINE_ID]})
    for customer in ("C2", "new"):
        named = given + ([] if customer == "C2" else facts({Kind.CUSTOMER_NAME: "Runa Aldermoor"}))
        with pytest.raises(SettlementRefused, match="M1 is held by C1"):
            record(store, named, customer=customer)
    hand_over(store, SETTINGS, "M1", NOBODY, on=date(2025, 6, 1), who="kim", why="traded in")
    with pytest.raises(SettlementRefused, match="C1 had M1 until 2025-06-01, and nobody has it now"):
        record(store, given, customer="C1")
    assert record(store, given, customer="C2")[:2] == ("C2", "M1")
    assert record(store, given, customer="C1", sure=True)[:2] == ("C1", "M1")
    detail = store.journal()[-1].detail
    assert (detail["before"], detail["after"]) == ({"holder": "C2"}, {"holder": "C1"})


def test_dates_that_contradict_are_refused(store: Store) -> None:
    """A registration before the purchase, typed at the bench, is asked back."""
    given = facts(values(purchase_date="2025-03-02", registration_date="2025-03-01"))
    with pytest.raises(SettlementRefused, match="before the day it was bought"):
        record(store, given, customer="new")


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ("2.9", None, "2.9 is older than 2.10, noted of M1 on 2025-03-10 (E1)."),
        (None, "2.9", "2.9 is older than 2.10, noted of M1 on 2025-03-10 (E1)."),
        ("2.40", "2.11", "after the update, 2.11, is older than before it, 2.40."),
    ],
)
def test_firmware_going_backwards(store: Store, before: str | None, after: str | None, said: str) -> None:
    """A version older than the one noted last, or than before the update, is refused unless somebody is sure."""
    take(store, MARIT)
    given = facts({Kind.MACHINE_ID: MARIT[Kind.MACHINE_ID]})
    with pytest.raises(SettlementRefused) as refused:
        record(store, given, firmware_before=before, firmware_after=after)
    assert said in refused.value.what and "--sure" in refused.value.next_step
    assert store.journal() == []
    record(store, given, firmware_before=before, firmware_after=after, sure=True)
    (line,) = store.journal()
    assert line.detail["sure"] is True
    assert said in str(line.detail["against"])


def test_what_a_person_accepted_and_nothing_else(store: Store) -> None:
    """Contradictions that were read and accepted do not refuse an entry; any other one still does."""
    take(store, MARIT)
    given = facts(another(2, product_key=MARIT[Kind.PRODUCT_KEY]))
    against = objections(store, SETTINGS, customer="C1", facts=given)
    assert len(against) == 1 and "on another machine already" in against[0]
    assert store.journal() == []
    more = facts(another(2, product_key=MARIT[Kind.PRODUCT_KEY], activation_code=MARIT[Kind.ACTIVATION_CODE]))
    with pytest.raises(SettlementRefused, match="activation code"):
        record(store, more, customer="C1", accepted=against)
    assert record(store, given, customer="C1", accepted=against)[1] == "M2"


def test_what_cannot_be_entered_is_said_before(store: Store) -> None:
    """Asking what speaks against an entry refuses what nobody could enter, and writes nothing."""
    with pytest.raises(SettlementRefused, match="needs a name"):
        objections(store, SETTINGS, customer="new", facts=facts({Kind.MACHINE_ID: "HG-204518-K"}))
    assert store.machines() == []
