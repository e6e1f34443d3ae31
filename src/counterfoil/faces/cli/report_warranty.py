"""`counterfoil report warranty`: whose cover ends soon."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import click

from counterfoil.archive import Archive
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import IsoDate, archive_option
from counterfoil.faces.cli.report_out import list_options

if TYPE_CHECKING:
    from counterfoil.answers.lists import Listing


@click.command(short_help="Whose cover ends soon, part by part.")
@click.option(
    "--ending-within",
    "within",
    default="60d",
    show_default=True,
    metavar="TIME",
    help="Up to so many days, weeks or months on: 60d, 8w, 3m.",
)
@click.option("--on", type=IsoDate(), metavar="YYYY-MM-DD", help="From this day on.  [default: today]")
@list_options
@archive_option
def warranty(archive: Archive, within: str, on: date | None) -> Listing:
    """List the part classes whose cover ends in the coming weeks, with the contacts of who has the machine now.

    Where the last day is assumed, or the records allow another one, the row is listed apart. These are the shop's own
    records: what is covered is for the maker to decide.

    \b
    Examples: counterfoil report warranty --ending-within 60d
              counterfoil report warranty --ending-within 3m --out ending.csv
    """
    from counterfoil.answers.coverage_file import load_terms
    from counterfoil.answers.warranty_ending import ending, last_day_within

    start = on or date.today()
    try:
        until = last_day_within(start, within)
    except ValueError as error:
        raise UsageProblem(f"--ending-within {error}.", "Write it as --ending-within 60d.") from error
    return ending(archive.store, load_terms(archive.coverage_file), start, until, archive.settings)
