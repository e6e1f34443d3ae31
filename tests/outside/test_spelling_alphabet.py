"""The spelling words against the published tables.

Letters: Commission Implementing Regulation (EU) No 923/2012, SERA.14020, table S14-2 (the words of ICAO Annex 10,
volume II, 5.2.1.3, and of the ITU Radio Regulations, appendix 14). Digits: the pronunciation of ICAO Annex 10, volume
II, 5.2.1.4.3, hyphens and capitals for stress from memory.
"""

from __future__ import annotations

from counterfoil.answers.aloud import WORDS, spelled

# fmt: off
TABLE_S14_2 = {
    "A": "Alfa", "B": "Bravo", "C": "Charlie", "D": "Delta", "E": "Echo", "F": "Foxtrot", "G": "Golf", "H": "Hotel",
    "I": "India", "J": "Juliett", "K": "Kilo", "L": "Lima", "M": "Mike", "N": "November", "O": "Oscar", "P": "Papa",
    "Q": "Quebec", "R": "Romeo", "S": "Sierra", "T": "Tango", "U": "Uniform", "V": "Victor", "W": "Whiskey",
    "X": "X-ray", "Y": "Yankee", "Z": "Zulu",
}
ANNEX_10_DIGITS = {
    "0": "ZE-RO", "1": "WUN", "2": "TOO", "3": "TREE", "4": "FOW-er", "5": "FIFE", "6": "SIX", "7": "SEV-en",
    "8": "AIT", "9": "NIN-er",
}
# fmt: on


def test_every_word_is_that_of_the_table() -> None:
    """All 26 letters and 10 digits have the published word, and nothing else has one."""
    assert WORDS == TABLE_S14_2 | ANNEX_10_DIGITS


def test_the_words_spell_the_alphabet() -> None:
    """Spelled out, the alphabet gives the table in its order."""
    assert spelled("ABCDEFGHIJKLMNOPQRSTUVWXYZ").split() == list(TABLE_S14_2.values())
