"""How a list leaves: as a table, page by page where it is longer than the screen, as CSV, JSON or a chart."""

from __future__ import annotations

import contextlib
import functools
import io
import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import clean, console, json_option, json_text, print_json, prose, say, table
from counterfoil.faces.cli.files import write_file

if TYPE_CHECKING:
    from counterfoil.answers.charts import Chart
    from counterfoil.answers.lists import Listing, Part

F = TypeVar("F", bound=Callable[..., Any])

_ENDINGS = (".csv", ".json", ".svg")
_BLOCK = "█"
#: Columns between two bars, and the least that a bar gets on a narrow terminal.
_GAP_CHARS, _LEAST_BAR_CHARS = 2, 6


def list_options(command: F) -> F:
    """Add the options by which a list leaves; the command returns the list, and it is shown as asked for."""

    @click.option("--csv", "as_csv", is_flag=True, help="Print CSV for a spreadsheet or a mailing.")
    @json_option
    @click.option("--chart", is_flag=True, help="Draw the figures as bars, where there is something to draw.")
    @click.option(
        "--out",
        type=click.Path(path_type=Path, dir_okay=False),
        metavar="FILE",
        help="Write a file: .csv, .json, or .svg for the chart.",
    )
    @click.option("--replace", is_flag=True, help="Let --out write over a file that is there.")
    @click.option(
        "--encoding",
        metavar="NAME",
        help="Encoding of a CSV file.  [default: utf-8-sig, which spreadsheets recognise]",
    )
    @click.option("--delimiter", default=",", show_default=True, metavar="SIGN", help="In CSV: , ; | or `tab`.")
    @functools.wraps(command)
    def shown(
        *args: Any,
        as_csv: bool,
        as_json: bool,
        chart: bool,
        out: Path | None,
        replace: bool,
        encoding: str | None,
        delimiter: str,
        **kwargs: Any,
    ) -> None:
        if sum((as_csv, as_json, chart)) > 1:
            raise UsageProblem("A list is printed in one way at a time.", "Choose one of --csv, --json, --chart.")
        sign = _delimiter(delimiter)
        if out is not None:
            # Before the records are asked: what cannot be written is said at once.
            _check_file(out, replace=replace)
        listing: Listing = command(*args, **kwargs)
        if out is not None:
            data = _file(listing, out, encoding or "utf-8-sig", sign)
            write_file(out, data, replace=replace)
        _print(listing, as_csv=as_csv, as_json=as_json, chart=chart, out=out, sign=sign)

    return shown  # type: ignore[return-value]


def _print(listing: Listing, *, as_csv: bool, as_json: bool, chart: bool, out: Path | None, sign: str) -> None:
    if (as_csv or out is not None) and not listing.rows and not as_json:
        # Not among the rows: a program reads those.
        click.echo(clean(listing.empty), err=True)
    if as_csv:
        click.echo(listing.to_csv(sign), nl=False)
    elif as_json:
        print_json(listing.to_json() | ({"file": str(out)} if out is not None else {}))
    elif out is not None:
        rows = " and ".join(f"{len(part.rows)} {part.group}".strip() for part in listing.parts)
        say(f"Written: {out} ({rows})")
    elif chart:
        draw(_chart(listing))
    else:
        paged(lambda: show(listing))


# --- files ----------------------------------------------------------------------------------------


def _delimiter(text: str) -> str:
    sign = {"tab": "\t", "comma": ",", "semicolon": ";", "pipe": "|"}.get(text, text)
    if len(sign) != 1 or sign in '"\r\n' or sign.isalnum():
        raise UsageProblem(f"{text!r} is no delimiter.", "Give one sign, or `tab`.")
    return sign


def _check_file(path: Path, *, replace: bool) -> None:
    if path.suffix.lower() not in _ENDINGS:
        raise UsageProblem(f"{path} does not say by its ending what to write.", "End it in .csv, .json or .svg.")
    if path.exists() and not replace:
        raise UsageProblem(f"{path} is there already.", "Name another file, or add --replace to write over it.")


