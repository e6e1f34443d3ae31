"""Comparison vectors: two customers side by side, field by field, each pair of values at one level of agreement.

A :class:`Person` holds what is known of somebody, folded: several names, contacts and addresses, since people marry,
move and change their provider. Two are compared in every combination, and the likeliest counts. A level says how well
two values agree; a value missing on either side says nothing. Similarities are Jaro-Winkler (Winkler 1990) and optimal
string alignment, from rapidfuzz.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from rapidfuzz.distance import OSA, JaroWinkler

from counterfoil.records.linkage import same_part
from counterfoil.records.nicknames_data import are_nicknames

#: The level of a value that is missing on either side; the last place of every list of weights.
MISSING = -1
#: field -> its levels, from the best agreement to none, in words.
LEVELS: Mapping[str, tuple[str, ...]] = {
    "given_name": ("same", "slip", "near", "alike", "nickname", "part", "initial", "differs"),
    "family_name": ("same", "slip", "near", "alike", "part", "differs"),
    "name_order": ("straight", "turned"),
    "email_address": ("same", "near", "differs"),
    "phone_number": ("same", "near", "differs"),
    "street": ("same", "near", "alike", "differs"),
    "house_number": ("same", "near", "differs"),
    "address_line": ("same", "near", "alike", "differs"),
    "postcode": ("same", "near", "alike", "differs"),
    "town": ("same", "near", "alike", "differs"),
    "region": ("same", "differs"),
    "birth_date": ("same", "near", "alike", "differs"),
    "number": ("same", "near", "differs"),
}
FIELDS = tuple(LEVELS)
Vector = tuple[int, ...]
"""One level a field, in the order of :data:`FIELDS`."""
Weights = Mapping[str, tuple[float, ...]]
"""field -> bits of evidence a level, with 0 for a missing value at the end."""
_CACHE = 1 << 16
_NEAR, _ALIKE = 0.92, 0.80
#: Names taken for the comparison of somebody with very many.
_MOST = 8


class Name(NamedTuple):
    """A given and a family name, folded; either may be empty."""

    given: str = ""
    family: str = ""


class Address(NamedTuple):
    """A postal address in parts, folded; ``line`` is what stands beside the street: a house's name, a district."""

    street: str = ""
    house: str = ""
    line: str = ""
    postcode: str = ""
    town: str = ""
    region: str = ""


@dataclass(frozen=True, slots=True)
class Person:
    """What is known of somebody. ``birth_date`` (YYYYMMDD) and ``number`` come in published test sets only."""

    names: tuple[Name, ...] = ()
    emails: tuple[str, ...] = ()
    phones: tuple[str, ...] = ()
    addresses: tuple[Address, ...] = ()
    birth_dates: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Comparer:
    """Compares people; of several names or addresses the pair with the most evidence for one person counts.

    Args:
        weights: by which "most" is measured.
    """

    weights: Weights
    _given: tuple[float, ...] = field(init=False)
    _family: tuple[float, ...] = field(init=False)
    _order: tuple[float, ...] = field(init=False)
    _address: tuple[tuple[float, ...], ...] = field(init=False)

    def __post_init__(self) -> None:
        own = {"_given": "given_name", "_family": "family_name", "_order": "name_order"}
        for name, of in own.items():
            object.__setattr__(self, name, self.weights[of])
        object.__setattr__(self, "_address", tuple(self.weights[name] for name in _ADDRESS_FIELDS))

    def compare(self, a: Person, b: Person) -> Vector:
        """Return the levels at which two people agree."""
        return (
            *self._names(a.names, b.names),
            _best(email_level, a.emails, b.emails),
            _best(phone_level, a.phones, b.phones),
            *self._addresses(a.addresses, b.addresses),
            _best(date_level, a.birth_dates, b.birth_dates),
            _best(number_level, a.numbers, b.numbers),
        )

    def _names(self, some: tuple[Name, ...], others: tuple[Name, ...]) -> Vector:
        best, top = (MISSING, MISSING, MISSING), float("-inf")
        given, family, order = self._given, self._family, self._order
        for (a_given, a_family), (b_given, b_family) in product(some[:_MOST], others[:_MOST]):
            straight = (given_level(a_given, b_given), family_level(a_family, b_family), 0)
            score = given[straight[0]] + family[straight[1]] + order[0]
            if score > top:
                best, top = straight, score
            if straight[0] > 1 or straight[1] > 1 or MISSING in straight:
                turned = (given_level(a_given, b_family), family_level(a_family, b_given), 1)
                score = given[turned[0]] + family[turned[1]] + order[1]
                if score > top:
                    best, top = turned, score
        return best

    def _addresses(self, some: tuple[Address, ...], others: tuple[Address, ...]) -> Vector:
        best: Vector = (MISSING,) * 6
        top = float("-inf")
        weights = self._address
        for a, b in product(some[:_MOST], others[:_MOST]):
            for vector in _address_vectors(a, b):
                score = sum(w[level] for w, level in zip(weights, vector, strict=True))
                if score > top:
                    best, top = vector, score
        return best


_ADDRESS_FIELDS = ("street", "house_number", "address_line", "postcode", "town", "region")


def _address_vectors(a: Address, b: Address) -> Iterable[Vector]:
    """Yield the vector of two addresses as they stand, and with street and line turned round on one side."""
    rest = (
        postcode_level(a.postcode, b.postcode),
        town_level(a.town, b.town),
        _same(a.region, b.region),
    )
    house = house_level(a.house, b.house)
    street, line = street_level(a.street, b.street), street_level(a.line, b.line)
    yield (street, house, line, *rest)
    if (street > 1 or street == MISSING) and (a.line or b.line):
        yield (street_level(a.street, b.line), house, street_level(a.line, b.street), *rest)


