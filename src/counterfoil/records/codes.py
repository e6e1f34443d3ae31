"""Codes in the records: how they are looked up whole, by their last characters, and with wrong characters in them.

Near misses follow Pass-Join (Li, Deng, Wang, Feng: "Pass-Join: A Partition-based Method for Similarity Joins",
Proceedings of the VLDB Endowment 5(3), 2011): a code is cut into three pieces; of two codes that differ in at most two
single characters, one piece of the first stands unchanged in the second, shifted by at most two places. Look-alike
characters (0 and O, 1 and I, …) are folded into one before cutting, so that any number of them may be mixed up.
"""

from __future__ import annotations

from collections.abc import Iterator

from rapidfuzz.distance import OSA

from counterfoil.model import SECRET_KINDS, Kind
from counterfoil.patterns.normal import fold_code

#: Wrong characters (insertions, deletions, replacements) that a near look-up bridges.
WRONG = 2
_PIECES = WRONG + 1
#: Shorter codes are not looked up with wrong characters: a piece of one character says nothing.
SHORTEST_NEAR = 6
#: Fewer last characters than this point at too many codes.
SHORTEST_ENDING = 4
#: Of pieces shared by more codes than this (the prefix of a series) only so many are looked at.
PIECE_ROWS = 100
#: Longer codes than this are not cut: no maker prints them, and the time for a look-up stays bounded.
_LONGEST = 64

# Costs of one wrong character, measured on codes read by eye and typed: see WRONG for what is looked at at all.
_ALIKE, _SWAPPED, _GAP, _OTHER = 0.25, 0.6, 0.9, 1.0
#: Look-alikes mixed up, at most, in one near hit, counted in the code as printed.
_MOST_ALIKE = 4
_MASK = "•"
_SHOWN = 4


def shown(kind: Kind, value: str) -> str:
    """Return a value as it may be shown unasked: product keys and activation codes by their last four characters."""
    if kind not in SECRET_KINDS:
        return value
    return masked(value)


def masked(value: str) -> str:
    """Return ``value`` with all but the last four letters and digits covered; short ones are covered wholly."""
    bare = [n for n, c in enumerate(value) if c.isalnum()]
    seen = set(bare[-_SHOWN:]) if len(bare) > _SHOWN else set()
    return "".join(c if n in seen or not c.isalnum() else _MASK for n, c in enumerate(value))


def stored_pieces(normal: str, *, series: bool = False) -> list[str]:
    """Return the keys under which a code is found with wrong characters in it; none for very short or long codes.

    Args:
        normal: the code in normal form.
        series: it is a running number. Its first pieces are those of thousands, so a wrong character in the last piece
            would drown in them: the code is also kept with each character of its last piece left out.
    """
    folded = fold_code(normal)
    if not SHORTEST_NEAR <= len(folded) <= _LONGEST:
        return []
    keys = [_key(len(folded), n, folded[start : start + size]) for n, start, size in _cuts(len(folded))]
    return keys + (_gapped(len(folded), folded) if series else [])


def probes(normal: str) -> list[str]:
    """Return the keys to look under for codes that differ from ``normal`` in at most :data:`WRONG` characters.

    Multi-match-aware selection of substrings, section 4.2 of the paper: 19 keys whatever the length; and those of
    running numbers with a character of their last piece wrong or missing.
    """
    folded = fold_code(normal)
    if not SHORTEST_NEAR <= len(folded) <= _LONGEST:
        return []
    missing = [f"{len(folded) + 1}:-{n}:{folded}" for n in _last_piece(len(folded) + 1)]
    return list(dict.fromkeys([*_probes(folded), *_gapped(len(folded), folded), *missing]))


def _probes(folded: str) -> Iterator[str]:
    for length in range(max(SHORTEST_NEAR, len(folded) - WRONG), len(folded) + WRONG + 1):
        longer = len(folded) - length
        for n, start, size in _cuts(length):
            first = max(0, start - n, start + longer - (WRONG - n))
            last = min(len(folded) - size, start + n, start + longer + (WRONG - n))
            for at in range(first, last + 1):
                yield _key(length, n, folded[at : at + size])


def _cuts(length: int) -> Iterator[tuple[int, int, int]]:
    """Yield number, start and size of the pieces of a code of ``length`` characters, the longer ones last."""
    size, over = divmod(length, _PIECES)
    start = 0
    for n in range(_PIECES):
        this = size + (1 if n >= _PIECES - over else 0)
        yield n, start, this
        start += this


def _last_piece(length: int) -> range:
    """Return the places of the characters in the last piece of a code."""
    *_, (_, start, size) = _cuts(length)
    return range(start, start + size)


def _gapped(length: int, folded: str) -> list[str]:
    """Return a code with each character of its last piece left out in turn."""
    return [f"{length}:-{n}:{folded[:n]}{folded[n + 1 :]}" for n in _last_piece(length)]


def _key(length: int, n: int, text: str) -> str:
    return f"{length}:{n}:{text}"


def is_near(a: str, b: str, wrong: int = WRONG) -> bool:
    """Tell whether two codes in normal form differ in at most ``wrong`` characters, look-alikes not counted."""
    if OSA.distance(a, b, score_cutoff=_MOST_ALIKE) > _MOST_ALIKE:
        return False
    return OSA.distance(fold_code(a), fold_code(b), score_cutoff=wrong) <= wrong


def weighted_distance(a: str, b: str) -> float:
    """Return how far two codes are apart: a look-alike costs .25, a swap .6, a missing or extra character .9, else 1.

    Optimal string alignment with weights; for ranking near hits, not a metric.
    """
    folded_a, folded_b = [fold_code(c) for c in a], [fold_code(c) for c in b]
    before: list[float] = []
    above = [n * _GAP for n in range(len(b) + 1)]
    for i, x in enumerate(a, 1):
        row = [i * _GAP]
        for j, y in enumerate(b, 1):
            cost = 0.0 if x == y else _ALIKE if folded_a[i - 1] == folded_b[j - 1] else _OTHER
            best = min(above[j] + _GAP, row[j - 1] + _GAP, above[j - 1] + cost)
            if i > 1 and j > 1 and x == b[j - 2] and a[i - 2] == y and x != y:
                best = min(best, before[j - 2] + _SWAPPED)
            row.append(best)
        before, above = above, row
    return above[-1]
