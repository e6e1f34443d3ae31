"""From values as written to the parts that are compared: names and postal addresses, taken apart and folded."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from counterfoil.patterns.names import fold_name
from counterfoil.records.linkage import couple, generation, is_company, parts
from counterfoil.records.match_compare import Address, Name, Person

_PIECES = re.compile(r"[,;\n\t|]+")
_UK = re.compile(r"\b([a-z]{1,2}\d[a-z\d]?) ?(\d[a-z]{2})\b")
_DUTCH = re.compile(r"\b(\d{4}) ?([a-z]{2})\b(?! [a-z]{2}\b)")
_SWEDISH = re.compile(r"\b(\d{3}) (\d{2})\b")
_PLAIN = re.compile(r"\b(?:[a-z]{1,2}[- ])?(\d{4,5})(?:-\d{4})?\b")
_HOUSE = re.compile(r"^(\d+ ?[a-z]?(?:[-/ ]\d+[a-z]?)?)\b|\b(\d+ ?[a-z]?(?:[-/ ]\d+[a-z]?)?)$")
_REGION = re.compile(r"^[a-z]{2,3}$")
#: Words of streets that are often written short; common practice, no source.
_LONG = {
    "str": "strasse", "st": "street", "rd": "road", "ave": "avenue", "av": "avenue", "ln": "lane", "dr": "drive",
    "cl": "close", "ct": "court", "cres": "crescent", "sq": "square", "pl": "place", "bd": "boulevard",
    "blvd": "boulevard", "pza": "plaza", "c": "calle", "v": "via", "terr": "terrace", "gr": "grand",
}  # fmt: skip
# fmt: off
_PARTICLES = frozenset([
    "van", "von", "vom", "zu", "zur", "der", "den", "de", "du", "des", "del", "della", "di", "da", "dos", "das", "la",
    "le", "ter", "ten", "te", "af",
])
_FLATS = re.compile(r"^(?:flat|apt|apartment|unit|suite|wohnung|top|bus|appartement|piso)\b")
_COUNTRIES = frozenset([
    "united kingdom", "uk", "great britain", "england", "scotland", "wales", "ireland", "deutschland", "germany",
    "osterreich", "austria", "schweiz", "suisse", "svizzera", "switzerland", "france", "nederland", "netherlands",
    "the netherlands", "belgie", "belgique", "belgium", "espana", "spain", "italia", "italy", "sverige", "sweden",
    "norge", "norway", "danmark", "denmark", "usa", "united states", "australia", "canada",
])
# fmt: on


def person(
    names: Iterable[str] = (), emails: Iterable[str] = (), phones: Iterable[str] = (), addresses: Iterable[str] = ()
) -> Person:
    """Return somebody as they are compared.

    Args:
        names: as written; of a couple in one name each counts for one.
        emails: in normal form.
        phones: in normal form (E.164).
        addresses: postal addresses as written.
    """
    return Person(
        tuple(dict.fromkeys(one for text in names for one in names_of(text))),
        tuple(dict.fromkeys(emails)),
        tuple(dict.fromkeys(phones)),
        tuple(dict.fromkeys(address_of(text) for text in addresses if text.strip())),
    )


@lru_cache(maxsize=8192)
def names_of(text: str) -> tuple[Name, ...]:
    """Return the given and the family name of everybody in a name.

    "SMITH John" and "Smith, John" have the family name first; "Ola and Marit Solvang" are two; "Jr." is no part of
    the name. The whole name of a company tells as much as both; a single part may be either.
    """
    if is_company(text):
        whole = " ".join(parts(text))
        return (Name(whole, whole),)
    people = couple(generation(text)[0])
    last = people[-1].split()[-1] if people and people[-1] else ""
    return tuple(_name(one if len(one.split()) > 1 or len(people) == 1 else f"{one} {last}") for one in people if one)


def _name(text: str) -> Name:
    family_first = re.match(r"\s*([^,]+),\s*(\S.*)", text)
    if family_first:
        family, given = (parts(half) for half in family_first.groups())
        return Name(" ".join(given), " ".join(family))
    words = text.split()
    shouted = [word for word in words if len(word.strip(".")) > 1 and word.isupper()]
    if 0 < len(shouted) < len(words) and words[0].isupper():
        given_words = [word for word in words if word not in shouted]
        return Name(" ".join(parts(" ".join(given_words))), " ".join(parts(" ".join(shouted))))
    own = parts(text)
    at = next((n for n, part in enumerate(own[1:-1], 1) if part in _PARTICLES), len(own) - 1)
    return Name(" ".join(own[:at]), " ".join(own[at:])) if own else Name()


@lru_cache(maxsize=8192)
def address_of(text: str) -> Address:
    """Return a postal address in parts, as well as they can be told without a gazetteer; folded, nothing invented."""
    pieces = [" ".join(fold_name(piece.replace("/", " "))) for piece in _PIECES.split(text)]
    pieces = [piece for piece in pieces if piece and piece not in _COUNTRIES]
    postcode, town, region, pieces = _place(pieces)
    at = next((n for n, piece in enumerate(pieces) if _HOUSE.search(piece) and not _FLATS.match(piece)), None)
    if at is None:
        street, house, lines = (pieces[0] if pieces else ""), "", pieces[1:]
    else:
        found = _HOUSE.search(pieces[at])
        house = re.sub(r"[^0-9a-z]", "", found.group()) if found else ""
        street = _HOUSE.sub("", pieces[at], count=1).strip()
        lines = pieces[:at] + pieces[at + 1 :]
        if not street and lines:
            # "14, Mill Lane": the number stands in a piece of its own.
            street = lines.pop(min(at, len(lines) - 1))
    if not town and lines:
        town = lines.pop()
    return Address(_street(street), house, " ".join(lines), postcode, town, region)


def _place(pieces: list[str]) -> tuple[str, str, str, list[str]]:
    """Return postcode, town and region, and the pieces without them; a postcode stands in one of the last pieces."""
    for at in range(len(pieces) - 1, max(-1, len(pieces) - 4), -1):
        if at == 0 and len(pieces) > 1:
            break
        for shape in (_UK, _DUTCH, _SWEDISH, _PLAIN):
            found = shape.search(pieces[at])
            if not found:
                continue
            postcode = "".join(found.groups())
            before, after = pieces[at][: found.start()].strip(), pieces[at][found.end() :].strip()
            town, region, rest = after or before, "", pieces[:at] + pieces[at + 1 :]
            if after and before and at == len(pieces) - 1 and len(pieces) == 1:
                return postcode, after, "", [before]
            if (not town or _REGION.match(town)) and len(rest) > 1:
                region, town = town, rest.pop(min(at, len(rest)) - 1)
            return postcode, town, region, rest
    return "", "", "", pieces


def _street(text: str) -> str:
    """Return a street with its words written out, the German word for it parted from the name before it."""
    words = [_LONG.get(word, word) for word in text.split()]
    joined = " ".join(words)
    return re.sub(r"(?<=[a-z]{3})(?:str|strasse)\b", " strasse", joined).replace("  ", " ")
