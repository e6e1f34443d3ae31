"""Two profiles of one person become one, and one of two people becomes two: by hand, and both can be undone.

Facts are given to the other profile, never changed: each keeps the message and place it was read from.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from counterfoil.errors import SettlementRefused, UsageProblem
from counterfoil.model import Kind
from counterfoil.patterns.normal import normal
from counterfoil.records import journal, linkage, profiles, refs, schema
from counterfoil.records.changes import Changes
from counterfoil.records.counters import take
from counterfoil.records.holders import MERGE_ACTION, SPLIT_ACTION, join, speaking_entries
from counterfoil.records.rows import Row, lookup_key
from counterfoil.records.store import Store
from counterfoil.records.writing import make_profiles
from counterfoil.settings import Settings

__all__ = ["MERGE_ACTION", "SPLIT_ACTION", "Moved", "merge", "refuse_strangers", "split"]

_CONTACTS = frozenset({Kind.EMAIL_ADDRESS, Kind.PHONE_NUMBER, Kind.POSTAL_ADDRESS})
_fact, _message, _holding = schema.fact, schema.message, schema.holding


@dataclass(frozen=True, slots=True)
class Moved:
    """What a merge or split did: the customer who has it now, the other one, and the line of the journal."""

    customer: str
    other: str
    journal: str


def merge(store: Store, into: str, other: str, *, who: str, why: str) -> Moved:
    """Merge a customer into another: names, contacts, messages and machines all go there.

    Args:
        store: the records.
        into: the id of the customer who stays, C3.
        other: the id of the customer who is the same person, C5; it leads to the first one from then on.
        who: the person.
        why: their reason.

    Raises:
        RecordUnknown: there is no such customer.
        SettlementRefused: both ids are one customer already.
    """
    with store.write() as conn:
        keeper, gone = (refs.number(refs.CUSTOMER, store.customer(ref).id) for ref in (into, other))
        if keeper == gone:
            what = f"{into.strip().upper()} and {other.strip().upper()} are one customer already."
            raise SettlementRefused(what, "Look at `counterfoil customer`: it names the ids merged there.")
        changes = Changes(conn)
        before = _summary(conn, keeper, gone)
        subject, merged = f"{refs.CUSTOMER}{keeper}", f"{refs.CUSTOMER}{gone}"
        entry = journal.add(conn, who=who, action=MERGE_ACTION, subject=subject, why=why, detail={}, changes=[])
        for table in (_fact, _holding, _message):
            query = sa.select(table.c.id).where(table.c.customer_id == gone).order_by(table.c.id)
            for number in conn.scalars(query).all():
                changes.update(table.name, number, {"customer_id": keeper})
        _join_holdings(changes, keeper)
        changes.update("customer", gone, {"merged_into": keeper})
        detail: Row = {"customer": subject, "merged": merged, "revision": int(take(conn, revision=1).revision)}
        journal.complete(conn, entry, detail | {"before": before, "after": _summary(conn, keeper)}, changes.made)
    return Moved(subject, merged, f"{refs.JOURNAL}{entry}")


def refuse_strangers(store: Store, into: str, other: str, similarity: float) -> None:
    """Refuse to make one of two customers who have nothing in common: a mistyped id is likelier than one person.

    Args:
        store: the records.
        into: the id of the customer who would stay.
        other: the id of the other one.
        similarity: from which two parts of a name agree.

    Raises:
        RecordUnknown: there is no such customer.
        SettlementRefused: both have names, and they share no part of one, no contact and no machine.
    """
    one, two = store.customer(into), store.customer(other)
    names = [c.values(Kind.CUSTOMER_NAME) for c in (one, two)]
    machines = [{holding.machine for holding in c.holdings} for c in (one, two)]
    contacts = [{(n.fact.kind, n.fact.normal) for n in c.facts if n.fact.kind in _CONTACTS} for c in (one, two)]
    if one.id == two.id or not all(names) or machines[0] & machines[1] or contacts[0] & contacts[1]:
        return
    if any(linkage.shared_parts(a, b, similarity) for a in names[0] for b in names[1]):
        return
    what = f"{one.name} ({one.id}) and {two.name} ({two.id}) share no part of a name, no contact and no machine."
    raise SettlementRefused(what, "Check the ids; if they are one person all the same, run it again with --sure.")


def split(
    store: Store,
    settings: Settings,
    customer: str,
    sources: Sequence[str],
    *,
    values: Sequence[tuple[Kind, str]] = (),
    to: str | None = None,
    who: str,
    why: str,
) -> Moved:
    """Take messages, entries by hand and values out of a customer's profile, and give them to another one.

    A machine goes with the messages about it: where one of them goes, all must.

    Args:
        store: the records.
        settings: the shop's.
        customer: the id of the customer, C3.
        sources: ids of messages (E7) and entries by hand (J4) that are another person's.
        values: single values of the profile that are the other person's, wherever they were read.
        to: the id of the other customer; a new one when left out.
        who: the person.
        why: their reason.

    Raises:
        RecordUnknown: there is no such customer, message or entry.
        SettlementRefused: something named is not this customer's, a machine would be parted from a message about it,
            or one of the two would have no name.
        UsageProblem: nothing was named.
    """
    if not sources and not values:
        raise UsageProblem("Nothing says what is to be split off.", "Name messages (E7), entries (J4) or values.")
    with store.write() as conn:
        number = refs.number(refs.CUSTOMER, store.customer(customer).id)
        other = None if to is None else refs.number(refs.CUSTOMER, store.customer(to).id)
        if other == number:
            raise SettlementRefused(f"{refs.CUSTOMER}{number} cannot be split off to itself.", "Name another customer.")
        part = _part(conn, number, sources, values, settings.region)
        _refuse_nameless(conn, number, part, fresh=other is None)
        changes = Changes(conn)
        before = _summary(conn, number, *([] if other is None else [other]))
        subject = f"{refs.CUSTOMER}{number}"
        entry = journal.add(conn, who=who, action=SPLIT_ACTION, subject=subject, why=why, detail={}, changes=[])
        last = take(conn, customer=int(other is None), revision=1)
        receiver = int(last.customer) if other is None else other
        make_profiles(changes, receiver if other is None else None, None)
        for table, numbers in (("fact", part.facts), ("holding", part.holdings), ("message", part.messages)):
            for row in sorted(numbers):
                changes.update(table, row, {"customer_id": receiver})
        _join_holdings(changes, receiver)
        detail: Row = {"customer": subject, "to": f"{refs.CUSTOMER}{receiver}", "revision": int(last.revision)}
        detail |= part.told() | {"values": [{"kind": kind.value, "value": value} for kind, value in values]}
        detail |= {"before": before, "after": _summary(conn, number, receiver)}
        journal.complete(conn, entry, detail, changes.made)
    return Moved(f"{refs.CUSTOMER}{receiver}", subject, f"{refs.JOURNAL}{entry}")


def _summary(conn: sa.Connection, *customers: int) -> Row:
    """Return what a reader of the journal sees of customers."""
    return {
        c.id: {
            "names": list(c.values(Kind.CUSTOMER_NAME)),
            "machines": list(dict.fromkeys(h.machine for h in c.holdings if h.until is None)),
            "messages": list(c.messages),
        }
        for c in profiles.customers(conn, customers)
    }


def _join_holdings(changes: Changes, customer: int) -> None:
    """Join what is now one time of holding: a machine that went from one of the profiles to the other."""
    query = sa.select(_holding.c.machine_id).where(_holding.c.customer_id == customer).distinct()
    for machine in sorted(changes.conn.scalars(query).all()):
        join(changes, machine)


# --- what a split takes out -------------------------------------------------------------------------


@dataclass(slots=True)
class _Part:
    """Numbers of the rows that go to the other customer."""

    messages: set[int] = field(default_factory=set)
    entries: set[int] = field(default_factory=set)
    facts: set[int] = field(default_factory=set)
    holdings: set[int] = field(default_factory=set)

    def told(self) -> Row:
        """Return what a reader of the journal sees of it."""
        return {
            "messages": [f"{refs.MESSAGE}{n}" for n in sorted(self.messages)],
            "entries": [f"{refs.JOURNAL}{n}" for n in sorted(self.entries)],
        }


def _part(
    conn: sa.Connection, customer: int, sources: Sequence[str], values: Sequence[tuple[Kind, str]], region: str
) -> _Part:
    """Return the rows that go, after making sure that they are this customer's."""
    part = _Part()
    owned = conn.execute(sa.select(_fact).where(_fact.c.customer_id == customer)).all()
    machines: set[int] = set()
    for text in sources:
        if text.strip()[:1].upper() == refs.JOURNAL:
            machines |= _entry(conn, customer, text, owned, part)
        else:
            machines |= _mail(conn, customer, text, part)
    part.facts |= {
        row.id
        for row in owned
        if row.message_id in part.messages or (row.message_id is None and row.journal_id in part.entries)
    }
    for kind, value in values:
        part.facts |= _value(customer, kind, value, owned, region)
    for machine in sorted(machines):
        _refuse_parting(conn, customer, machine, part)
        query = sa.select(_holding.c.id).where(_holding.c.machine_id == machine, _holding.c.customer_id == customer)
        part.holdings |= set(conn.scalars(query))
    return part