def _best(level: Callable[[str, str], int], some: tuple[str, ...], others: tuple[str, ...]) -> int:
    if not some or not others:
        return MISSING
    if len(some) == len(others) == 1:
        return level(some[0], others[0])
    return min(level(a, b) for a, b in product(some, others))


def _same(a: str, b: str) -> int:
    return MISSING if not a or not b else int(a != b)


def names_off_by_a_letter(a: Person, b: Person) -> bool:
    """Tell whether a name of each is the other's but for at most one letter in either part, in any order: not the
    same person for sure, not another for sure."""
    return any(
        (_a_letter_off(one.given, two.given) and _a_letter_off(one.family, two.family))
        or (_a_letter_off(one.given, two.family) and _a_letter_off(one.family, two.given))
        for one, two in product(a.names[:_MOST], b.names[:_MOST])
    )


def _a_letter_off(a: str, b: str) -> bool:
    """Tell whether two parts are the same but for a letter; of parts of three letters or less none may differ."""
    return a == b != "" or (max(len(a), len(b)) > 3 and OSA.distance(a, b, score_cutoff=1) < 2)


# --- levels ---------------------------------------------------------------------------------------


@lru_cache(_CACHE)
def given_level(a: str, b: str) -> int:
    """Return the level of two given names: the first alone of several is a part, and says more than an initial."""
    level = _name_level(a, b)
    if level < 2:
        return level
    if are_nicknames(a, b):
        return 4
    # "Anna" is what Anna Maria may be called; "Maria" is somebody else as often.
    if a.startswith(b + " ") or b.startswith(a + " "):
        return 6 if min(len(a), len(b)) == 1 else 5
    return 6 if _part_of(a, b) or _part_of(b, a) else level if level < 4 else 7


@lru_cache(_CACHE)
def family_level(a: str, b: str) -> int:
    """Return the level of two family names: one of a double name, or an initial, is a part."""
    level = _name_level(a, b)
    if level < 2:
        return level
    words = a.split(" "), b.split(" ")
    part = _part_of(a, b) or _part_of(b, a) or a in words[1] or b in words[0]
    return 4 if part else level if level < 4 else 5


def _part_of(short: str, long: str) -> bool:
    """Tell whether a word is the first of several, or the initial of the first."""
    return long.startswith(short + " ") or (len(short) == 1 and long.startswith(short))


def _name_level(a: str, b: str) -> int:
    """Return 0 same, 1 a slip of the finger, 2 near, 3 alike, 4 different; spaces do not count."""
    if not a or not b:
        return MISSING
    one, two = a.replace(" ", ""), b.replace(" ", "")
    if one == two:
        return 0
    if same_part(one, two, _NEAR):
        return 1
    alike = JaroWinkler.similarity(one, two)
    return 2 if alike >= _NEAR else 3 if alike >= _ALIKE else 4


@lru_cache(_CACHE)
def email_level(a: str, b: str) -> int:
    """Return the level of two e-mail addresses; the same name at another provider is near."""
    if a == b:
        return 0
    return 1 if a.partition("@")[0] == b.partition("@")[0] or OSA.distance(a, b, score_cutoff=1) < 2 else 2


@lru_cache(_CACHE)
def phone_level(a: str, b: str) -> int:
    """Return the level of two telephone numbers in E.164 form; one digit wrong is near."""
    if a == b:
        return 0
    return 1 if OSA.distance(a, b, score_cutoff=1) < 2 else 2


@lru_cache(_CACHE)
def street_level(a: str, b: str) -> int:
    """Return the level of two streets; spaces do not count."""
    if not a or not b:
        return MISSING
    one, two = a.replace(" ", ""), b.replace(" ", "")
    if one == two:
        return 0
    alike = JaroWinkler.similarity(one, two)
    if alike >= 0.93 or OSA.distance(one, two, score_cutoff=2) <= (2 if len(one) > 7 else 1):
        return 1
    return 2 if alike >= 0.85 or OSA.normalized_similarity(one, two) >= 0.6 else 3


@lru_cache(_CACHE)
def town_level(a: str, b: str) -> int:
    """Return the level of two towns."""
    return street_level(a, b)


@lru_cache(_CACHE)
def house_level(a: str, b: str) -> int:
    """Return the level of two house numbers: one a part of the other, or a digit wrong, is near."""
    if not a or not b:
        return MISSING
    if a == b:
        return 0
    near = OSA.distance(a, b, score_cutoff=1) < 2 or a in b or b in a
    return 1 if near and max(len(a), len(b)) > 1 else 2


@lru_cache(_CACHE)
def postcode_level(a: str, b: str) -> int:
    """Return the level of two postcodes: one character wrong or two swapped is near, two wrong alike."""
    if not a or not b:
        return MISSING
    return min(OSA.distance(a, b, score_cutoff=2), 3)


@lru_cache(_CACHE)
def date_level(a: str, b: str) -> int:
    """Return the level of two dates, YYYYMMDD: a digit wrong or two swapped is near, two wrong alike."""
    if a == b:
        return 0
    wrong = OSA.distance(a, b, score_cutoff=2)
    if wrong == 1 or (a[:4] == b[:4] and a[4:6] == b[6:] and a[6:] == b[4:6]):
        return 1
    return 2 if wrong == 2 or a[4:] == b[4:] else 3


@lru_cache(_CACHE)
def number_level(a: str, b: str) -> int:
    """Return the level of two numbers of a person."""
    return 0 if a == b else 1 if OSA.distance(a, b, score_cutoff=1) < 2 else 2
