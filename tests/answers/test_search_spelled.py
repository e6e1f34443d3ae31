"""Codes spelled in words."""

from __future__ import annotations

import pytest

from counterfoil.answers.aloud import WORDS
from counterfoil.answers.search_spelled import spelled


def signs(text: str) -> list[str]:
    """Return what the stretches of a text spell."""
    return [run.normal for run in spelled(text.split())]


def test_the_whole_alphabet() -> None:
    """Every word of the ITU and ICAO alphabet gives its letter, every ICAO digit its digit."""
    for sign, word in WORDS.items():
        assert signs(f"{word} {word} {word.upper()}") == [3 * sign]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("kilo x-ray four foxtrot", ["KX4F"]),
        ("Kilo X ray FOW-er foxtrot", ["KX4F"]),
        ("alpha juliet whisky niner", ["AJW9"]),
        ("kilo 4 t papa", ["K4TP"]),
        ("seven double quebec triple zero", ["7QQ000"]),
        ("mike dash november 22 hyphen oscar", ["MN22O"]),
        ("sieben vier zwo acht", ["7428"]),
        ("trois cinq sept huit", ["3578"]),
        ("number is sierra papa two bravo thanks", ["SP2B"]),
        ("lima one and then golf hotel", ["L1", "GH"]),
        ("Charlie called", []),
        ("one machine", []),
        ("", []),
        ("double", []),
        ("- -- kilo", []),
    ],
)
def test_what_is_spelled(text: str, wanted: list[str]) -> None:
    """Words of the alphabet and names of digits give their signs; one such word alone is a word."""
    assert signs(text) == wanted


def test_where_it_stands() -> None:
    """The words that spell are told, and no others."""
    (run,) = spelled(["it", "ends", "in", "seven", "quebec", "fower", "kilo", "please"])
    assert (run.normal, run.start, run.end) == ("7Q4K", 3, 7)
