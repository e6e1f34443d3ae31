"""`counterfoil watch`: mail goes in as it comes."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from counterfoil.archive import Archive
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import archive_option, clean, json_option, print_json
from counterfoil.faces.cli.passwords import password_of, password_options
from counterfoil.pipeline import IngestReport
from counterfoil.sources.imap_address import is_address, read_address


@click.command(short_help="Take in mail as it comes, from a folder or mail server.")
@click.argument("source", metavar="FOLDER|IMAPS://USER@HOST/FOLDER")
@click.option(
    "--every",
    type=click.FloatRange(min=1),
    default=60.0,
    show_default=True,
    metavar="SECONDS",
    help="How often to look, where the server does not say by itself that mail has come.",
)
@password_options
@json_option
@archive_option
def watch(archive: Archive, source: str, every: float, password_file: Path | None, keyring: bool, as_json: bool) -> int:
    """Take in what comes to a folder, a Maildir or a folder on a mail server, as `ingest` does, until stopped.

    Ctrl-C or SIGTERM ends it: what was taken in is kept, and the next run goes on from there.

    A folder on this machine is looked into, with the folders inside. A file is read once it has not changed for two
    seconds (watch_quiet_seconds), so that none is taken while it is being written; a program that pauses for longer
    should write under a name that begins with a dot and rename the file when it is whole. The folder is left as it is.

    On a mail server, a line that drops is opened again, after waits that grow from two seconds to five minutes. Nothing
    is changed there, unless imap_done_folder in counterfoil.toml names a folder that mail is moved to once it is kept.

    Example: counterfoil watch scans/

    Example: counterfoil watch imaps://desk@mail.shop.example/INBOX --password-file desk.pw
    """

    def warn(sentence: str) -> None:
        click.echo(f"counterfoil: {clean(sentence)}", err=True)

    def tell(report: IngestReport) -> None:
        if as_json:
            print_json(report.to_json())
        else:
            click.echo(_line(report))
        for problem in report.problems:
            warn(problem)

    if is_address(source):
        from counterfoil import mailbox

        where = read_address(source)
        password = password_of(where, password_file, keyring=keyring)
        with _until_told() as stop:
            mailbox.watch(archive, where, password, stop=stop, tell=tell, warn=warn, every_seconds=every)
    else:
        from counterfoil.watching import watch_folder

        if password_file is not None or keyring:
            raise UsageProblem("Only mail servers ask for a password.", "Leave --password-file and --keyring out.")
        with _until_told() as stop:
            watch_folder(archive, Path(source), stop=stop, tell=tell, warn=warn, every_seconds=every)
    click.echo("Stopped. What was taken in is kept.", err=True)
    return 0


def _line(report: IngestReport) -> str:
    parts = [f"{number} {name}" for name in ("filed", "open", "aside") if (number := getattr(report, name))]
    at = datetime.now().astimezone().isoformat(sep=" ", timespec="seconds")[:19]
    return f"{at}  {report.new} new" + (f": {', '.join(parts)}" if parts else "")


@contextmanager
def _until_told() -> Iterator[threading.Event]:
    """Hand out an event that Ctrl-C and SIGTERM set; a second Ctrl-C ends the program where it stands."""
    stop = threading.Event()
    before: dict[int, Any] = {}

    def told(number: int, frame: object) -> None:
        stop.set()
        signal.signal(number, before[number])

    for wanted in (signal.SIGINT, signal.SIGTERM):
        before[wanted] = signal.getsignal(wanted)
        signal.signal(wanted, told)
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
