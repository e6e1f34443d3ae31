"""Codes by eye and by ear.

Source of the spelling words: ITU Radio Regulations, appendix 14, and ICAO Annex 10, volume II, chapter 5.
"""

from __future__ import annotations

import string

from counterfoil.answers import aloud


def test_every_letter_and_digit_has_its_word() -> None:
    """All 36 characters have a word; letters' words start with their letter, as in the published table."""
    assert set(aloud.WORDS) == set(string.ascii_uppercase + string.digits)
    assert all(aloud.WORDS[letter].startswith(letter) for letter in string.ascii_uppercase)
    for character, word in {
        "A": "Alfa",
        "J": "Juliett",
        "X": "X-ray",
        "0": "ZE-RO",
        "4": "FOW-er",
        "9": "NIN-er",
    }.items():
        assert aloud.WORDS[character] == word


def test_codes_are_spelled_in_their_groups() -> None:
    """A code is spelled group by group, in whatever case it is written."""
    assert aloud.spelled("k7-a0") == "Kilo SEV-en / Alfa ZE-RO"
    assert aloud.groups("AB12-CD34 EF/56.78") == ("AB12", "CD34", "EF", "56", "78")


def test_look_alikes_are_called_out_with_their_place() -> None:
    """Each character that can be taken for another is named with what it is not."""
    found = aloud.lookalikes("A0-I7-UX")
    assert [(alike.position, alike.character) for alike in found] == [(2, "0"), (3, "I"), (5, "U")]
    assert found[0].sentence == "0 is the digit zero, not the letter O"
    assert found[1].sentence == "I is the letter India, not the digit 1 or the letter L"
    assert found[2].sentence == "U is the letter Uniform, not the letter V"


def test_all_pairs_asked_for_are_look_alikes() -> None:
    """Both sides of each confusable pair are called out, and characters without a double are not."""
    assert all(aloud.is_lookalike(c) for c in "0O1ILl2Z5S8B6GUV")
    assert not any(aloud.is_lookalike(c) for c in "379ACDEFHJKMNPQRTWXY")


def test_look_alikes_are_named_once_digits_first() -> None:
    """The line under a code names every look-alike character once, digits apart from letters."""
    assert aloud.named_lookalikes("B0-0i1") == "digits 0 zero, 1 one; letters B Bravo, I India"
    assert aloud.named_lookalikes("A3-7K") == ""


def test_hidden_characters_keep_the_count() -> None:
    """In a masked code the positions are those of the whole code."""
    assert [(a.position, a.character) for a in aloud.lookalikes("••••-••••-1A34")] == [(9, "1")]
