"""The filing rules, one by one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from records_world import MARIT, SETTINGS, another, codes, dump, fact, message, reading, take, values

from counterfoil.errors import ArchiveDamaged
from counterfoil.model import Check, Document, Kind, Place, Problem, Standing
from counterfoil.records.filing import decide, file_message
from counterfoil.records.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """New records; whatever a test did, the file and its references are in order afterwards."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    yield made
    assert made.integrity() == []
    made.close()


@pytest.fixture
def marit(store: Store) -> Store:
    """Records in which Marit Solvang (C1) has one machine (M1)."""
    assert take(store, MARIT)[1].standing is Standing.FILED
    return store


# --- filed ----------------------------------------------------------------------------------------


def test_first_certain_confirmation_makes_profiles(store: Store) -> None:
    """A certain confirmation from nobody alike makes a customer, a machine, an upgrade and a holder."""
    ref, decision = take(store, MARIT)
    assert (ref, decision.standing, decision.customer, decision.machine) == ("E1", Standing.FILED, "C1", "M1")
    assert decision.new_customer and decision.new_machine and decision.why
    customer, machine = store.customer("C1"), store.machine("M1")
    assert customer.name == "Marit Solvang"
    assert customer.values(Kind.EMAIL_ADDRESS) == ("marit@post.example",)
    assert machine.values(Kind.MACHINE_ID) == ("HG-204518-K",)
    assert [(h.customer, h.since, h.until, h.source) for h in machine.holders] == [("C1", "2025-03-01", None, "E1")]
    (upgrade,) = machine.upgrades
    assert upgrade.name == "Stitch Garden" and upgrade.live
    assert upgrade.product_key is not None and upgrade.product_key.fact.value == "SPQ4-7RTW-M2XA"


def test_decide_writes_nothing(store: Store) -> None:
    """Deciding leaves the records as they are."""
    before = dump(store)
    assert decide(message(), reading(MARIT), store, SETTINGS).standing is Standing.FILED
    assert dump(store) == before


def test_same_confirmation_twice_is_filed_once(marit: Store) -> None:
    """The same confirmation forwarded again goes to the same profiles and doubles nothing in them."""
    _, decision = take(marit, MARIT)
    assert (decision.standing, decision.customer, decision.machine) == (Standing.FILED, "C1", "M1")
    assert len(marit.customers()) == len(marit.machines()) == 1
    machine = marit.machine("M1")
    assert len(machine.upgrades) == len(machine.holders) == 1
    assert machine.messages == ("E1", "E2")


def test_known_machine_and_agreeing_name(marit: Store) -> None:
    """A known machine whose holder's name agrees is enough, whatever the e-mail address and the order of the name."""
    second = values(customer_name="SOLVANG Marit", email_address="new@post.example") | _upgrade(2)
    _, decision = take(marit, second)
    assert (decision.standing, decision.customer, decision.machine) == (Standing.FILED, "C1", "M1")
    assert len(marit.machine("M1").upgrades) == 2
    assert len(marit.customer("C1").values(Kind.EMAIL_ADDRESS)) == 2


def test_known_contact_and_agreeing_name_gets_a_new_machine(marit: Store) -> None:
    """A known e-mail address under an agreeing name brings the customer a further machine."""
    _, decision = take(marit, another(2))
    assert (decision.customer, decision.machine, decision.new_machine) == ("C1", "M2", True)
    assert [h.machine for h in marit.customer("C1").holdings] == ["M1", "M2"]


def test_known_phone_and_agreeing_name(store: Store) -> None:
    """A telephone number counts as a contact as an e-mail address does."""
    take(store, values(phone_number="020 7946 0123"))
    _, decision = take(store, another(2, phone_number="+44 20 7946 0123", email_address=None))
    assert (decision.standing, decision.customer) == (Standing.FILED, "C1")


