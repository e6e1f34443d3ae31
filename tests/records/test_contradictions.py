"""Values that cannot all be right: asked about when filed, listed when they are on record all the same; repeats."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from records_world import MARIT, SETTINGS, another, codes, fact, message, reading, take, values

from counterfoil.errors import SettlementRefused
from counterfoil.model import SOLD_SINCE, Check, Kind
from counterfoil.records.bench import record
from counterfoil.records.conflicts import Conflict, conflicts
from counterfoil.records.merging import merge
from counterfoil.records.settling import settle
from counterfoil.records.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Give records with Marit's first confirmation, E1."""
    made = Store(tmp_path / "records.db", create=True)
    take(made, values(registration_date="2025-03-04"))
    yield made
    made.close()


def _listed(store: Store) -> list[Conflict]:
    with store.reading() as conn:
        return conflicts(conn)


def test_registered_before_bought(store: Store) -> None:
    """A machine registered before the day it was bought is a question with both days as candidates."""
    mail = another(2, purchase_date="2025-03-02", registration_date="2025-03-01")
    _, decision = take(store, mail)
    assert codes(decision) == ["date_contradiction"]
    assert [c.ref for c in decision.questions[0].candidates] == ["2025-03-02", "2025-03-01"]
    assert decision.questions[0].candidates[0].evidence == ("in pdf:c.pdf, page 1",)


def test_a_day_after_the_message(store: Store) -> None:
    """A purchase after the message was received is a question; one day is left for the time zones."""
    assert codes(take(store, another(2, purchase_date="2025-03-12"))[1]) == ["date_contradiction"]
    assert codes(take(store, another(3, purchase_date="2025-03-11"))[1]) == []


def test_another_purchase_date_on_record(store: Store) -> None:
    """The same machine of the same holder with another purchase date is a question with both sources."""
    _, decision = take(store, values(purchase_date="2025-02-01"))
    assert codes(decision) == ["date_contradiction"]
    read, known = decision.questions[0].candidates
    assert (read.ref, known.ref) == ("2025-02-01", "2025-03-01")
    assert known.evidence == ("on record from E1, pdf:c.pdf, page 1",)


def test_a_confirmation_sent_again_with_another_registration(store: Store) -> None:
    """The same codes with another registration date are asked about; other codes have a registration of their own."""
    assert codes(take(store, values(registration_date="2025-03-05"))[1]) == ["date_contradiction"]
    more = {k.value: another(9)[k] for k in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)}
    assert codes(take(store, values(registration_date="2025-03-05", **more))[1]) == []


def test_a_contradiction_is_settled_by_a_person(store: Store) -> None:
    """The right day is given, or the original really says so: then it is on record, and listed as known."""
    wrong = {"purchase_date": "2025-03-02", "registration_date": "2025-03-01"}
    first, _ = take(store, another(2, **wrong))
    settle(
        store, SETTINGS, first, facts=[fact(Kind.REGISTRATION_DATE, "2025-03-03")], who="kim", why="the card says so"
    )
    assert _listed(store) == []
    second, _ = take(store, another(3, **wrong))
    settle(store, SETTINGS, second, sure=True, who="kim", why="the original says so")
    (conflict,) = _listed(store)
    assert (conflict.code, conflict.accepted_by) == ("date_contradiction", "J2")
    assert len(conflict.evidence) == 2


def test_the_other_side_of_a_conflict_of_codes(store: Store) -> None:
    """Asked about a code, the machine on record says where its codes were read; codes stay covered."""
    _, decision = take(store, values(activation_code="AAAA-BBBB-CCCC-DDDD"))
    (question,) = decision.questions
    assert question.code == "code_conflict"
    assert "activation code ••••-••••-••••-B2NE in E1, pdf:c.pdf, page 1" in question.candidates[0].evidence


def test_conflicts_on_record_are_listed(store: Store) -> None:
    """A key on two machines, two codes for one upgrade and a failed check, filed against the questions, are listed."""
    same_key = another(2, product_key=MARIT[Kind.PRODUCT_KEY])
    ref, _ = take(store, same_key)
    settle(store, SETTINGS, ref, customer="C1", sure=True, who="kim", why="")
    ref, _ = take(store, values(activation_code="AAAA-BBBB-CCCC-DDDD"))
    settle(store, SETTINGS, ref, sure=True, who="kim", why="")
    read = reading(another(4), fact(Kind.PRODUCT_KEY, "QQQQ-1111", check=Check.FAILED))
    ref, _ = take(store, read)
    settle(store, SETTINGS, ref, customer="C1", sure=True, who="kim", why="")
    found = _listed(store)
    assert sorted(c.code for c in found) == ["check_failed", "code_conflict", "key_used_elsewhere"]
    assert all(c.accepted_by for c in found)
    assert all(MARIT[Kind.PRODUCT_KEY] not in " ".join((c.sentence, *c.evidence)) for c in found)


