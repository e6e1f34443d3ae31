"""`counterfoil journal`: who did and saw what."""

from __future__ import annotations

import re
from datetime import date

import click

from counterfoil.archive import Archive
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import IsoDate, archive_option, json_option, pairs, print_json, prose, table
from counterfoil.faces.cli.refs import find_one
from counterfoil.model import JournalEntry

_ID = re.compile(r"[CMEJ][0-9]+", re.IGNORECASE)


@click.command(short_help="Show who did and saw what.")
@click.argument("ref", nargs=-1)
@click.option("--by", "person", metavar="NAME", help="Only what this person did.")
@click.option("--day", type=IsoDate(), help="Only this day (UTC).")
@click.option("--since", type=IsoDate(), help="Only from this day on.")
@click.option("--until", type=IsoDate(), help="Only up to this day.")
@click.option(
    "--limit", type=click.IntRange(min=1), default=50, show_default=True, metavar="N", help="The newest N lines."
)
@json_option
@archive_option
def journal(
    archive: Archive,
    ref: tuple[str, ...],
    person: str | None,
    day: date | None,
    since: date | None,
    until: date | None,
    limit: int,
    as_json: bool,
) -> None:
    """Show the journal, oldest first: settlements, merges, handovers, entries at the bench, reveals, undoings.

    REF shows the lines about one customer (C12) or machine (M7) with the messages filed there, about one message
    (E5), or the one customer that a text finds. A line (J9) is shown in full: what was before and after, its hash.

    \b
    Examples: counterfoil journal M7
              counterfoil journal --by kim --day 2026-11-25
    """
    from counterfoil.answers.journal import entry_json
    from counterfoil.answers.journal import journal as ask

    if day is not None and (since is not None or until is not None):
        raise UsageProblem("--day is one day, --since and --until are several.", "Use one of the two.")
    text = " ".join(ref).strip()
    about = text.upper() if _ID.fullmatch(text) else find_one(archive, (text,), "customer") if text else None
    entries = ask(archive.store, about, who=person, since=day or since, until=day or until, limit=limit)
    if as_json:
        for entry in entries:
            print_json(entry_json(entry))
        return
    if not entries:
        if text and not any((person, day, since, until)):
            prose(f"Nothing in the journal about {text}.")
        else:
            asked = any((text, person, day, since, until))
            prose("Nothing in the journal answers to that." if asked else "Nothing in the journal yet.")
        return
    if about is not None and about.startswith("J"):
        for entry in entries:
            _in_full(entry)
        return
    _list(entries)


def _list(entries: list[JournalEntry]) -> None:
    columns = ("", "when (UTC)", "who", "did", "to", "why", "undone by")
    table(
        None,
        columns if any(e.undone_by for e in entries) else columns[:-1],
        (
            (e.id, e.at[:16].replace("T", " "), e.who, e.action, e.subject, e.why, e.undone_by or "")[: len(columns)]
            for e in entries
        ),
    )


#: What a line about codes given out says besides.
_ABOUT_GIVING = {
    "asked_by": "asked by",
    "known_by": "known by",
    "to": "written to",
    "mismatch": "although",
    "override": "because",
}


def _said(value: object) -> str:
    return " ".join(map(str, value)) if isinstance(value, list) else str(value or "")


def _in_full(entry: JournalEntry) -> None:
    from counterfoil.answers.journal import changed

    prose(f"{entry.id}  {entry.action} {entry.subject}", style="bold")
    pairs(
        [
            ("when", f"{entry.at[:19].replace('T', ' ')} UTC"),
            ("who", entry.who),
            ("why", entry.why),
            *((label, _said(entry.detail.get(key))) for key, label in _ABOUT_GIVING.items()),
            ("undone by", entry.undone_by or ""),
            ("hash", entry.hash),
        ]
    )
    for line in changed(entry):
        prose(line, first="  ", rest="    ")
