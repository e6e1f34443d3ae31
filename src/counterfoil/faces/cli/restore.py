"""`counterfoil restore`: codes and steps in the order of entry, given out to the holder only."""

from __future__ import annotations

from datetime import date, datetime
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
    table,
    who_option,
)
from counterfoil.faces.cli.refs import holder_line, machine_line
from counterfoil.faces.cli.restore_known import known_by_of, machine_and_asker

if TYPE_CHECKING:
    from counterfoil.answers.restore import EntryGuide, RestoreSheet
    from counterfoil.answers.restore_giving import KnownBy

_FOLDER = click.Path(path_type=Path, file_okay=False)


@click.command(short_help="Bring a machine's upgrades back: codes and steps, in order.")
@click.argument("ref", nargs=-1, required=True)
@click.option("--customer", "asker", metavar="C", help="Who asks; refused unless this customer has the machine now.")
@click.option("--reveal", is_flag=True, help="Show the codes in full; needs --reason, written to the journal.")
@click.option("--reason", metavar="TEXT", default="", help="Why the codes are needed, for the journal.")
@click.option(
    "--known-by",
    "known",
    metavar="WAY",
    help="How the caller is known: shop (there, with the machine), call-back, e-mail, or the number or address itself, "
    "which must be on file. Asked for on a terminal.",
)
@click.option(
    "--override", metavar="TEXT", default="", help="Why codes are given although the records speak against it."
)
@click.option(
    "--out", type=_FOLDER, metavar="DIR", help="Write the sheet as PDF there, with the originals and attachments."
)
@click.option(
    "--save", type=_FOLDER, metavar="DIR", help="Write only the attachments there: content packs and the like."
)
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), help="Of the sheet.  [default: what is usual in the region]"
)
@click.option(
    "--mail",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Draft a mail to the holder, as .eml.",
)
@click.option(
    "--to", "address", metavar="ADDRESS", default="", help="Which of the holder's addresses the draft goes to."
)
@who_option
@json_option
@archive_option
def restore(
    archive: Archive,
    ref: tuple[str, ...],
    asker: str | None,
    reveal: bool,
    reason: str,
    known: str | None,
    override: str,
    out: Path | None,
    save: Path | None,
    paper: str | None,
    mail: Path | None,
    address: str,
    who: str | None,
    as_json: bool,
) -> None:
    """Make the sheet that brings a machine's upgrades back after a reset, a swapped board or a lost mail.

    REF is a machine (M7), a customer with one machine, or any text that finds exactly one of them. Codes go to the
    present holder only: a call back counts on a number on file, a mail from an address on file.

    \b
    Examples: counterfoil restore M7 --reveal --reason "factory reset" --known-by shop --out sheet
              counterfoil restore M7 --reveal --reason "lost mail" --known-by e-mail --mail codes.eml
    """
    from counterfoil.answers.restore import restore as make

    _check(reveal, reason, known, mail, save, out)
    target, named = machine_and_asker(archive, ref)
    makers = guides(archive)
    holder = _holder(archive, target, asker or named, override)
    known_by = known_by_of(archive, holder, known, ask=not as_json) if reveal else None
    to = _address(archive, holder, address, known_by) if mail is not None else ""
    given = {"who": account(who), "reason": reason, "override": override}
    sheet = make(archive.store, target, makers, customer=asker or named, reveal=reveal, known_by=known_by, **given)
    written, said = _write(archive, sheet, out, save, paper)
    if mail is not None:
        written += _draft(archive, sheet, makers, to, mail)
    if as_json:
        files = {"files": [str(path) for path in written], "left_out": list(said)}
        print_json(sheet.to_json() | (files if out or save or mail else {}))
    else:
        show(archive, sheet)
        _say_written(written, said, to)


def _say_written(written: tuple[Path, ...], said: tuple[str, ...], to: str) -> None:
    for path in written:
        say(f"Written: {path}")
    if to:
        say(f"The draft goes to {clean(to)}.")
    for sentence in said:
        prose(sentence, style="yellow")


def _check(
    reveal: bool, reason: str, known: str | None, mail: Path | None, save: Path | None, out: Path | None
) -> None:
    """Refuse options that do not go together, before anything is looked up."""
    if reveal and not reason.strip():
        raise UsageProblem("--reveal shows codes, which goes into the journal with its reason.", "Add --reason TEXT.")
    wanting = [name for name, value in (("--known-by", known), ("--mail", mail), ("--save", save)) if value is not None]
    if wanting and not reveal:
        raise UsageProblem(f"{wanting[0]} is about giving codes out.", "Add --reveal --reason TEXT.")
    if mail is not None and (mail.exists() or mail.is_symlink()):
        raise UsageProblem(f"{mail} is there already and is not overwritten.", "Name another with --mail.")
    if save is not None and out is not None:
        raise UsageProblem("--out writes the attachments too.", "Use --out or --save, not both.")


