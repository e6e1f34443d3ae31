"""Whose name is it: when two names are the same person's, which are alike, and how alike names are found fast.

Names agree when they match part by part in one order, given name with given name and family name with family name, each
pair with a Jaro-Winkler similarity (Winkler 1990) of :attr:`Settings.name_similarity` or more. That alone takes
relatives for one person: Jan and Jana, Martin and Martina, Frances and Francis, Karin and Katrin all lie above .92.
So where two parts differ, the difference must also be one that a slip of the finger makes and another name does not.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import combinations, permutations, product

from rapidfuzz.distance import OSA, JaroWinkler

from counterfoil.patterns.names import fold_name

#: Parts shorter than this must be the same: one letter makes another name of a short one.
_SHORTEST_SLIP = 5
#: A letter put in or left out makes another name of anything shorter (Marina, Martina).
_SHORTEST_GAP = 7
_VOWELS = frozenset("aeiouy")
#: Words that join two people in one name; whose profile that is, only a person can tell.
_AND = frozenset({"and", "und", "et", "en", "y", "och", "og"})
#: Words that make a name that of a company; common practice, no source.
_COMPANY = frozenset(
    [
        "gmbh", "ag", "kg", "ohg", "ug", "gbr", "mbh", "ev", "ltd", "limited", "plc", "llp", "llc", "inc", "corp", "co",
        "company", "sarl", "sas", "sasu", "eurl", "bv", "nv", "vof", "srl", "spa", "snc", "sl", "slu", "ab", "oy",
        "aps",
    ]
)  # fmt: skip
#: What stands behind a name to tell two of one family apart; common practice, no source.
_GENERATION = re.compile(
    r"(?<=\w)\.?[\s,]+(?:(?P<younger>jr|jnr|jun|junior|d\.?\s?j|d\.?\s?y|fils|hijo)"
    r"|(?P<elder>sr|snr|sen|senior|d\.?\s?[äÄaA]|père|pere|padre)|(?P<second>ii)|(?P<third>iii))\.?(?=\s*(?:,|$))",
    re.IGNORECASE,
)
#: Parts of a name that go into blocking keys; more are rare, and their pairs would multiply.
_KEY_PARTS = 5
_KEY_LETTERS = 3
#: Similarity that a typed name needs to be shown as an answer of a search.
SEARCH_SIMILARITY = 0.86


def similarity(a: str, b: str) -> float:
    """Return the Jaro-Winkler similarity of two words, 0 to 1 (Winkler 1990, prefix weight .1, up to four letters)."""
    return JaroWinkler.similarity(a, b, prefix_weight=0.1)


@lru_cache(maxsize=4096)
def parts(name: str) -> tuple[str, ...]:
    """Return a name's parts, folded: no accents, one case."""
    return tuple(fold_name(name))


def names_agree(a: str, b: str, threshold: float) -> bool:
    """Tell whether two names are surely the same person's, as far as names can tell.

    Both need a given and a family name. The order may be turned round (SOLVANG Marit), middle names may be missing on
    one side; a first or last part must not, since Anna Maria Berg is not Maria Berg.

    Args:
        a: a name as written.
        b: another.
        threshold: least Jaro-Winkler similarity of each pair of parts, 0 to 1.
    """
    if not (one_person(a) and one_person(b)):
        return False
    if is_company(a) or is_company(b):
        return same_name(a, b)
    (a, one), (b, two) = generation(a), generation(b)
    if one != two:
        return False
    short, long = sorted((parts(a), parts(b)), key=len)
    return any(_aligned(turned, long, threshold) for turned in _turns(short))


@lru_cache(maxsize=4096)
def generation(name: str) -> tuple[str, str]:
    """Return a name without "Jr." or "Sr." behind it, and which of them it is: "younger", "elder" ... or nothing."""
    found = _GENERATION.search(name)
    if found is None or found.lastgroup is None:
        return name, ""
    rest = name[: found.start()] + name[found.end() :]
    return (rest, found.lastgroup) if len(parts(rest)) > 1 else (name, "")


def one_person(name: str) -> bool:
    """Tell whether a name has a given and a family name, of one person; a company is one whoever it is named after."""
    return len(parts(name)) > 1 and (is_company(name) or len(couple(name)) == 1)


def is_company(name: str) -> bool:
    """Tell whether a name says that it is a company's (GmbH, Ltd, SARL)."""
    own = parts(name.replace(".", ""))
    return len(own) > 1 and (own[-1] in _COMPANY or not _COMPANY.isdisjoint(own[-3:-1]))


def couple(name: str) -> list[str]:
    """Return the names joined in one: "Ola and Marit Solvang" gives "Ola" and "Marit Solvang"."""
    found: list[list[str]] = [[]]
    for word in re.sub(r"([&+/])", r" \1 ", name).split():
        if word in ("&", "+", "/") or word.casefold() in _AND:
            found.append([])
        else:
            found[-1].append(word)
    return [" ".join(words) for words in found if words]


def same_name(a: str, b: str) -> bool:
    """Tell whether two names have the same parts to the letter, in any order; needs two parts."""
    (a, one), (b, two) = generation(a), generation(b)
    return one == two and len(parts(a)) > 1 and sorted(parts(a)) == sorted(parts(b))


