"""The export: every message, customer and machine as JSON-ready dictionaries with stable keys."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, TypeVar

from counterfoil.answers.masking import mask_in, mask_value, secrets_of
from counterfoil.answers.provenance import fact_json, message_hidden
from counterfoil.answers.restore import REVEAL_ACTION
from counterfoil.errors import UsageProblem
from counterfoil.model import CustomerProfile, Kind, MachineProfile, MessageRecord, Noted

if TYPE_CHECKING:
    from counterfoil.records.store import Store

#: What the journal calls the whole archive as a subject.
EVERYTHING = "archive"

_Record = TypeVar("_Record", MessageRecord, CustomerProfile, MachineProfile)


def export(store: Store, reveal: bool = False, *, who: str = "", why: str = "") -> Iterator[dict[str, object]]:
    """Yield every record: messages, then customers, then machines, each in the order of their ids.

    Args:
        store: the records.
        reveal: leave product keys and activation codes as they are; ``who`` goes into the journal first.
        who: the person at the desk.
        why: why the codes are shown.

    Returns:
        Dictionaries with the keys of the machine-readable contract; unknown is None, dates are ISO 8601.

    Raises:
        UsageProblem: codes are to be shown, but nobody is named.
    """
    if reveal:
        if not who.strip():
            raise UsageProblem("Codes are shown only to a named person.")
        store.note(who, REVEAL_ACTION, EVERYTHING, why.strip() or "export", {"answer": "export"})
    return _records(store, reveal)


def _records(store: Store, reveal: bool) -> Iterator[dict[str, object]]:
    for message in by_id(store.messages()):
        yield message_json(message, reveal=reveal)
    for customer in by_id(store.customers()):
        yield customer_json(customer)
    for machine in by_id(store.machines()):
        yield machine_json(machine, reveal=reveal)


def by_id(records: Iterable[_Record]) -> list[_Record]:
    """Sort records by the number in their id: E2 before E10."""
    return sorted(records, key=lambda record: int(record.id[1:]))


def message_json(message: MessageRecord, *, reveal: bool = False) -> dict[str, object]:
    """Return a message with the keys of the export; codes masked, also in the subject, unless ``reveal``.

    ``facts`` are the values in force; readings that were weighed and not chosen are shown by triage only.
    """
    secrets = frozenset() if reveal else secrets_of(message.facts)
    message = message if reveal else message_hidden(message)
    return {
        "record": "message",
        "id": message.id,
        "sha256": message.sha256,
        "source": message.source,
        "message_id": message.message_id or None,
        "received": message.received,
        "subject": mask_in(message.subject, secrets),
        "standing": message.standing.value,
        "questions": [question.code for question in message.questions],
        "customer": message.customer,
        "machine": message.machine,
        "facts": [fact_json(noted.fact, reveal=reveal) for noted in message.facts if noted.chosen],
    }


def customer_json(customer: CustomerProfile) -> dict[str, object]:
    """Return a customer with the keys of the export; ``machines`` are those held now."""
    held = (holding.machine for holding in customer.holdings if holding.until is None)
    return {
        "record": "customer",
        "id": customer.id,
        "names": list(customer.values(Kind.CUSTOMER_NAME)),
        "emails": list(customer.values(Kind.EMAIL_ADDRESS)),
        "phones": list(customer.values(Kind.PHONE_NUMBER)),
        "machines": list(dict.fromkeys(held)),
    }


def machine_json(machine: MachineProfile, *, reveal: bool = False) -> dict[str, object]:
    """Return a machine with the keys of the export; codes masked unless ``reveal``."""

    def code(noted: Noted | None) -> str | None:
        return None if noted is None else mask_value(noted.fact.kind, noted.fact.value, reveal=reveal)

    return {
        "record": "machine",
        "id": machine.id,
        "maker": latest(machine, Kind.MAKER),
        "model": latest(machine, Kind.MODEL),
        "serial_number": latest(machine, Kind.SERIAL_NUMBER),
        "machine_ids": list(machine.values(Kind.MACHINE_ID)),
        "purchased": latest(machine, Kind.PURCHASE_DATE, normal=True),
        "registered": latest(machine, Kind.REGISTRATION_DATE, normal=True),
        "firmware": [{"version": note.version, "noted": note.noted} for note in machine.firmware],
        "upgrades": [
            {
                "name": upgrade.name,
                "product_key": code(upgrade.product_key),
                "activation_code": code(upgrade.activation_code),
                "message": upgrade.source,
            }
            for upgrade in machine.upgrades
        ],
        "holders": [{"customer": h.customer, "from": h.since, "to": h.until} for h in machine.holders],
    }


def latest(machine: MachineProfile, kind: Kind, *, normal: bool = False) -> str | None:
    """Return the value of a kind noted last, as written or in its normal form; None where none is on record."""
    noted = machine.latest(kind)
    if noted is None:
        return None
    return noted.fact.normal if normal else noted.fact.value
