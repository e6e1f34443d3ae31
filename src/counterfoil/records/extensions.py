"""Extensions of cover that a customer bought: each is one line of the journal, and stands until that line is undone.

Nothing else is written: the line can be neither changed nor taken out (see :mod:`counterfoil.records.chain`), says who
entered it when and why, and `undo` takes the extension back.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa

from counterfoil.errors import SettlementRefused, UsageProblem
from counterfoil.model import JournalEntry, MachineProfile
from counterfoil.patterns.normal import normal_code
from counterfoil.records import journal, refs, schema
from counterfoil.records.store import Store

EXTEND_ACTION = "extend"
#: Longest extension taken for meant, in months.
LONGEST_MONTHS = 240
_MOST_CHARS = 60


@dataclass(frozen=True, slots=True)
class Extension:
    """An extension of cover.

    ``id`` is the line of the journal (J12); ``parts`` the part classes, in the shop's words; ``since`` its first day,
    None where it follows the maker's term; ``bought`` the day of the sale; ``with_buyer`` True where it ends when
    whoever held the machine that day parts with it; ``number`` that of the contract or invoice; ``message`` the message
    that proves it.
    """

    id: str
    machine: str
    parts: tuple[str, ...]
    months: int
    bought: date
    since: date | None = None
    with_buyer: bool = False
    number: str = ""
    message: str | None = None
    who: str = ""
    why: str = ""


def extend(
    store: Store,
    machine: str,
    parts: Sequence[str],
    months: int,
    bought: date,
    *,
    since: date | None = None,
    with_buyer: bool = False,
    number: str = "",
    message: str | None = None,
    who: str,
    why: str,
) -> Extension:
    """Enter an extension that a customer bought; it can be undone.

    Args:
        store: the records.
        machine: the machine's id.
        parts: the part classes it is for.
        months: how long it lasts.
        bought: the day it was bought.
        since: its first day; left out, it follows the term without a gap.
        with_buyer: it ends when whoever held the machine on the day of the purchase parts with it.
        number: of the contract or invoice.
        message: a message filed to this machine that proves it.
        who: the person, for the journal.
        why: their reason.

    Raises:
        RecordUnknown: there is no such machine or message.
        UsageProblem: no part is named, or length or number cannot be meant.
        SettlementRefused: the message is another machine's, the number is a code, or nobody had the machine that day.
    """
    named, number = _meant(parts, months, number.strip())
    with store.write() as conn:
        profile = store.machine(machine)
        if message is not None:
            message = _proof(store, profile, message)
        _refuse_code(store, number)
        buyer = _holder(profile, bought)
        if with_buyer and buyer is None:
            raise SettlementRefused(
                f"Nobody on record had {profile.id} on {bought}.",
                f"See who had it with `counterfoil machine {profile.id}`.",
            )
        detail = {
            "parts": list(named),
            "months": months,
            "bought": bought.isoformat(),
            "since": None if since is None else since.isoformat(),
            # For whoever reads the journal; who held the machine that day is asked anew each time.
            "buyer": buyer,
            "with_buyer": with_buyer,
            "number": number,
            "message": message,
        }
        line = journal.add(conn, who=who, action=EXTEND_ACTION, subject=profile.id, why=why, detail=detail, changes=[])
        return _extension(journal.entry(conn, f"{refs.JOURNAL}{line}"))


def _meant(parts: Sequence[str], months: int, number: str) -> tuple[tuple[str, ...], str]:
    """Return the parts, each once, and the number; refuse what cannot be meant."""
    named = tuple(dict.fromkeys(text for part in parts if (text := part.strip())))
    if not named or not 0 < months <= LONGEST_MONTHS:
        raise UsageProblem(f"An extension is for a part, and lasts from 1 month to {LONGEST_MONTHS // 12} years.")
    if max(map(len, (*named, number))) > _MOST_CHARS:
        raise UsageProblem(f"Parts and numbers have at most {_MOST_CHARS} characters.")
    return named, number


def _refuse_code(store: Store, number: str) -> None:
    """Refuse a code as a number: the journal shows it to everybody."""
    hits = store.find_code(normal_code(number), endings=False, near=False) if number else []
    if any(hit.how == "whole" for hit in hits):
        raise SettlementRefused(
            "The number of the extension is a code that is on record.", "Give the number of its contract or invoice."
        )


def extensions(store: Store, machine: str | None = None) -> list[Extension]:
    """Return the extensions that stand, of one machine or of all, in the order they were entered."""
    with store.reading() as conn:
        return [_extension(entry) for entry in _standing(conn, None if machine is None else [machine])]


def standing_on(conn: sa.Connection, machines: Iterable[str]) -> list[str]:
    """Return the lines of the journal whose extensions stand on one of some machines."""
    return [entry.id for entry in _standing(conn, list(machines))]


def _standing(conn: sa.Connection, machines: list[str] | None) -> list[JournalEntry]:
    lines = schema.journal
    query = sa.select(lines.c.id).where(lines.c.action == EXTEND_ACTION, lines.c.undone_by.is_(None))
    if machines is not None:
        query = query.where(lines.c.subject.in_(machines))
    return [journal.entry(conn, f"{refs.JOURNAL}{n}") for n in conn.scalars(query.order_by(lines.c.id)).all()]


def _extension(entry: JournalEntry) -> Extension:
    detail: dict[str, Any] = dict(entry.detail)
    return Extension(
        id=entry.id,
        machine=entry.subject,
        parts=tuple(detail["parts"]),
        months=detail["months"],
        bought=date.fromisoformat(detail["bought"]),
        since=None if detail["since"] is None else date.fromisoformat(detail["since"]),
        with_buyer=detail["with_buyer"],
        number=detail["number"],
        message=detail["message"],
        who=entry.who,
        why=entry.why,
    )


def _proof(store: Store, machine: MachineProfile, ref: str) -> str:
    """Return the id of a message that may prove an extension of a machine: one that is filed to it."""
    found = store.message(ref)
    if found.machine != machine.id:
        whose = f"is filed to {found.machine}" if found.machine else "is filed to no machine"
        raise SettlementRefused(
            f"{found.id} {whose}, not to {machine.id}.", "Name a message of this machine, or leave --proof out."
        )
    return found.id


def _holder(machine: MachineProfile, on: date) -> str | None:
    """Return who had a machine on a day."""
    day = on.isoformat()
    held = [
        h.customer
        for h in machine.holders
        if (h.since is None or h.since[:10] <= day) and (h.until is None or day < h.until[:10])
    ]
    return held[-1] if held else None
