"""Customer and machine profiles with provenance: every value with the message and page it was read from.

Codes are always masked here; the restore sheet is the one answer that shows them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterfoil.answers.masking import mask_in, mask_value, secrets_of
from counterfoil.answers.provenance import KIND_WORDS, evidence_json, is_message, machine_hidden, origin, places_hidden
from counterfoil.answers.reports import by_id, customer_json, latest, machine_json
from counterfoil.model import (
    CustomerProfile,
    FirmwareNote,
    Holding,
    Kind,
    MachineProfile,
    MessageRecord,
    Noted,
    Upgrade,
)

if TYPE_CHECKING:
    from counterfoil.records.store import Store


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a profile (masked where secret) with every place it was read from, first noted first."""

    kind: Kind
    value: str
    noted: tuple[Noted, ...]

    @property
    def label(self) -> str:
        """What the value is, in words."""
        return KIND_WORDS[self.kind]

    @property
    def origins(self) -> tuple[str, ...]:
        """Where the value was read, in words, each place once."""
        return tuple(dict.fromkeys(origin(noted) for noted in self.noted))

    @property
    def confirmed(self) -> bool:
        """True where a person confirmed or entered the value."""
        return any(noted.confirmed for noted in self.noted)

    def to_json(self) -> dict[str, object]:
        """Return kind, value, confirmed, and the evidence."""
        evidence = [evidence_json(noted) for noted in self.noted]
        return {"kind": self.kind.value, "value": self.value, "confirmed": self.confirmed, "evidence": evidence}


@dataclass(frozen=True, slots=True)
class MessageLine:
    """One message of a profile: id, when it was received (ISO 8601), subject (codes masked), standing."""

    id: str
    received: str | None
    subject: str
    standing: str
    repeats: str | None = None
    """The earlier message that says the same, None where there is none."""

    def to_json(self) -> dict[str, object]:
        """Return the line as a dictionary."""
        return {name: getattr(self, name) for name in ("id", "received", "subject", "standing", "repeats")}


@dataclass(frozen=True, slots=True)
class MachineLine:
    """One machine in a customer's profile: what it is, and from when to when the customer has or had it."""

    id: str
    maker: str | None
    model: str | None
    serial_number: str | None
    since: str | None
    until: str | None

    def to_json(self) -> dict[str, object]:
        """Return the line as a dictionary."""
        names = ("id", "maker", "model", "serial_number")
        return {name: getattr(self, name) for name in names} | {"from": self.since, "to": self.until}


@dataclass(frozen=True, slots=True)
class HolderLine:
    """One holder in a machine's profile, with name, from when to when, and the source that says so."""

    customer: str
    name: str
    since: str | None
    until: str | None
    source: str

    def to_json(self) -> dict[str, object]:
        """Return the line as a dictionary."""
        names = ("customer", "name", "source")
        return {name: getattr(self, name) for name in names} | {"from": self.since, "to": self.until}


@dataclass(frozen=True, slots=True)
class UpgradeLine:
    """One upgrade in a machine's profile; codes masked, places in words."""

    name: str | None
    product_key: str | None
    activation_code: str | None
    live: bool
    source: str
    origins: tuple[str, ...]

    def to_json(self) -> dict[str, object]:
        """Return the line as a dictionary."""
        names = ("name", "product_key", "activation_code", "live", "source")
        return {name: getattr(self, name) for name in names} | {"origins": list(self.origins)}


@dataclass(frozen=True, slots=True)
class CustomerAnswer:
    """A customer's profile as the desk sees it."""

    profile: CustomerProfile
    values: tuple[Value, ...]
    machines: tuple[MachineLine, ...]
    messages: tuple[MessageLine, ...]

    @property
    def id(self) -> str:
        """The customer's id."""
        return self.profile.id

    @property
    def name(self) -> str:
        """The first name noted, or the id."""
        return self.profile.name

    def to_json(self) -> dict[str, object]:
        """Return the customer as in the export, with ``values``, ``machines_held`` and ``messages``."""
        return customer_json(self.profile) | {
            "merged": list(self.profile.merged),
            "values": [value.to_json() for value in self.values],
            "machines_held": [line.to_json() for line in self.machines],
            "messages": [line.to_json() for line in self.messages],
        }