def test_swapped_board_keeps_the_machine(marit: Store) -> None:
    """A known serial number with a new machine ID is the same machine; codes for the old ID are no longer live."""
    swapped = values(machine_id="HG-887301-T", activation_code="ZZQ2-8KLM-3VWX-44TA")
    _, decision = take(marit, swapped, message(day=200))
    assert (decision.standing, decision.customer, decision.machine) == (Standing.FILED, "C1", "M1")
    old, new = marit.machine("M1").upgrades
    assert (old.live, new.live) == (False, True)
    assert new.machine_id == "HG887301T"


def test_order_of_arrival_does_not_make_an_old_board_live(store: Store) -> None:
    """Where the newer confirmation arrives first, the older machine ID still is the dead one."""
    take(store, values(machine_id="HG-887301-T", activation_code="ZZQ2-8KLM-3VWX-44TA"), message(day=200))
    take(store, MARIT, message(day=0))
    live = {u.machine_id: u.live for u in store.machine("M1").upgrades}
    assert live == {"HG887301T": True, "HG204518K": False}


def test_spouse_forwards(store: Store) -> None:
    """Who forwards a message is not whose it is: the customer is the one the confirmation names."""
    _, decision = take(store, MARIT, message(sender="ola@post.example", name="Ola Solvang"))
    assert decision.standing is Standing.FILED
    assert store.customer("C1").values(Kind.CUSTOMER_NAME) == ("Marit Solvang",)
    assert store.find_contacts(Kind.EMAIL_ADDRESS, "ola@post.example") == []
    sender = store.message("E1").sender
    assert sender is not None and sender.address == "ola@post.example"


def test_spouses_address_on_a_known_machine(marit: Store) -> None:
    """The holder's name on the known machine decides, though the address is another customer's with another name."""
    take(marit, another(2, customer_name="Teun Duinhoven", email_address="teun@post.example"))
    _, decision = take(marit, values(email_address="teun@post.example") | _upgrade(3))
    assert (decision.standing, decision.customer) == (Standing.FILED, "C1")


def test_only_chosen_and_certain_values_are_owned(store: Store) -> None:
    """What was read but not chosen, or is not certain, stays evidence and goes into no profile."""
    weak = fact(Kind.PHONE_NUMBER, "020 7946 0999", odds=1.0)
    other = fact(Kind.SERIAL_NUMBER, "999", odds=0.5)
    read = reading(MARIT, weak)
    take(store, replace(read, facts=(*read.facts, other)))
    assert store.customer("C1").values(Kind.PHONE_NUMBER) == ()
    assert store.machine("M1").values(Kind.SERIAL_NUMBER) == ("7731 40922",)
    kept = {n.fact.value: n.chosen for n in store.message("E1").facts}
    assert (kept["020 7946 0999"], kept["999"]) == (True, False)


def test_the_name_of_the_shops_own_mailbox_makes_no_customer(store: Store) -> None:
    """A name that stands only in a To field, beside the shop's own address, is asked about and makes no profile."""
    name = replace(fact(Kind.CUSTOMER_NAME, "Service Desk"), place=Place("headers:1"))
    read = reading(values(customer_name="Service Desk", email_address="desk@shop.example"), name)
    _, decision = take(store, read)
    assert decision.standing is Standing.OPEN
    assert codes(decision) == ["customer_unclear"]
    assert store.customers() == []


def test_shop_address_is_never_a_contact(store: Store) -> None:
    """The shop's own address is nobody's contact: two strangers who name it stay two customers."""
    _, one = take(store, values(email_address="desk@shop.example"))
    _, two = take(store, another(2, customer_name="Teun Duinhoven", email_address="desk@shop.example"))
    assert (one.customer, two.customer) == ("C1", "C2")
    assert store.find_contacts(Kind.EMAIL_ADDRESS, "desk@shop.example") == []


# --- aside ----------------------------------------------------------------------------------------


