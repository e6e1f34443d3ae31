"""What the records know about the values of one message, fetched at once: whose codes, contacts and names these are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

import sqlalchemy as sa

from counterfoil.model import CODE_KINDS, CUSTOMER_KINDS, Kind, Reading
from counterfoil.records import linkage, match_index, schema
from counterfoil.records.lookups import names_by_keys
from counterfoil.records.match_compare import Person
from counterfoil.records.match_learning import current
from counterfoil.records.match_model import SHIPPED, Model
from counterfoil.records.rows import lookup_key

_fact, _holding = schema.fact, schema.holding
CONTACT_KINDS = (Kind.EMAIL_ADDRESS, Kind.PHONE_NUMBER)

_OWNERS = sa.select(_fact.c.kind, _fact.c.key, _fact.c.customer_id, _fact.c.machine_id).where(
    _fact.c.key.in_(sa.bindparam("keys", expanding=True)),
    sa.or_(_fact.c.customer_id.is_not(None), _fact.c.machine_id.is_not(None)),
)
_MACHINE_KINDS = [k.value for k in (*sorted(CODE_KINDS), Kind.MAKER, Kind.MODEL)]
_MACHINE_FACTS = (
    sa.select(_fact.c.machine_id, _fact.c.kind, _fact.c.value, _fact.c.normal, _fact.c.message_id, _fact.c.journal_id)
    .where(_fact.c.machine_id.in_(sa.bindparam("ids", expanding=True)), _fact.c.kind.in_(_MACHINE_KINDS))
    .order_by(_fact.c.at, _fact.c.id)
)
_HOLDERS = (
    sa.select(_holding.c.machine_id, _holding.c.customer_id, _holding.c.until)
    .where(_holding.c.machine_id.in_(sa.bindparam("ids", expanding=True)))
    .order_by(_holding.c.id)
)
_CUSTOMER_FACTS = (
    sa.select(_fact.c.customer_id, _fact.c.kind, _fact.c.value, _fact.c.normal, _fact.c.key)
    .where(
        _fact.c.customer_id.in_(sa.bindparam("ids", expanding=True)),
        _fact.c.kind.in_([k.value for k in CUSTOMER_KINDS]),
    )
    .order_by(_fact.c.at, _fact.c.id)
)


@dataclass(slots=True)
class KnownMachine:
    """A machine as far as filing needs it. ``upgrades``: product key, activation code, machine ID in normal form."""

    number: int
    codes: dict[Kind, list[str]] = field(default_factory=lambda: defaultdict(list))
    makers: list[str] = field(default_factory=list)
    models: list[str] = field(default_factory=list)
    upgrades: list[tuple[str | None, str | None, str | None]] = field(default_factory=list)
    holder: int | None = None
    former: list[tuple[int, str]] = field(default_factory=list)
    """Customers who had it, and until when (ISO 8601)."""

    @property
    def label(self) -> str:
        """What it is called in a question."""
        what = " ".join([*self.makers[-1:], *self.models[-1:]]) or "machine"
        ids = self.codes.get(Kind.MACHINE_ID) or self.codes.get(Kind.SERIAL_NUMBER) or []
        return f"{what} {ids[-1]}" if ids else what


@dataclass(slots=True)
class KnownCustomer:
    """A customer as far as filing needs them: names as written, contacts as they are looked up."""

    number: int
    names: list[str] = field(default_factory=list)
    contacts: dict[Kind, list[str]] = field(default_factory=lambda: defaultdict(list))

    @property
    def label(self) -> str:
        """What they are called in a question."""
        first = self.names[0] if self.names else f"C{self.number}"
        mail = self.contacts.get(Kind.EMAIL_ADDRESS)
        return f"{first}, {mail[0]}" if mail else first

    def agrees(self, name: str, threshold: float) -> bool:
        """Tell whether one of the names agrees with ``name``."""
        return any(linkage.names_agree(name, known, threshold) for known in self.names)

    def same(self, name: str) -> bool:
        """Tell whether one of the names is the same to the letter."""
        return any(linkage.same_name(name, known) for known in self.names)


@dataclass(slots=True)
class Known:
    """What is known about one message's values."""

    machines_with: dict[tuple[Kind, str], set[int]] = field(default_factory=lambda: defaultdict(set))
    customers_with: dict[tuple[Kind, str], set[int]] = field(default_factory=lambda: defaultdict(set))
    machines: dict[int, KnownMachine] = field(default_factory=dict)
    customers: dict[int, KnownCustomer] = field(default_factory=dict)
    alike: set[int] = field(default_factory=set)
    """Customers whose name may agree with, or be near, the one in the message."""
    people: dict[int, Person] = field(default_factory=dict)
    """The customers as they are compared."""
    model: Model = SHIPPED

    def machines_by(self, kind: Kind, value: str) -> set[int]:
        """Return the machines a code was filed to."""
        return self.machines_with.get((kind, value), set())

    def customers_by(self, kind: Kind, value: str) -> set[int]:
        """Return the customers a contact was filed to."""
        return self.customers_with.get((kind, lookup_key(kind, value)), set())


