"""`counterfoil init`, `export`, `verify`: the archive as a whole."""

from __future__ import annotations

import shlex
import sys
from contextlib import suppress
from pathlib import Path

import click

from counterfoil.archive import Archive
from counterfoil.errors import ArchiveDamaged
from counterfoil.faces.cli.common import (
    account,
    archive_option,
    console,
    folder_option,
    json_option,
    json_text,
    named_folder,
    print_json,
    prose,
    say,
    who_option,
    why_option,
)


@click.command(short_help="Make a new archive.")
@folder_option
@click.option("--shop-name", default="Our shop", show_default=True, metavar="NAME", help="Printed on restore sheets.")
@click.option(
    "--shop-address",
    "addresses",
    multiple=True,
    metavar="EMAIL",
    help="A mailbox of the shop itself, never a customer's; may be repeated.",
)
@click.option(
    "--region",
    default="GB",
    show_default=True,
    metavar="CC",
    help="Country (ISO 3166-1) of telephone numbers written without a country code.",
)
@json_option
def init(folder: Path | None, shop_name: str, addresses: tuple[str, ...], region: str, as_json: bool) -> None:
    """Make a new, empty archive: one folder with everything in it.

    \b
    Example: counterfoil init --archive shop --shop-name "Corner Threads" \\
             --shop-address help@corner.example
    """
    archive = Archive.create(named_folder(folder), shop_name=shop_name, shop_addresses=addresses, region=region.upper())
    if as_json:
        print_json({"archive": str(archive.folder)})
        return
    say(f"New archive in {archive.folder}")
    say("  counterfoil.toml  the shop's settings")
    say("  coverage.toml     warranty terms: write the shop's own into it")
    say("  patterns/         one file a maker, for codes with known shapes (values are found by labels without them)")
    say("  replies/          the shop's own texts of replies (counterfoil triage texts prints those there are)")
    at = "" if folder is None else f" --archive {shlex.quote(str(folder))}"
    say(f"Next: counterfoil ingest{at} MAILBOX")


@click.command(short_help="Print all records as JSON Lines.")
@click.option("--reveal", is_flag=True, help="Print codes in full; who and why go into the journal.")
@click.option("--json", is_flag=True, expose_value=False, help="Print JSON for programs, as it does anyway.")
@who_option
@why_option
@archive_option
def export(archive: Archive, reveal: bool, who: str | None, why: str) -> None:
    """Print every message, customer and machine as one JSON object a line, with stable keys.

    Example: counterfoil export > records.jsonl
    """
    from counterfoil.answers.reports import export as lines

    for line in lines(archive.store, reveal, who=account(who), why=why):
        click.echo(json_text(line))


@click.command(short_help="Check that every original, record and index entry is whole.")
@json_option
@archive_option
def verify(archive: Archive, as_json: bool) -> int:
    """Read every original again and compare its hash with its name, check the records, compare the index with them.

    Example: counterfoil verify
    """
    from counterfoil.answers.verify import verify as check

    if sys.stderr.isatty():
        with console(stderr=True).status("Checking originals, records and index"):
            report = check(archive.store, archive.originals, archive.index)
    else:
        report = check(archive.store, archive.originals, archive.index)
    if any(finding.code == "original_unfiled" for finding in report.findings):
        # So that the next ingest compares originals with records, and files these as is said. Where nothing can be
        # written, nothing can be filed either.
        with suppress(OSError):
            archive.mark_unfinished()
    if as_json:
        print_json(report.to_json())
    else:
        for finding in report.findings:
            prose(str(finding), style="red")
        prose(report.summary)
    return ArchiveDamaged.exit_code if report.findings else 0
