"""Matching: values taken apart, levels, the model, and the keys in the records."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from kin_world import fill, households, stale
from records_world import MARIT, SETTINGS, another, take, values

from counterfoil.model import Kind
from counterfoil.records import match_index, migrations, schema
from counterfoil.records.match_blocking import keys, wanted_keys
from counterfoil.records.match_compare import LEVELS, Address, Name, given_level
from counterfoil.records.match_learning import current, learn
from counterfoil.records.match_model import SHIPPED, learned, probability
from counterfoil.records.match_people import address_of, names_of, person
from counterfoil.records.settling import settle, undo
from counterfoil.records.store import Store
from counterfoil.records.weighing import SURE_BITS

HOME = "Mill Lane 4, 99991 Oxbow"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """New records; the keys are in step with the facts afterwards, whatever a test did."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    yield made
    before = bkeys(made)
    assert stale(made) == 0
    with made.write() as conn:
        match_index.rebuild(conn)
    assert bkeys(made) == before
    made.close()


def bkeys(store: Store) -> list[tuple[int, int]]:
    """Return all keys with their customers."""
    with store.reading() as conn:
        return sorted((row.key, row.customer) for row in conn.execute(sa.select(schema.bkey)))


# --- values taken apart ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("Marit Solvang", [("marit", "solvang")]),
        ("SMITH John", [("john", "smith")]),
        ("Smith, John", [("john", "smith")]),
        ("Jan van der Berg", [("jan", "van der berg")]),
        ("Ola and Marit Solvang", [("ola", "solvang"), ("marit", "solvang")]),
        ("Nähstube Berg GmbH", [("nahstube berg gmbh", "nahstube berg gmbh")]),
        ("Marit", [("", "marit")]),
    ],
)
def test_names_taken_apart(text: str, names: list[tuple[str, str]]) -> None:
    """Given and family name are told apart in every usual way of writing; a couple is two, a company has one name."""
    assert list(names_of(text)) == [Name(*name) for name in names]


@pytest.mark.parametrize(
    ("text", "address"),
    [
        ("Hafenstr. 19, 99993 Bandhafen, Deutschland", Address("hafen strasse", "19", "", "99993", "bandhafen")),
        ("27 quai des Lisières, 99901 Aiguemont, France", Address("quai des lisieres", "27", "", "99901", "aiguemont")),
        ("Naaldstraat 4, 9998 YB Zoomerveen, Nederland", Address("naaldstraat", "4", "", "9998yb", "zoomerveen")),
        ("Knappgränd 17, 999 93 Tygsta, Sverige", Address("knappgrand", "17", "", "99993", "tygsta")),
        ("12 Mill Ln, Oxbow, OX9 9ZZ", Address("mill lane", "12", "", "ox99zz", "oxbow")),
        ("The Old Dairy, Nether Wimble, United Kingdom", Address("the old dairy", "", "", "", "nether wimble")),
    ],
)
def test_addresses_taken_apart(text: str, address: Address) -> None:
    """A postal address of any of the shop's countries falls into street, house number, postcode and town."""
    assert address_of(text) == address


@pytest.mark.parametrize(
    ("a", "b", "level"),
    [
        ("marit", "marit", "same"),
        ("anne marie", "annemarie", "same"),
        ("johanna", "johana", "slip"),
        ("jan", "jana", "near"),
        ("bill", "william", "nickname"),
        ("m", "marit", "initial"),
        ("anna", "anna maria", "part"),
        ("anna maria", "maria", "differs"),
        ("ola", "marit", "differs"),
    ],
)
def test_levels_of_given_names(a: str, b: str, level: str) -> None:
    """Given names agree at the level a person would say, from either side."""
    assert LEVELS["given_name"][given_level(a, b)] == LEVELS["given_name"][given_level(b, a)] == level


# --- the model ------------------------------------------------------------------------------------


def test_evidence_adds_up() -> None:
    """The same name and e-mail address are sure; the name alone, or the address of another name, are not."""
    known = person(["Marit Solvang"], ["marit@post.example"], [], [HOME])
    both = SHIPPED.match(person(["SOLVANG Marit"], ["marit@post.example"]), known)
    name = SHIPPED.match(person(["Marit Solvang"]), known)
    mail = SHIPPED.match(person(["Teun Duinhoven"], ["marit@post.example"]), known)
    assert both > SURE_BITS > name > 0 > mail
    assert probability(0) == 0.5 and probability(SURE_BITS) == pytest.approx(0.99)