@dataclass(frozen=True, slots=True)
class MachineAnswer:
    """A machine's profile as the desk sees it."""

    profile: MachineProfile
    values: tuple[Value, ...]
    upgrades: tuple[UpgradeLine, ...]
    firmware: tuple[FirmwareNote, ...]
    holders: tuple[HolderLine, ...]
    messages: tuple[MessageLine, ...]

    @property
    def id(self) -> str:
        """The machine's id."""
        return self.profile.id

    @property
    def title(self) -> str:
        """Maker and model as far as they are on record, or the id."""
        known = (latest(self.profile, kind) for kind in (Kind.MAKER, Kind.MODEL))
        return " ".join(text for text in known if text) or self.id

    def to_json(self) -> dict[str, object]:
        """Return the machine as in the export, with ``values``, more on upgrades and holders, and ``messages``."""
        notes = [{"version": n.version, "noted": n.noted, "when": n.when, "source": n.source} for n in self.firmware]
        return machine_json(self.profile) | {
            "firmware": notes,
            "upgrades": [line.to_json() | {"message": line.source} for line in self.upgrades],
            "holders": [line.to_json() for line in self.holders],
            "values": [value.to_json() for value in self.values],
            "messages": [line.to_json() for line in self.messages],
        }


def customer_profile(store: Store, customer_id: str) -> CustomerAnswer:
    """Return a customer's profile.

    Args:
        store: the records.
        customer_id: the customer's id, C12.

    Raises:
        RecordUnknown: there is no such customer.
    """
    profile = store.customer(customer_id)
    machines = tuple(_machine_line(store, holding) for holding in profile.holdings)
    refs = dict.fromkeys((*profile.messages, *(noted.source for noted in profile.facts if is_message(noted.source))))
    secrets = secrets_of(noted for ref in refs for noted in store.message(ref).facts)
    values = _values(places_hidden(profile.facts, secrets))
    return CustomerAnswer(profile, values, machines, _messages(store, profile.messages))


def machine_profile(store: Store, machine_id: str) -> MachineAnswer:
    """Return a machine's profile.

    Args:
        store: the records.
        machine_id: the machine's id, M7.

    Raises:
        RecordUnknown: there is no such machine.
    """
    profile = machine_hidden(store.machine(machine_id))
    holders = tuple(
        HolderLine(h.customer, store.customer(h.customer).name, h.since, h.until, h.source) for h in profile.holders
    )
    upgrades = tuple(_upgrade_line(upgrade) for upgrade in profile.upgrades)
    messages = _messages(store, profile.messages)
    return MachineAnswer(profile, _values(profile.facts), upgrades, profile.firmware, holders, messages)


def _values(facts: Iterable[Noted]) -> tuple[Value, ...]:
    """Gather facts that say the same, kinds in the order of the model, values as first noted."""
    order = list(Kind)
    found: dict[tuple[int, str], list[Noted]] = {}
    for noted in facts:
        if noted.chosen:
            found.setdefault((order.index(noted.fact.kind), noted.fact.normal), []).append(noted)
    values: list[Value] = []
    for (kind_index, _), noted_here in sorted(found.items(), key=lambda item: item[0][0]):
        kind = order[kind_index]
        values.append(Value(kind, mask_value(kind, noted_here[0].fact.value), tuple(noted_here)))
    return tuple(values)


def _machine_line(store: Store, holding: Holding) -> MachineLine:
    machine = store.machine(holding.machine)
    maker, model, serial = (latest(machine, kind) for kind in (Kind.MAKER, Kind.MODEL, Kind.SERIAL_NUMBER))
    return MachineLine(machine.id, maker, model, serial, holding.since, holding.until)


def _upgrade_line(upgrade: Upgrade) -> UpgradeLine:
    codes = [noted for noted in (upgrade.product_key, upgrade.activation_code) if noted is not None]
    key, code = (
        None if noted is None else mask_value(noted.fact.kind, noted.fact.value)
        for noted in (upgrade.product_key, upgrade.activation_code)
    )
    origins = tuple(dict.fromkeys(origin(noted) for noted in codes))
    return UpgradeLine(upgrade.name, key, code, upgrade.live, upgrade.source, origins)


def _messages(store: Store, ids: Iterable[str]) -> tuple[MessageLine, ...]:
    return tuple(_message_line(message) for message in by_id(store.message(ref) for ref in dict.fromkeys(ids)))


def _message_line(message: MessageRecord) -> MessageLine:
    subject = mask_in(message.subject, secrets_of(message.facts))
    return MessageLine(message.id, message.received, subject, message.standing.value, message.repeats)
