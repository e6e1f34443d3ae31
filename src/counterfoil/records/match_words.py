"""Levels of agreement in words, for a person to judge by, and what they say of an address."""

from __future__ import annotations

from counterfoil.records.match_compare import FIELDS, LEVELS, MISSING, Vector

_AT = {name: FIELDS.index(name) for name in FIELDS}
_SAME, _NEAR = 0, 1


def same_home(vector: Vector) -> bool:
    """Tell whether two addresses are the same but for the way they are written: street, house number and place."""
    street, house, postcode, town = (vector[_AT[name]] for name in ("street", "house_number", "postcode", "town"))
    place = _SAME in (postcode, town) and _differs("town") != town and postcode <= _NEAR
    return street in (_SAME, _NEAR) and house == _SAME and place


def another_email(vector: Vector) -> bool:
    """Tell whether both have an e-mail address, and not the same."""
    return vector[_AT["email_address"]] not in (MISSING, _SAME)


def contact_words(vector: Vector) -> list[str]:
    """Return what is nearly the same of the contacts."""
    words = []
    if vector[_AT["email_address"]] == _NEAR:
        words.append("e-mail address alike, not the same")
    if vector[_AT["phone_number"]] == _NEAR:
        words.append("phone number one digit off")
    return words


def address_words(vector: Vector) -> list[str]:
    """Return how two postal addresses compare that are not written the same; nothing where one is not known."""
    street, house, town = (vector[_AT[name]] for name in ("street", "house_number", "town"))
    if MISSING in (street, town):
        return []
    if same_home(vector):
        return ["same postal address, written differently"]
    if street in (_SAME, _NEAR) and town in (_SAME, _NEAR):
        return ["same street, another house number"] if house > _SAME else ["same street"]
    return ["another postal address"] if town == _differs("town") else ["another address in the same town"]


def _differs(name: str) -> int:
    return len(LEVELS[name]) - 1
