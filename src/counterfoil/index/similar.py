"""Words of the messages like one that none of them has, for "did you mean"."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

from counterfoil.index.words import LONGEST_WORD, words

#: Letters that may differ; in a shorter word, one.
_MOST_WRONG, _LONG = 2, 6


def similar_words(readers: Iterable[Any], word: str, limit: int) -> list[str]:
    """Return words of the full text that differ from one in up to two letters; the first letter must be right.

    Args:
        readers: whoosh's reader of each segment.
        word: one word as typed.
        limit: how many at most.

    Returns:
        The words, folded; the nearest first, of equally near ones the commonest.
    """
    folded = words(word)
    if len(folded) != 1:
        return []
    (wanted,) = folded
    if len(wanted) > LONGEST_WORD:
        return []
    every = list(readers)
    for wrong in range(1, (_MOST_WRONG if len(wanted) >= _LONG else 1) + 1):
        found: Counter[str] = Counter()
        for reader in every:
            for text in reader.terms_within("body", wanted, wrong, prefix=1):
                found[text] += reader.doc_frequency("body", text)
        found.pop(wanted, None)
        if found:
            return sorted(found, key=lambda text: (-found[text], text))[:limit]
    return []