def test_no_confirmation_is_put_aside(store: Store) -> None:
    """Below the odds of a confirmation a message is put aside; its values are kept, but nobody's."""
    ref, decision = take(store, reading(MARIT, confirmation=-0.1))
    assert (decision.standing, decision.questions) == (Standing.ASIDE, ())
    assert store.customers() == []
    assert store.machines() == []
    assert len(store.message(ref).facts) == len(MARIT)


# --- open: what was read --------------------------------------------------------------------------


def test_unreadable_document(store: Store) -> None:
    """A document that could not be read is asked for by name and reason; what it may hold is not asked for twice."""
    scan = Document("pdf:scan.pdf", 0, "", (), problem=Problem.SCANNED, reason="It holds pictures only.")
    logo = Document("picture:logo.png", 0, "", (), problem=Problem.PICTURE, inline=True)
    empty = Document("body", 0, "", (), problem=Problem.EMPTY)
    read = reading({Kind.CUSTOMER_NAME: "Marit Solvang"})
    _, decision = take(store, read, message(empty, logo, scan))
    assert codes(decision) == ["document_unreadable"]
    assert "scan.pdf" in decision.questions[0].sentence and "pictures only" in decision.questions[0].sentence


def test_forgotten_attachment(marit: Store) -> None:
    """Where the text speaks of an attachment and none came, that is asked, with the likely customer."""
    read = reading(
        {Kind.CUSTOMER_NAME: "Marit Solvang", Kind.EMAIL_ADDRESS: "marit@post.example"}, mentions_attachment=True
    )
    _, decision = take(marit, read)
    assert codes(decision) == ["attachment_missing"]
    (candidate,) = decision.questions[0].candidates
    assert candidate.ref == "C1" and "same name" in candidate.evidence and "same e-mail address" in candidate.evidence


def test_attachment_that_came_is_not_missing(store: Store) -> None:
    """With a PDF attached, what is missing is missing in what was read."""
    read = reading(values(product_key=None), mentions_attachment=True)
    _, decision = take(store, read, message(Document("pdf:c.pdf", 0, "text", ())))
    assert codes(decision) == ["fact_missing"]
    assert "product key" in decision.questions[0].sentence


@pytest.mark.parametrize(
    "lacking", [("product_key",), ("activation_code",), ("customer_name",), ("machine_id", "serial_number")]
)
def test_missing_values(store: Store, lacking: tuple[str, ...]) -> None:
    """Each value that is needed is asked for when it was not found."""
    _, decision = take(store, values(**dict.fromkeys(lacking)))
    assert codes(decision) == ["fact_missing"]


@pytest.mark.parametrize("kind", [Kind.MACHINE_ID, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE, Kind.CUSTOMER_NAME])
def test_uncertain_values(store: Store, kind: Kind) -> None:
    """A needed value below the filing odds is asked for, not filed."""
    _, decision = take(store, reading(MARIT, fact(kind, MARIT[kind], odds=4.5)))
    assert codes(decision) == ["fact_uncertain"]
    assert store.customers() == []


def test_conflicting_codes_are_shown_masked(store: Store) -> None:
    """Two activation codes in one message are asked about; the question shows no more than their ends."""
    two = (fact(Kind.ACTIVATION_CODE, "9KDW-4HPX-77RA-B2NE"), fact(Kind.ACTIVATION_CODE, "9KDW-4HPX-77RA-B2NF"))
    _, decision = take(store, reading(MARIT, conflicts={Kind.ACTIVATION_CODE: two}))
    assert codes(decision) == ["code_conflict"]
    shown = repr(decision)
    assert "B2NE" in shown and "B2NF" in shown and "9KDW" not in shown and "77RA" not in shown


def test_two_names_in_one_message(store: Store) -> None:
    """A message that names two customers is asked about."""
    two = (fact(Kind.CUSTOMER_NAME, "Marit Solvang"), fact(Kind.CUSTOMER_NAME, "Ola Solvang"))
    _, decision = take(store, reading(MARIT, conflicts={Kind.CUSTOMER_NAME: two}))
    assert codes(decision) == ["customer_unclear"]


