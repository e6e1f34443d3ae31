"""`counterfoil ingest`: mail goes in."""

from __future__ import annotations

import sys

import click

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.faces.cli.common import archive_option, clean, console, json_option, print_json, say, table
from counterfoil.sources import count


@click.command(short_help="Take in mail: files, folders, Maildir, mbox, zip, standard input.")
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@json_option
@archive_option
def ingest(archive: Archive, paths: tuple[str, ...], as_json: bool) -> int:
    """Take in every message found under PATH.

    PATH is a message (.eml), a folder of them, a Maildir, an mbox file, a zip of any of these, or - for one
    message on standard input. Each message is kept as it came, read, and filed where that is certain; what is not
    certain waits in `counterfoil triage`. Taking in the same mail twice adds nothing.

    Example: counterfoil ingest ~/Maildir/.Support
    """
    report = _with_progress(archive, paths) if sys.stderr.isatty() else _plain(archive, paths)
    if as_json:
        print_json(report.to_json())
    else:
        _show(report)
    for problem in report.problems:
        click.echo(f"counterfoil: {clean(problem)}", err=True)
    return 1 if report.problems else 0


def _plain(archive: Archive, paths: tuple[str, ...]) -> pipeline.IngestReport:
    return pipeline.ingest(archive, paths, stdin=sys.stdin.buffer)


def _with_progress(archive: Archive, paths: tuple[str, ...]) -> pipeline.IngestReport:
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console(stderr=True), transient=True) as bar:
        task = bar.add_task("Reading mail", total=count(paths))
        return pipeline.ingest(
            archive, paths, stdin=sys.stdin.buffer, progress=lambda done: bar.update(task, completed=done)
        )


def _show(report: pipeline.IngestReport) -> None:
    rows = [
        ("received", report.received, "messages found under the paths"),
        ("new", report.new, "kept and read for the first time"),
        ("already kept", report.already_kept, "the same bytes are in the archive"),
        ("filed", report.filed, "in a customer's profile, without a hand"),
        ("open", report.open, "a person must decide: counterfoil triage"),
        ("aside", report.aside, "no confirmation; found by search all the same"),
        ("recovered", report.recovered, "kept by an earlier run that did not end, read now"),
        ("unreadable", report.unreadable, "named below; nothing of them was kept"),
    ]
    table(
        None,
        ("", "messages", ""),
        ((name, str(n), note) for name, n, note in rows if n or name not in ("recovered", "unreadable")),
    )
    say(f"{report.seconds:.1f} s")
