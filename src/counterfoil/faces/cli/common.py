"""What the commands share: options, the opened archive, and safe printing."""

from __future__ import annotations

import functools
import getpass
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import click

from counterfoil.archive import Archive, default_folder
from counterfoil.faces.cli.harmless import clean, json_text
from counterfoil.faces.cli.layout import console, marked, pairs, prose, say, table

__all__ = [
    "FOLDER",
    "IsoDate",
    "account",
    "archive_option",
    "clean",
    "console",
    "folder_option",
    "json_option",
    "json_text",
    "marked",
    "named_folder",
    "pairs",
    "print_json",
    "prose",
    "say",
    "table",
    "who_option",
    "why_option",
]

#: Key under which a group leaves the folder named on it for its commands.
FOLDER = "counterfoil.folder"

F = TypeVar("F", bound=Callable[..., Any])


def folder_option(command: F) -> F:
    """Add --archive DIR to a command; it receives the folder, or None, as ``folder``."""
    return click.option(
        "--archive",
        "folder",
        metavar="DIR",
        type=click.Path(path_type=Path, file_okay=False),
        help="Folder of the archive.  [default: COUNTERFOIL_ARCHIVE, else your user data folder]",
    )(command)


def named_folder(folder: Path | None) -> Path:
    """Return the folder a command works on: its own --archive, that of a group above it, or the default.

    Args:
        folder: the value of --archive; where a group names it, its commands find it too.
    """
    meta = click.get_current_context().meta
    if folder is not None:
        meta[FOLDER] = folder
    found: Path | None = meta.get(FOLDER)
    return found or default_folder()


def archive_option(command: F) -> F:
    """Add --archive DIR to a command; it receives the opened :class:`Archive` as its first argument.

    A folder named on the group (`triage --archive DIR show E5`) serves where the command names none.
    """

    @folder_option
    @functools.wraps(command)
    def opened(*args: Any, folder: Path | None, **kwargs: Any) -> Any:
        archive = Archive(named_folder(folder))
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


def print_json(value: Mapping[str, object]) -> None:
    """Print one JSON object on one line."""
    click.echo(json_text(value))
