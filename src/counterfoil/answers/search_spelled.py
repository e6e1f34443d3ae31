"""Codes and numbers as they are said: words of the spelling alphabet, names of digits, "double seven".

The words for letters and digits are those of :mod:`counterfoil.answers.aloud` (ITU and ICAO) with the spellings people
give them; names of digits in the languages of the vocabulary are common knowledge.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from counterfoil.answers.aloud import WORDS

_MORE = {
    "A": "alpha", "J": "juliet juliette", "W": "whisky", "X": "xray",
    "0": "zero oh null nul zéro cero noll", "1": "one eins uno een ett", "2": "two zwei zwo deux twee dos due två",
    "3": "three drei trois drie tres tre", "4": "four vier quatre cuatro quattro fyra",
    "5": "five fünf cinq vijf cinco cinque fem", "6": "six sechs zes seis sei",
    "7": "seven sieben sept zeven siete sette sju",
    "8": "eight acht huit ocho otto åtta", "9": "nine niner neun neuf negen nueve nove nio",
}  # fmt: skip
_TIMES = {"double": 2, "doppel": 2, "dubbel": 2, "doble": 2, "doppio": 2, "triple": 3, "treble": 3}
_BETWEEN = frozenset(("dash", "hyphen", "minus", "stroke", "bindestrich", "tiret", "streepje", "guion", "trattino"))
_NOT_LETTER = re.compile(r"[^a-z0-9]")
#: Spelling words that make a stretch of words a spelled code; groups of characters may stand between them.
_LEAST_SPOKEN = 2
_LONGEST_GROUP = 4


@dataclass(frozen=True, slots=True)
class Spelled:
    """What a stretch of words spells: letters and digits, and the words from ``start`` up to ``end``."""

    normal: str
    start: int
    end: int


def _bare(word: str) -> str:
    plain = unicodedata.normalize("NFKD", word.casefold())
    return _NOT_LETTER.sub("", plain)


def _table() -> dict[str, str]:
    found = {_bare(word): sign for sign, word in WORDS.items()}
    for sign, words in _MORE.items():
        for word in words.split():
            found.setdefault(_bare(word), sign)
    return found


_SIGNS = _table()


def spelled(words: Sequence[str]) -> list[Spelled]:
    """Return the stretches of words that spell something, in their order.

    Args:
        words: as typed; single characters and short groups in between are taken as they are.
    """
    found, start = [], 0
    while start < len(words):
        this = _run(words, start)
        if this is None:
            start += 1
        else:
            found.append(this)
            start = this.end
    return found


def _run(words: Sequence[str], start: int) -> Spelled | None:
    """Return the longest stretch from a word on that spells something, None where it is none."""
    signs, spoken, times, at, end = "", 0, 1, start, start
    while at < len(words):
        word = _bare(words[at])
        if word == "x" and at + 1 < len(words) and _bare(words[at + 1]) == "ray":
            at += 1
            word = "xray"
        if word in _TIMES:
            times, at = _TIMES[word], at + 1
            continue
        if word in _BETWEEN or not word:
            at += 1
            continue
        if word in _SIGNS:
            spoken += 1
            signs += _SIGNS[word] * times
        elif len(word) == 1 or (len(word) <= _LONGEST_GROUP and any(map(str.isdigit, word))):
            signs += word.upper() * times
        else:
            break
        times, at = 1, at + 1
        end = at
    return Spelled(signs, start, end) if spoken >= _LEAST_SPOKEN and len(signs) > spoken // 2 else None
