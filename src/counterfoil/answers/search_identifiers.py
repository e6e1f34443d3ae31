"""Identifiers typed into the one box, looked up in the records: what points at a record by itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from counterfoil.answers.masking import mask
from counterfoil.answers.provenance import KIND_WORDS
from counterfoil.answers.search_found import Found
from counterfoil.answers.search_text import NEAR_CHARS, Code, Typed
from counterfoil.errors import RecordUnknown
from counterfoil.model import SECRET_KINDS, CodeHit, CustomerProfile, Kind, MachineProfile, MessageRecord

if TYPE_CHECKING:
    from counterfoil.records.store import Store


def by_identifier(store: Store, typed: Typed, found: Found) -> set[int]:
    """Look up references, addresses, numbers and codes; return the places of the words they take up."""
    for ref in typed.references:
        _by_reference(store, ref, found)
    for address in typed.emails:
        _by_contact(store, Kind.EMAIL_ADDRESS, address, "e-mail address", found)
    for number, normal in typed.phones:
        _by_contact(store, Kind.PHONE_NUMBER, normal, f"telephone number {number}", found)
    used: set[int] = set()
    taken: list[Code] = []
    for code in typed.codes:
        places = set(range(code.start, code.end))
        if used.isdisjoint(places) and _note_codes(found, code, store.find_code(code.normal, near=False)):
            used |= places
            taken.append(code)
    if found.nothing:
        for code in typed.codes:
            if len(code.normal) < NEAR_CHARS or code.letters_only or not used.isdisjoint(range(code.start, code.end)):
                continue
            if _note_codes(found, code, store.find_code(code.normal, endings=False)):
                used |= set(range(code.start, code.end))
    used |= _places_of_phones(typed, found)
    return used


def _places_of_phones(typed: Typed, found: Found) -> set[int]:
    """Return the places of words that belong to a telephone number somebody has."""
    places: set[int] = set()
    for number, _ in typed.phones:
        if f"telephone number {number}" not in found.customers.values():
            continue
        parts = number.split()
        for start in range(len(typed.words) - len(parts) + 1):
            if all(part.strip("()") in word for part, word in zip(parts, typed.words[start:], strict=False)):
                places |= set(range(start, start + len(parts)))
    return places


def _lookups(store: Store) -> dict[str, Callable[[str], CustomerProfile | MachineProfile | MessageRecord]]:
    return {"C": store.customer, "M": store.machine, "E": store.message}


def exists(store: Store, ref: str) -> bool:
    """Tell whether there is a record with this reference (C12, M7, E5)."""
    try:
        _lookups(store)[ref[0]](ref)
    except RecordUnknown:
        return False
    return True


def _by_reference(store: Store, ref: str, found: Found) -> None:
    if ref[0] == "C" and (into := store.customer(ref).id) != ref:
        found.add(into, f"{ref} was merged into it")
    else:
        found.add(ref, "its reference")
    found.said.append("the reference of a " + {"C": "customer", "M": "machine", "E": "message"}[ref[0]])
    if ref[0] == "E":
        message = store.message(ref)
        found.add(message.customer, f"{ref} is filed there")
        found.add(message.machine, f"{ref} is filed there")


def _by_contact(store: Store, kind: Kind, normal: str, why: str, found: Found) -> None:
    customers = store.find_contacts(kind, normal)
    for ref in customers:
        found.add(ref, why)
    if customers or kind is Kind.EMAIL_ADDRESS:
        noun = "an e-mail address" if kind is Kind.EMAIL_ADDRESS else "a telephone number"
        found.said.append(noun + ("" if customers else " that no customer has"))


def _note_codes(found: Found, code: Code, hits: list[CodeHit]) -> bool:
    """Note what the hits of one code belong to, whole codes only where there are any; return whether there are hits."""
    best = next((how for how in ("whole", "ending", "near") if any(h.how == how for h in hits)), None)
    for hit in hits:
        if hit.how != best:
            continue
        why, certain = _code_why(code, hit), best != "near"
        for ref in (hit.machine, hit.customer if hit.machine is None else None, hit.message):
            found.add(ref, why, certain=certain)
    if best is not None:
        # Never the code itself: what was typed may be a product key.
        shape = {
            "whole": f"a code of {len(code.normal)} characters",
            "ending": f"the last {len(code.normal)} characters of a code",
            "near": f"a code of {len(code.normal)} characters that nobody has; codes nearly the same are shown",
        }[best]
        found.said.append(shape)
    return best is not None


def _code_why(code: Code, hit: CodeHit) -> str:
    fact = hit.noted.fact
    kind = KIND_WORDS[fact.kind]
    secret = fact.kind in SECRET_KINDS
    value = mask(fact.value) if secret else fact.value
    if hit.how == "whole":
        return f"{kind} {value}"
    if hit.how == "ending":
        return f"{kind} {value} ends in these characters"
    # Which characters differ would spell out a code that was not known to whoever typed this one.
    return f"{kind} {value} is nearly the same" + ("" if secret else _differences(code.normal, fact.normal))


def _differences(typed: str, kept: str) -> str:
    """Say where two codes of one length differ: "character 3 is O, not 0"."""
    if len(typed) != len(kept):
        return f": {len(kept)} characters, not {len(typed)}"
    told = [f"character {n} is {b}, not {a}" for n, (a, b) in enumerate(zip(typed, kept, strict=True), 1) if a != b]
    return ": " + ", ".join(told) if told else ""