def test_the_likeliest_of_several_values_counts() -> None:
    """Of several names and addresses the best pair counts, each taken whole: never one's street with another's town."""
    known = person(["Marit Solvang", "Marit Berg"], [], [], [HOME, "Quay Road 9, 99992 Fenwater"])
    one = person(["Marit Solvang"], [], [], [HOME])
    assert SHIPPED.match(person(["Marit Berg"], [], [], [HOME]), known) == SHIPPED.match(one, one)
    mixed = person(["Marit Solvang"], [], [], ["Mill Lane 4, 99992 Fenwater"])
    assert SHIPPED.match(mixed, known) < SHIPPED.match(one, known)


def test_learning_needs_pairs_to_change_much() -> None:
    """Without pairs the model stays; with few it stays near; it never forgets that a level is possible."""
    vector = SHIPPED.compare(person(["Marit Solvang"]), person(["Marit Solvang"]))
    assert learned(SHIPPED, [], 500) is SHIPPED
    little = learned(SHIPPED, [vector] * 3, 500)
    assert little.m["given_name"][0] == pytest.approx(SHIPPED.m["given_name"][0], abs=0.01)
    much = learned(SHIPPED, [vector] * 500, 1)
    assert min(much.m["given_name"]) > 0 and sum(much.m["given_name"]) == pytest.approx(1)


def test_keys_are_few_and_find_short_names() -> None:
    """A full profile has 9 to 14 keys; Bill Solvang is looked for under William too."""
    full = person(["William Solvang"], ["w@post.example"], ["+442079460123"], [HOME])
    assert 9 <= len(keys(full)) <= 14
    assert wanted_keys(person(["Bill Solvang"])) & keys(full)


# --- in the records -------------------------------------------------------------------------------


def test_keys_follow_the_facts(store: Store) -> None:
    """Filing, settling and undoing leave exactly the keys that follow from the facts."""
    take(store, MARIT)
    before = bkeys(store)
    assert before
    ref, _ = take(store, another(2, customer_name="Marita Solvang", email_address="marita@post.example"))
    settle(store, SETTINGS, ref, customer="new", who="desk", why="another")
    assert len(bkeys(store)) > len(before)
    undo(store, SETTINGS, store.journal()[-1].id, "desk", "wrong")
    assert bkeys(store) == before


def test_an_older_archive_gets_its_keys(store: Store, tmp_path: Path) -> None:
    """Records made before there were keys get them when they are opened, and keep them in step from then on."""
    take(store, MARIT)
    before = bkeys(store)
    names = [m.name for m in migrations.MIGRATIONS]
    with store.write() as conn:
        for name in ("bkey_fact_insert", "bkey_fact_update", "bkey_fact_delete"):
            conn.execute(sa.text(f"DROP TRIGGER {name}"))
        for table in (schema.bkey, schema.bkey_stale, schema.match_chances):
            table.drop(conn)
        for table in (schema.bkey, schema.bkey_stale):
            table.create(conn)
        conn.execute(sa.delete(schema.migration).where(schema.migration.c.name == "0005 blocking keys"))
    again = Store(store.path)
    assert bkeys(again) == before
    with again.reading() as conn:
        assert sorted(conn.scalars(sa.select(schema.migration.c.name))) == sorted(names)
    take(again, another(2, customer_name="Teun Duinhoven", email_address="teun@post.example"))
    assert len({customer for _, customer in bkeys(again)}) == 2
    again.close()


def test_learned_chances_are_used_and_can_be_undone(store: Store) -> None:
    """What was learned is in force until it is undone; both are lines of the journal."""
    fill(store, [h.customer.values() for h in households(20)])
    for n in range(1, 6):
        take(store, another(n))
    done = learn(store, who="desk", why="many messages now")
    assert done.pairs > 0
    with store.reading() as conn:
        assert current(conn) == done.model != SHIPPED
    undo(store, SETTINGS, done.journal, "desk", "not yet")
    with store.reading() as conn:
        assert current(conn) is SHIPPED


def test_values_on_record_are_compared(store: Store) -> None:
    """A customer is compared by everything filed to them, in folded form."""
    take(store, values(postal_address=HOME, phone_number="020 7946 0123"))
    with store.reading() as conn:
        (found,) = match_index.people(conn, [1]).values()
    expected = person([MARIT[Kind.CUSTOMER_NAME]], [MARIT[Kind.EMAIL_ADDRESS]], ["+442079460123"], [HOME])
    assert found == expected
