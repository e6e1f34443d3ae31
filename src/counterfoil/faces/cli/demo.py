"""`counterfoil demo`: the whole job on an invented mailbox, with the very commands a desk would type."""

from __future__ import annotations

import re
import shutil
import time
from importlib import resources
from pathlib import Path

import click

from counterfoil.archive import Archive
from counterfoil.errors import CounterfoilError, UsageProblem
from counterfoil.faces.cli.common import say

#: The day the demo plays on, so that it answers the same in every year.
TODAY = "2026-11-25"
FOLDER = "counterfoil-demo"

#: Why, and the words typed for it.
Steps = tuple[tuple[str, tuple[str, ...]], ...]


@click.command(short_help="See the whole job done on an invented mailbox.")
@click.argument(
    "folder", required=False, default=FOLDER, metavar="[DIR]", type=click.Path(path_type=Path, file_okay=False)
)
def demo(folder: Path) -> None:
    """Take an invented shop's mailbox through the whole job and leave the archive in DIR (counterfoil-demo).

    Everything in it is invented: people, shops, makers, machines, codes.

    Example: counterfoil demo
    """
    start = time.monotonic()
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageProblem(f"{folder} is there already.", f"Name another folder, or remove {folder} first.")
    samples = samples_folder()
    for why, words in _OPENING:
        _step(why, folder, [str(samples / w) if (samples / w).exists() else w for w in words])
        if words[0] == "init":
            _set_up(folder, samples)
    refs = _refs(folder)
    for why, words in _STORY:
        _step(why, folder, [refs.get(word, word) for word in words])
    say(f"The demo took {time.monotonic() - start:.1f} s. Now try, on the same archive:", style="bold")
    for proposed in _TRY:
        say(f"  {_typed(folder, list(proposed))}")


#: What is said and typed before the mail is in; names of samples become their paths.
_OPENING: Steps = (
    (
        "A new archive for the shop; its warranty terms and the files of the three makers it sells are copied in.",
        ("init", "--shop-name", "Thimblewick Sewing Rooms"),
    ),
    (
        "Two years of the support mailbox go in: forwards in seven languages, PDFs, photos, newsletters, invoices.",
        ("ingest", "mailbox", "old.mbox", "Maildir"),
    ),
)
#: What is said and typed then; words that name a record of the story become its id.
_STORY: Steps = (
    (
        "What is not certain is never filed by a guess. A machine that is known came in under another name:",
        ("triage show", "the trade-in"),
    ),
    (
        "The desk knows: she bought it second hand. One line settles it; the journal remembers who and why.",
        ("triage settle", "the trade-in", "--customer", "new", "--why", "bought second hand in the shop"),
    ),
    ("Every original is hashed anew, records and index are compared:", ("verify",)),
    ("Months later the telephone rings. All the caller gives is a name, half of it:", ("search", "Fenna Kluwen")),
    ("Is it still covered?", ("warranty", "the machine", "--on", TODAY)),
    (
        "Her main board was swapped: the old code is dead, the new one is live. The sheet for a restore:",
        (
            "restore",
            "the machine",
            "--reveal",
            "--reason",
            "factory reset",
            "--known-by",
            "call-back",
            "--out",
            "the sheet",
        ),
    ),
)
_TRY: tuple[tuple[str, ...], ...] = (
    ("triage",),
    ("search", "07700 900231"),
    ("search", "quilt pack date:2025"),
    ("machine", "M1"),
    ("customer", "C1"),
    ("journal",),
)


def _set_up(folder: Path, samples: Path) -> None:
    """Copy the shop's own settings, terms and maker files into its new archive."""
    for name in ("counterfoil.toml", "coverage.toml"):
        shutil.copy(samples / name, folder / name)
    for path in sorted((samples / "patterns").glob("*.toml")):
        shutil.copy(path, folder / "patterns" / path.name)


def samples_folder() -> Path:
    """Return the folder of the invented world: inside the installed package, or beside the sources.

    Raises:
        CounterfoilError: the installation holds no samples.
    """
    inside = Path(str(resources.files("counterfoil"))) / "samples"
    beside = Path(__file__).resolve().parents[4] / "samples"
    for folder in (inside, beside):
        if (folder / "mailbox").is_dir():
            return folder
    raise CounterfoilError("This installation came without the samples.", "Install Counterfoil anew from its sources.")


def _refs(folder: Path) -> dict[str, str]:
    """Find the message and the machine of the story; their numbers follow the order of the mail."""
    archive = Archive(folder)
    try:
        story = next(m for m in archive.store.messages() if m.source.endswith("vera-trade-in.eml"))
        owner = archive.store.find_names("Fenna van der Kluwen", 1)[0].customer
        machine = archive.store.customer(owner).holdings[0].machine
        return {"the trade-in": story.id, "the machine": machine, "the sheet": str(folder / "restore-sheet")}
    finally:
        archive.close()


def _typed(folder: Path, words: list[str]) -> str:
    """Return a command as it would be typed."""
    command, *rest = words
    quoted = (f'"{w}"' if re.search(r"[\s;*]", w) else w for w in ("--archive", str(folder), *rest))
    return f"counterfoil {command} {' '.join(quoted)}"


def _step(why: str, folder: Path, words: list[str]) -> None:
    """Say why, show the command as it would be typed, and run it.

    Raises:
        CounterfoilError: the command did not end well; the demo must not go on as if it had.
    """
    from counterfoil.faces.cli import cli

    say(why, style="bold")
    say(f"$ {_typed(folder, words)}", style="cyan")
    command, *rest = words
    arguments = [*command.split(), "--archive", str(folder), *rest]
    code = cli.main(args=arguments, prog_name="counterfoil", standalone_mode=False)
    if code:
        raise CounterfoilError(f"The demo stopped: `counterfoil {command}` ended with {code}.")
    say()