def _mail(conn: sa.Connection, customer: int, text: str, part: _Part) -> set[int]:
    """Add a message; return its machine."""
    number = refs.number(refs.MESSAGE, text)
    row = conn.execute(sa.select(_message).where(_message.c.id == number)).one_or_none()
    if row is None:
        raise refs.unknown(refs.MESSAGE, text)
    if row.customer_id != customer:
        raise SettlementRefused(
            f"E{number} is not filed to C{customer}.", f"Look at `counterfoil customer C{customer}`."
        )
    part.messages.add(number)
    return set() if row.machine_id is None else {row.machine_id}


def _entry(conn: sa.Connection, customer: int, text: str, owned: Sequence[sa.Row[Any]], part: _Part) -> set[int]:
    """Add an entry by hand; return the machine it says the customer has."""
    entry = journal.entry(conn, text)
    number = refs.number(refs.JOURNAL, entry.id)
    machines = set()
    if entry.subject.startswith(refs.MACHINE):
        machine = refs.number(refs.MACHINE, entry.subject)
        if any(n == number and speaks_for == customer for n, speaks_for, _ in speaking_entries(conn, machine)):
            machines = {machine}
    if not machines and not any(row.journal_id == number and row.message_id is None for row in owned):
        what = f"{entry.id} entered nothing that is C{customer}'s now."
        raise SettlementRefused(what, f"Look at `counterfoil journal C{customer}`.")
    part.entries.add(number)
    return machines


