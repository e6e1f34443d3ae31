"""`counterfoil journal`: who did and saw what."""

from __future__ import annotations

import click

from counterfoil.archive import Archive
from counterfoil.faces.cli.common import archive_option, json_option, print_json, say, table


@click.command(short_help="Show who did and saw what.")
@click.argument("ref", required=False)
@click.option(
    "--limit", type=click.IntRange(min=1), default=50, show_default=True, metavar="N", help="The newest N lines."
)
@json_option
@archive_option
def journal(archive: Archive, ref: str | None, limit: int, as_json: bool) -> None:
    """Show the journal, oldest first: settlements, entries at the bench, reveals, undoings.

    REF (C12, M7, E5) shows the lines of one customer, machine or message only.

    Example: counterfoil journal M7
    """
    entries = archive.store.journal(subject=ref, limit=limit)
    if as_json:
        for e in entries:
            print_json(
                {
                    "id": e.id,
                    "at": e.at,
                    "who": e.who,
                    "action": e.action,
                    "subject": e.subject,
                    "why": e.why,
                    "undone_by": e.undone_by,
                }
            )
        return
    if not entries:
        say("Nothing in the journal yet." if ref is None else f"Nothing in the journal about {ref}.")
        return
    rows = (
        (
            e.id,
            e.at[:16].replace("T", " "),
            e.who,
            e.action,
            e.subject,
            e.why,
            f"undone by {e.undone_by}" if e.undone_by else "",
        )
        for e in entries
    )
    table(None, ("", "when (UTC)", "who", "did", "to", "why", ""), rows)