def test_one_confirmation_is_one_entry_in_the_profile(store: Store) -> None:
    """Forwarded again, by the spouse, or delivered twice: all kept, each says what it repeats, values stand once."""
    profile = store.machine("M1")
    again, decision = take(store, values(registration_date="2025-03-04"), message(sender="ola@post.example", day=9))
    assert codes(decision) == []
    third, _ = take(store, values(registration_date="2025-03-04"), message(day=12))
    assert store.message("E1").repeats is None
    assert [store.message(ref).repeats for ref in (again, third)] == ["E1", "E1"]
    now = store.machine("M1")
    assert [u.activation_code.fact for u in now.upgrades if u.activation_code] == [
        u.activation_code.fact for u in profile.upgrades if u.activation_code
    ]
    assert now.values(Kind.PRODUCT_KEY) == profile.values(Kind.PRODUCT_KEY)
    assert len(now.holders) == 1
    assert now.messages == ("E1", again, third)


def test_a_message_delivered_twice_names_the_first(store: Store) -> None:
    """The same Message-ID under other bytes (another way through the network) is said to repeat the first."""
    one, two = message(), message()
    head = two.layers[0]
    import dataclasses

    twin = dataclasses.replace(two, layers=(dataclasses.replace(head, message_id=one.layers[0].message_id),))
    first, _ = take(store, another(5), one)
    second, _ = take(store, another(6), twin)
    assert store.message(second).repeats == first


def test_another_upgrade_is_no_repeat(store: Store) -> None:
    """A second upgrade of the same machine is a confirmation of its own."""
    more = {k.value: another(9)[k] for k in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)}
    ref, _ = take(store, values(**more))
    assert store.message(ref).repeats is None


def test_a_merge_may_bring_no_conflict_of_its_own(store: Store) -> None:
    """Two customers made one keep their machines apart: nothing on record contradicts itself by that."""
    take(store, another(2, customer_name="Ola Berg", email_address="ola@post.example"))
    merge(store, "C1", "C2", who="kim", why="")
    assert _listed(store) == []


def test_a_machine_is_no_older_than_its_model(store: Store) -> None:
    """A purchase before the model was sold, by its maker's file, is asked about, a day in its first month is not; a
    date typed later is held against the model on record."""
    model = replace(fact(Kind.MODEL, "Aria 500"), evidence=("label", f"{SOLD_SINCE}2024-06"))
    _, decision = take(store, reading(another(2, purchase_date="2024-05-31"), model))
    assert codes(decision) == ["date_contradiction"]
    assert "2024-06" in decision.questions[0].sentence
    filed, decision = take(store, reading(another(3, purchase_date="2024-06-01"), model))
    assert codes(decision) == []
    wrong = [fact(Kind.PURCHASE_DATE, "2023-01-01")]
    with pytest.raises(SettlementRefused, match="2024-06"):
        settle(store, SETTINGS, filed, facts=wrong, who="kim", why="")
    with pytest.raises(SettlementRefused, match="2024-06"):
        given = [fact(Kind.MACHINE_ID, another(3)[Kind.MACHINE_ID]), *wrong]
        record(store, SETTINGS, customer=None, facts=given, who="kim", why="")
    settle(store, SETTINGS, filed, facts=wrong, sure=True, who="kim", why="the invoice says so")
    (conflict,) = _listed(store)
    assert (conflict.code, conflict.accepted_by) == ("date_contradiction", "J1")
    assert conflict.sentence.endswith("lies before 2024-06, since when the Aria 500 is sold.")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"serial_number": "999 000 111"}, "M1 has 2 serial numbers."),
        ({"product_key": "AAAA-BBBB-CCCC"}, "M1 has one activation code for 2 product keys."),
        ({"machine_id": "HG-777777-Q"}, "M1 has one activation code for 2 machine IDs."),
        (
            {"machine_id": None, "activation_code": "AAAA-BBBB-CCCC-DDDD"},
            "M1 has 2 activation codes for one product key.",
        ),
        ({"purchase_date": "2025-02-01"}, "M1 was bought by C1 on 2025-02-01 and 2025-03-01."),
    ],
)
def test_what_contradicts_the_machine_is_asked_and_listed(
    store: Store, changed: dict[str, str | None], said: str
) -> None:
    """What another message says otherwise of a machine is asked about; filed against that, both sides are listed."""
    ref, decision = take(store, values(registration_date="2025-03-04", **changed))
    assert decision.questions
    settle(store, SETTINGS, ref, machine="M1", sure=True, who="kim", why="the original says so")
    (conflict,) = _listed(store)
    assert (conflict.sentence, conflict.accepted_by) == (said, "J1")
    assert {side.rsplit(": ", 1)[1].partition(",")[0] for side in conflict.evidence} == {"E1", ref}


def test_short_numbers_of_different_makers_are_no_conflict(store: Store) -> None:
    """One serial number on machines of two makers is none; with a machine of no known maker beside them it is."""
    serial = MARIT[Kind.SERIAL_NUMBER]
    for number, maker in ((2, "Quill"), (3, None)):
        mail = another(number, serial_number=serial, maker=maker, model=None, purchase_date=None)
        ref, _ = take(store, mail)
        settle(store, SETTINGS, ref, customer="C1", machine="new", sure=True, who="kim", why="")
        assert [c.code for c in _listed(store)] == ([] if maker else ["code_conflict"])