def _value(customer: int, kind: Kind, value: str, owned: Sequence[sa.Row[Any]], region: str) -> set[int]:
    """Return the facts of a customer with a value, as typed or in its normal form."""
    key = lookup_key(kind, normal(kind, value, region))
    typed = value.strip().casefold()
    found = {
        r.id for r in owned if r.kind == kind and (r.key == key or r.value.casefold() == typed or r.normal == typed)
    }
    if not found:
        what = f"C{customer} has no {kind.value.replace('_', ' ')} {value}."
        raise SettlementRefused(what, f"Look at `counterfoil customer C{customer}`.")
    return found


def _refuse_parting(conn: sa.Connection, customer: int, machine: int, part: _Part) -> None:
    """Refuse where a source of a machine stays while another goes: whose the machine is would be a guess."""
    query = sa.select(_message.c.id).where(_message.c.customer_id == customer, _message.c.machine_id == machine)
    left: Collection[str] = [f"E{n}" for n in sorted(conn.scalars(query).all()) if n not in part.messages]
    left = [*left, *(f"J{n}" for n, c, _ in speaking_entries(conn, machine) if c == customer and n not in part.entries)]
    if left:
        what = f"M{machine} would be parted: {', '.join(left)} of C{customer} say that it is theirs."
        step = "Name them too; or settle one message alone with `counterfoil triage settle`."
        raise SettlementRefused(what, step)


def _refuse_nameless(conn: sa.Connection, customer: int, part: _Part, *, fresh: bool) -> None:
    """Refuse to leave a profile, or to make one, that nobody could be called by."""
    query = sa.select(_fact.c.id).where(_fact.c.customer_id == customer, _fact.c.kind == Kind.CUSTOMER_NAME.value)
    names = set(conn.scalars(query))
    if not names - part.facts:
        what = f"C{customer} would have no name left."
        raise SettlementRefused(what, "Name less of it; to say that it is somebody else's, settle its messages.")
    if fresh and not names & part.facts:
        what = "The new customer would have no name: none is in what was named."
        raise SettlementRefused(what, "Add a message that gives it, or --value customer_name=NAME; or say --to C9.")
