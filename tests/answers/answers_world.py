"""Profiles made by hand for the tests of the answers: an invented machine and what can be noted about it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from counterfoil.index import Index
from counterfoil.model import (
    Cell,
    Check,
    Document,
    Fact,
    FirmwareNote,
    Holding,
    Kind,
    Layer,
    Line,
    MachineProfile,
    Mailbox,
    Message,
    Noted,
    Place,
    Reading,
    Upgrade,
)
from counterfoil.records.filing import file_message
from counterfoil.records.originals import Originals
from counterfoil.records.store import Store
from counterfoil.settings import Settings

MAKER, MODEL = "Vellamar", "Corvina 700"
MACHINE_ID, OLD_MACHINE_ID = "VM-204817-K", "VM-111111-A"


def normal(kind: Kind, value: str) -> str:
    """Return a code's normal form, other values as they are."""
    if kind in (Kind.MACHINE_ID, Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE):
        return "".join(c for c in value.upper() if c.isalnum())
    return value


def fact(kind: Kind, value: str, *, odds: float = 7.0, readings: tuple[str, ...] = ()) -> Fact:
    """Return a fact as read from the first page of a PDF."""
    place = Place("pdf:confirmation.pdf", 1)
    return Fact(kind, value, normal(kind, value), place, "label", Check.NONE, odds, readings)


def noted(
    kind: Kind,
    value: str,
    source: str = "E5",
    *,
    odds: float = 7.0,
    readings: tuple[str, ...] = (),
    confirmed: bool = False,
    number: int = 1,
    at: str = "2025-03-02T10:00:00+00:00",
) -> Noted:
    """Return a fact as the records keep it."""
    return Noted(fact(kind, value, odds=odds, readings=readings), source, at, number, True, confirmed)


def upgrade(
    name: str | None = "Stitch Pack 2",
    key: str | None = "SP2B-8XQ0-ZZ12",
    code: str | None = "7K5S-UV6G-99L1-44TT",
    *,
    machine_id: str | None = MACHINE_ID,
    live: bool = True,
    source: str = "E5",
    confirmed: bool = False,
) -> Upgrade:
    """Return an upgrade with its codes."""
    return Upgrade(
        name,
        None if key is None else noted(Kind.PRODUCT_KEY, key, source, confirmed=confirmed),
        None if code is None else noted(Kind.ACTIVATION_CODE, code, source, confirmed=confirmed),
        None if machine_id is None else normal(Kind.MACHINE_ID, machine_id),
        live,
        source,
    )


def machine(
    *facts: Noted,
    upgrades: tuple[Upgrade, ...] = (),
    firmware: tuple[FirmwareNote, ...] = (),
    holders: tuple[Holding, ...] = (Holding("C3", "M7", "2024-01-15", None, "E5"),),
    maker: str | None = MAKER,
    model: str | None = MODEL,
) -> MachineProfile:
    """Return a machine's profile with maker, model and the facts given."""
    named = [noted(kind, text) for kind, text in ((Kind.MAKER, maker), (Kind.MODEL, model)) if text is not None]
    return MachineProfile("M7", (*named, *facts), upgrades, firmware, holders, ("E5",))


class Desk:
    """A small archive of real parts, filled with confirmations made by hand."""

    def __init__(self, folder: Path) -> None:
        self.settings = Settings(shop_name="Tidewheel Sewing")
        folder.mkdir(parents=True, exist_ok=True)
        self.store = Store(folder / "records.db", create=True, settings=self.settings)
        self.originals = Originals(folder / "originals")
        self.index = Index(folder / "index")

    def confirm(self, values: Mapping[Kind, str], *, day: str = "2024-01-20", subject: str = "Your upgrade") -> str:
        """Keep and file a confirmation that says these values; return the message's id."""
        facts = tuple(fact(kind, value) for kind, value in values.items())
        name, address = values.get(Kind.CUSTOMER_NAME, ""), values.get(Kind.EMAIL_ADDRESS, "someone@post.example")
        lines = [f"From: {name} <{address}>", f"Subject: {subject}", f"Date: {day}", ""]
        data = "\r\n".join([*lines, *(f"{f.kind}: {f.value}" for f in facts)]).encode()
        sha256, _ = self.originals.keep(data)
        when = datetime.fromisoformat(f"{day}T10:00:00+00:00")
        layer = Layer("received", None, Mailbox(name, address), date=when, subject=subject)
        text = "Here is the confirmation."
        body = Document("body", 0, text, (Line(0, len(text), (Cell(0, len(text), 0, len(text)),)),), size=len(text))
        message = Message(sha256, len(data), (layer,), (body,))
        reading = Reading(facts, {f.kind: f for f in facts}, confirmation=8.0)
        ref, decision = file_message(self.store, message, reading, f"inbox/{sha256[:6]}.eml", self.settings)
        self.decision = decision
        return ref

    def catch_up(self) -> None:
        """Bring the index up to the records."""
        self.index.catch_up(self.store.index_entries, batch=10)


#: A confirmation that is filed without a hand.
MARIT = {
    Kind.CUSTOMER_NAME: "Marit Solvang",
    Kind.EMAIL_ADDRESS: "marit@solvang.example",
    Kind.MAKER: MAKER,
    Kind.MODEL: MODEL,
    Kind.MACHINE_ID: MACHINE_ID,
    Kind.SERIAL_NUMBER: "700-55-1203",
    Kind.UPGRADE_NAME: "Stitch Pack 2",
    Kind.PRODUCT_KEY: "SP2B-8XQ0-ZZ12",
    Kind.ACTIVATION_CODE: "7K5S-UV6G-99L1-44TT",
    Kind.PURCHASE_DATE: "2024-01-15",
}
#: Another upgrade of the same machine.
MARIT_AGAIN = MARIT | {
    Kind.UPGRADE_NAME: "Broderie Étoilée",
    Kind.PRODUCT_KEY: "BE11-5555-C3C3",
    Kind.ACTIVATION_CODE: "Q2Q2-8888-H7H7-10RT",
}
#: The same machine after its main board was swapped, and the second upgrade activated anew.
MARIT_SWAPPED = MARIT | {
    Kind.MACHINE_ID: "VM-999001-P",
    Kind.ACTIVATION_CODE: "NEWC-0DE5-1111-7PPL",
}
#: The machine in the hands of somebody else, with an upgrade bought later.
TRADED_IN = MARIT | {
    Kind.CUSTOMER_NAME: "Tobias Renn",
    Kind.EMAIL_ADDRESS: "tobias@renn.example",
    Kind.UPGRADE_NAME: "Broderie Étoilée",
    Kind.PRODUCT_KEY: "TB11-5555-C3C3",
    Kind.ACTIVATION_CODE: "TOBI-8888-H7H7-10RT",
    Kind.PURCHASE_DATE: "2025-06-10",
}
