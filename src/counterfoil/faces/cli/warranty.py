"""`counterfoil warranty`: is it still covered?"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import click
from rich.text import Text

from counterfoil.archive import Archive
from counterfoil.faces.cli.common import IsoDate, archive_option, json_option, pairs, print_json, prose, say, table
from counterfoil.faces.cli.refs import find_one, holder_line, machine_line
from counterfoil.faces.cli.values import as_day

if TYPE_CHECKING:
    from counterfoil.answers.warranty import WarrantyAnswer


@click.command(short_help="Is it still covered? Terms, dates and the evidence for them.")
@click.argument("ref", nargs=-1, required=True)
@click.option("--on", "on", type=IsoDate(), metavar="DATE", help="The day asked for, as 2026-11-25.  [default: today]")
@json_option
@archive_option
def warranty(archive: Archive, ref: tuple[str, ...], on: date | None, as_json: bool) -> None:
    """Say for each part class whether a machine is covered on a day, counted from which date, read where.

    REF is a machine's id (M7) or any text that finds exactly one machine.

    Example: counterfoil warranty M7 --on 2026-11-25
    """
    from counterfoil.answers.coverage import load_terms
    from counterfoil.answers.warranty import warranty as ask

    machine = find_one(archive, ref, "machine")
    answer = ask(archive.store, load_terms(archive.coverage_file), machine, on or date.today(), archive.settings)
    if as_json:
        print_json(answer.to_json())
        return
    _show(archive, answer)


def _show(archive: Archive, answer: WarrantyAnswer) -> None:
    from counterfoil.answers.provenance import KIND_WORDS, origin

    pairs(
        [
            ("machine", machine_line(archive, answer.machine)),
            ("holder", holder_line(archive, answer.customer)),
            ("on", answer.on.isoformat()),
        ]
    )
    say()
    if not answer.coverage:
        prose(f"No term in {archive.coverage_file} fits this machine.")
    else:
        verdict = {
            True: Text("covered", style="green"),
            False: Text("not covered", style="red"),
            None: Text("cannot tell", style="yellow"),
        }
        rows = (
            (
                c.part,
                verdict[c.covered],
                c.ends.isoformat() if c.ends else "",
                "" if c.days_left is None else str(c.days_left),
                c.why,
            )
            for c in answer.coverage
        )
        table(None, ("part", "state", "last day", "days left", "why"), rows, below=("why",))
    if answer.evidence:
        say()
        evidence = (
            (KIND_WORDS[n.fact.kind], as_day(n.fact.kind, n.fact.value, n.fact.normal), origin(n))
            for n in answer.evidence
        )
        table("Evidence", ("", "value", "read from"), evidence)
    say()
    prose(answer.note)
