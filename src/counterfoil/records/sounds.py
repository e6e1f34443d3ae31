"""How names sound, in several languages, and the keys under which a name typed by ear or with a slip is found.

Three codes stand beside each other, since no one of them hears all languages: the Cologne phonetics for German and its
neighbours (H. J. Postel: "Die Kölner Phonetik. Ein Verfahren zur Identifizierung von Personennamen auf der Grundlage
der Gestaltanalyse", IBM-Nachrichten 19, 1969, pages 925-931); Metaphone for English (L. Philips: "Hanging on the
Metaphone", Computer Language 7(12), 1990; by the library jellyfish); and an own code for Spanish, Italian and French,
made of spelling rules that every primer of these languages has (v is b, z and soft c are s, ch before e and i is k).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

from jellyfish import metaphone

from counterfoil.records.linkage import parts

#: Shorter parts of names sound like too much.
SHORTEST_HEARD = 3
#: Parts of a name that get keys; more are rare.
_PARTS = 6
_VOWELS = "aeijouy"
_PLAIN = {"b": "1", "f": "3", "v": "3", "w": "3", "g": "4", "k": "4", "q": "4", "l": "5", "m": "6", "n": "6", "r": "7",
          "s": "8", "z": "8"}  # fmt: skip
_NOT_LETTER = re.compile("[^a-z]")
_DOUBLED = re.compile(r"(.)\1+")
_RULES = tuple(
    (re.compile(pattern), with_)
    for pattern, with_ in (
        ("ph", "f"),
        ("ch(?=[ei])", "k"),
        ("ch", "s"),
        ("gh|gu(?=[ei])", "G"),
        ("qu|q|ck", "k"),
        ("gn", "n"),
        ("ll|ill", "y"),
        ("^x|g(?=[ei])|j", "X"),
        ("c(?=[eiy])|z|x", "s"),
        ("c", "k"),
        ("[vw]", "b"),
        ("[aeiouyh]", ""),
    )
)


@lru_cache(maxsize=65536)
def cologne(word: str) -> str:
    """Return the Cologne phonetics of a folded word: digits, empty for a word without sounding letters."""
    letters = _NOT_LETTER.sub("", word)
    codes = "".join(_digits(letters))
    squeezed = _DOUBLED.sub(r"\1", codes)
    return squeezed[:1] + squeezed[1:].replace("0", "")


def _digits(letters: str) -> Iterator[str]:
    """Yield the code of each letter by Postel's table; vowels give 0, H gives none."""
    for at, letter in enumerate(letters):
        before, after = letters[at - 1 : at], letters[at + 1 : at + 2]
        if letter in _VOWELS:
            yield "0"
        elif letter == "p":
            yield "3" if after == "h" else "1"
        elif letter in "dt":
            yield "8" if after and after in "csz" else "2"
        elif letter == "x":
            yield "8" if before and before in "ckq" else "48"
        elif letter == "c":
            hard = "ahkloqrux" if at == 0 else "ahkoqux"
            yield "4" if after and after in hard and not (before and before in "sz") else "8"
        elif letter != "h":
            yield _PLAIN[letter]


@lru_cache(maxsize=65536)
def romance(word: str) -> str:
    """Return a folded word by the spelling rules of Spanish, Italian and French: consonants only, first letter told."""
    heard = _NOT_LETTER.sub("", word)
    opening = "a" if heard[:1] in tuple("aeiouyh") else ""
    for rule, with_ in _RULES:
        heard = rule.sub(with_, heard)
    return opening + _DOUBLED.sub(r"\1", heard)


@lru_cache(maxsize=65536)
def heard_as(part: str) -> tuple[str, ...]:
    """Return how a folded part of a name sounds: one key for each code, none for a very short part."""
    if len(part) < SHORTEST_HEARD:
        return ()
    codes = (("k", cologne(part)), ("m", metaphone(part).replace(" ", "")), ("r", romance(part)))
    return tuple(f"{name}:{code}:" for name, code in codes if len(code) > 1)


def turned_key(part: str) -> str:
    """Return the key under which a part of a name is found by its end."""
    return f"z:{part[::-1]}"


def search_keys(name: str) -> set[str]:
    """Return the keys under which a search finds a name by ear, and by the end of each part.

    Each ends in the part itself, so that the parts of all names that sound so are read off the keys.
    """
    keys: set[str] = set()
    for part in parts(name)[:_PARTS]:
        keys.update(key + part for key in heard_as(part))
        keys.add(turned_key(part))
    return keys
