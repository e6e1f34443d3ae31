"""To whom codes may be given: the present holder, known by a call back, by e-mail, or in the shop with the machine.

A number or an address counts only where it is on file of the present holder: whoever calls can name any other. What
does not agree with the records is refused with the reason; a person may override it with a reason, which is journalled.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from counterfoil.errors import NeedsALook, UsageProblem
from counterfoil.model import CustomerProfile, Kind, MachineProfile
from counterfoil.patterns.normal import normal_email, normal_phone

if TYPE_CHECKING:
    from counterfoil.records.store import Store

#: Journalled where nobody said how the caller was known.
NOT_STATED = "not stated"
CHOICES = "`shop` (in the shop with the machine), `call-back`, `e-mail`, or the number or address itself"

_SHOP = frozenset({"shop", "in the shop", "in the shop with the machine"})
_CALL_BACK = frozenset({"call-back", "callback", "call back", "phone", "telephone"})
_EMAIL = frozenset({"e-mail", "email", "mail"})


class Way(StrEnum):
    """How the caller was known."""

    SHOP = "in the shop with the machine"
    CALL_BACK = "called back on"
    EMAIL = "wrote from"
    NONE = "by none of these"


@dataclass(frozen=True, slots=True)
class KnownBy:
    """How the caller was known: the way, and the number or address, empty in the shop or where none is on file.

    ``contact`` is its normal form, ``written`` how it stands in the profile.
    """

    way: Way
    contact: str = ""
    written: str = ""

    def __str__(self) -> str:
        if self.contact or self.way in (Way.SHOP, Way.NONE):
            return f"{self.way} {self.written or self.contact}".strip()
        return "call back" if self.way is Way.CALL_BACK else "e-mail"


def on_file(customer: CustomerProfile | None, kind: Kind) -> dict[str, str]:
    """Return a customer's telephone numbers or e-mail addresses: normal form to the value as written, first one first.

    Args:
        customer: the profile; None has none.
        kind: PHONE_NUMBER or EMAIL_ADDRESS.
    """
    found: dict[str, str] = {}
    for noted in () if customer is None else customer.facts:
        if noted.fact.kind is kind and noted.chosen:
            found.setdefault(noted.fact.normal, noted.fact.value)
    return found


def read_known_by(text: str, holder: CustomerProfile | None, region: str) -> KnownBy:
    """Read how the caller was known, as typed.

    Args:
        text: `shop`, `call-back`, `e-mail`, a telephone number or an e-mail address.
        holder: who has the machine now; a single contact on file needs not be typed.
        region: ISO 3166-1 code for numbers without a country code.

    Raises:
        UsageProblem: it is none of these, or the holder has several contacts of that kind on file.
    """
    typed = " ".join(text.split())
    if typed.casefold() in _SHOP:
        return KnownBy(Way.SHOP)
    if typed.casefold() in _CALL_BACK:
        return _known(Way.CALL_BACK, _only(holder, Kind.PHONE_NUMBER, "numbers"), holder)
    if typed.casefold() in _EMAIL:
        return _known(Way.EMAIL, _only(holder, Kind.EMAIL_ADDRESS, "addresses"), holder)
    if "@" in typed and (address := normal_email(typed)) is not None:
        return _known(Way.EMAIL, address, holder)
    if "@" not in typed and (number := normal_phone(typed, region)) is not None:
        return _known(Way.CALL_BACK, number, holder)
    raise UsageProblem(f"{text!r} does not say how the caller was known.", f"Give --known-by {CHOICES}.")


def ways(holder: CustomerProfile | None) -> tuple[KnownBy, ...]:
    """Return the ways in which the records allow a caller to be known; the last one is that none of them holds.

    Args:
        holder: who has the machine now, None for nobody.
    """
    numbers, addresses = on_file(holder, Kind.PHONE_NUMBER), on_file(holder, Kind.EMAIL_ADDRESS)
    return (
        KnownBy(Way.SHOP),
        *(KnownBy(Way.CALL_BACK, *number) for number in numbers.items()),
        *(KnownBy(Way.EMAIL, *address) for address in addresses.items()),
        KnownBy(Way.NONE),
    )


def _known(way: Way, contact: str, holder: CustomerProfile | None) -> KnownBy:
    kind = Kind.PHONE_NUMBER if way is Way.CALL_BACK else Kind.EMAIL_ADDRESS
    return KnownBy(way, contact, on_file(holder, kind).get(contact, ""))


def _only(holder: CustomerProfile | None, kind: Kind, several: str) -> str:
    """Return the one contact of a kind in its normal form, empty where there is none."""
    found = on_file(holder, kind)
    if len(found) > 1 and holder is not None:
        listed = ", ".join(found.values())
        raise UsageProblem(
            f"{holder.id} has {len(found)} {several} on file: {listed}.", "Name the one used: --known-by ..."
        )
    return next(iter(found), "")


def mismatches(store: Store, machine: MachineProfile, asker: str | None, known_by: KnownBy | None) -> tuple[str, ...]:
    """Return what does not agree with the records about who asks, a sentence each; none where all agrees.

    Args:
        store: the records.
        machine: the machine whose codes are asked for.
        asker: the customer who asks, None where nobody was named.
        known_by: how the caller was known, None where it was not stated.
    """
    found = [_not_theirs(machine, asker)] if asker is not None and machine.holder != asker else []
    if known_by is None:
        return tuple(found)
    if machine.holder is None:
        return tuple(found) or (f"Nobody has {machine.id} now.",)
    if known_by.way is Way.SHOP:
        return tuple(found)
    if known_by.way is Way.NONE:
        return (*found, "The caller is known neither by a contact on file nor by the machine.")
    kind = Kind.PHONE_NUMBER if known_by.way is Way.CALL_BACK else Kind.EMAIL_ADDRESS
    noun = "telephone number" if kind is Kind.PHONE_NUMBER else "e-mail address"
    holder = store.customer(machine.holder)
    if not known_by.contact:
        found.append(f"No {noun} of {holder.id} is on file.")
    elif known_by.contact not in on_file(holder, kind):
        others = [ref for ref in store.find_contacts(kind, known_by.contact) if ref != holder.id]
        whose = f"; it is on file of {', '.join(others)}" if others else ""
        found.append(f"{known_by.contact} is not on file of {holder.id}, who has {machine.id} now{whose}.")
    return tuple(found)


def allow(found: tuple[str, ...], override: str) -> None:
    """Refuse what does not agree with the records unless somebody gave a reason for it.

    Args:
        found: from :func:`mismatches`.
        override: the reason, empty for none.

    Raises:
        NeedsALook: something does not agree, and there is no reason to go on.
    """
    if found and not override.strip():
        raise NeedsALook(
            " ".join(found),
            "Codes go to the present holder only: settle who has the machine first, or add --override REASON, which "
            "goes into the journal.",
        )


def _not_theirs(machine: MachineProfile, customer: str) -> str:
    """Explain why a customer does not get a machine's codes."""
    before = [h for h in machine.holders if h.customer == customer and h.until is not None]
    was = (
        f"{customer} had {machine.id} until {before[-1].until}" if before else f"{customer} does not have {machine.id}"
    )
    now = "nobody has it now" if machine.holder is None else f"{machine.holder} has it now"
    return f"{was}; {now}."
