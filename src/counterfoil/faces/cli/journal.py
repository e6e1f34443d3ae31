"""`counterfoil journal`: who did and saw what."""

from __future__ import annotations

import re

import click

from counterfoil.archive import Archive
from counterfoil.errors import RecordUnknown
from counterfoil.faces.cli.common import archive_option, json_option, print_json, prose, table
from counterfoil.faces.cli.refs import find_one
from counterfoil.model import JournalEntry

_ID = re.compile(r"[CMEJ][0-9]+", re.IGNORECASE)


@click.command(short_help="Show who did and saw what.")
@click.argument("ref", nargs=-1)
@click.option(
    "--limit", type=click.IntRange(min=1), default=50, show_default=True, metavar="N", help="The newest N lines."
)
@json_option
@archive_option
def journal(archive: Archive, ref: tuple[str, ...], limit: int, as_json: bool) -> None:
    """Show the journal, oldest first: settlements, entries at the bench, reveals, undoings.

    REF shows the lines about one customer (C12) or machine (M7) with the messages filed there, about one message
    (E5), one line (J9), or the one customer that a text finds.

    Example: counterfoil journal M7
    """
    entries = _about(archive, " ".join(ref), limit) if ref else archive.store.journal(limit=limit)
    if as_json:
        for entry in entries:
            names = ("id", "at", "who", "action", "subject", "why", "undone_by")
            print_json({name: getattr(entry, name) for name in names})
        return
    if not entries:
        prose(f"Nothing in the journal about {' '.join(ref)}." if ref else "Nothing in the journal yet.")
        return
    columns = ("", "when (UTC)", "who", "did", "to", "why", "undone by")
    table(
        None,
        columns if any(e.undone_by for e in entries) else columns[:-1],
        (
            (e.id, e.at[:16].replace("T", " "), e.who, e.action, e.subject, e.why, e.undone_by or "")[: len(columns)]
            for e in entries
        ),
    )


def _about(archive: Archive, text: str, limit: int) -> list[JournalEntry]:
    """Return the newest lines about a record and what was filed to it.

    Raises:
        RecordUnknown: no record answers to the text.
        NeedsALook: several customers do.
    """
    store = archive.store
    ref = text.strip().upper() if _ID.fullmatch(text.strip()) else find_one(archive, (text,), "customer")
    lines = store.journal()
    subjects = {ref}
    try:
        if ref.startswith("C"):
            subjects |= set(store.customer(ref).messages)
        elif ref.startswith("M"):
            subjects |= set(store.machine(ref).messages)
        elif ref.startswith("E"):
            store.message(ref)
        elif all(line.id != ref for line in lines):
            raise RecordUnknown(f"There is no line {ref} in the journal.", "Look at `counterfoil journal`.")
    except RecordUnknown:
        # A record that an undoing took away has its lines still.
        if all(line.subject != ref for line in lines):
            raise
    found = [line for line in lines if line.subject in subjects or line.id == ref]
    undoings = {line.undone_by for line in found}
    return [line for line in lines if line in found or line.id in undoings][-limit:]