def test_two_addresses_make_no_new_customer(store: Store) -> None:
    """A new customer is not made where the message holds two e-mail addresses."""
    two = (fact(Kind.EMAIL_ADDRESS, "marit@post.example"), fact(Kind.EMAIL_ADDRESS, "ola@post.example"))
    _, decision = take(store, reading(MARIT, conflicts={Kind.EMAIL_ADDRESS: two}))
    assert codes(decision) == ["customer_unclear"]


def test_ambiguous_date(store: Store) -> None:
    """A date that can be read in two ways is asked about with both."""
    date = fact(Kind.PURCHASE_DATE, "3/4/2025", readings=("2025-04-03", "2025-03-04"))
    _, decision = take(store, reading(MARIT, date))
    assert codes(decision) == ["date_ambiguous"]
    assert [c.ref for c in decision.questions[0].candidates] == ["2025-04-03", "2025-03-04"]


def test_failed_check_digit(store: Store) -> None:
    """A code whose check digit fails is asked about once, however low its odds are."""
    _, decision = take(store, reading(MARIT, fact(Kind.MACHINE_ID, "HG-204518-K", check=Check.FAILED, odds=-4.0)))
    assert codes(decision) == ["check_failed"]


# --- open: what is known --------------------------------------------------------------------------


def test_another_activation_code_for_a_known_key(marit: Store) -> None:
    """A known machine and product key with another activation code is a contradiction."""
    _, decision = take(marit, values(activation_code="9KDW-4HPX-77RA-B2NF"))
    assert codes(decision) == ["code_conflict"]
    assert "9KDW" not in repr(decision)
    assert len(marit.machine("M1").upgrades) == 1


def test_known_activation_code_under_another_key(marit: Store) -> None:
    """A known activation code that comes with another product key is a contradiction."""
    assert codes(take(marit, values(product_key="WWWW-1111-2222"))[1]) == ["code_conflict"]


def test_key_on_another_machine(marit: Store) -> None:
    """A product key that is on another machine already is asked about, with that machine."""
    used = another(2, product_key=MARIT[Kind.PRODUCT_KEY])
    _, decision = take(marit, used)
    assert codes(decision) == ["key_used_elsewhere"]
    assert decision.questions[0].candidates[0].ref == "M1"
    assert "SPQ4" not in repr(decision) and "M2XA" in decision.questions[0].sentence


def test_machine_id_with_another_serial_number(marit: Store) -> None:
    """A known machine ID with another serial number is a contradiction."""
    assert codes(take(marit, values(serial_number="5550001112") | _upgrade(2))[1]) == ["code_conflict"]


def test_identifiers_of_two_machines(marit: Store) -> None:
    """A machine ID of one machine with the serial number of another is a contradiction that names both."""
    take(marit, another(2))
    mixed = another(2, machine_id=MARIT[Kind.MACHINE_ID]) | _upgrade(9)
    _, decision = take(marit, mixed)
    assert codes(decision) == ["code_conflict"]
    assert [c.ref for c in decision.questions[0].candidates] == ["M1", "M2"]


def test_same_number_of_another_maker(marit: Store) -> None:
    """A serial number that repeats at another maker does not make two machines one."""
    stranger = another(
        2,
        serial_number=MARIT[Kind.SERIAL_NUMBER],
        machine_id=None,
        maker="Veldt",
        model="Q 9",
        customer_name="Teun Roos",
    )
    assert "code_conflict" in codes(take(marit, stranger)[1])


@pytest.mark.parametrize("misread", ["HG-2045I8-K", "HG-204519-K", "HG-20458-K"])
def test_misread_machine_id_is_no_swapped_board(marit: Store, misread: str) -> None:
    """A machine ID one character off the known one, with the same serial number, is asked about."""
    assert codes(take(marit, values(machine_id=misread) | _upgrade(2))[1]) == ["code_conflict"]


