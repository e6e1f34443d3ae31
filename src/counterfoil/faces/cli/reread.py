"""`counterfoil reread`: new patterns over old originals."""

from __future__ import annotations

import sys
from datetime import date
from typing import TYPE_CHECKING

import click

from counterfoil import upkeep
from counterfoil.archive import Archive
from counterfoil.faces.cli.common import (
    IsoDate,
    account,
    archive_option,
    clean,
    console,
    json_option,
    print_json,
    prose,
    say,
    table,
    who_option,
    why_option,
)

if TYPE_CHECKING:
    from counterfoil.records.rereading import MessageChange


@click.command(short_help="Read old originals anew with today's patterns; --write keeps it.")
@click.option("--since", type=IsoDate(), metavar="YYYY-MM-DD", help="Only messages received on this day or later.")
@click.option("--maker", metavar="NAME", help="Only messages of this maker.")
@click.option("--write", is_flag=True, help="Write it. Without this, nothing is changed.")
@who_option
@why_option
@json_option
@archive_option
def reread(
    archive: Archive, since: date | None, maker: str | None, write: bool, who: str | None, why: str, as_json: bool
) -> int:
    """Read the originals anew, after patterns were added or mended, and show what that changes.

    Nothing is changed without --write. What a person decided stands. A message that waits is filed where its questions
    answer themselves now. A message that is filed stays filed; where a value of it would change, it gets a question.
    A run that was written cannot be undone: reading anew with the old patterns reads the old values again.

    \b
    Examples: counterfoil reread
              counterfoil reread --maker Kestrelle --since 2026-01-01 --write
    """
    bar = sys.stderr.isatty()
    run = _with_progress if bar else _plain
    report = run(archive, since, maker, write, account(who), why)
    if as_json:
        print_json(report.to_json())
    else:
        _show(report, write=write)
    for problem in report.problems:
        click.echo(f"counterfoil: {clean(problem)}", err=True)
    return 1 if report.problems or any(change.asked for change in report.changes) else 0


def _plain(
    archive: Archive, since: date | None, maker: str | None, write: bool, who: str, why: str
) -> upkeep.RereadReport:
    return upkeep.reread(archive, since=since, maker=maker, write=write, who=who, why=why)


def _with_progress(
    archive: Archive, since: date | None, maker: str | None, write: bool, who: str, why: str
) -> upkeep.RereadReport:
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console(stderr=True), transient=True) as bar:
        task = bar.add_task("Reading anew", total=None)
        return upkeep.reread(
            archive,
            since=since,
            maker=maker,
            write=write,
            who=who,
            why=why,
            progress=lambda done, every: bar.update(task, completed=done, total=every),
        )


def _show(report: upkeep.RereadReport, *, write: bool) -> None:
    seen = [change for change in report.changes if change.seen]
    for change in seen:
        _show_change(change)
    if seen:
        say()
    rows = [
        ("read anew", report.read, "originals"),
        ("changed", len(seen), "values, questions or standing; shown above"),
        ("text only", len(report.changes) - len(seen), "the same values, by other patterns or at other places"),
        ("filed", report.filed, "their questions have answered themselves"),
        ("opened", report.opened, "a person must decide: counterfoil triage"),
    ]
    table(None, ("", "messages", ""), ((name, str(n), note) for name, n, note in rows))
    say(f"{report.seconds:.1f} s")
    if report.journal:
        say(f"Written; {report.journal} in the journal.")
    elif write:
        say("There was nothing to write.")
    else:
        say("Nothing is written yet." + (" Add --write to write it." if report.changes else ""))


def _show_change(change: MessageChange) -> None:
    from counterfoil.answers.provenance import KIND_WORDS

    moved = change.before.value if change.before is change.after else f"{change.before.value} -> {change.after.value}"
    whose = ", ".join(ref for ref in (change.customer, change.machine) if ref)
    say(f"{change.id}  {moved}" + (f"  ({whose})" if whose else ""), style="bold")
    for value in change.values:
        if value.old is None:
            text = f"{value.new} (new)"
        elif value.new is None:
            text = f"{value.old} (gone)"
        else:
            text = f"{value.old} -> {value.new}"
        prose(f"{KIND_WORDS[value.kind]}: {text}", first="    ")
    for sentence in change.answered:
        prose(f"answered: {sentence}", first="    ")
    for sentence in change.asked:
        prose(sentence, style="yellow", first="  ? ")