def _holder(archive: Archive, machine: str, asker: str | None, override: str) -> str | None:
    """Return who has the machine now; one who asks and has it not is refused before anything else is asked."""
    from counterfoil.answers.restore_giving import allow, mismatches

    profile = archive.store.machine(machine)
    if asker is not None:
        allow(mismatches(archive.store, profile, archive.store.customer(asker).id, None), override)
    return profile.holder


def guides(archive: Archive) -> tuple[EntryGuide, ...]:
    """Return what the archive's maker files say about entering codes."""
    from counterfoil.answers.guides import EntryGuide

    return tuple(EntryGuide.of(maker) for maker in archive.patterns.makers)


def _write(
    archive: Archive, sheet: RestoreSheet, out: Path | None, save: Path | None, paper: str | None
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Write the sheet with what belongs to it, or the attachments alone; return the files and what is to be said."""
    if out is None and save is None:
        return (), ()
    from counterfoil.answers.handout import save_attachments, write_handout
    from counterfoil.documents.attachments import all_files

    def parts(data: bytes) -> tuple[list[tuple[str, bytes]], bool]:
        return all_files(data, archive.settings.limits)

    store, read = archive.store, archive.originals.read
    if save is not None:
        handout = save_attachments(sheet, save, store, read, parts)
        said = handout.left_out or (() if handout.files else ("No message of this machine has an attachment to save.",))
        return handout.files, said
    assert out is not None, "one of the two is named"
    from counterfoil.answers.sheet_type import usual_paper

    shop, size = archive.settings.shop_name, paper or usual_paper(archive.settings.region)
    handout = write_handout(sheet, out, store, read, parts, shop_name=shop, printed=date.today(), paper=size)
    return handout.files, handout.left_out


def _address(archive: Archive, holder: str | None, address: str, known_by: KnownBy | None) -> str:
    """Return the address for a draft, before anything is shown or written."""
    from counterfoil.answers.restore_mail import address_for, sender_of

    sender_of(archive.settings)
    return address_for(archive.store, holder, address, known_by)


def _draft(
    archive: Archive, sheet: RestoreSheet, makers: tuple[EntryGuide, ...], to: str, path: Path
) -> tuple[Path, ...]:
    """Write the draft of a mail with the codes."""
    from counterfoil.answers.handout_files import write_files
    from counterfoil.answers.restore_mail import draft_codes, note_draft

    when = datetime.now().astimezone().replace(microsecond=0)
    texts = archive.replies_folder
    made = draft_codes(archive.store, archive.settings, sheet, to, makers, own_texts=texts, when=when)
    # The journal first: a draft that nobody noted must not be able to leave the house.
    note_draft(archive.store, sheet, made)
    return write_files(path.parent, {path.name: made.data}, "--mail")


def show(archive: Archive, sheet: RestoreSheet) -> None:
    """Print a sheet on the terminal."""
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
    _show_upgrades(sheet)
    _show_steps(sheet)
    say()
    say("Cautions", style="bold")
    for caution in sheet.cautions:
        prose(caution, first="  - ")
    given = sheet.revealed
    if given:
        say()
        prose(f"Shown to {given.who}: {given.reason} ({given.journal} in the journal)")
        prose(f"Asked by: {given.asked_by or 'not stated'}; how the caller was known: {given.known_by}.")
        if given.mismatch:
            prose(f"Given although: {' '.join(given.mismatch)} Reason: {given.override}", style="yellow")
    elif sheet.upgrades:
        say()
        say("Codes are masked: add --reveal --reason TEXT to show them.")


def _show_upgrades(sheet: RestoreSheet) -> None:
    """Print each upgrade: live or dead, and its firmware against what was noted last."""
    if not sheet.upgrades:
        return
    words = {True: "noted: new enough", False: "noted: update first", None: ""}
    say()
    table(
        None,
        ("upgrade", "code", "needs firmware", "", "from"),
        (
            (
                upgrade.title,
                f"{'live' if upgrade.live else 'dead'}: {upgrade.state}",
                upgrade.needs_firmware or "",
                f"{sheet.firmware.version} {words[upgrade.enough]}"
                if sheet.firmware and upgrade.enough is not None
                else "",
                upgrade.message,
            )
            for upgrade in sheet.upgrades
        ),
    )


def _show_steps(sheet: RestoreSheet) -> None:
    from counterfoil.answers.aloud import named_lookalikes
    from counterfoil.answers.masking import BULLET
    from counterfoil.answers.provenance import KIND_WORDS

    for number, step in enumerate(sheet.steps, 1):
        say()
        prose(step.text, "red" if step.barred else None, first=f"{number}. ")
        if step.caution:
            prose(f"Caution: {step.caution}", "bold", first=" " * len(f"{number}. "))
        for entry in step.entries:
            say(f"     {KIND_WORDS[entry.kind]:16} {clean(entry.code)}", style="bold")
            # What is left of a masked code is nothing to read out.
            note = "" if BULLET in entry.code else named_lookalikes(entry.code)
            if note:
                prose(note, first=" " * 22)