def gather(
    conn: sa.Connection,
    reading: Reading,
    sender: str | None,
    threshold: float,
    extra: tuple[Iterable[int], Iterable[int]] = ((), ()),
) -> Known:
    """Fetch what is known about a reading's values, in as few statements as there is something to know.

    Args:
        conn: a connection.
        reading: the reading.
        sender: the address the message came from; evidence for a person, never for filing.
        threshold: Jaro-Winkler similarity from which parts of names are alike.
        extra: further customers and machines to fetch, by number.
    """
    known = Known()
    customers, machines = set(extra[0]), set(extra[1])
    keys = _keys(reading, sender)
    if keys:
        for row in conn.execute(_OWNERS, {"keys": keys}):
            if row.machine_id is not None:
                known.machines_with[Kind(row.kind), row.key].add(row.machine_id)
                if row.kind in CODE_KINDS:
                    machines.add(row.machine_id)
            else:
                known.customers_with[Kind(row.kind), row.key].add(row.customer_id)
                customers.add(row.customer_id)
    name = reading.chosen.get(Kind.CUSTOMER_NAME)
    if name is not None:
        found = names_by_keys(conn, linkage.wanted_keys(name.value))
        known.alike = {number for number, other in found if linkage.names_near(name.value, other, threshold)}
        customers |= known.alike
    wanted = match_index.person_of(values_of(reading))
    if wanted != Person():
        customers |= set(match_index.alike(conn, wanted))
        known.model = current(conn)
    _fetch_machines(conn, known, machines)
    customers |= {m.holder for m in known.machines.values() if m.holder is not None}
    customers |= {number for m in known.machines.values() for number, _ in m.former}
    _fetch_customers(conn, known, customers)
    return known


def values_of(reading: Reading, without: Collection[str] = ()) -> dict[str, list[str]]:
    """Return what a reading says of its customer, by the name of the kind; names and addresses as written.

    Args:
        reading: the reading.
        without: normal forms left out.
    """
    found: dict[str, list[str]] = {}
    for kind in CUSTOMER_KINDS:
        facts = [reading.chosen.get(kind), *reading.conflicts.get(kind, ())]
        written = kind in (Kind.CUSTOMER_NAME, Kind.POSTAL_ADDRESS)
        values = [f.value if written else f.normal for f in facts if f is not None and f.normal not in without]
        found[kind.value] = list(dict.fromkeys(values))
    return found


def _keys(reading: Reading, sender: str | None) -> list[str]:
    """Return the keys of every value of a reading that tells who or which machine it is about."""
    kinds = (*CODE_KINDS, *CONTACT_KINDS, Kind.POSTAL_ADDRESS, Kind.CUSTOMER_NAME)
    facts = [f for kind, f in reading.chosen.items() if kind in kinds]
    facts += [f for kind, several in reading.conflicts.items() if kind in kinds for f in several]
    keys = {lookup_key(f.kind, f.normal) for f in facts}
    if sender:
        keys.add(sender.strip().lower())
    return sorted(keys - {""})


def _fetch_machines(conn: sa.Connection, known: Known, numbers: set[int]) -> None:
    if not numbers:
        return
    known.machines = {n: KnownMachine(n) for n in sorted(numbers)}
    groups: dict[tuple[int, int | None, int | None], dict[Kind, str]] = defaultdict(dict)
    for row in conn.execute(_MACHINE_FACTS, {"ids": sorted(numbers)}):
        machine, kind = known.machines[row.machine_id], Kind(row.kind)
        if kind is Kind.MAKER:
            machine.makers.append(row.normal)
        elif kind is Kind.MODEL:
            machine.models.append(row.normal)
        else:
            machine.codes[kind].append(row.normal)
            journal = None if row.message_id is not None else row.journal_id
            groups[row.machine_id, row.message_id, journal][kind] = row.normal
    for (number, _, _), codes in groups.items():
        upgrade = (codes.get(Kind.PRODUCT_KEY), codes.get(Kind.ACTIVATION_CODE), codes.get(Kind.MACHINE_ID))
        if upgrade[0] or upgrade[1]:
            known.machines[number].upgrades.append(upgrade)
    for machine_id, customer_id, until in conn.execute(_HOLDERS, {"ids": sorted(numbers)}):
        if until is None:
            known.machines[machine_id].holder = customer_id
        else:
            known.machines[machine_id].former.append((customer_id, until))


def _fetch_customers(conn: sa.Connection, known: Known, numbers: set[int]) -> None:
    if not numbers:
        return
    known.customers = {n: KnownCustomer(n) for n in sorted(numbers)}
    values: dict[int, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for row in conn.execute(_CUSTOMER_FACTS, {"ids": sorted(numbers)}):
        customer, kind = known.customers[row.customer_id], Kind(row.kind)
        written = kind in (Kind.CUSTOMER_NAME, Kind.POSTAL_ADDRESS)
        values[row.customer_id][row.kind].append(row.value if written else row.normal)
        if kind is Kind.CUSTOMER_NAME:
            if row.value not in customer.names:
                customer.names.append(row.value)
        elif row.key not in customer.contacts[kind]:
            customer.contacts[kind].append(row.key)
    known.people = {number: match_index.person_of(found) for number, found in values.items()}
