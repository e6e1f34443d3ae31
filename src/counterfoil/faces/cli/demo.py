"""`counterfoil demo`: the whole job on an invented mailbox, with the very commands a desk would type."""

from __future__ import annotations

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
    where = ("--archive", str(folder))

    _step(
        "A new archive for the shop; its warranty terms and the files of the three makers it sells are copied in.",
        "init",
        *where,
        "--shop-name",
        "Thimblewick Sewing Rooms",
    )
    for name in ("counterfoil.toml", "coverage.toml"):
        shutil.copy(samples / name, folder / name)
    for path in sorted((samples / "patterns").glob("*.toml")):
        shutil.copy(path, folder / "patterns" / path.name)

    _step(
        "Two years of the support mailbox go in: forwards in seven languages, PDFs, photos, newsletters, invoices.",
        "ingest",
        *where,
        *(str(samples / name) for name in ("mailbox", "old.mbox", "Maildir")),
    )
    refs = _refs(folder)
    _step(
        "What is not certain is never filed by a guess. A machine that is known came in under another name:",
        "triage",
        "show",
        *where,
        refs["trade-in"],
    )
    _step(
        "The desk knows: she bought it second hand. One line settles it; the journal remembers who and why.",
        "triage",
        "settle",
        *where,
        refs["trade-in"],
        "--customer",
        "new",
        "--why",
        "bought second hand in the shop",
    )
    _step("Every original is hashed anew, records and index are compared:", "verify", *where)
    _step(
        "Months later the telephone rings. All the caller gives is a name, half of it:",
        "search",
        *where,
        "Fenna Kluwen",
    )
    _step("Is it still covered?", "warranty", *where, refs["machine"], "--on", TODAY)
    _step(
        "Her main board was swapped: the old code is dead, the new one is live. The sheet for a restore:",
        "restore",
        *where,
        refs["machine"],
        "--reveal",
        "--reason",
        "factory reset; called back on the number on file",
        "--out",
        str(folder / "restore-sheet"),
    )

    say(f"The demo took {time.monotonic() - start:.1f} s. Now try, on the same archive:", style="bold")
    for line in (
        "triage",
        "search 07700 900231",
        'search "quilt pack" date:2025',
        "machine M1",
        "customer C1",
        "journal",
    ):
        say(f"  counterfoil {line.split()[0]} --archive {folder} {' '.join(line.split()[1:])}".rstrip())


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
        owner, _ = archive.store.find_names("Fenna van der Kluwen", 1)[0]
        return {"trade-in": story.id, "machine": archive.store.customer(owner).holdings[0].machine}
    finally:
        archive.close()


def _step(why: str, *words: str) -> None:
    """Say why, show the command as it would be typed, and run it."""
    from counterfoil.faces.cli import cli

    say(why, style="bold")
    say("$ counterfoil " + " ".join(f'"{w}"' if " " in w else w for w in words), style="cyan")
    cli.main(args=list(words), prog_name="counterfoil", standalone_mode=False)
    say()
