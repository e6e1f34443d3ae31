"""Relatives: the same family name, address, telephone and e-mail address, another person. None may be filed wrongly."""

from __future__ import annotations

from pathlib import Path

import pytest
from records_world import SETTINGS, another, codes, reading, take, values

from counterfoil.model import Kind, Standing
from counterfoil.records.store import Store

#: Pairs who live together and share everything but the given name.
HOUSEHOLDS = [
    ("Jan Berg", "Jana Berg"),
    ("Martin Falk", "Martina Falk"),
    ("Francis Doyle", "Frances Doyle"),
    ("Karin Holm", "Katrin Holm"),
    ("Maria Conti", "Mario Conti"),
    ("Christine Vogel", "Christina Vogel"),
    ("Andrea Greco", "Andreas Greco"),
    ("Ola Solvang", "Marit Solvang"),
    ("Anna Maria Kurz", "Maria Kurz"),
    ("Jan Peter Roos", "Jan Paul Roos"),
    ("Erik Lund", "Erika Lund"),
    ("Simone Petit", "Simon Petit"),
    ("Marta Nowak", "Martha Nowak"),
    ("Julian Faber", "Juliane Faber"),
    ("Hanna Ek", "Hannah Ek"),
]


@pytest.mark.parametrize("turned", [False, True])
def test_no_relative_is_filed_to_another(tmp_path: Path, turned: bool) -> None:
    """Of two in a household the second is never filed to the first: by address, telephone, machine or e-mail address.

    Five messages a household: with all contacts shared, with the e-mail address alone, with the telephone alone, with
    the postal address alone, and for the machine the first one holds.
    """
    store = Store(tmp_path / "records.db", create=True)
    wrong, asked = 0, 0
    for number, pair in enumerate(HOUSEHOLDS, 1):
        first, second = reversed(pair) if turned else pair
        shared = {
            "email_address": f"family{number}@post.example",
            "phone_number": f"020 7946 0{number:03}",
            "postal_address": f"{number} Mill Lane, Oxbow",
        }
        mine = another(number * 10, customer_name=first, **shared)
        _, decision = take(store, mine)
        assert decision.standing is Standing.FILED, (first, decision)
        variants = [shared, *({k: v} for k, v in shared.items())]
        blank = dict.fromkeys(shared)
        for step, kept in enumerate(variants, 1):
            theirs = another(number * 10 + step, customer_name=second, **(blank | kept))
            _, second_decision = take(store, theirs)
            wrong += second_decision.customer == decision.customer
            asked += codes(second_decision) == ["customer_unclear"]
        upgrade = another(number * 10 + 9)
        codes_only = {k: upgrade[k] for k in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)}
        _, on_machine = take(store, mine | {Kind.CUSTOMER_NAME: second} | codes_only)
        wrong += on_machine.customer == decision.customer
        asked += codes(on_machine) == ["holder_unclear"]
    assert wrong == 0
    assert asked == 5 * len(HOUSEHOLDS)
    store.close()


def test_relatives_known_both_are_told_apart(tmp_path: Path) -> None:
    """Once both are known, each one's messages go to the right one, though they share the e-mail address."""
    from counterfoil.records.settling import settle

    store = Store(tmp_path / "records.db", create=True)
    for number, (first, second) in enumerate(HOUSEHOLDS, 1):
        mail = f"family{number}@post.example"
        _, one = take(store, another(number * 10, customer_name=first, email_address=mail))
        ref, _ = take(store, another(number * 10 + 1, customer_name=second, email_address=mail))
        two = settle(store, SETTINGS, ref, customer="new", who="desk", why="known in the shop")
        for step, (name, owner) in enumerate(((first, one.customer), (second, two.customer)), 2):
            _, later = take(store, another(number * 10 + step, customer_name=name, email_address=mail))
            assert (later.standing, later.customer) == (Standing.FILED, owner), name
    store.close()


def test_neighbours_without_a_shared_name_are_strangers(tmp_path: Path) -> None:
    """Two of different names at one postal address, a block of flats, are two new customers without a question."""
    store = Store(tmp_path / "records.db", create=True)
    take(store, values(postal_address="4 Mill Lane, Oxbow"))
    found = another(
        2, customer_name="Teun Duinhoven", email_address="t@post.example", postal_address="4 Mill Lane, Oxbow"
    )
    _, decision = take(store, reading(found))
    assert (decision.standing, decision.customer) == (Standing.FILED, "C2")
    store.close()
