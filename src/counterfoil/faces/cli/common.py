"""What the commands share: options, the opened archive, and safe printing."""

from __future__ import annotations

import functools
import getpass
import json
import sys
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import click
from rich.console import Console
from rich.table import Table
from rich.text import Text

from counterfoil.archive import Archive, default_folder

#: Key under which a group leaves the folder named on it for its commands.
FOLDER = "counterfoil.folder"

F = TypeVar("F", bound=Callable[..., Any])

#: Width for tables when the output is not a terminal: wide enough that nothing is cut.
PIPE_WIDTH_CHARS = 160


def folder_option(command: F) -> F:
    """Add --archive DIR to a command; it receives the folder, or None, as ``folder``."""
    return click.option(
        "--archive",
        "folder",
        metavar="DIR",
        type=click.Path(path_type=Path, file_okay=False),
        help="Folder of the archive.  [default: COUNTERFOIL_ARCHIVE, else your user data folder]",
    )(command)


def archive_option(command: F) -> F:
    """Add --archive DIR to a command; it receives the opened :class:`Archive` as its first argument.

    A folder named on the group (`triage --archive DIR show E5`) serves where the command names none.
    """

    @folder_option
    @functools.wraps(command)
    def opened(*args: Any, folder: Path | None, **kwargs: Any) -> Any:
        named = folder or click.get_current_context().meta.get(FOLDER)
        archive = Archive(named or default_folder())
        try:
            return command(archive, *args, **kwargs)
        finally:
            archive.close()

    return opened  # type: ignore[return-value]


json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON for programs.")
who_option = click.option(
    "--who", metavar="NAME", help="Who does this, for the journal.  [default: the account on this machine]"
)
why_option = click.option("--why", "--reason", "why", metavar="TEXT", default="", help="Why, for the journal.")


class IsoDate(click.ParamType):  # type: ignore[type-arg]  # generic in newer releases of click only
    """A day as ISO 8601 writes it."""

    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """Read the day, or say how it must look."""
        if isinstance(value, date):
            return value
        try:
            return date.fromisoformat(str(value))
        except ValueError:
            self.fail(f"{value!r} is not a day such as 2026-11-25.", param, ctx)


def account(given: str | None) -> str:
    """Return who acts: the name given, else the account on this machine."""
    if given:
        return given
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "unknown account"


def clean(text: str) -> str:
    """Return text from a message made harmless for a terminal: no control, no direction-changing characters."""
    return "".join(
        c if unicodedata.category(c) not in {"Cc", "Cf", "Co", "Cs", "Zl", "Zp"} or c == "\u00ad" else " " for c in text
    )


def console(*, stderr: bool = False) -> Console:
    """Return a console that keeps its whole width when piped and reads no markup out of data."""
    stream = sys.stderr if stderr else sys.stdout
    width = None if stream.isatty() else PIPE_WIDTH_CHARS
    return Console(file=stream, width=width, markup=False, emoji=False, highlight=False)


def say(text: str = "", style: str | None = None) -> None:
    """Print one line of text."""
    console().print(Text(text, style=style or ""), soft_wrap=True)


def table(title: str | None, columns: Iterable[str], rows: Iterable[Iterable[str | Text]]) -> None:
    """Print a table; strings are cleaned, :class:`Text` is taken as it is."""
    grid = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in columns:
        grid.add_column(name, header_style="bold", overflow="fold")
    for row in rows:
        grid.add_row(*(cell if isinstance(cell, Text) else Text(clean(cell)) for cell in row))
    console().print(grid)


def pairs(rows: Iterable[tuple[str, str | Text]]) -> None:
    """Print label and value on a line each, values in one column; empty values are left out."""
    grid = Table.grid(padding=(0, 2, 0, 2))
    grid.add_column(style="bold", no_wrap=True)
    grid.add_column(overflow="fold")
    for label, value in rows:
        if str(value):
            grid.add_row(label, value if isinstance(value, Text) else Text(clean(value)))
    console().print(grid)


def marked(snippet: str) -> Text:
    """Turn a snippet with hits between U+0002 and U+0003 into styled text."""
    out = Text()
    for piece in snippet.split("\x02"):
        hit, closed, rest = piece.partition("\x03")
        if closed:
            out.append(clean(hit), style="bold underline")
            out.append(clean(rest))
        else:
            out.append(clean(piece))
    return out


def print_json(value: Mapping[str, object]) -> None:
    """Print one JSON object on one line."""
    click.echo(json.dumps(value, ensure_ascii=False))
