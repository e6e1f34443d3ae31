"""The words of forward_words.toml: what mail programs write around a forwarded message, by language."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

#: Fields of a header block, and whether a message would say the same without them.
FIELDS = ("from", "date", "to", "cc", "bcc", "subject", "reply_to", "other")


@dataclass(frozen=True, slots=True)
class ForwardWords:
    """``fields`` maps a word before a colon, case folded, to its field; the others are phrases, case folded.

    ``forwarded`` stand between dashes over a forward, ``original`` between dashes over an earlier message,
    ``begin`` on a line of their own, ``by`` begin a line between dashes that goes on with a name.
    """

    fields: dict[str, str]
    forwarded: frozenset[str]
    original: frozenset[str]
    begin: frozenset[str]
    by: tuple[str, ...]
    english: frozenset[str]


@cache
def _tables() -> dict[str, dict[str, list[str] | list[list[str]]]]:
    text = files("counterfoil.documents").joinpath("forward_words.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def forward_words() -> ForwardWords:
    """Return the words of all languages together: a customer's program may speak another one than the customer."""
    fields: dict[str, str] = {}
    phrases: dict[str, set[str]] = {"forwarded": set(), "original": set(), "begin": set(), "by": set()}
    for table in _tables().values():
        for name in FIELDS:
            fields.update((str(word).casefold(), name) for word in table.get(name, ()))
        for name, known in phrases.items():
            known.update(str(phrase).casefold() for phrase in table.get(name, ()))
    english = _tables()["en"]
    return ForwardWords(
        fields,
        frozenset(phrases["forwarded"]),
        frozenset(phrases["original"]),
        frozenset(phrases["begin"]),
        tuple(sorted(phrases["by"])),
        frozenset(str(word).casefold() for name in FIELDS for word in english.get(name, ())),
    )


@cache
def months() -> dict[str, int]:
    """Return the number of a month by its name or its short form, lower case, in every language."""
    found: dict[str, int] = {}
    for table in _tables().values():
        for number, names in enumerate(table.get("months", ()), start=1):
            found.update((str(name).lower(), number) for name in names)
    return found
