"""Messages with PDFs that asked for a password, by whose they may be."""

from __future__ import annotations

import json
from collections.abc import Collection
from typing import TYPE_CHECKING

import sqlalchemy as sa

from counterfoil.model import Problem
from counterfoil.records import refs, schema

if TYPE_CHECKING:
    from counterfoil.records.store import Store

_message, _document = schema.message, schema.document


def locked_messages(store: Store, customer: str, addresses: Collection[str]) -> list[str]:
    """Return the ids of messages with a locked PDF that are filed to a customer or carry an address of theirs.

    Args:
        store: the records.
        customer: the id.
        addresses: the customer's.
    """
    number, known = refs.number(refs.CUSTOMER, customer), {address.casefold() for address in addresses}
    locked = sa.select(_document.c.message_id).where(_document.c.problem == Problem.ENCRYPTED.value)
    query = sa.select(_message.c.id, _message.c.customer_id, _message.c.layers).where(_message.c.id.in_(locked))
    with store.reading() as conn:
        rows = conn.execute(query.order_by(_message.c.id)).all()
    return [
        f"{refs.MESSAGE}{row.id}"
        for row in rows
        if row.customer_id == number or not known.isdisjoint(_addresses(row.layers))
    ]


def _addresses(packed: str) -> set[str]:
    """Return senders and recipients of a message and of the forwards in it."""
    boxes = [box for layer in json.loads(packed) for box in (layer["sender"], *layer["to"]) if box is not None]
    return {address.casefold() for _, address in boxes}
