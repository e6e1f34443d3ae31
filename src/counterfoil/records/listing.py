"""What lists ask of many records at once: machines and contacts in short, upgrades, codes on more than one machine.

Whole profiles of thousands of machines take ten times as long: here only the columns are fetched that a list shows.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

import sqlalchemy as sa

from counterfoil.model import CUSTOMER_KINDS, Kind, Noted, Standing, Upgrade
from counterfoil.records import refs, schema
from counterfoil.records.profiles import upgrades
from counterfoil.records.rows import noted_of, source_of
from counterfoil.records.store import Store

_fact, _message, _question = schema.fact, schema.message, schema.question
_ONE_MACHINE_ONLY = [Kind.PRODUCT_KEY.value, Kind.ACTIVATION_CODE.value]
_NAMING = (Kind.MAKER, Kind.MODEL, Kind.SERIAL_NUMBER, Kind.FIRMWARE_VERSION)
_OF_UPGRADES = (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE, Kind.UPGRADE_NAME, Kind.MACHINE_ID)
_PROVING = [Kind.PURCHASE_DATE.value, Kind.INVOICE_NUMBER.value]


@dataclass(frozen=True, slots=True)
class Version:
    """A firmware version as written, when it was noted (ISO 8601), before or after an update, and where."""

    written: str
    at: str
    stage: str | None
    source: str


@dataclass(slots=True)
class ListedMachine:
    """A machine in short: what is noted last of it, all firmware noted, and who has it now.

    ``maker`` and ``model`` are in their normal form, the serial number as written; empty where nothing is on record.
    """

    id: str
    maker: str = ""
    model: str = ""
    serial_number: str = ""
    firmware: list[Version] = field(default_factory=list)
    holder: str | None = None


def listed_machines(store: Store) -> list[ListedMachine]:
    """Return all machines in short, in the order of their ids. What a person confirmed counts before what was read."""
    table, held = schema.machine, schema.holding
    columns = ("machine_id", "kind", "value", "normal", "at", "stage", "message_id", "journal_id")
    facts = (
        sa.select(*(_fact.c[name] for name in columns))
        .where(_fact.c.machine_id.is_not(None), _fact.c.kind.in_([k.value for k in _NAMING]))
        .order_by(_fact.c.confirmed, _fact.c.at, _fact.c.id)
    )
    holders = sa.select(held.c.machine_id, held.c.customer_id).where(held.c.until.is_(None)).order_by(held.c.id)
    with store.reading() as conn:
        ids = conn.scalars(sa.select(table.c.id).order_by(table.c.id)).all()
        found = {number: ListedMachine(f"{refs.MACHINE}{number}") for number in ids}
        for row in conn.execute(facts):
            machine = found[row.machine_id]
            match row.kind:
                case "maker":
                    machine.maker = row.normal
                case "model":
                    machine.model = row.normal
                case "serial_number":
                    machine.serial_number = row.value
                case _:
                    machine.firmware.append(Version(row.value, row.at, row.stage, source_of(row)))
        for row in conn.execute(holders):
            found[row.machine_id].holder = f"{refs.CUSTOMER}{row.customer_id}"
    return list(found.values())


def contacts(store: Store) -> dict[str, dict[Kind, tuple[str, str]]]:
    """Return of every customer the name and contacts noted last: by kind, as written and in normal form."""
    query = (
        sa.select(_fact.c.customer_id, _fact.c.kind, _fact.c.value, _fact.c.normal)
        .where(_fact.c.customer_id.is_not(None), _fact.c.kind.in_([k.value for k in CUSTOMER_KINDS]))
        .order_by(_fact.c.confirmed, _fact.c.at, _fact.c.id)
    )
    found: defaultdict[str, dict[Kind, tuple[str, str]]] = defaultdict(dict)
    with store.reading() as conn:
        for row in conn.execute(query):
            found[f"{refs.CUSTOMER}{row.customer_id}"][Kind(row.kind)] = row.value, row.normal
    return dict(found)


def upgrades_by_machine(store: Store) -> dict[str, tuple[Upgrade, ...]]:
    """Return the upgrades of every machine that has any, oldest first; see :func:`profiles.upgrades`."""
    kinds = _fact.c.kind.in_([k.value for k in _OF_UPGRADES])
    query = sa.select(_fact).where(_fact.c.machine_id.is_not(None), kinds).order_by(_fact.c.at, _fact.c.id)
    rows: defaultdict[int, list[sa.Row[tuple[object, ...]]]] = defaultdict(list)
    with store.reading() as conn:
        for row in conn.execute(query):
            rows[row.machine_id].append(row)
    return {f"{refs.MACHINE}{number}": upgrades(several) for number, several in rows.items()}


@dataclass(frozen=True, slots=True)
class Seen:
    """One place where a code was seen: filed to a machine, or in an open message that asks about it (machine None)."""

    noted: Noted
    machine: str | None
    message: str | None


def seen_twice(store: Store) -> list[list[Seen]]:
    """Return the product keys and activation codes that are on more than one machine, or on one and asked about.

    Each is good for one machine. The same code again for the same machine is no second time.

    Returns:
        For each code its places, one a machine and open message, by kind and code.
    """
    asked = (
        sa.select(_question.c.message_id)
        .join(_message, _message.c.id == _question.c.message_id)
        .where(
            _question.c.code == "key_used_elsewhere",
            _question.c.settled_by.is_(None),
            _message.c.standing == Standing.OPEN.value,
        )
    )
    open_too = sa.and_(_fact.c.machine_id.is_(None), _fact.c.chosen, _fact.c.message_id.in_(asked))
    counted = sa.and_(
        _fact.c.kind.in_(_ONE_MACHINE_ONLY), sa.not_(_fact.c.dropped), sa.or_(_fact.c.machine_id.is_not(None), open_too)
    )
    # A message is counted by its number below nought, so that it is never taken for a machine.
    place = sa.func.coalesce(_fact.c.machine_id, -_fact.c.message_id)
    twice = (
        sa.select(_fact.c.kind, _fact.c.key)
        .where(counted)
        .group_by(_fact.c.kind, _fact.c.key)
        .having(sa.func.count(place.distinct()) > 1)
        .subquery()
    )
    same = sa.and_(twice.c.kind == _fact.c.kind, twice.c.key == _fact.c.key)
    query = sa.select(_fact).join(twice, same).where(counted).order_by(_fact.c.kind.desc(), _fact.c.key, _fact.c.id)
    found: dict[tuple[str, str], dict[tuple[int | None, int | None], Seen]] = {}
    with store.reading() as conn:
        for row in conn.execute(query):
            where = (row.machine_id, row.message_id if row.machine_id is None else None)
            machine, message = refs.ref(refs.MACHINE, row.machine_id), refs.ref(refs.MESSAGE, row.message_id)
            found.setdefault((row.kind, row.key), {}).setdefault(where, Seen(noted_of(row), machine, message))
    return [list(places.values()) for places in found.values()]


@dataclass(frozen=True, slots=True)
class Proving:
    """A day of purchase or an invoice number of a machine, and the message that holds it (None: said by a person)."""

    machine: str
    noted: Noted
    message: str | None


def proving(store: Store) -> Iterator[Proving]:
    """Yield every day of purchase and invoice number filed to a machine, oldest first."""
    query = sa.select(_fact).where(
        _fact.c.kind.in_(_PROVING), _fact.c.machine_id.is_not(None), sa.not_(_fact.c.dropped)
    )
    with store.reading() as conn:
        rows = conn.execute(query.order_by(_fact.c.at, _fact.c.id)).all()
    for row in rows:
        yield Proving(f"{refs.MACHINE}{row.machine_id}", noted_of(row), refs.ref(refs.MESSAGE, row.message_id))


def languages(store: Store) -> dict[str, str]:
    """Return the language (ISO 639-1) of the last message filed to each customer in which one was recognised."""
    query = sa.select(_message.c.customer_id, _message.c.language).where(
        _message.c.customer_id.is_not(None), _message.c.language.is_not(None)
    )
    with store.reading() as conn:
        rows = conn.execute(query.order_by(_message.c.dated, _message.c.id)).all()
    return {f"{refs.CUSTOMER}{row.customer_id}": row.language for row in rows}