def _file(listing: Listing, path: Path, encoding: str, sign: str) -> bytes:
    match path.suffix.lower():
        case ".csv":
            return _encoded(listing.to_csv(sign), encoding)
        case ".json":
            return (json_text(listing.to_json()) + "\n").encode()
        case _:
            from counterfoil.answers.charts import svg

            return svg(_chart(listing))


def _chart(listing: Listing) -> Chart:
    if listing.chart is None:
        raise UsageProblem("This list has no chart: there is nothing to count in it.", "Leave it a table, or take CSV.")
    return listing.chart


def _encoded(text: str, encoding: str) -> bytes:
    try:
        return text.encode(encoding)
    except LookupError:
        raise UsageProblem(f"There is no encoding {encoding!r}.", "Take utf-8-sig or utf-8.") from None
    except UnicodeEncodeError as error:
        missing = text[error.start]
        raise UsageProblem(f"{encoding} has no {missing!r}, which is in the list.", "Take utf-8-sig.") from None


# --- on the screen --------------------------------------------------------------------------------


def show(listing: Listing) -> None:
    """Print a list as tables, the one asked for first."""
    for number, part in enumerate(listing.parts):
        if number and not part.rows:
            continue
        if number:
            say()
        if part.rows:
            _table(listing, part)
        else:
            prose(listing.empty)
    if listing.notes:
        say()
    for note in listing.notes:
        prose(note)


def _table(listing: Listing, part: Part) -> None:
    # A column in which nothing stands tells nothing; the CSV has it all the same.
    columns = [c for c in listing.shown if any(row.get(c) not in (None, "") for row in part.rows)]
    rows = (["" if row.get(c) is None else str(row.get(c)) for c in columns] for row in part.rows)
    number = f" ({len(part.rows)})" if part.group else ""
    table(part.title + number, [column.replace("_", " ") for column in columns], rows)


def draw(chart: Chart) -> None:
    """Draw a chart with rich: a row a name, a column a series, all bars to one scale, the figure beside each bar."""
    from rich.bar import Bar
    from rich.table import Table

    out = console()
    say(chart.title, style="bold")
    say(f"bars: {chart.values_title}")
    if not chart.most:
        say("There is nothing to draw yet.")
        return
    figures = len(str(chart.most))
    names = max(map(len, (*chart.names, chart.names_title)))
    room = (out.width - names) // len(chart.series) - figures - 2 * _GAP_CHARS
    width = max(room, _LEAST_BAR_CHARS)
    plain = not _can_print(_BLOCK)
    grid = Table(box=None, padding=(0, _GAP_CHARS, 0, 0), pad_edge=False)
    grid.add_column(chart.names_title, no_wrap=True)
    for series in chart.series:
        grid.add_column("", justify="right", no_wrap=True)
        grid.add_column(series.name, no_wrap=True, min_width=width)
    for n, name in enumerate(chart.names):
        cells: list[Any] = [name]
        for series in chart.series:
            value = series.values[n]
            bar = Bar(chart.most, 0, value, width=width) if not plain else "#" * round(width * value / chart.most)
            cells += [str(value), bar]
        grid.add_row(*cells)
    with out.capture() as captured:
        out.print(grid)
    # Blanks at line ends would be copied along.
    for line in captured.get().splitlines():
        click.echo(line.rstrip())


def _can_print(text: str) -> bool:
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


class _Screen(io.StringIO):
    """Collects what would be printed on the terminal, styles included."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        """Say yes: what reads it is the pager on the terminal."""
        return True


def paged(printing: Callable[[], None]) -> None:
    """Print; on a terminal through the pager where it is longer than the screen.

    Args:
        printing: prints by the functions of this face.
    """
    if not (sys.stdout.isatty() and sys.stdin.isatty()):
        printing()
        return
    size = shutil.get_terminal_size()
    screen = _Screen()
    screen.encoding = sys.stdout.encoding
    with contextlib.redirect_stdout(screen):
        printing()
    text = screen.getvalue()
    if text.count("\n") < size.lines:
        click.echo(text, nl=False)
        return
    # Without these `less` shows the codes of styles as text, and clears the screen when it is left.
    os.environ.setdefault("LESS", "-RFX")
    click.echo_via_pager(text, color=True)
