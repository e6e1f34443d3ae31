"""How names sound."""

from __future__ import annotations

import cologne_phonetics
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.patterns.names import fold_name
from counterfoil.records.sounds import cologne, heard_as, romance, search_keys


@pytest.mark.parametrize(
    ("name", "code"),
    [("Müller-Lüdenscheidt", "65752682"), ("Wikipedia", "3412"), ("Breschnew", "17863"), ("Meyer", "67"), ("", "")],
)
def test_cologne_phonetics(name: str, code: str) -> None:
    """Worked examples of Postel's table, as they are commonly given for the Cologne phonetics (from memory)."""
    assert cologne("".join(fold_name(name))) == code


@settings(max_examples=400, deadline=None, derandomize=True)
@given(st.text("abcdefghijklmnopqrstuvwxyz", max_size=12))
def test_cologne_phonetics_of_anything(word: str) -> None:
    """For any letters the code is that of the package cologne-phonetics, an implementation of the same table."""
    theirs = cologne_phonetics.encode(word)
    assert cologne(word) == (theirs[0][1] if theirs else "")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Vázquez", "Basques"),
        ("Giménez", "Ximenes"),
        ("Jiménez", "Gimenez"),
        ("Costilla", "Costiya"),
        ("Schiavone", "Skiavone"),
        ("Chiara", "Kiara"),
        ("Beaulieu", "Bolieu"),
        ("Hernández", "Ernandes"),
        ("Quintana", "Kintana"),
    ],
)
def test_spanish_italian_and_french(one: str, other: str) -> None:
    """Spellings that these languages read alike have one code; common practice, no source."""
    assert romance("".join(fold_name(one))) == romance("".join(fold_name(other))) != ""


def test_other_names_sound_otherwise() -> None:
    """Names that differ in a consonant heard have different codes."""
    for one, other in (("garnhofer", "garnhober"), ("tollivar", "tollimar"), ("meier", "weier")):
        assert set(heard_as(one)).isdisjoint(heard_as(other))


def test_keys_hold_the_part_they_are_of() -> None:
    """Every key ends in the part it is of, or in it from its end on; short parts have no sound."""
    keys = search_keys("Jo Knightley")
    assert "m:NTL:knightley" in keys and "z:yelthgink" in keys and "z:oj" in keys
    assert all(key.endswith(("knightley", "yelthgink", "oj")) for key in keys)
    assert heard_as("jo") == ()
