"""What somebody typed into the one box, taken apart: references, addresses, telephone numbers, codes, days, words.

A piece of text can be several things at once (seven digits may be a telephone number or a machine ID); the records
decide which of them it is.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass

from counterfoil.answers.search_dates import Period, periods
from counterfoil.answers.search_spelled import spelled
from counterfoil.patterns.normal import normal_code, normal_email, normal_phone

#: Longer input is cut: nobody types it, and the number of look-ups must stay bounded.
TEXT_CHARS = 500
#: Characters from which the end of a code is looked up, and wrong characters are forgiven.
ENDING_CHARS, NEAR_CHARS = 4, 6
#: Digits of the shortest telephone number worth a look-up, and of the shortest end of one.
PHONE_DIGITS, PHONE_ENDING = 7, 6
#: Words among which codes are looked for, the most words and characters of one, and its longest group of letters.
CODE_TOKENS, CODE_WORDS, CODE_CHARS, GROUP_LETTERS = 40, 10, 40, 6
#: Characters of the shortest piece of an e-mail address worth a look-up.
EMAIL_PIECE = 4

_REFERENCE = re.compile(r"[CMEcme][1-9][0-9]{0,8}")
_EMAIL = re.compile(r"[^\s<>(),;:\"]+@[^\s<>(),;:\"]+")
#: An address as it is read out, or written so that no program finds it.
_SPOKEN_AT = re.compile(
    r"(?<=\S)\s*[(\[]\s?at\s?[)\]]\s*(?=\S)|(?<=\S)\s+(?:at|ät|arroba|arobase|chiocciola)\s+(?=\S)", re.I
)
_SPOKEN_DOT = re.compile(r"\s*[(\[]\s?dot\s?[)\]]\s*|\s+(?:dot|punkt|punto|point|punt)\s+", re.I)
#: A piece of an address: something around an at sign, or words joined by dots as in a domain.
_EMAIL_PIECE = re.compile(r"[\w.+\-]*@[\w.\-]*|[^\W\d_][\w\-]*(?:\.[\w\-]+)+")
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
    spoken: bool = False
    """True where it was given in words that spell it."""

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
    periods: tuple[Period, ...] = ()
    email_pieces: tuple[tuple[str, int], ...] = ()
    """Pieces of e-mail addresses in lower case, each with the place of its word."""

    @property
    def only_quoted(self) -> bool:
        """True where quotes are all that makes it a query."""
        return not _QUERY_LANGUAGE.search(self.text.replace('"', ""))

    @property
    def may_be_phones(self) -> tuple[tuple[str, tuple[int, int]], ...]:
        """Return the digits of what may be the end of a telephone number, with the words they take up."""
        numbers = {(c.start, c.end): c.normal for c in self.codes if c.normal.isdigit()}
        return tuple((digits, place) for place, digits in numbers.items() if len(digits) >= PHONE_ENDING)


def take_apart(text: str, region: str, exists: Callable[[str], bool]) -> Typed:
    """Take apart what somebody typed.

    Args:
        text: as typed.
        region: ISO 3166-1 code for telephone numbers without a country code.
        exists: tells whether a reference has a record; one that has none may be a model, or the end of a code.
    """
    text = " ".join(_printable(text[: 4 * TEXT_CHARS])[:TEXT_CHARS].split())
    if _QUERY_LANGUAGE.search(text):
        return Typed(text, True, (), (), (), tuple(text.split()), ())
    rest, emails = _addresses(text)
    phones = []
    for match in _PHONE.finditer(rest):
        number = normal_phone(match.group(), region) if _digits(match.group()) >= PHONE_DIGITS else None
        if number is not None:
            phones.append((match.group().strip(), number))
    bare = [word.strip(_EDGES) for word in rest.split()]
    references = {w: w.upper() for w in bare if _REFERENCE.fullmatch(w) and exists(w.upper())}
    words = tuple(word for word in bare if word and word not in references)
    said = spelled(words)
    for run in said:
        number = normal_phone(run.normal, region) if run.normal.isdigit() and len(run.normal) >= PHONE_DIGITS else None
        if number is not None:
            phones.append((" ".join(words[run.start : run.end]), number))
    codes = [Code(" ".join(words[r.start : r.end]), r.normal, r.start, r.end, True) for r in said]
    codes = [code for code in codes if ENDING_CHARS <= len(code.normal) <= CODE_CHARS]
    return Typed(
        text,
        False,
        tuple(dict.fromkeys(references.values())),
        emails,
        tuple(phones),
        words,
        (*codes, *_codes(words)),
        tuple(periods(words)),
        _email_pieces(words),
    )


def plainly(typed: Typed) -> str:
    """Return a text that was taken as a query, without the signs and field names that made it one."""
    text = re.sub(r"\b(?:subject|sender|body|maker|model|lang|date):", " ", typed.text)
    return " ".join(re.sub(r"[\"*()\[\]]", " ", re.sub(r"\b(?:AND|OR|NOT|ANDNOT|TO)\b", " ", text)).split())


def _printable(text: str) -> str:
    """Return a text in NFKC, control and invisible characters made spaces; half of a surrogate pair is one of them."""
    plain = "".join(" " if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co", "Cn") else c for c in text)
    return unicodedata.normalize("NFKC", plain)


def _addresses(text: str) -> tuple[str, tuple[str, ...]]:
    """Return a text without its e-mail addresses, and these in normal form; read out ones too."""
    emails = []
    if "@" not in text and _SPOKEN_AT.search(text):
        told = _SPOKEN_DOT.sub(".", _SPOKEN_AT.sub("@", text, count=1))
        # Only a word in front and a domain behind make it one: "a code at the shop" is none.
        if re.search(r"[\w.+\-]@[\w\-]+\.[\w.\-]+(?:\s|$)", told):
            text = told
    rest = text
    for match in _EMAIL.finditer(text):
        address = normal_email(match.group())
        if address is not None:
            emails.append(address)
            rest = rest.replace(match.group(), " ", 1)
    return rest, tuple(dict.fromkeys(emails))


def _email_pieces(words: tuple[str, ...]) -> tuple[tuple[str, int], ...]:
    found = []
    for place, word in enumerate(words):
        piece = word.lower().strip(".")
        if len(piece.strip("@")) >= EMAIL_PIECE and _EMAIL_PIECE.fullmatch(piece):
            found.append((piece, place))
    return tuple(found)


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
        for end in range(start + 1, min(len(pieces), start + CODE_WORDS) + 1):
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
