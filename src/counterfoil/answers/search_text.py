"""What somebody typed into the one box, taken apart: references, addresses, telephone numbers, codes, words.

A piece of text can be several things at once (seven digits may be a telephone number or a machine ID); the records
decide which of them it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from counterfoil.patterns.normal import normal_code, normal_email, normal_phone

#: Longer input is cut: nobody types it, and the number of look-ups must stay bounded.
TEXT_CHARS = 300
#: Characters from which the end of a code is looked up, and wrong characters are forgiven.
ENDING_CHARS, NEAR_CHARS = 4, 6
#: Digits of the shortest telephone number worth a look-up.
PHONE_DIGITS = 7
#: Words among which codes are looked for, the longest code, and the longest group of letters inside one.
CODE_TOKENS, CODE_CHARS, GROUP_LETTERS = 10, 40, 6

_REFERENCE = re.compile(r"[CMEcme][1-9][0-9]{0,8}")
_EMAIL = re.compile(r"[^\s<>(),;:\"]+@[^\s<>(),;:\"]+")
_PHONE = re.compile(r"(?<![\w])[+(]?\d[\d\s()./\-\u2010-\u2015\u00a0]{5,25}\d(?![\w])")
_QUERY_LANGUAGE = re.compile(
    r"(?:^|\s)(?:(?:subject|sender|body|maker|model|lang|date):|NOT\s)|\s(?:AND|OR|NOT|ANDNOT)\s|\"[^\"]+\"|\w\*(?:\s|\)|$)"
)
#: Brackets, quotes and commas around a word are not part of it.
_EDGES = "\"'“”‘’«»()[]{}<>,;:!?…"


@dataclass(frozen=True, slots=True)
class Code:
    """A stretch of the text that may be a code: as typed, in normal form, and the words it takes up."""

    typed: str
    normal: str
    start: int
    end: int

    @property
    def letters_only(self) -> bool:
        """True where it may as well be a word."""
        return self.normal.isalpha()


@dataclass(frozen=True, slots=True)
class Typed:
    """The text taken apart; ``words`` is what is left without references, addresses and telephone numbers."""

    text: str
    query_language: bool
    references: tuple[str, ...]
    emails: tuple[str, ...]
    phones: tuple[tuple[str, str], ...]
    """As typed, and in E.164 form."""
    words: tuple[str, ...]
    codes: tuple[Code, ...]
    """Longest first; they may overlap one another and a telephone number."""


def take_apart(text: str, region: str, exists: Callable[[str], bool]) -> Typed:
    """Take apart what somebody typed.

    Args:
        text: as typed.
        region: ISO 3166-1 code for telephone numbers without a country code.
        exists: tells whether a reference has a record; one that has none may be a model, or the end of a code.
    """
    text = " ".join(text[:TEXT_CHARS].split())
    if _QUERY_LANGUAGE.search(text):
        return Typed(text, True, (), (), (), tuple(text.split()), ())
    rest = text
    emails = []
    for match in _EMAIL.finditer(text):
        address = normal_email(match.group())
        if address is not None:
            emails.append(address)
            rest = rest.replace(match.group(), " ", 1)
    phones = []
    for match in _PHONE.finditer(rest):
        number = normal_phone(match.group(), region) if _digits(match.group()) >= PHONE_DIGITS else None
        if number is not None:
            phones.append((match.group().strip(), number))
    bare = [word.strip(_EDGES) for word in rest.split()]
    references = {w: w.upper() for w in bare if _REFERENCE.fullmatch(w) and exists(w.upper())}
    words = tuple(word for word in bare if word and word not in references)
    return Typed(
        text, False, tuple(dict.fromkeys(references.values())), tuple(emails), tuple(phones), words, _codes(words)
    )


def _digits(text: str) -> int:
    return sum(character.isdigit() for character in text)


def _codes(words: tuple[str, ...]) -> tuple[Code, ...]:
    """Return the stretches of words that may be a code, longest first.

    A code has a digit; or is letters throughout, in capitals, as codes are printed; groups of it may stand apart,
    those of a few letters in small letters too.
    """
    pieces = [_may_be_code(word) for word in words[:CODE_TOKENS]]
    found = []
    for start in range(len(pieces)):
        for end in range(start + 1, len(pieces) + 1):
            if not pieces[end - 1]:
                break
            if end - start == 1 and words[start].isalpha() and words[start] != words[start].upper():
                continue
            typed = " ".join(words[start:end])
            normal = normal_code(typed)
            if ENDING_CHARS <= len(normal) <= CODE_CHARS and (end - start == 1 or any(c.isdigit() for c in normal)):
                found.append(Code(typed, normal, start, end))
    if len(words) == 1 and not found and len(normal_code(words[0])) >= ENDING_CHARS and words[0].isascii():
        # The last characters of a code, typed in small letters.
        found.append(Code(words[0], normal_code(words[0]), 0, 1))
    return tuple(sorted(found, key=lambda code: (-(code.end - code.start), -len(code.normal), code.start)))


def _may_be_code(word: str) -> bool:
    normal = normal_code(word)
    return bool(normal) and (any(c.isdigit() for c in normal) or word == word.upper() or len(word) <= GROUP_LETTERS)
