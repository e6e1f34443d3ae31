"""Which passwords locked PDFs of a message are tried with: the shop's, and those of the customers it concerns.

Passwords pass through no pipe: a reading process opens their files itself, and is told whose addresses are whose.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path

from counterfoil.errors import SettingsFaulty
from counterfoil.model import Message
from counterfoil.password_file import read_customer_passwords, read_passwords
from counterfoil.sandbox.wire import Json
from counterfoil.settings import Settings


@dataclass(frozen=True, slots=True)
class Owner:
    """A customer with passwords: the id in the file, the id it leads to today, and the e-mail addresses on file."""

    customer: str
    present: str
    addresses: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CustomerPasswords:
    """The file with passwords of customers' PDFs, and the customers in it."""

    file: Path
    owners: tuple[Owner, ...]


def passwords_json(passwords: CustomerPasswords | None) -> Json | None:
    """Return where passwords of customers stand as JSON; the passwords are not in it."""
    if passwords is None:
        return None
    owners = [[owner.customer, owner.present, list(owner.addresses)] for owner in passwords.owners]
    return {"file": str(passwords.file), "owners": owners}


@dataclass(frozen=True, slots=True)
class Locks:
    """The passwords that a reading process knows."""

    shop: tuple[str, ...] = field(default=(), repr=False)
    owners: tuple[Owner, ...] = ()
    own: dict[str, tuple[str, ...]] = field(default_factory=dict, repr=False)

    @classmethod
    def load(cls, settings: Settings, customers: Json | None) -> Locks:
        """Read the files; nothing is in one that went away since the run looked at it.

        Args:
            settings: the shop's.
            customers: see :func:`passwords_json`.
        """
        shop: tuple[str, ...] = ()
        own: dict[str, tuple[str, ...]] = {}
        try:
            if settings.pdf_password_file:
                shop = read_passwords(Path(settings.pdf_password_file), "pdf_password_file")
        except SettingsFaulty:
            shop = ()
        try:
            if customers is not None:
                own = read_customer_passwords(Path(customers["file"]))
        except SettingsFaulty:
            own = {}
        owners = [] if customers is None else customers["owners"]
        return cls(shop, tuple(Owner(noted, present, tuple(addresses)) for noted, present, addresses in owners), own)

    def of(self, message: Message, customers: Collection[str]) -> tuple[str, ...]:
        """Return what PDFs of a message are tried with.

        Args:
            message: its senders and recipients, those of forwards as well, say whom it concerns.
            customers: ids of customers it is known to concern.
        """
        boxes = [box for layer in message.layers for box in (layer.sender, *layer.to, *layer.cc) if box is not None]
        seen = {box.address.casefold() for box in boxes}
        found = dict.fromkeys(self.shop)
        for owner in self.owners:
            if owner.present in customers or any(address.casefold() in seen for address in owner.addresses):
                found.update(dict.fromkeys(self.own.get(owner.customer, ())))
        return tuple(found)
