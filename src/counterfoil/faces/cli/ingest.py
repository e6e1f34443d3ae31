"""`counterfoil ingest`: mail goes in."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import click

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.errors import CounterfoilError, UsageProblem
from counterfoil.faces.cli import sysexits
from counterfoil.faces.cli.common import archive_option, clean, console, json_option, print_json, say, table
from counterfoil.faces.cli.passwords import password_of, password_options
from counterfoil.sources import Unreadable, count
from counterfoil.sources.imap_address import is_address, read_address


@click.command(short_help="Take in mail: files, folders, mbox, zip, mail server, pipe.")
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@click.option(
    sysexits.OPTION,
    "delivery",
    is_flag=True,
    help="With -: take one message from a mail server's pipe; exit codes of sysexits.h.",
)
@password_options
@json_option
@archive_option
def ingest(
    archive: Archive, paths: tuple[str, ...], delivery: bool, password_file: Path | None, keyring: bool, as_json: bool
) -> int:
    """Take in every message found under PATH.

    PATH is a message (.eml, .msg), a folder of them, a Maildir, an mbox file, a zip of any of these, - for one
    message on standard input, or the address of a folder on a mail server, imaps://user@host/Folder. Each message
    is kept as it came, read, and filed where that is certain; what is not certain waits in `counterfoil triage`.
    Taking in the same mail twice adds nothing.

    A mail server is read from where the last run ended, and nothing on it is changed, unless imap_done_folder in
    counterfoil.toml names a folder that mail is moved to once it is kept.

    Examples: counterfoil ingest ~/Maildir/.Support,
    counterfoil ingest imaps://desk@mail.shop.example/INBOX --password-file desk.pw
    """
    if delivery:
        return _deliver(archive, paths)
    failed: CounterfoilError | None = None
    if any(map(is_address, paths)):
        report, failed = _from_server(archive, paths, password_file, keyring=keyring)
    elif password_file is not None or keyring:
        raise UsageProblem("Only mail servers ask for a password.", "Leave --password-file and --keyring out.")
    else:
        with _progress(lambda: count(paths)) as progress:
            report = pipeline.ingest(archive, paths, stdin=sys.stdin.buffer, progress=progress)
    if as_json:
        print_json(report.to_json())
    else:
        _show(report)
    for problem in report.problems:
        click.echo(f"counterfoil: {clean(problem)}", err=True)
    if failed is not None:
        raise failed
    return 1 if report.problems else 0


def _from_server(
    archive: Archive, paths: Sequence[str], password_file: Path | None, *, keyring: bool
) -> tuple[pipeline.IngestReport, CounterfoilError | None]:
    from counterfoil import mailbox

    if len(paths) > 1:
        raise UsageProblem("A mail server is read by itself.", "Name other addresses and files in runs of their own.")
    address = read_address(paths[0])
    password = password_of(address, password_file, keyring=keyring)
    with _progress(lambda: None) as progress:
        return mailbox.fetch(archive, address, password, progress=progress)


def _deliver(archive: Archive, paths: Sequence[str]) -> int:
    """Take in the message that a mail server hands over; return what sysexits.py turns into an exit code."""
    from counterfoil.sources.stream import read_delivery

    if tuple(paths) != ("-",):
        raise UsageProblem(f"{sysexits.OPTION} takes one message from standard input.", "Name - and nothing else.")
    found = read_delivery(sys.stdin.buffer, archive.settings.limits)
    if isinstance(found, Unreadable):
        click.echo(f"counterfoil: The message was not taken in. {found.reason}", err=True)
        return sysexits.EX_NOINPUT if found.is_empty else sysexits.EX_DATAERR
    pipeline.ingest(archive, mail=[found])
    return sysexits.KEPT


@contextmanager
def _progress(number: Callable[[], int | None]) -> Iterator[pipeline.Progress | None]:
    """Show a bar on a terminal; ``number`` says how many messages there will be, or None."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console(stderr=True), transient=True) as bar:
        task = bar.add_task("Reading mail", total=number())
        yield lambda done: bar.update(task, completed=done)


def _show(report: pipeline.IngestReport) -> None:
    rows = [
        ("received", report.received, "messages found"),
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
