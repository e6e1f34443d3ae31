"""Ids of records, a letter and a number: message E5, customer C12, machine M7, journal entry J9, rule R1."""

from __future__ import annotations

import re

from counterfoil.errors import RecordUnknown

MESSAGE, CUSTOMER, MACHINE, JOURNAL, RULE = "E", "C", "M", "J", "R"
NOUNS = {MESSAGE: "message", CUSTOMER: "customer", MACHINE: "machine", JOURNAL: "journal entry", RULE: "rule"}
#: Where to look for what the search does not find.
_WHERE = {JOURNAL: "Look for it with `counterfoil journal`.", RULE: "List them with `counterfoil triage rules`."}
#: SQLite's and PostgreSQL's largest integer has 19 digits; longer numbers are no id of ours.
_REF = re.compile(r"([A-Za-z])([1-9][0-9]{0,17})\Z")


def ref(letter: str, number: int | None) -> str | None:
    """Return the id of a record's number, None for None."""
    return None if number is None else f"{letter}{number}"


def number(letter: str, text: str) -> int:
    """Return the number in an id.

    Args:
        letter: which kind of record is wanted.
        text: the id as typed, upper or lower case.

    Raises:
        RecordUnknown: ``text`` is not an id of that kind.
    """
    found = _REF.match(text.strip())
    if found is None or found[1].upper() != letter:
        look = _WHERE.get(letter, f"The id of a {NOUNS[letter]} looks like {letter}5; `counterfoil search` finds it.")
        raise RecordUnknown(f"{text!r} is not the id of a {NOUNS[letter]}.", look)
    return int(found[2])


def subject(text: str) -> str:
    """Return what a journal line is about as it is written there: an id in upper case, a word as it stands."""
    return text.strip().upper() if _REF.match(text.strip()) else text.strip()


def unknown(letter: str, text: str) -> RecordUnknown:
    """Return the error for an id that no record has."""
    look = _WHERE.get(letter)
    return RecordUnknown(f"There is no {NOUNS[letter]} {text.strip().upper()}.", look)
