"""Reading codes aloud and by eye: groups of the printed form, look-alike characters, the spelling words.

Source of the words: the spelling alphabet shared by the ITU Radio Regulations (appendix 14) and ICAO Annex 10,
volume II, chapter 5; digits as ICAO gives their pronunciation.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

# fmt: off
_LETTERS = (
    "Alfa", "Bravo", "Charlie", "Delta", "Echo", "Foxtrot", "Golf", "Hotel", "India", "Juliett", "Kilo", "Lima", "Mike",
    "November", "Oscar", "Papa", "Quebec", "Romeo", "Sierra", "Tango", "Uniform", "Victor", "Whiskey", "X-ray",
    "Yankee", "Zulu",
)
_DIGITS = ("ZE-RO", "WUN", "TOO", "TREE", "FOW-er", "FIFE", "SIX", "SEV-en", "AIT", "NIN-er")
_NAMES = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
# fmt: on

#: The word for each letter A to Z and digit 0 to 9.
WORDS = {word[0]: word for word in _LETTERS} | {str(digit): word for digit, word in enumerate(_DIGITS)}

#: Sets of characters that are taken for each other when a code is read by eye.
LOOK_ALIKES = ("0O", "1IL", "2Z", "5S", "8B", "6G", "UV")

_ALIKE = {character: group for group in LOOK_ALIKES for character in group}
#: The plain name of each digit.
DIGIT_NAMES = {str(digit): name for digit, name in enumerate(_NAMES)}
_GROUPS = re.compile(r"[^\W_]+", re.UNICODE)


@dataclass(frozen=True, slots=True)
class Lookalike:
    """A character of a code that can be taken for another.

    ``position`` counts the letters and digits of the code from 1; ``sentence`` says what it is and is not.
    """

    position: int
    character: str
    sentence: str


def groups(code: str) -> tuple[str, ...]:
    """Split a code into the groups of its printed form, at every separator.

    Args:
        code: the code as written.
    """
    return tuple(_GROUPS.findall(code))


def is_lookalike(character: str) -> bool:
    """Tell whether a character can be taken for another."""
    return character.upper() in _ALIKE


def describe(character: str) -> str:
    """Name one letter or digit so that it cannot be mistaken, for example ``0 is the digit zero, not the letter O``."""
    upper = character.upper()
    others = [other for other in _ALIKE.get(upper, "") if other != upper]
    text = f"{character} is {_named(upper)}"
    return text + (", not " + " or ".join(_named(other, short=True) for other in others) if others else "")


def lookalikes(code: str) -> tuple[Lookalike, ...]:
    """Return the characters of a code that can be taken for others, in their order.

    Args:
        code: the code as written or normal; a masked code gives only what can be seen of it.
    """
    seen = [c for c in code if c.isalnum() or c == "•"]
    return tuple(Lookalike(at, c, describe(c)) for at, c in enumerate(seen, start=1) if is_lookalike(c))


def named_lookalikes(code: str) -> str:
    """Say of each look-alike character in a code whether it is a digit or a letter, and which.

    Args:
        code: the code as written; of a masked one only what can be seen is named.

    Returns:
        For example ``digits 0 zero, 1 one; letters B Bravo``; empty where there is none.
    """
    found = sorted({alike.character.upper() for alike in lookalikes(code)})
    digits = ", ".join(f"{c} {DIGIT_NAMES[c]}" for c in found if c.isdigit())
    letters = ", ".join(f"{c} {WORDS[c]}" for c in found if not c.isdigit())
    return "; ".join(part for part in (digits and f"digits {digits}", letters and f"letters {letters}") if part)


def spelled(code: str) -> str:
    """Spell a code by the ITU/ICAO words, groups set apart by a stroke.

    Args:
        code: the code as written.

    Returns:
        For example ``Kilo SEV-en / Alfa ZE-RO``; characters without a word stand for themselves.
    """
    return " / ".join(" ".join(WORDS.get(c.upper(), c) for c in group) for group in groups(code))


def _named(character: str, *, short: bool = False) -> str:
    if character in DIGIT_NAMES:
        return f"the digit {DIGIT_NAMES[character]}" if not short else f"the digit {character}"
    return f"the letter {WORDS.get(character, character)}" if not short else f"the letter {character}"
