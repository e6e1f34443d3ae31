"""Help that a newcomer can read: every command explains itself, with an example, and stands in the README."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator

import click
import pytest
from cli_world import own_environment
from conftest import ROOT

from counterfoil.faces.cli import COMMANDS, cli, run


def commands(group: click.Group, prefix: str = "") -> Iterator[tuple[str, click.Command]]:
    """Yield every command and sub-command with its full name."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        yield prefix + name, command
        if isinstance(command, click.Group):
            yield from commands(command, f"{prefix}{name} ")


ALL = dict(commands(cli))


@pytest.mark.parametrize("name", ALL)
def test_help_reads_well(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The help is a sentence, options each with a text, and an example of this very command that fits a terminal."""
    assert run([*name.split(), "--help"]) == 0
    text = capsys.readouterr().out
    usage, summary = text.split("\n\n")[:2]
    assert usage.startswith(f"Usage: counterfoil {name} ")
    assert re.match(r"  [A-Z].*[.:]$", summary, re.DOTALL), summary
    examples = re.findall(rf"Examples?: counterfoil {name}\b", re.sub(r"\s+", " ", text))
    assert examples, text
    assert max(map(len, text.splitlines())) <= 100
    for option in ALL[name].params:
        if isinstance(option, click.Option):
            assert option.help, f"{name} {option.name}"


@pytest.mark.parametrize("name", ALL)
def test_examples_use_options_that_exist(name: str) -> None:
    """Every option in an example of a command is one of its own."""
    known = {word for param in ALL[name].params for word in param.opts} | {"--archive", "--help"}
    help_text = ALL[name].help or ""
    used = set(re.findall(r"(?<!\S)--[a-z-]+", help_text.partition("Example")[2]))
    assert used <= known


def test_the_overview_says_what_the_commands_say() -> None:
    """The line in the overview, printed without loading a command, is the command's own short help."""
    for name, (_, _, line) in COMMANDS.items():
        assert ALL[name].short_help == line
        assert line.endswith(".")


def test_the_overview_keeps_one_line_a_command(capsys: pytest.CaptureFixture[str]) -> None:
    """The overview names every command once, in the order of the work."""
    assert run(["--help"]) == 0
    text = capsys.readouterr().out
    lines = text.partition("Commands:\n")[2].partition("\n\n")[0].splitlines()
    assert [line.split()[0] for line in lines] == list(COMMANDS)
    assert max(map(len, text.splitlines())) <= 80


def test_every_command_takes_an_archive() -> None:
    """Every command but the demo, which makes its own, takes --archive."""
    without = [name for name, command in ALL.items() if "folder" not in {p.name for p in command.params}]
    assert without == []


def test_printing_commands_take_json() -> None:
    """Every command takes --json but the demo, which speaks to a person."""
    names = [name for name, command in ALL.items() if not isinstance(command, click.Group)]
    without = [name for name in names if "--json" not in {word for p in ALL[name].params for word in p.opts}]
    assert without == ["demo"]


def test_the_readme_has_a_row_for_every_command() -> None:
    """The README's table has each command, in the same order, with an example of it that uses known options."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| `([a-z ]+)` \| .+ \| `(counterfoil .+)` \|$", readme, re.MULTILINE))
    groups = {"customers", "patterns", "report", "coverage"}
    assert list(rows) == [name for name in ALL if name not in groups]
    for name, example in rows.items():
        assert example.startswith(f"counterfoil {name}")
        known = {word for param in ALL[name].params for word in param.opts}
        assert set(re.findall(r"(?<!\S)--[a-z-]+", example)) <= known


def test_help_loads_no_heavy_library() -> None:
    """Printing the overview imports neither database nor index, tables or readers: it stays quick."""
    heavy = ("sqlalchemy", "whoosh", "rich", "mailparser", "pypdfium2", "pdfplumber", "reportlab", "rapidfuzz")
    code = (
        "import sys\nfrom counterfoil.faces.cli import run\nrun(['--help'])\n"
        f"print([n for n in {heavy!r} if n in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env=own_environment(), check=True
    )
    assert done.stderr.strip() == "[]"
    assert "Commands:" in done.stdout
