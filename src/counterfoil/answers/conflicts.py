"""What on record contradicts itself, for a person to look at: each with the evidence of both sides, codes masked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterfoil.records.conflicts import Conflict
from counterfoil.records.conflicts import conflicts as _conflicts

if TYPE_CHECKING:
    from counterfoil.records.store import Store


def conflicts(store: Store) -> tuple[Conflict, ...]:
    """Return all conflicts among filed values; those that a person filed knowingly come last.

    Args:
        store: the records.
    """
    with store.reading() as conn:
        found = _conflicts(conn)
    return tuple(sorted(found, key=lambda conflict: conflict.accepted_by is not None))


def conflict_json(conflict: Conflict) -> dict[str, object]:
    """Return a conflict as a dictionary."""
    names = ("code", "sentence", "accepted_by")
    return {name: getattr(conflict, name) for name in names} | {"evidence": list(conflict.evidence)}
