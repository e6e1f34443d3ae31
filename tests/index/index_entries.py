"""Entries for the tests of the index, made up and the same in every run."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta

from counterfoil.model import IndexEntry

_SYLLABLES = ["ba", "del", "ka", "mi", "nor", "pes", "ra", "sol", "tu", "vin", "wel", "zor"]
NAMES = ("Marit Solvang", "Ilse Brückwald", "Odile Chantrelle", "Teun Duinhoven", "Jörg Ærøskov")


def vocabulary(size: int = 800) -> list[str]:
    """Return made-up words, no two the same."""
    source = random.Random(11)
    found: dict[str, None] = {}
    while len(found) < size:
        found["".join(source.choices(_SYLLABLES, k=source.randint(1, 4)))] = None
    return list(found)


def entry(number: int, words: str = "", **changes: object) -> IndexEntry:
    """Return the entry of message ``number`` with the words as body."""
    plain = IndexEntry(f"E{number}", number, False, "", "", words, date(2026, 1, 1), "", "", "")
    return replace(plain, **changes)  # type: ignore[arg-type]


def entries(count: int, first: int = 1) -> list[IndexEntry]:
    """Return messages whose words are as unevenly spread as those of a language, a code in each."""
    source = random.Random(first)
    known = vocabulary()
    weights = [1 / (rank + 3) for rank in range(len(known))]
    made = []
    for number in range(first, first + count):
        words = source.choices(known, weights, k=source.randint(20, 90))
        name = source.choice(NAMES)
        made.append(
            entry(
                number,
                f"{' '.join(words)} {name} HG-{source.randint(10**5, 10**6)}K ab12cd34",
                subject=f"Fwd: {words[0]} {words[1]}",
                sender=f"{name} someone{number % 7}@post.example",
                received=date(2025, 1, 1) + timedelta(days=number % 500),
                maker=source.choice(("Hartgold", "Nadelwerk")),
                model=source.choice(("Vela 300", "Vela 300 Plus", "NX9000A")),
                language=source.choice(("en", "de", "fr")),
            )
        )
    return made


def fetch_from(made: Sequence[IndexEntry]) -> Callable[[int, int], list[IndexEntry]]:
    """Return what the records offer the index: the entries after a revision, in order, at most so many."""

    def fetch(after: int, limit: int) -> list[IndexEntry]:
        return sorted((e for e in made if e.revision > after), key=lambda e: e.revision)[:limit]

    return fetch
