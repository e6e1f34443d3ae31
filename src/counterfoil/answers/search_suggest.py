""" "Did you mean": what would find something, where what was typed finds nothing."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import TYPE_CHECKING

from counterfoil.answers.search_text import Typed
from counterfoil.errors import ArchiveDamaged

if TYPE_CHECKING:
    from counterfoil.index import Index
    from counterfoil.records.store import Store

#: Words for which others are looked for, others for each, and suggestions.
_MOST_WORDS, _OTHERS, _SUGGESTED = 6, 3, 3
_SHORTEST = 4


def did_you_mean(store: Store, index: Index, typed: Typed) -> tuple[str, ...]:
    """Return up to three texts like the one typed that find somebody or something, the most alike first."""
    words = [word for word in typed.words if word.isalpha()][:_MOST_WORDS]
    names = [store.suggest_names(word, _OTHERS) for word in words]
    found = [text for text in _made(words, names) if store.find_names(text, 1)]
    models = [store.suggest_models(word, _OTHERS) for word in words]
    found += [text for text in _made(words, models) if store.find_machines(text)]
    known = [_known(index, word) for word in words]
    found += [text for text in _made(words, known) if _is_in(index, text)]
    return tuple(dict.fromkeys(found))[:_SUGGESTED]


def _made(words: list[str], others: list[list[str]]) -> Iterator[str]:
    """Yield the texts made of a suggestion for each word that has one; those for which there is none stay."""
    if any(others):
        choices = [[_cased(other, word) for other in few] or [word] for word, few in zip(words, others, strict=True)]
        for chosen in list(product(*choices))[: _OTHERS**2]:
            yield " ".join(chosen)


def _cased(other: str, word: str) -> str:
    return other.capitalize() if word[:1].isupper() else other


def _known(index: Index, word: str) -> list[str]:
    if len(word) < _SHORTEST:
        return []
    try:
        return index.similar_words(word, _OTHERS)
    except ArchiveDamaged:
        return []


def _is_in(index: Index, text: str) -> bool:
    try:
        return bool(index.search(text, 1))
    except ArchiveDamaged:
        return False
