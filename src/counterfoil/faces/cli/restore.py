"""`counterfoil restore`: codes and steps in the order of entry."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterfoil.archive import Archive
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.common import (
    account,
    archive_option,
    clean,
    json_option,
    pairs,
    print_json,
    prose,
    say,
    who_option,
)
from counterfoil.faces.cli.refs import find_one, holder_line, machine_line

if TYPE_CHECKING:
    from counterfoil.answers.restore import EntryGuide, RestoreSheet


@click.command(short_help="Bring a machine's upgrades back: codes and steps, in order.")
@click.argument("ref", nargs=-1, required=True)
@click.option("--customer", "asker", metavar="C", help="Who asks; refused unless this customer has the machine now.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write the sheet as PDF there, with the original confirmations and attachments.",
)
@click.option("--reveal", is_flag=True, help="Show the codes in full; needs --reason, written to the journal.")
@click.option("--reason", metavar="TEXT", default="", help="Why the codes are needed, for the journal.")
@who_option
@json_option
@archive_option
def restore(
    archive: Archive,
    ref: tuple[str, ...],
    asker: str | None,
    out: Path | None,
    reveal: bool,
    reason: str,
    who: str | None,
    as_json: bool,
) -> None:
    """Make the sheet that brings a machine's upgrades back after a reset, a swapped board or a lost mail.

    REF is a machine (M7), a customer with one machine, or any text that finds exactly one of them. Codes go to the
    present holder of the machine only.

    \b
    Example: counterfoil restore M7 --reveal --reason "factory reset" --out sheet
    """
    from counterfoil.answers.restore import restore as make

    if reveal and not reason.strip():
        raise UsageProblem("--reveal shows codes, which goes into the journal with its reason.", "Add --reason TEXT.")
    target = find_one(archive, ref, "machine")
    sheet = make(archive.store, target, guides(archive), customer=asker, reveal=reveal, who=account(who), reason=reason)
    written: tuple[Path, ...] = ()
    left_out: tuple[str, ...] = ()
    if out is not None:
        written, left_out = _write(archive, sheet, out)
    if as_json:
        print_json(sheet.to_json() | ({"files": [str(path) for path in written]} if out is not None else {}))
        return
    show(archive, sheet)
    for path in written:
        say(f"Written: {path}")
    for sentence in left_out:
        prose(sentence, style="yellow")


def guides(archive: Archive) -> tuple[EntryGuide, ...]:
    """Return what the archive's maker files say about entering codes."""
    from counterfoil.answers.guides import EntryGuide

    return tuple(EntryGuide.of(maker) for maker in archive.patterns.makers)


def _write(archive: Archive, sheet: RestoreSheet, out: Path) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    from counterfoil.answers.handout import write_handout
    from counterfoil.documents.attachments import attachments

    def parts(data: bytes) -> list[tuple[str, bytes]]:
        return attachments(data, archive.settings.limits)

    handout = write_handout(
        sheet,
        out,
        archive.store,
        archive.originals.read,
        parts,
        shop_name=archive.settings.shop_name,
        printed=date.today(),
    )
    return handout.files, handout.left_out


def show(archive: Archive, sheet: RestoreSheet) -> None:
    """Print a sheet on the terminal."""
    from counterfoil.answers.aloud import named_lookalikes
    from counterfoil.answers.masking import BULLET
    from counterfoil.answers.provenance import KIND_WORDS

    firmware = "" if sheet.firmware is None else f"{sheet.firmware.version}, noted {sheet.firmware.noted[:10]}"
    say("Restore sheet", style="bold")
    pairs(
        [
            ("machine", machine_line(archive, sheet.machine)),
            ("holder", holder_line(archive, sheet.customer)),
            ("firmware", firmware),
            ("needs", "" if sheet.needs_firmware is None else f"firmware {sheet.needs_firmware} or newer"),
        ]
    )
    for number, step in enumerate(sheet.steps, 1):
        say()
        prose(step.text, "red" if step.barred else None, first=f"{number}. ")
        for entry in step.entries:
            say(f"     {KIND_WORDS[entry.kind]:16} {clean(entry.code)}", style="bold")
            # What is left of a masked code is nothing to read out.
            note = "" if BULLET in entry.code else named_lookalikes(entry.code)
            if note:
                prose(note, first=" " * 22)
    say()
    say("Cautions", style="bold")
    for caution in sheet.cautions:
        prose(caution, first="  - ")
    if sheet.revealed:
        say()
        prose(f"Shown to {sheet.shown_to}: {sheet.reason} ({sheet.journal} in the journal)")
    elif sheet.upgrades:
        say()
        say("Codes are masked: add --reveal --reason TEXT to show them.")
