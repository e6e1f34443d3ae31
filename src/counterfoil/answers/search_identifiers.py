"""Identifiers typed into the one box, looked up in the records: what points at a record by itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from counterfoil.answers.masking import mask
from counterfoil.answers.provenance import KIND_WORDS
from counterfoil.answers.search_found import Found, Strength
from counterfoil.answers.search_text import NEAR_CHARS, Code, Typed
from counterfoil.errors import RecordUnknown
from counterfoil.model import SECRET_KINDS, CodeHit, CustomerProfile, Kind, MachineProfile, MessageRecord

if TYPE_CHECKING:
    from counterfoil.records.store import Store


def by_identifier(store: Store, typed: Typed, found: Found) -> None:
    """Look up references, addresses, numbers and codes as they were typed."""
    for at, ref in enumerate(typed.references, 1):
        _by_reference(store, ref, found, -at)
    for at, address in enumerate(typed.emails, 1 + len(typed.references)):
        customers = store.find_contacts(Kind.EMAIL_ADDRESS, address)
        _note_contacts(found, [(ref, "e-mail address") for ref in customers], {-at}, "an e-mail address")
        if not customers and not _near_contacts(store, found, Kind.EMAIL_ADDRESS, address, {-at}):
            found.said.append("an e-mail address that no customer has")
            found.left_over = True
    for at, (number, normal) in enumerate(typed.phones, 1_000):
        customers = store.find_contacts(Kind.PHONE_NUMBER, normal)
        hits = [(ref, f"telephone number {number}") for ref in customers]
        _note_contacts(found, hits, _places_of(number, typed) or {-at}, "a telephone number")
    taken: set[int] = set()
    for code in typed.codes:
        places = set(range(code.start, code.end))
        # Nobody spells a word: what was spelled is a code, perhaps misheard.
        codes = store.find_code(code.normal, near=code.spoken, middles=code.spoken) if taken.isdisjoint(places) else []
        if codes and _note_codes(found, code, codes):
            taken |= places


def by_near_identifier(store: Store, typed: Typed, found: Found) -> None:
    """Look up what is nearly the same as a code, number or address whose words have found nothing yet."""
    for piece, place in typed.email_pieces:
        if place not in found.used():
            hits = store.find_contact_pieces(Kind.EMAIL_ADDRESS, piece)
            told = [(ref, f"near: e-mail address {address} holds this") for ref, address in hits]
            _note_contacts(found, told, {place}, "a piece of an e-mail address", sure=False)
    for at, (number, normal) in enumerate(typed.phones, 1_000):
        places = _places_of(number, typed) or {-at}
        if places.isdisjoint(found.used()):
            _near_contacts(store, found, Kind.PHONE_NUMBER, normal, places)
    for digits, (start, end) in typed.may_be_phones:
        places = set(range(start, end))
        if places.isdisjoint(found.used()):
            hits = store.find_contact_pieces(Kind.PHONE_NUMBER, digits.lstrip("0"))
            told = [(ref, f"near: telephone number {number} ends so") for ref, number in hits]
            _note_contacts(found, told, places, "the end of a telephone number", sure=False)
    for code in typed.codes:
        if _worth_a_near_look(code, typed) and found.used().isdisjoint(range(code.start, code.end)):
            _note_codes(found, code, store.find_code(code.normal, endings=False, middles=True))


def _worth_a_near_look(code: Code, typed: Typed) -> bool:
    """Tell whether a stretch of words looks so much like a code that codes near it are no accident."""
    if code.normal.isdigit() and len(code.normal) < NEAR_CHARS:
        return False
    if code.letters_only and code.typed != code.typed.upper() and not code.spoken:
        return False
    words = typed.words[code.start : code.end]
    return code.spoken or all(not w.isalpha() or w == w.upper() or len(w) <= 2 for w in words)


def _near_contacts(store: Store, found: Found, kind: Kind, normal: str, places: set[int]) -> bool:
    """Note the contacts that differ from one by a typing error; return whether there are any."""
    noun = "e-mail address" if kind is Kind.EMAIL_ADDRESS else "telephone number"
    hits = [(ref, f"near: {noun} {value}") for ref, value in store.find_near_contacts(kind, normal)]
    article = "an" if noun[0] == "e" else "a"
    said = f"{article} {noun} that no customer has; one like it is shown"
    return _note_contacts(found, hits, places, said, sure=False)


def _note_contacts(
    found: Found, hits: list[tuple[str, str]], places: set[int], said: str, *, sure: bool = True
) -> bool:
    if hits:
        clue = found.clue(places, Strength.IDENTITY)
        for ref, why in hits:
            found.add(ref, why, clue, sure=sure)
        found.said.append(said)
    return bool(hits)


def _places_of(number: str, typed: Typed) -> set[int]:
    """Return the places of the words that a telephone number takes up; none where it was put otherwise."""
    parts = number.split()
    for start in range(len(typed.words) - len(parts) + 1):
        if all(part.strip("()") in word for part, word in zip(parts, typed.words[start:], strict=False)):
            return set(range(start, start + len(parts)))
    return set()


def _lookups(store: Store) -> dict[str, Callable[[str], CustomerProfile | MachineProfile | MessageRecord]]:
    return {"C": store.customer, "M": store.machine, "E": store.message}


def exists(store: Store, ref: str) -> bool:
    """Tell whether there is a record with this reference (C12, M7, E5)."""
    try:
        _lookups(store)[ref[0]](ref)
    except RecordUnknown:
        return False
    return True


def _by_reference(store: Store, ref: str, found: Found, place: int) -> None:
    clue = found.clue({place}, Strength.IDENTITY)
    if ref[0] == "C" and (into := store.customer(ref).id) != ref:
        found.add(into, f"{ref} was merged into it", clue)
    else:
        found.add(ref, "its reference", clue)
    found.said.append("the reference of a " + {"C": "customer", "M": "machine", "E": "message"}[ref[0]])
    if ref[0] == "E":
        message = store.message(ref)
        found.add(message.customer, f"{ref} is filed there", clue)
        found.add(message.machine, f"{ref} is filed there", clue)


#: How a code was found, the surest first.
_HOW = ("whole", "ending", "near", "middle", "near ending")


def _note_codes(found: Found, code: Code, hits: list[CodeHit]) -> bool:
    """Note what the hits of one code belong to, the surest only; return whether there are hits."""
    best = next((how for how in _HOW if any(h.how == how for h in hits)), None)
    if best is None:
        return False
    clue = found.clue(range(code.start, code.end), Strength.IDENTITY)
    for hit in hits:
        if hit.how == best:
            for ref in (hit.machine, hit.customer if hit.machine is None else None, hit.message):
                found.add(ref, _code_why(code, hit), clue, sure=best in ("whole", "ending"))
    # Never the code itself: what was typed may be a product key.
    size = len(code.normal)
    shape = {
        "whole": f"a code of {size} characters",
        "ending": f"the last {size} characters of a code",
        "near": f"a code of {size} characters that nobody has; codes nearly the same are shown",
        "middle": f"{size} characters out of a code",
        "near ending": f"the last {size} characters of a code that nobody has; codes that end nearly so are shown",
    }[best]
    found.said.append(shape + (", spelled" if code.spoken else ""))
    return True


def _code_why(code: Code, hit: CodeHit) -> str:
    fact = hit.noted.fact
    kind = KIND_WORDS[fact.kind]
    secret = fact.kind in SECRET_KINDS
    value = mask(fact.value) if secret else fact.value
    match hit.how:
        case "whole":
            return f"{kind} {value}"
        case "ending":
            return f"{kind} {value} ends in these characters"
        case "middle":
            return f"near: {kind} {value} has these characters in it"
        case "near ending":
            return f"near: {kind} {value} ends nearly so"
    # Which characters differ would spell out a code that was not known to whoever typed this one.
    return f"near: {kind} {value} is nearly the same" + ("" if secret else _differences(code.normal, fact.normal))


def _differences(typed: str, kept: str) -> str:
    """Say where two codes of one length differ: "character 3 is O, not 0"."""
    if len(typed) != len(kept):
        return f": {len(kept)} characters, not {len(typed)}"
    told = [f"character {n} is {b}, not {a}" for n, (a, b) in enumerate(zip(typed, kept, strict=True), 1) if a != b]
    return ": " + ", ".join(told) if told else ""
