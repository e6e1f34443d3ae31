"""`counterfoil report`: figures for the desk, and the lists of report_lists.py."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterfoil.archive import Archive
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import (
    FOLDER,
    IsoDate,
    archive_option,
    folder_option,
    json_option,
    print_json,
    prose,
    say,
    table,
)
from counterfoil.faces.cli.lazy import OrderedGroup
from counterfoil.faces.cli.report_lists import LISTS
from counterfoil.faces.cli.report_warranty import warranty

if TYPE_CHECKING:
    from counterfoil.answers.desk import Week


@click.group(cls=OrderedGroup, short_help="Lists the shop works from, and figures for the desk.")
@folder_option
@click.pass_context
def report(context: click.Context, folder: Path | None) -> None:
    """Lists the shop works from, and figures for the desk; each as a table, most as CSV, JSON and chart too.

    \b
    Examples: counterfoil report desk
              counterfoil report firmware
    """
    context.meta[FOLDER] = folder


@report.command(short_help="What came in week by week, and how old the oldest question is.")
@click.option(
    "--weeks", type=click.IntRange(1, 520), default=12, show_default=True, metavar="N", help="How many weeks."
)
@click.option("--on", type=IsoDate(), metavar="YYYY-MM-DD", help="Up to the week of this day.  [default: today]")
@click.option("--csv", "as_csv", is_flag=True, help="Print the weeks as CSV, for a spreadsheet.")
@json_option
@archive_option
def desk(archive: Archive, weeks: int, on: date | None, as_csv: bool, as_json: bool) -> None:
    """Count messages by the week they were received (UTC) and where they stand now.

    Touchless is the share of confirmations (filed or open) that were filed without a person.

    \b
    Examples: counterfoil report desk --weeks 4
              counterfoil report desk --weeks 52 --csv > weeks.csv
    """
    from counterfoil.answers.desk import desk as ask

    if as_csv and as_json:
        raise UsageProblem("Standard output takes either CSV or JSON.", "Leave one of them out.")
    found = ask(archive.store, today=on or datetime.now(UTC).date(), weeks=weeks)
    if as_json:
        print_json(found.to_json())
        return
    if as_csv:
        click.echo(_csv(found.weeks), nl=False)
        return
    rows = [(week.week, week.begins.isoformat(), *_figures(week)) for week in found.weeks]
    columns = ("week", "from", "came in", "filed", "open", "aside", "touchless")
    table(None, columns, [*rows, ("all", "", *_figures(found.total))])
    say()
    if found.oldest is None:
        say("Nothing is open.")
        return
    days = "1 day" if found.oldest_days == 1 else f"{found.oldest_days} days"
    prose(f"The oldest question is {days} old: {found.oldest}.")
    say(f"Look at it with: counterfoil triage show {found.oldest}")


def _csv(weeks: Sequence[Week]) -> str:
    """Return the weeks as CSV with a head row (RFC 4180, section 2); touchless as a share of one."""
    out = io.StringIO(newline="")
    lines = csv.DictWriter(out, list(weeks[0].to_json()))
    lines.writeheader()
    lines.writerows(week.to_json() for week in weeks)
    return out.getvalue()


def _figures(week: Week) -> tuple[str, ...]:
    share = "" if week.touchless is None else f"{100 * week.touchless:.1f} %"
    return str(week.came_in), str(week.filed), str(week.open), str(week.aside), share


for _listed in (*LISTS, warranty):
    report.add_command(_listed)
