"""Makes messages and readings of an invented shop for the tests of the records; no mail is read here."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

import sqlalchemy as sa

from counterfoil.model import (
    Box,
    Check,
    Decision,
    Document,
    Fact,
    Kind,
    Layer,
    Mailbox,
    Message,
    Place,
    Reading,
)
from counterfoil.patterns.normal import normal
from counterfoil.records import schema
from counterfoil.records.filing import file_message
from counterfoil.records.store import Store
from counterfoil.settings import Settings

SETTINGS = Settings(shop_addresses=("desk@shop.example",))
MARIT: Mapping[Kind, str] = {
    Kind.CUSTOMER_NAME: "Marit Solvang",
    Kind.EMAIL_ADDRESS: "marit@post.example",
    Kind.MACHINE_ID: "HG-204518-K",
    Kind.SERIAL_NUMBER: "7731 40922",
    Kind.PRODUCT_KEY: "SPQ4-7RTW-M2XA",
    Kind.ACTIVATION_CODE: "9KDW-4HPX-77RA-B2NE",
    Kind.MAKER: "Halden",
    Kind.MODEL: "Aria 500",
    Kind.UPGRADE_NAME: "Stitch Garden",
    Kind.PURCHASE_DATE: "2025-03-01",
    Kind.FIRMWARE_VERSION: "2.10",
}
_NUMBERS = count(1)


def fact(
    kind: Kind, value: str, *, odds: float = 8.0, check: Check = Check.NONE, readings: tuple[str, ...] = ()
) -> Fact:
    """Return a fact as if read from a PDF."""
    plain = normal(kind, value)
    return Fact(kind, value, plain, Place("pdf:c.pdf", 1, Box(1, 2, 3, 4)), "label", check, odds, readings, ("label",))


def values(base: Mapping[Kind, str] = MARIT, /, **changes: str | None) -> dict[Kind, str]:
    """Return values with some changed, by the name of the kind; None leaves one out."""
    found = dict(base) | {Kind(k): v for k, v in changes.items() if v is not None}
    return {k: v for k, v in found.items() if changes.get(k.value, "") is not None}


def another(number: int, **changes: str | None) -> dict[Kind, str]:
    """Return the values of another machine and its upgrade; the customer is Marit Solvang."""
    own = {
        "machine_id": f"HG-{(number * 7919 + 311) * 104729 % 999983:06}-T",
        "serial_number": f"{(number * 15485863 + 77) % 999999937:09}",
        "product_key": hashlib.sha256(f"key {number}".encode()).hexdigest()[:12].upper(),
        "activation_code": hashlib.sha256(f"code {number}".encode()).hexdigest()[:16].upper(),
    }
    return values(**{**own, **changes})


def reading(found: Mapping[Kind, str], *facts: Fact, **more: Any) -> Reading:
    """Return a certain reading of values; ``facts`` take the place of those of their kind."""
    chosen = {kind: fact(kind, value) for kind, value in found.items()} | {f.kind: f for f in facts}
    more.setdefault("confirmation", 6.0)
    return Reading(tuple(chosen.values()), chosen, **more)


def message(
    *documents: Document,
    sender: str = "marit@post.example",
    name: str = "Marit Solvang",
    day: int = 0,
    subject: str = "Fwd: your activation",
) -> Message:
    """Return a message of its own, received ``day`` days after 10 March 2025."""
    number = next(_NUMBERS)
    when = datetime(2025, 3, 10, 9, 30, tzinfo=UTC) + timedelta(days=day)
    head = Layer("received", None, Mailbox(name, sender), (), (), when, subject, f"<{number}@post.example>")
    sha256 = hashlib.sha256(f"message {number}".encode()).hexdigest()
    return Message(sha256, 4000, (head,), documents or (Document("body", 0, "Here it is.", ()),))


def take(store: Store, found: Mapping[Kind, str] | Reading, mail: Message | None = None) -> tuple[str, Decision]:
    """File a message with these values."""
    read = found if isinstance(found, Reading) else reading(found)
    return file_message(store, mail or message(), read, "inbox/1.eml", SETTINGS)


def codes(decision: Decision) -> list[str]:
    """Return the codes of a decision's questions."""
    return [q.code for q in decision.questions]


def dump(store: Store) -> dict[str, list[tuple[Any, ...]]]:
    """Return all rows but the journal, the counter, and the marks that only tell the index to look again."""
    return dict(_dump(store))


def _dump(store: Store) -> Iterator[tuple[str, list[tuple[Any, ...]]]]:
    with store.reading() as conn:
        for table in schema.metadata.sorted_tables:
            if table.name in ("journal", "counter", "migration"):
                continue
            columns = [c for c in table.columns if c.name not in ("revision", "again") or table.name == "holding"]
            rows = conn.execute(sa.select(*columns)).all()
            yield table.name, sorted((tuple(row) for row in rows), key=repr)
