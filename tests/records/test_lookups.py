"""Finding codes, contacts, names and machines in the records."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa
from records_world import MARIT, SETTINGS, another, fact, reading, take, values

from counterfoil.model import Kind
from counterfoil.records import schema
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
    """The last characters find a code from four on, not from three."""
    assert [h.how for h in store.find_code("B2NE")] == ["ending"]
    assert [h.machine for h in store.find_code("77RAB2NE")] == ["M1"]
    assert store.find_code("2NE") == [] and store.find_code("4HPX") == [] and store.find_code("") == []
    assert store.find_code("B2NE", endings=False) == []


@pytest.mark.parametrize(
    ("typed", "how"),
    [("4HPX", "middle"), ("9KDW4", "middle"), ("PX77", "middle"), ("82NE", "near ending"), ("7R8B2NE", "near ending"),
     ("AB2ME", "near ending"), ("2NE", None), ("B2WE", None)],
)  # fmt: skip
def test_pieces(store: Store, typed: str, how: str | None) -> None:
    """A piece from anywhere finds a code where asked for, and so does an end with look-alikes or misheard letters."""
    assert [h.how for h in store.find_code(typed, middles=True)] == ([how] if how else [])
    assert how is None or [h.machine for h in store.find_code(typed, middles=True)] == ["M1"]


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


@pytest.mark.parametrize(
    ("typed", "how"),
    [
        ("Marit Solvang", "same"),
        ("solvang marit", "same"),
        ("SOLVANG", "same"),
        ("solv", "begins"),
        ("mar solv", "begins"),
        ("Ma Solvang", "begins"),
        ("Solvagn", "slip"),
        ("olvang", "slip"),
        ("Zolfank", "heard"),
        ("marit", "same"),
    ],
)
def test_names(store: Store, typed: str, how: str) -> None:
    """A name is found whole, in any order, by a part, by beginnings, with a slip and by ear, and it is said how."""
    assert [(hit.customer, hit.how) for hit in store.find_names(typed)] == [("C1", how)]


def test_nicknames(store: Store) -> None:
    """A pet form finds the name it stands for, with the rest of the name right or nearly so."""
    take(store, another(9, customer_name="Wilhelmina Harrowgate", email_address="mina@post.example"))
    for typed, how in (("Mina Harrowgate", "nickname"), ("Mina Harowgate", "slip"), ("Mina Solvang", None)):
        assert [hit.how for hit in store.find_names(typed)] == ([how] if how else []), typed


def test_names_best_first(store: Store) -> None:
    """The best answer comes first, with 1 for the whole name; nothing alike gives nothing."""
    take(store, another(9, customer_name="Solveig Marit", email_address="solveig@post.example"))
    ranked = store.find_names("marit sol")
    assert {hit.customer for hit in ranked} == {"C1", "C3"}
    first = store.find_names("Marit Solvang")[0]
    assert (first.customer, first.known, first.score) == ("C1", "Marit Solvang", 1.0)
    assert len(store.find_names("marit", limit=1)) == 1
    assert store.find_names("Zebedee") == store.find_names("") == store.find_names("%") == []


def test_names_to_suggest(store: Store) -> None:
    """For a name that answers to nobody, the parts of names most like it are given."""
    assert store.suggest_names("Solvnqg") == ["solvang"]
    assert store.suggest_names("Zebedee") == store.suggest_names("So") == []


def test_pieces_of_contacts(store: Store) -> None:
    """A piece of an e-mail address finds it, the last digits of a number find that, and each only its own kind."""
    assert store.find_contact_pieces(Kind.EMAIL_ADDRESS, "teun@") == [("C2", "teun@post.example")]
    assert store.find_contact_pieces(Kind.PHONE_NUMBER, "460123") == [("C1", "+442079460123")]
    assert store.find_contact_pieces(Kind.PHONE_NUMBER, "4420") == []
    assert store.find_contact_pieces(Kind.EMAIL_ADDRESS, "%") == []
    assert len(store.find_contact_pieces(Kind.EMAIL_ADDRESS, "@", limit=1)) == 1


@pytest.mark.parametrize("typed", ["teum@post.example", "teun@psot.example", "tun@post.example", "teun@post.exampel"])
def test_contacts_with_a_slip(store: Store, typed: str) -> None:
    """An address with one typing error finds the one meant; a number with a wrong digit likewise; two do not."""
    assert store.find_near_contacts(Kind.EMAIL_ADDRESS, typed) == [("C2", "teun@post.example")]
    assert store.find_near_contacts(Kind.EMAIL_ADDRESS, typed + "x") == []
    assert store.find_near_contacts(Kind.PHONE_NUMBER, "+442079460124") == [("C1", "+442079460123")]
    assert store.find_near_contacts(Kind.PHONE_NUMBER, "+442079461124") == []


def test_machines(store: Store) -> None:
    """Machines are found by words of maker and model, all of them, beginnings counting."""
    assert store.find_machines("halden") == ["M1"]
    assert store.find_machines("Aria 500") == ["M1"]
    assert store.find_machines("velDT quil") == ["M2"]
    assert store.find_machines("halden quilter") == store.find_machines("") == []


def test_machines_nearly_called_so(store: Store) -> None:
    """A letter wrong, or the space left out, finds a machine; a digit wrong does not: it is another model."""
    assert store.find_near_machines("Kuilter") == store.find_near_machines("quilter9") == ["M2"]
    assert store.find_near_machines("Quilter 8") == store.find_near_machines("") == []


def test_models_to_suggest(store: Store) -> None:
    """For a model that no machine is called by, the words most like it are given."""
    assert store.suggest_models("Quiltre") == ["quilter"]
    assert store.suggest_models("Zebedee") == []


def test_machines_by_day(store: Store) -> None:
    """Machines are found by the days on which they were bought or registered, both ends included."""
    ((machine, kind, day), *_) = store.find_dated(date(2000, 1, 1), date(2100, 1, 1))
    assert (machine, kind) == ("M1", Kind.PURCHASE_DATE)
    there = date.fromisoformat(day)
    assert (machine, kind, day) in store.find_dated(there, there)
    assert store.find_dated(date(1990, 1, 1), date(1999, 12, 31)) == []


# --- older archives -------------------------------------------------------------------------------


def test_an_older_archive_gets_its_keys(store: Store) -> None:
    """Records made before codes were cut into four and names had sounds get both, and the index over contacts."""
    with store.write() as conn:
        conn.execute(sa.text("DROP TABLE piece"))
        conn.execute(sa.text("CREATE TABLE piece (piece TEXT, fact_id INTEGER, PRIMARY KEY (piece, fact_id))"))
        conn.execute(sa.text("DROP INDEX ix_fact_contact"))
        conn.execute(sa.text("DELETE FROM name_key WHERE substr(name_key, 1, 2) IN ('k:', 'm:', 'r:', 'z:')"))
        conn.execute(sa.delete(schema.migration).where(schema.migration.c.name == "0008 forgiving search"))
    again = Store(store.path)
    assert [h.noted.fact.normal for h in again.find_code("9KDWAHPX77RAB3NE")] == ["9KDW4HPX77RAB2NE"]
    assert [(hit.customer, hit.how) for hit in again.find_names("Zolfank")] == [("C1", "heard")]
    assert again.find_contact_pieces(Kind.EMAIL_ADDRESS, "teun@") == [("C2", "teun@post.example")]
    with again.reading() as conn:
        plan = conn.execute(sa.text("EXPLAIN QUERY PLAN SELECT fact_id FROM piece WHERE piece IN ('a', 'b')")).all()
        indexes = {index["name"] for index in sa.inspect(conn).get_indexes("fact")}
    assert "SEARCH" in str(plan) and "ix_fact_contact" in indexes
    again.close()


def test_look_ups_use_their_indexes(store: Store) -> None:
    """Pieces of contacts, ends of codes and pieces of codes are answered by an index, not by reading every fact."""
    asked: list[tuple[str, tuple[object, ...]]] = []
    engine = store._engine
    sa.event.listen(
        engine, "before_cursor_execute", lambda c, k, statement, values, *_: asked.append((statement, values))
    )
    store.find_contact_pieces(Kind.EMAIL_ADDRESS, "teun@")
    store.find_near_contacts(Kind.EMAIL_ADDRESS, "teum@post.example")
    store.find_code("B2NE")
    store.find_code("82NE", middles=True)
    assert len(asked) >= 5
    with store.reading() as conn:
        for statement, values in [one for one in asked if not one[0].startswith("BEGIN")]:
            plan = conn.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values).all()
            assert not any(row[3] == "SCAN fact" for row in plan), statement