def test_misread_machine_id_is_no_new_machine(marit: Store) -> None:
    """A customer's new machine with nearly the ID of one they have is asked about; a passed check digit clears it."""
    near = another(2, machine_id="HG-204519-K")
    assert codes(take(marit, near)[1]) == ["code_conflict"]
    proved = [fact(k, near[k], check=Check.PASSED) for k in (Kind.MACHINE_ID, Kind.SERIAL_NUMBER)]
    assert codes(take(marit, reading(near, *proved))[1]) == []


def test_trade_in(marit: Store) -> None:
    """A known machine under another name is asked about: it may have changed hands."""
    _, decision = take(marit, values(customer_name="Teun Duinhoven", email_address="teun@post.example") | _upgrade(2))
    assert codes(decision) == ["holder_unclear"]
    assert "C1" in [c.ref for c in decision.questions[0].candidates]
    assert [h.customer for h in marit.machine("M1").holders] == ["C1"]


def test_namesake_with_the_contact_of_another(marit: Store) -> None:
    """A known machine is not filed to its holder when another customer of that name has the contact."""
    ref, _ = take(marit, another(2, email_address="other@post.example"))
    assert codes(take(marit, another(2, email_address="other@post.example"))[1]) == ["customer_unclear"]
    from counterfoil.records.settling import settle

    settle(marit, SETTINGS, ref, customer="new", who="desk", why="another Marit Solvang")
    _, decision = take(marit, values(email_address="other@post.example") | _upgrade(5))
    assert codes(decision) == ["holder_unclear"]


def test_two_of_the_same_name(marit: Store) -> None:
    """The same full name with another address and machine is asked about, with the candidate and the evidence."""
    _, decision = take(
        marit, another(2, email_address="m.solvang@mail.example"), message(sender="m.solvang@mail.example")
    )
    assert codes(decision) == ["customer_unclear"]
    candidate, new = decision.questions[0].candidates
    assert (candidate.ref, candidate.evidence) == ("C1", ("same name",))
    assert (new.ref, new.label) == ("new", "new customer Marit Solvang")
    assert new.evidence[:2] == ("C1 is called alike", "the e-mail address is not known")


def test_near_name_is_asked_about(marit: Store) -> None:
    """A name nearly that of a known customer makes no new profile unasked."""
    found = another(2, customer_name="Marita Solvang", email_address="marita@post.example")
    assert codes(take(marit, found)[1]) == ["customer_unclear"]


def test_one_part_of_a_name(store: Store) -> None:
    """A single part of a name makes no profile."""
    assert codes(take(store, values(customer_name="Marit"))[1]) == ["customer_unclear"]


def test_hash_is_unique(store: Store) -> None:
    """The same message cannot be written twice, whatever the caller does; nothing of the second try stays."""
    mail = message()
    file_message(store, mail, reading(MARIT), "a.eml", SETTINGS)
    before = dump(store)
    with pytest.raises(ArchiveDamaged):
        file_message(store, mail, reading(MARIT), "b.eml", SETTINGS)
    assert dump(store) == before


def _upgrade(number: int) -> dict[Kind, str]:
    """Return the codes of another upgrade."""
    made = another(number)
    return {k: made[k] for k in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)} | {Kind.UPGRADE_NAME: f"Upgrade {number}"}


def test_a_key_read_as_machine_id_is_covered_in_questions(store: Store) -> None:
    """A code that may be a product key is shown by its last characters, whatever else it was taken for."""
    key = MARIT[Kind.PRODUCT_KEY]
    wrong = fact(Kind.MACHINE_ID, key, odds=2.0)
    _, decision = take(store, reading(values(machine_id=None), wrong))
    asked = " ".join(q.sentence + repr(q.candidates) for q in decision.questions)
    assert "machine ID" in asked and key not in asked
