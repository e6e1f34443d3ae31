"""From what a person typed to one record, and one line that says which record it is."""

from __future__ import annotations

import re
from typing import Literal

import click

from counterfoil.archive import Archive
from counterfoil.model import Kind

Wanted = Literal["customer", "machine", "message"]
_IDS = {"customer": "C[0-9]+", "machine": "M[0-9]+", "message": "E[0-9]+"}


def find_one(archive: Archive, words: tuple[str, ...], wanted: Wanted) -> str:
    """Return the id of the one customer or machine that the words find.

    Raises:
        NeedsALook: more than one fits; the message names them.
        RecordUnknown: none fits.
    """
    typed = "".join(words).strip()
    if re.fullmatch(_IDS[wanted], typed, re.IGNORECASE):
        # An id needs no search: only that the record is there.
        match wanted:
            case "customer":
                found = archive.store.customer(typed).id
                if found != typed.upper():
                    click.echo(f"{typed.upper()} was merged into {found}.", err=True)
                return found
            case "machine":
                return archive.store.machine(typed).id
            case "message":
                return archive.store.message(typed).id
    from counterfoil.answers.search import resolve

    return resolve(archive.store, archive.index, " ".join(words), wanted, settings=archive.settings)


def machine_line(archive: Archive, ref: str | None) -> str:
    """Return `M7  Maker Model, serial number S` for a machine."""
    if ref is None:
        return ""
    machine = archive.store.machine(ref)
    name = " ".join(n.fact.value for kind in (Kind.MAKER, Kind.MODEL) if (n := machine.latest(kind)) is not None)
    serial = machine.latest(Kind.SERIAL_NUMBER)
    machine_id = machine.latest(Kind.MACHINE_ID)
    parts = [name or "maker and model not known"]
    if serial is not None:
        parts.append(f"serial number {serial.fact.value}")
    if machine_id is not None:
        parts.append(f"machine ID {machine_id.fact.value}")
    return f"{machine.id}  {', '.join(parts)}"


def holder_line(archive: Archive, ref: str | None) -> str:
    """Return `C3  Name, e-mail address` for a customer, or that nobody is noted."""
    if ref is None:
        return "nobody noted"
    customer = archive.store.customer(ref)
    parts = [customer.name, *customer.values(Kind.EMAIL_ADDRESS)[:1], *customer.values(Kind.PHONE_NUMBER)[:1]]
    return f"{customer.id}  {', '.join(parts)}"
