"""Finding codes, contacts, names and machines in the records."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from records_world import MARIT, SETTINGS, another, fact, reading, take, values

from counterfoil.model import Kind
from counterfoil.records.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Two customers with a machine each, and an open message."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    take(made, values(phone_number="+442079460123", postal_address="4 Mill Lane\nOxbow"))
    teun = {"customer_name": "Teun Duinhoven", "email_address": "teun@post.example"}
    take(made, another(2, maker="Veldt", model="Quilter 9", **teun))
    take(made, another(3, customer_name="Marit"))
    yield made
    made.close()


# --- codes ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [Kind.MACHINE_ID, Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE])
def test_whole_code(store: Store, kind: Kind) -> None:
    """A whole code of any kind is found with its machine, holder and message, once."""
    plain = fact(kind, MARIT[kind]).normal
    (hit,) = store.find_code(plain)
    assert (hit.how, hit.machine, hit.customer, hit.message) == ("whole", "M1", "C1", "E1")
    assert hit.noted.fact.kind is kind and hit.noted.fact.value == MARIT[kind]


def test_open_messages_are_found_too(store: Store) -> None:
    """A code of a message that is not filed is found, as nobody's yet."""
    code = another(3)[Kind.ACTIVATION_CODE]
    (hit,) = store.find_code(code)
    assert (hit.machine, hit.customer, hit.message) == (None, None, "E3")


def test_ending(store: Store) -> None:
    """The last characters find a code from four on, not from three; the middle does not."""
    assert [h.how for h in store.find_code("B2NE")] == ["ending"]
    assert [h.machine for h in store.find_code("77RAB2NE")] == ["M1"]
    assert store.find_code("2NE") == [] and store.find_code("4HPX") == [] and store.find_code("") == []
    assert store.find_code("B2NE", endings=False) == []


@pytest.mark.parametrize("typed", ["9KDW4HPX77RAB2NX", "9KDW4HP77RAB2NE", "9KWD4HPX77RAB2NE", "9K0W4HPX77RA82NE"])
def test_near(store: Store, typed: str) -> None:
    """A character wrong, missing or swapped, or look-alikes: the code is found all the same, and said to be near."""
    assert [(h.how, h.noted.fact.normal) for h in store.find_code(typed)] == [("near", "9KDW4HPX77RAB2NE")]
    assert store.find_code(typed, near=False) == []


def test_nothing_near(store: Store) -> None:
    """A code with more than two wrong characters is not found."""
    assert store.find_code("9KDWAAAA77RAB2NE") == []


def test_whole_hides_near(store: Store) -> None:
    """Where a code is known whole, codes near it are not mixed in."""
    take(store, another(7, activation_code="9KDW-4HPX-77RA-B2NX", customer_name="Runa Aldermoor", email_address=None))
    assert [h.noted.fact.normal for h in store.find_code("9KDW4HPX77RAB2NE")] == ["9KDW4HPX77RAB2NE"]
    assert [h.how for h in store.find_code("9KDW4HPX77RAB2NY")] == ["near", "near"]


def test_same_code_from_two_messages(store: Store) -> None:
    """A code that two messages brought gives both sources of the one machine."""
    take(store, MARIT)
    hits = store.find_code("9KDW4HPX77RAB2NE")
    assert [(h.machine, h.message) for h in hits] == [("M1", "E1"), ("M1", "E4")]
    assert len(store.find_code("9KDW4HPX77RAB2NE", limit=1)) == 1


def test_many_places_are_one_hit(store: Store) -> None:
    """A code that stands in a message three times is one hit, whole and by its ending."""
    found = another(8, customer_name="Runa Aldermoor", email_address=None)
    once = fact(Kind.PRODUCT_KEY, found[Kind.PRODUCT_KEY])
    read = reading(found)
    take(store, type(read)((*read.facts, once, once), read.chosen, confirmation=6.0))
    assert len(store.find_code(once.normal)) == len(store.find_code(once.normal[-6:])) == 1


def test_series_of_serial_numbers(store: Store) -> None:
    """Among hundreds of serial numbers with the same beginning, the one with a wrong digit is found."""
    with store.write():
        for number in range(300):
            found = another(100 + number, serial_number=f"20250000{number:04}", customer_name="Marit")
            take(store, found)
    for typed, wanted in (
        ("20250000A117", "202500000117"),
        ("20250000023X", "202500000230"),
        ("20250000017", "202500000117"),
    ):
        assert wanted in [h.noted.fact.normal for h in store.find_code(typed, limit=400)], typed


# --- contacts, names, machines --------------------------------------------------------------------


def test_contacts(store: Store) -> None:
    """Contacts are found by their normal form; an address however its lines are broken; open messages' are nobody's."""
    assert store.find_contacts(Kind.EMAIL_ADDRESS, "teun@post.example") == ["C2"]
    assert store.find_contacts(Kind.PHONE_NUMBER, "+442079460123") == ["C1"]
    assert store.find_contacts(Kind.POSTAL_ADDRESS, "4, Mill Lane, Oxbow") == ["C1"]
    assert store.find_contacts(Kind.EMAIL_ADDRESS, "nobody@post.example") == []
    assert store.find_contacts(Kind.CUSTOMER_NAME, "solvang marit") == ["C1"]


@pytest.mark.parametrize("typed", ["Marit Solvang", "solvang marit", "SOLVANG", "solv", "mar solv", "Solvagn", "marit"])
def test_names(store: Store, typed: str) -> None:
    """A name is found whole, in any order, by a part, by beginnings, and with a slip."""
    assert [ref for ref, _ in store.find_names(typed)] == ["C1"]


def test_names_best_first(store: Store) -> None:
    """The best answer comes first, with 1 for the whole name; nothing alike gives nothing."""
    take(store, another(9, customer_name="Solveig Marit", email_address="solveig@post.example"))
    ranked = store.find_names("marit sol")
    assert {ref for ref, _ in ranked} == {"C1", "C3"}
    assert store.find_names("Marit Solvang")[0] == ("C1", 1.0)
    assert len(store.find_names("marit", limit=1)) == 1
    assert store.find_names("Zebedee") == store.find_names("") == store.find_names("%") == []


def test_machines(store: Store) -> None:
    """Machines are found by words of maker and model, all of them, beginnings counting."""
    assert store.find_machines("halden") == ["M1"]
    assert store.find_machines("Aria 500") == ["M1"]
    assert store.find_machines("velDT quil") == ["M2"]
    assert store.find_machines("halden quilter") == store.find_machines("") == []