def _turns(name: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Return the orders a name is written in: as it stands, family name first, family name last."""
    return list(dict.fromkeys((name, (name[-1], *name[:-1]), (*name[1:], name[0]))))


def _aligned(short: Sequence[str], long: Sequence[str], threshold: float) -> bool:
    """Tell whether all of ``short`` stands in ``long`` in order, with first on first and last on last part."""
    if not (same_part(short[0], long[0], threshold) and same_part(short[-1], long[-1], threshold)):
        return False
    rest = iter(long[1:-1])
    return all(any(same_part(part, other, threshold) for other in rest) for part in short[1:-1])


def same_part(a: str, b: str, threshold: float) -> bool:
    """Tell whether two folded parts of names are the same but for a slip.

    Two neighbouring letters swapped, a consonant too many or too few inside a long name, a consonant for another inside
    or before it: slips. A change at the end, in a vowel, or in a short name makes another name: not.
    """
    if a == b:
        return True
    short, long = sorted((a, b), key=len)
    if len(short) < _SHORTEST_SLIP or similarity(a, b) < threshold or OSA.distance(a, b, score_cutoff=1) > 1:
        return False
    at = next(n for n, pair in enumerate(zip(short + " ", long, strict=False)) if pair[0] != pair[1])
    if len(short) < len(long):
        doubled = long[at] in (long[at - 1 : at] + long[at + 1 : at + 2])
        inside = at < len(short)
        return inside and long[at] not in _VOWELS and (doubled or len(short) >= _SHORTEST_GAP)
    if sorted(a) == sorted(b):
        return True
    inside = at < len(a) - 1
    return inside and len(a) >= _SHORTEST_GAP and not (a[at] in _VOWELS or b[at] in _VOWELS)


def names_near(a: str, b: str, threshold: float) -> bool:
    """Tell whether two names are alike enough to ask a person: every part of the shorter has one alike in the longer.

    An initial counts as alike (M. Solvang, Marit Solvang), and so does any order; relatives with like names are near,
    and so are father and son of one name.
    """
    short, long = sorted((parts(generation(a)[0]), parts(generation(b)[0])), key=len)
    if len(short) < 2:
        return bool(short) and any(similarity(short[0], other) >= threshold for other in long)
    left = list(long)
    for part in sorted(short, key=len, reverse=True):
        best = max(left, key=lambda other: _likeness(part, other), default="")
        if _likeness(part, best) < threshold:
            return False
        left.remove(best)
    return True


def _likeness(a: str, b: str) -> float:
    """Return the similarity of two parts; an initial is as good as what it stands for."""
    if a and b and (len(a) == 1 or len(b) == 1) and a[0] == b[0]:
        return 0.99
    return similarity(a, b)


def shared_parts(a: str, b: str, threshold: float) -> tuple[str, ...]:
    """Return the parts of ``a`` that ``b`` has too, initials left out: a shared family name, for instance."""
    others = parts(b)
    return tuple(p for p in parts(a) if len(p) > 1 and any(similarity(p, o) >= threshold for o in others))


def compared(message_name: str, known_name: str, threshold: float) -> str:
    """Return in words how a name in a message compares with a known one."""
    if same_name(message_name, known_name):
        return "same name"
    if names_agree(message_name, known_name, threshold):
        return f"name agrees but for a slip ({known_name})"
    (own, one), (other, two) = generation(message_name), generation(known_name)
    if one != two and names_agree(own, other, threshold):
        return f"same name, {two or 'not marked'} on record, {one or 'not marked'} in the message ({known_name})"
    shared = shared_parts(message_name, known_name, threshold)
    if len(shared) >= 2 or names_near(message_name, known_name, threshold):
        return f"name is alike, but not the same ({known_name})"
    if shared:
        return f"shares “{shared[0]}”, {_other_part(shared[0], message_name)} differs ({known_name})"
    return f"name differs ({known_name})"


def _other_part(shared: str, name: str) -> str:
    """Return in words what is left of a name beside one part of it."""
    own = parts(name)
    if len(own) < 2 or shared not in (own[0], own[-1]):
        return "the rest of the name"
    return "the given name" if shared == own[-1] else "the family name"


# --- finding alike names fast ----------------------------------------------------------------------


def word_key(part: str) -> str:
    """Return the key under which a single part of a name is found by its beginning."""
    return f"w:{part}"


def stored_keys(name: str) -> set[str]:
    """Return every key under which a name is found: its parts, pairs of their begins and ends, initial and begin."""
    own = parts(name)[:_KEY_PARTS]
    return _pairs(own) | _initials(own) | {word_key(p) for p in own}


def wanted_keys(name: str) -> set[str]:
    """Return the keys under which names alike to this one are found.

    Two names that agree or are near share at least one: it takes slips at begin and end of the same part to miss.
    """
    own = parts(name)[:_KEY_PARTS]
    keys = _pairs(own) if len(own) > 1 else {word_key(part) for part in own}
    for one, two in permutations(own, 2):
        # A known name may be written with an initial, or this one: M. Solvang.
        keys.add(_pair("^" + one[0], "^" + two[:_KEY_LETTERS]))
        if len(one) == 1:
            keys |= _initials((one, two))
    return keys


def _pairs(own: Sequence[str]) -> set[str]:
    return {_pair(x, y) for one, two in combinations(own, 2) for x, y in product(_ends(one), _ends(two))}


def _initials(own: Sequence[str]) -> set[str]:
    return {f"i:{one[0]}|{two[:_KEY_LETTERS]}" for one, two in permutations(own, 2)}


def _pair(x: str, y: str) -> str:
    return "p:" + "|".join(sorted((x, y)))


def _ends(part: str) -> set[str]:
    return {"^" + part[:_KEY_LETTERS], "$" + part[-_KEY_LETTERS:]}


def most_similar(name: str, others: Iterable[str], threshold: float) -> str | None:
    """Return the one of ``others`` closest to ``name``: the same, then agreeing, then the most similar."""

    def rank(other: str) -> tuple[bool, bool, float]:
        alike = similarity(" ".join(sorted(parts(name))), " ".join(sorted(parts(other))))
        return same_name(name, other), names_agree(name, other, threshold), alike

    return max(others, key=rank, default=None)
