"""Who did and saw what: the journal by customer, machine, message, person and day, and what each line changed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING

from counterfoil.errors import RecordUnknown
from counterfoil.model import JournalEntry

if TYPE_CHECKING:
    from counterfoil.records.store import Store

#: Stands for a value that was not there.
_NOTHING = "nothing"


def journal(
    store: Store,
    ref: str | None = None,
    *,
    who: str | None = None,
    since: date | None = None,
    until: date | None = None,
    limit: int | None = None,
) -> list[JournalEntry]:
    """Return lines of the journal, oldest first.

    Args:
        store: the records.
        ref: an id: a customer (those merged into them included) or machine with the messages filed there, a message,
            or one line; None for all.
        who: only what this person did.
        since: only from this day (UTC) on.
        until: only up to this day (UTC).
        limit: only the newest so many.

    Raises:
        RecordUnknown: nothing has this id, and no line names it.
    """
    about = None if ref is None else _about(store, ref.strip().upper())
    return store.journal(about=about, who=who, since=since, until=until, limit=limit)


def _about(store: Store, ref: str) -> set[str]:
    """Return the ids under which a record stands in the journal."""
    found = {ref}
    try:
        match ref[:1]:
            case "C":
                customer = store.customer(ref)
                found |= {customer.id, *customer.merged, *customer.messages}
            case "M":
                found |= set(store.machine(ref).messages)
            case "E":
                store.message(ref)
            case _:
                if not store.journal(about=found, limit=1):
                    raise RecordUnknown(f"There is no line {ref} in the journal.", "Look at `counterfoil journal`.")
    except RecordUnknown:
        # A record that an undoing took away has its lines still.
        if not store.journal(about=found, limit=1):
            raise
    return found


def changed(entry: JournalEntry) -> tuple[str, ...]:
    """Return in words what a line changed: one text for each thing that was different before and after."""
    before, after = entry.detail.get("before"), entry.detail.get("after")
    left = _flat(before if isinstance(before, Mapping) else {})
    right = _flat(after if isinstance(after, Mapping) else {})
    return tuple(
        f"{name}: {left.get(name, _NOTHING)} → {right.get(name, _NOTHING)}"
        for name in dict.fromkeys((*left, *right))
        if left.get(name, _NOTHING) != right.get(name, _NOTHING)
    )


def _flat(value: Mapping[str, object], above: str = "") -> dict[str, str]:
    """Return a nested dictionary as one of texts, names joined."""
    found: dict[str, str] = {}
    for key, inner in value.items():
        name = f"{above} {key}".strip().replace("_", " ")
        name = name.removeprefix("chosen ")
        if isinstance(inner, Mapping):
            found |= _flat(inner, name)
        elif inner is not None and (text := _text(inner)):
            found[name] = text
    return found


def _text(value: object) -> str:
    return ", ".join(str(v) for v in value) if isinstance(value, list) else str(value)


def entry_json(entry: JournalEntry) -> dict[str, object]:
    """Return a line as a dictionary: all but the changed rows."""
    names = ("id", "at", "who", "action", "subject", "why", "undone_by", "hash")
    return {name: getattr(entry, name) for name in names} | {"detail": dict(entry.detail)}
