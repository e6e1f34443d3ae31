"""Click groups: one imports a command's module only when the command is called; both keep the order of the work."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import Any

import click


class OrderedGroup(click.Group):
    """A group that lists its commands in the order in which they were defined."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of definition."""
        return list(self.commands)


class LazyGroup(click.Group):
    """A group whose commands stand in a table; the overview is printed from the table alone.

    Args:
        commands_table: name -> (module below faces/cli, attribute, one-line help), in the order of the overview.
    """

    def __init__(self, *args: Any, commands_table: Mapping[str, tuple[str, str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.commands_table = commands_table

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of the table: the order of the work."""
        return list(self.commands_table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return a command, None where there is none of that name."""
        if cmd_name not in self.commands_table:
            return None
        module, attribute, _ = self.commands_table[cmd_name]
        command = getattr(import_module(f"counterfoil.faces.cli.{module}"), attribute)
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the overview without importing a command."""
        rows = [(name, line) for name, (_, _, line) in self.commands_table.items()]
        with formatter.section("Commands"):
            formatter.write_dl(rows)
