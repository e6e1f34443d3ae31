"""Where all messages stand, and which of them a person decided: what the desk's figures are counted from."""

from __future__ import annotations

from dataclasses import dataclass

import sqlalchemy as sa

from counterfoil.model import Standing
from counterfoil.records import refs, schema
from counterfoil.records.settling import SETTLE_ACTION
from counterfoil.records.store import Store


@dataclass(frozen=True, slots=True)
class Stands:
    """Where one message stands: its id, when it was received (ISO 8601, UTC; when kept, where no date was read), its
    standing, and whether a person settled it."""

    id: str
    at: str
    standing: Standing
    by_hand: bool


def standings(store: Store) -> list[Stands]:
    """Return where every message stands, the oldest first."""
    message, line = schema.message, schema.journal
    at = sa.func.coalesce(message.c.received, message.c.kept)
    settled = sa.select(line.c.subject).where(line.c.action == SETTLE_ACTION, line.c.undone_by.is_(None)).distinct()
    with store.reading() as conn:
        by_hand = set(conn.scalars(settled))
        rows = conn.execute(sa.select(message.c.id, at, message.c.standing).order_by(at, message.c.id)).all()
    refs_of = ((f"{refs.MESSAGE}{number}", when, standing) for number, when, standing in rows)
    return [Stands(ref, when, Standing(standing), ref in by_hand) for ref, when, standing in refs_of]
