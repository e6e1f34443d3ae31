"""Codes in the records: how they are looked up whole, by their last characters, and with wrong characters in them.

Near misses follow Pass-Join (Li, Deng, Wang, Feng: "Pass-Join: A Partition-based Method for Similarity Joins",
Proceedings of the VLDB Endowment 5(3), 2011), with two pieces where the paper has one: a code is cut into four; two
wrong characters spoil at most two of the pieces, and the other two stand unchanged in both codes, shifted by at most
two places. Numbers of a series share their beginning with thousands, but two of their pieces with fewer. Look-alike
characters (0 and O, 1 and I, …) are folded into one before cutting, so that any number of them may be mixed up.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from itertools import combinations, pairwise, product

from rapidfuzz import process
from rapidfuzz.distance import OSA

from counterfoil.model import SECRET_KINDS, Kind
from counterfoil.patterns.normal import fold_code

#: Wrong characters (insertions, deletions, replacements) that a near look-up bridges.
WRONG = 2
_PIECES, _WHOLE = WRONG + 2, 2
#: Keys looked under for one code, at most.
MOST_PROBES = 42
#: Shorter codes are not looked up with wrong characters: a piece of one character says nothing.
SHORTEST_NEAR = 6
#: Fewer last characters than this point at too many codes.
SHORTEST_ENDING = 4
#: Longer codes than this are not cut: no maker prints them, and the time for a look-up stays bounded.
_LONGEST = 64

# Costs of one wrong character, for ranking; own choice, see WRONG for what is looked at at all.
_ALIKE, _HEARD, _SWAPPED, _GAP, _OTHER = 0.25, 0.5, 0.6, 0.9, 1.0
#: Characters taken for one another when a code is read out: the letters that rhyme with E, F with S and X, M with N,
#: the letters that rhyme with A, U with Q, and what rhymes with I (radio says niner because nine is taken for five).
#: Known from machines that recognise spelled letters as the E-set and its like (from memory).
HEARD = ("BCDEGPTVZ", "FSX", "MN", "AHJK8", "QU", "IY59")
#: Look-alikes mixed up, at most, in one near hit, counted in the code as printed.
_MOST_ALIKE = 4
_MASK = "•"
_SHOWN = 4

_SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_FOLD = str.maketrans({sign: fold_code(sign) for sign in _SIGNS})


def _alike(groups: Iterable[str]) -> dict[str, str]:
    """Return for each character those that stand in a group with it."""
    found: dict[str, str] = {}
    for group in groups:
        for sign in group:
            found[sign] = found.get(sign, "") + "".join(other for other in group if other != sign)
    return found


_SEEN = _alike("".join(s for s in _SIGNS if fold_code(s) == folded) for folded in dict.fromkeys(map(fold_code, _SIGNS)))
#: For each character those that it may be taken for, with the cost.
_COSTS = {
    sign: dict.fromkeys(heard, _HEARD) | dict.fromkeys(_SEEN.get(sign, ""), _ALIKE)
    for sign, heard in (dict.fromkeys(_SIGNS, "") | _alike(HEARD)).items()
}


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


def corrected(kind: Kind, value: str) -> str:
    """Return a correction of a code as a question may show it, told apart from the covered code it corrects."""
    return f"{masked(value)} (corrected)" if kind in SECRET_KINDS else value


def stored_pieces(normal: str) -> list[str]:
    """Return the keys under which a code is found with wrong characters in it; none for very short or long codes.

    Args:
        normal: the code in normal form.
    """
    folded = fold_code(normal)
    if not SHORTEST_NEAR <= len(folded) <= _LONGEST:
        return []
    return list(dict.fromkeys(_key(folded, *place) for place in _stored_places(len(folded))))


def probes(normal: str) -> list[str]:
    """Return the keys to look under for codes that differ from ``normal`` in at most :data:`WRONG` characters.

    At most :data:`MOST_PROBES`, whatever the length: for each two pieces only the shifts that errors in the other two
    can cause, as in the paper's multi-match-aware selection of substrings (section 4.2).
    """
    folded = fold_code(normal)
    if not SHORTEST_NEAR <= len(folded) <= _LONGEST:
        return []
    return list(dict.fromkeys(_key(folded, *place) for place in _typed_places(len(folded))))


#: Length of the code looked for, which of its pieces, and start and end of each in what was typed.
_Place = tuple[int, tuple[int, ...], tuple[tuple[int, int], ...]]
#: The pieces that may be whole, two at a time.
_PAIRS = tuple(combinations(range(_PIECES), _WHOLE))


@lru_cache(maxsize=_LONGEST)
def _stored_places(length: int) -> tuple[_Place, ...]:
    cuts = _cuts(length)
    return tuple((length, which, tuple(cuts[n] for n in which)) for which in _PAIRS)


@lru_cache(maxsize=2 * _LONGEST)
def _typed_places(typed: int) -> tuple[_Place, ...]:
    """Return where in ``typed`` characters the pieces of the codes looked for may stand.

    Each of the two spoiled pieces is taken to have one error. Two in one piece are covered as well: with a neighbour
    of it spoiled too, the shifts behind both are the same.
    """
    found: list[_Place] = []
    for which in _PAIRS:
        spoiled = [n for n in range(_PIECES) if n not in which]
        for shifts in product((-1, 0, 1), repeat=len(spoiled)):
            length = typed - sum(shifts)
            if not SHORTEST_NEAR <= length <= _LONGEST:
                continue
            cuts = _cuts(length)
            before = [sum(shift for at, shift in zip(spoiled, shifts, strict=True) if at < n) for n in which]
            places = tuple((cuts[n][0] + by, cuts[n][1] + by) for n, by in zip(which, before, strict=True))
            edges = [0, *(edge for place in places for edge in place), typed]
            if edges == sorted(edges):
                found.append((length, which, places))
    return tuple(dict.fromkeys(found))


@lru_cache(maxsize=_LONGEST)
def _cuts(length: int) -> tuple[tuple[int, int], ...]:
    """Return start and end of the pieces of a code of ``length`` characters.

    The longer ones come first: what a series has in common then stands in one piece, with a character that differs.
    """
    size, over = divmod(length, _PIECES)
    ends = [0]
    for n in range(_PIECES):
        ends.append(ends[-1] + size + (1 if n < over else 0))
    return tuple(pairwise(ends))


def _key(folded: str, length: int, which: tuple[int, ...], places: tuple[tuple[int, int], ...]) -> str:
    """Return the key of two pieces: which they are, how long the code is, the pieces themselves."""
    return f"{'abcdef'[_PAIRS.index(which)]}{length}-{''.join(folded[start:end] for start, end in places)}"


def is_near(a: str, b: str, wrong: int = WRONG) -> bool:
    """Tell whether two codes in normal form differ in at most ``wrong`` characters, look-alikes not counted."""
    if OSA.distance(a, b, score_cutoff=_MOST_ALIKE) > _MOST_ALIKE:
        return False
    return OSA.distance(a.translate(_FOLD), b.translate(_FOLD), score_cutoff=wrong) <= wrong


def nearest(normal: str, folded: Mapping[int, str], wrong: int = WRONG) -> dict[int, int]:
    """Return which of many codes differ from one in at most ``wrong`` characters, look-alikes not counted.

    Args:
        normal: the code, in normal form.
        folded: the others, folded, by number.
        wrong: wrong characters allowed.

    Returns:
        The numbers of those that are near, with how many characters differ.
    """
    near = process.extract(normal.translate(_FOLD), folded, scorer=OSA.distance, score_cutoff=wrong, limit=None)
    return {number: int(distance) for _, distance, number in near}


def variants(ending: str, wrong: int) -> dict[str, float]:
    """Return what the end of a code may be where some of its characters were misread or misheard.

    Args:
        ending: the last characters, in normal form.
        wrong: the most characters changed.

    Returns:
        The endings, each with its distance as :func:`weighted_distance` counts; ``ending`` itself is not among them.
    """
    found: dict[str, float] = {}
    for count in range(1, wrong + 1):
        for places in combinations(range(len(ending)), count):
            for signs in product(*(_mistaken(ending[at]) for at in places)):
                letters, cost = list(ending), 0.0
                for at, (sign, price) in zip(places, signs, strict=True):
                    letters[at], cost = sign, cost + price
                found.setdefault("".join(letters), cost)
    return found


def _mistaken(sign: str) -> tuple[tuple[str, float], ...]:
    """Return the characters that one may be taken for, each with its cost."""
    return tuple(_COSTS[sign].items()) if sign in _COSTS else ()


def weighted_distance(a: str, b: str) -> float:
    """Return how far two codes are apart.

    A look-alike costs .25, one misheard .5, a swap .6, a missing or extra character .9, else 1. Optimal string
    alignment with weights; for ranking near hits, not a metric.
    """
    direct = _replaced(a, b)
    if direct is not None:
        return direct
    before: list[float] = []
    above = [n * _GAP for n in range(len(b) + 1)]
    nothing: dict[str, float] = {}
    for i, x in enumerate(a, 1):
        costs = _COSTS.get(x, nothing)
        row = [i * _GAP]
        for j, y in enumerate(b, 1):
            best = above[j - 1] if x == y else above[j - 1] + costs.get(y, _OTHER)
            if above[j] + _GAP < best:
                best = above[j] + _GAP
            if row[-1] + _GAP < best:
                best = row[-1] + _GAP
            if i > 1 and j > 1 and x != y and x == b[j - 2] and a[i - 2] == y and before[j - 2] + _SWAPPED < best:
                best = before[j - 2] + _SWAPPED
            row.append(best)
        before, above = above, row
    return above[-1]


def _replaced(a: str, b: str) -> float | None:
    """Return the distance of two codes that differ by replaced characters only, None where gaps or swaps may be less.

    Two gaps cost 1.8 and a swap .6: what costs no more, and is no swap, cannot be had for less.
    """
    if len(a) != len(b):
        return None
    differing = [(x, y) for x, y in zip(a, b, strict=True) if x != y]
    cost = sum(_COSTS[x].get(y, _OTHER) if x in _COSTS else _OTHER for x, y in differing)
    swap = any(one == other[::-1] for one, other in pairwise(differing))
    return None if swap or cost > 2 * _GAP else cost
