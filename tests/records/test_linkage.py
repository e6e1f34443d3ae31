"""When two names are the same person's."""

from __future__ import annotations

import pytest

from counterfoil.records.linkage import (
    compared,
    generation,
    names_agree,
    names_near,
    one_person,
    same_name,
    stored_keys,
    wanted_keys,
)

LEAST = 0.92
SAME_PERSON = [
    ("Marit Solvang", "Marit Solvang"),
    ("SOLVANG Marit", "Marit Solvang"),
    ("Solvang, Marit", "marit solvang"),
    ("Ms Marit Solvang", "Marit Solvang"),
    ("Björn Åkesson", "Bjorn Akesson"),
    ("Marit Anne Solvang", "Marit Solvang"),
    ("Katharina Brandt", "Katarina Brandt"),
    ("Johanna Hoffmann", "Johana Hoffmann"),
    ("Marit Solvang", "Marit Sovlang"),
    ("Annelore Shackleford", "Annelore Shackelford"),
]
RELATIVES = [
    ("Jan Berg", "Jana Berg"),
    ("Martin Berg", "Martina Berg"),
    ("Frances Doyle", "Francis Doyle"),
    ("Karin Holm", "Katrin Holm"),
    ("Maria Conti", "Mario Conti"),
    ("Christina Vogel", "Christine Vogel"),
    ("Marta Nowak", "Martha Nowak"),
    ("Daniel Roux", "Daniela Roux"),
    ("Marina Sala", "Mariana Sala"),
    ("Anna Maria Berg", "Maria Berg"),
    ("Jan Peter Berg", "Jan Paul Berg"),
    ("Ola Solvang", "Marit Solvang"),
    ("Erik Lund", "Erika Lund"),
    ("Andrea Greco", "Andreas Greco"),
    ("Julia Faber", "Julian Faber"),
]


@pytest.mark.parametrize(("a", "b"), SAME_PERSON)
def test_the_same_person_agrees(a: str, b: str) -> None:
    """Case, order, accents, titles, a missing middle name and slips of the finger do not part a name from itself."""
    assert names_agree(a, b, LEAST)
    assert names_agree(b, a, LEAST)


@pytest.mark.parametrize(("a", "b"), RELATIVES)
def test_relatives_do_not_agree(a: str, b: str) -> None:
    """Names that relatives bear do not agree, however alike they are written."""
    assert not names_agree(a, b, LEAST)
    assert not names_agree(b, a, LEAST)


@pytest.mark.parametrize(
    "name", ["Solvang", "", "Ola and Marit Solvang", "Ola & Marit Solvang", "Ola Lund / Marit Solvang"]
)
def test_less_or_more_than_one_person_never_agrees(name: str) -> None:
    """A single part, or two people in one name, agrees with nothing, not even with itself."""
    assert not one_person(name)
    assert not names_agree(name, name, LEAST)


@pytest.mark.parametrize(
    ("name", "rest", "which"),
    [
        ("Hans Berg Jr.", "Hans Berg", "younger"),
        ("Smith, John Jr", "Smith, John", "younger"),
        ("Berg jun., Hans", "Berg, Hans", "younger"),
        ("Hans Berg d. J.", "Hans Berg", "younger"),
        ("Jean Roux fils", "Jean Roux", "younger"),
        ("Hans Berg, sen.", "Hans Berg", "elder"),
        ("Hans Berg d.Ä.", "Hans Berg", "elder"),
        ("John Smith III", "John Smith", "third"),
        ("Sr. Juan Garcia", "Sr. Juan Garcia", ""),
        ("Amartya Sen", "Amartya Sen", ""),
        ("Marit Solvang", "Marit Solvang", ""),
    ],
)
def test_elder_and_younger(name: str, rest: str, which: str) -> None:
    """What stands behind a name of father or son is told from the name, and from a form of address before it."""
    assert generation(name) == (rest, which)
    assert names_agree(name, name, LEAST)
    assert names_agree(name, rest, LEAST) == (which == "")
    assert names_near(name, rest, LEAST)


@pytest.mark.parametrize("name", ["Berg & Sohn GmbH", "Berg und Sohn GmbH"])
def test_a_company_is_one(name: str) -> None:
    """A company named after two is one, under its very name only."""
    assert one_person(name) and names_agree(name, name, LEAST)
    assert not names_agree(name, "Berg GmbH", LEAST)


@pytest.mark.parametrize(("a", "b"), [*RELATIVES[:10], ("K. Solvang", "Kari Solvang"), ("Marit", "Marit Solvang")])
def test_near_names_are_shown_to_a_person(a: str, b: str) -> None:
    """Names too alike for a new profile, but not the same, count as near."""
    assert names_near(a, b, LEAST)
    assert names_near(b, a, LEAST)


@pytest.mark.parametrize(("a", "b"), [*SAME_PERSON, *RELATIVES[:12], ("K. Solvang", "Kari Solvang")])
def test_alike_names_share_a_key(a: str, b: str) -> None:
    """Names that agree or are near are found under a shared key, whichever of them is known."""
    if names_near(a, b, LEAST):
        assert wanted_keys(a) & stored_keys(b)
        assert wanted_keys(b) & stored_keys(a)
    else:
        assert not names_agree(a, b, LEAST)


def test_strangers_share_none() -> None:
    """Names with nothing in common share no key."""
    assert not wanted_keys("Marit Solvang") & stored_keys("Teun Duinhoven")


def test_comparison_in_words() -> None:
    """The evidence says in words how two names compare."""
    assert compared("SOLVANG Marit", "Marit Solvang", LEAST) == "same name"
    assert compared("Ola Solvang", "Marit Solvang", LEAST).startswith("shares “solvang”")
    assert compared("Jana Berg", "Jan Berg", LEAST).startswith("name is alike, but not the same")
    assert compared("Teun Duinhoven", "Marit Solvang", LEAST) == "name differs (Marit Solvang)"
    assert same_name("Solvang Marit", "Marit Solvang")
