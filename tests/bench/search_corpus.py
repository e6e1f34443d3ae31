"""Generated messages for the search bench: seven languages of invented words, inflected by the endings of each.

Deterministic: one seed. The words are as unevenly spread as those of a language (Zipf-Mandelbrot), 60 to 150 a message;
each message has a name, an address, a word that few others have, codes (which the index leaves out) and a day.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import accumulate

from counterfoil.model import IndexEntry

SEED = 20260214
FIRST_DAY = date(2019, 1, 1)
#: Share of messages and endings by language.
ENDINGS: dict[str, tuple[float, tuple[str, ...]]] = {
    "en": (0.40, ("", "s", "ed", "ing")),
    "de": (0.20, ("", "en", "er", "ung", "ungen")),
    "fr": (0.12, ("e", "es", "er", "ée", "ation")),
    "nl": (0.08, ("", "en", "ing", "ingen")),
    "es": (0.08, ("o", "os", "ar", "ación", "aciones")),
    "it": (0.06, ("o", "i", "are", "azione")),
    "sv": (0.06, ("", "en", "ar", "arna")),
}
ALPHABET = "0123456789ABCDEFGHJKLMNPQRSTVWXYZ"


@dataclass(frozen=True, slots=True)
class Words:
    """The invented world: roots with their cumulated weights, words that are rare, names."""

    roots: tuple[str, ...]
    weights: tuple[float, ...]
    rare: tuple[str, ...]
    family: tuple[str, ...]
    given: tuple[str, ...]


def world() -> Words:
    """Return the same words each time."""
    source = random.Random(SEED)
    syllables = [a + b for a in "bdfklmnprstvz" for b in ("a", "e", "i", "o", "u", "an", "el", "or")]

    def coin(low: int, high: int) -> str:
        return "".join(source.choices(syllables, k=source.randint(low, high)))

    roots = tuple(dict.fromkeys(coin(2, 4) + source.choice("bdfkmnprt") for _ in range(6_000)))
    weights = tuple(accumulate(1 / (rank + 5) for rank in range(len(roots))))
    family = tuple(coin(3, 3).capitalize() for _ in range(4_000))
    rare = tuple(coin(4, 5) + "k" for _ in range(20_000))
    return Words(roots, weights, rare, family, tuple(coin(2, 2).capitalize() for _ in range(400)))


def entries(count: int) -> Iterator[IndexEntry]:
    """Yield so many messages, oldest first, as the records give them to the index."""
    source, known = random.Random(SEED + 1), world()
    languages = source.choices(list(ENDINGS), [share for share, _ in ENDINGS.values()], k=count)
    for number, language in enumerate(languages, 1):
        yield _entry(source, known, number, language, FIRST_DAY + timedelta(days=number * 2_500 // max(count, 2_500)))


def one_more(number: int, word: str) -> IndexEntry:
    """Return a new message that has a word no other has."""
    made = _entry(random.Random(number), world(), number, "en", FIRST_DAY + timedelta(days=2_501))
    return replace(made, body=f"{made.body} {word}")


def _entry(source: random.Random, known: Words, number: int, language: str, day: date) -> IndexEntry:
    roots = source.choices(known.roots, cum_weights=known.weights, k=source.randint(60, 150))
    text = [
        root + ending for root, ending in zip(roots, source.choices(ENDINGS[language][1], k=len(roots)), strict=True)
    ]
    name = f"{source.choice(known.given)} {source.choice(known.family)}"
    codes = [f"VM-{source.randrange(10**6):06}-K", *("".join(source.choices(ALPHABET, k=12)) for _ in range(2))]
    body = f"{' '.join(text)} {source.choice(known.rare)} {name} {' '.join(codes)}"
    sender = f"{name} {name.replace(' ', '.').lower()}{number}@post.example"
    return IndexEntry(
        f"E{number}",
        number,
        False,
        f"Fwd: {' '.join(text[:3])}",
        sender,
        body,
        day,
        "Vellamar",
        "Corvina 500",
        language,
    )


def by_frequency(made: Sequence[IndexEntry]) -> list[str]:
    """Return the words of the messages' texts, names left out, the commonest first."""
    counts: dict[str, int] = {}
    for entry in made:
        for word in entry.body.split():
            if word.islower():
                counts[word] = counts.get(word, 0) + 1
    return sorted(counts, key=lambda word: (-counts[word], word))
