"""Blocking: hashed keys under which somebody alike is found without looking at everybody.

A key is made of two values that seldom agree by chance (the begin of a name and the postcode, street and house number),
or of one that never does (an e-mail address). Two records of one person share at least one, whichever value is
misspelt. A key that more than :data:`MOST_ROWS` share tells nobody apart and is skipped.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from hashlib import blake2b
from itertools import chain

from counterfoil.records.match_compare import Address, Name, Person
from counterfoil.records.nicknames_data import full_forms

#: A key with more rows than this is skipped.
MOST_ROWS = 100
_SOUNDS = str.maketrans("bfpvcgjkqsxzdtlmnr", "111122222222334556")


@lru_cache(maxsize=65536)
def soundex(word: str) -> str:
    """Return the American Soundex code of a folded word (US National Archives), empty for none."""
    letters = [c for c in word if "a" <= c <= "z"]
    if not letters:
        return ""
    code, last = letters[0].upper(), letters[0].translate(_SOUNDS)
    for letter in letters[1:]:
        sound = letter.translate(_SOUNDS)
        if sound.isdigit() and sound != last:
            code += sound
        if letter not in "hw":
            last = sound
    return code[:4].ljust(4, "0")


def hashed(text: str) -> int:
    """Return a key as a signed number of 64 bits, the same on every machine."""
    return int.from_bytes(blake2b(text.encode(), digest_size=8).digest(), "big", signed=True)


def keys(person: Person) -> set[int]:
    """Return the keys under which somebody is kept: 9 to 14 for one name, address and contact."""
    return {hashed(text) for text in _texts(person)}


def wanted_keys(person: Person) -> set[int]:
    """Return the keys under which somebody is looked for: their own, and those of other forms of the name."""
    return keys(person) | name_keys(person)


def name_keys(person: Person) -> set[int]:
    """Return the keys under which people of a like name are looked for: the name as it stands and turned round, and
    its short and long forms."""
    turned = {way for name in person.names for way in (name, Name(name.family, name.given))}
    forms = {Name(form, name.family) for name in person.names for form in full_forms(name.given)}
    texts = chain.from_iterable((*map(_of_name, turned), *map(_of_form, forms)))
    return {hashed(text) for text in texts}


def _texts(person: Person) -> Iterator[str]:
    yield from (f"e{mail}" for mail in person.emails)
    yield from (f"p{phone}" for phone in person.phones)
    yield from (f"d{date}" for date in person.birth_dates)
    yield from (f"#{number}" for number in person.numbers)
    for name in person.names:
        yield from _of_name(name)
    for address in person.addresses:
        yield from _of_address(address)
        for name in person.names:
            yield from _of_both(name, address)


def _of_name(name: Name) -> Iterator[str]:
    given, family = (part.replace(" ", "") for part in name)
    if given and family:
        one, two = sorted((soundex(given), soundex(family)))
        yield f"s{one}|{two}"
        # A slip in the middle of a short given name changes its begin, its end and its sound.
        yield f"i{given[0]}|{family}"
        yield from _of_form(name)


def _of_form(name: Name) -> Iterator[str]:
    """Yield the keys that need the whole given name and stand a slip in the family name."""
    given, family = (part.replace(" ", "") for part in name)
    if given and family:
        yield f"g{given}|{soundex(family)}"
        one, two = sorted((given[-3:], family[-3:]))
        yield f"f{one}|{two}"


def _of_address(address: Address) -> Iterator[str]:
    street = address.street.replace(" ", "")
    if street and address.house:
        yield f"h{street[:5]}|{address.house}"
    if address.postcode and address.house:
        yield f"c{address.postcode}|{address.house}"


def _of_both(name: Name, address: Address) -> Iterator[str]:
    for part in name:
        if not part:
            continue
        if address.postcode:
            yield f"n{soundex(part)}|{address.postcode}"
        if address.town:
            yield f"o{part[:4]}|{address.town.replace(' ', '')[:5]}"
        if address.street:
            yield f"r{part[:3]}|{address.street[:4]}"
