"""Writes a restore sheet into a folder: the PDF, and beside it the original messages and their attachments.

Nothing is ever overwritten and nothing that a message brings is run. Originals show every code in clear, so they are
copied only where the sheet itself is revealed, and never one that belongs to another customer than the present holder.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from counterfoil.answers.handout_files import free_name, is_program, is_shown, message_suffix, no_program, write_files
from counterfoil.answers.handout_files import safe_name as safe_name
from counterfoil.answers.restore import RestoreSheet
from counterfoil.errors import UsageProblem
from counterfoil.model import CODE_KINDS, Fact, MessageRecord

if TYPE_CHECKING:
    from counterfoil.records.store import Store

#: Gives the bytes of an original by its hash.
ReadOriginal = Callable[[str], bytes]
#: Gives the attachments of a message, decoded, each with its name (may be empty) and its bytes, and whether these are
#: all of them.
Attachments = Callable[[bytes], tuple[list[tuple[str, bytes]], bool]]

#: Gives the piece of a picture each value was read from, PNG, None where there is none.
Crops = Callable[[bytes, Sequence[Fact]], Sequence[bytes | None]]

_MASKED = "Originals show codes in clear: they are copied only with --reveal."


@dataclass(frozen=True, slots=True)
class Handout:
    """What was written: the files in order, the sheet first, and sentences on what was left out or changed, and why."""

    files: tuple[Path, ...]
    left_out: tuple[str, ...] = ()


@dataclass(slots=True)
class _Gathered:
    """Files by their safe names, and what is said about them."""

    files: dict[str, bytes] = field(default_factory=dict)
    said: list[str] = field(default_factory=list)

    def add(self, name: str, data: bytes) -> None:
        """Take a file in under a name that nothing has yet; the same bytes again add nothing."""
        if data in self.files.values():
            return
        free = no_program(name, self.files)
        if is_program(name):
            self.said.append(
                f"{free} is a program: it was not run, and its ending was changed so that no click runs it."
            )
        self.files[free] = data


def write_handout(
    sheet: RestoreSheet,
    folder: Path,
    store: Store,
    read_original: ReadOriginal,
    attachments: Attachments,
    *,
    shop_name: str,
    printed: date,
    paper: str = "a4",
) -> Handout:
    """Write a restore sheet and what belongs to it: the originals of usable codes, all attachments.

    Args:
        sheet: the sheet, from :func:`counterfoil.answers.restore.restore`.
        folder: where to; it is made where it does not exist.
        store: the records.
        read_original: gives the bytes of an original by its hash.
        attachments: takes a message apart.
        shop_name: stands at the head of the sheet.
        printed: the day, at its foot.
        paper: ``a4`` or ``letter``.

    Raises:
        UsageProblem: a file of that name is there already, or the folder is none; nothing is written then.
        ArchiveDamaged: an original does not agree with its hash.
        StorageFull: the folder cannot be written.
    """
    from counterfoil.answers.sheet import make_pdf

    pdf = make_pdf(sheet, shop_name=shop_name, printed=printed, paper=paper)
    gathered = _Gathered({f"{sheet.machine}-restore-sheet.pdf": pdf})
    if sheet.revealed is None:
        gathered.said += [f"{ref} belongs to another customer and is not handed out." for ref in sheet.withheld]
        if sheet.sources:
            gathered.said.append(_MASKED)
    else:
        for ref in sheet.sources:
            data = read_original(store.message(ref).sha256)
            gathered.add(f"{sheet.machine}-{ref}{message_suffix(data)}", data)
        _gather(gathered, sheet, store, read_original, attachments)
    return Handout(write_files(folder, gathered.files, "--out"), tuple(gathered.said))


def save_attachments(
    sheet: RestoreSheet, folder: Path, store: Store, read_original: ReadOriginal, attachments: Attachments
) -> Handout:
    """Write the attachments of a machine's messages, byte for byte: content packs, confirmations, pictures.

    Args:
        sheet: the sheet; its codes must be revealed, as confirmations show them.
        folder: where to; it is made where it does not exist.
        store: the records.
        read_original: gives the bytes of an original by its hash.
        attachments: takes a message apart.

    Returns:
        The files, and a sentence on each that was left out or got another ending.

    Raises:
        UsageProblem, ArchiveDamaged, StorageFull: as for :func:`write_handout`; also where the codes are masked.
    """
    if sheet.revealed is None:
        raise UsageProblem("Attachments show codes in clear.", "Add --reveal --reason TEXT.")
    gathered = _Gathered()
    _gather(gathered, sheet, store, read_original, attachments)
    return Handout(write_files(folder, gathered.files, "--save"), tuple(gathered.said))


def _gather(
    gathered: _Gathered, sheet: RestoreSheet, store: Store, read_original: ReadOriginal, attachments: Attachments
) -> None:
    """Take in the attachments of all messages of a machine that belong to its present holder.

    Of messages whose codes must not be entered only content packs and the like are taken: a confirmation with a dead
    code beside the sheet would be entered sooner or later.
    """
    dead = {upgrade.message for upgrade in sheet.upgrades if not upgrade.usable} - set(sheet.sources)
    for ref in dict.fromkeys((*store.machine(sheet.machine).messages, *sheet.withheld)):
        message = store.message(ref)
        if ref in sheet.withheld or (message.customer is not None and message.customer != sheet.customer):
            gathered.said.append(f"{ref} belongs to another customer and is not handed out.")
            continue
        files, complete = attachments(read_original(message.sha256))
        for name, data in files:
            safe = safe_name(name)
            if ref in dead and is_shown(safe, data):
                gathered.said.append(f"{ref}: {safe} is left out: the codes of {ref} must not be entered.")
            else:
                gathered.add(f"{sheet.machine}-{ref}-{safe}", data)
        if not complete:
            gathered.said.append(f"{ref} has more parts than are read: look for further files in its original.")


def write_original(
    ref: str,
    folder: Path,
    store: Store,
    read_original: ReadOriginal,
    attachments: Callable[[bytes], list[tuple[str, bytes]]],
    crops: Crops | None = None,
) -> tuple[Path, ...]:
    """Write one message as received, and its PDFs and pictures beside it, for a person who must look at them.

    Of each code read by eye, the piece of the picture it was read from is written, too.

    Originals show codes in clear: the caller has put the reveal into the journal.

    Args:
        ref: the message's id.
        folder: where to; it is made where it does not exist.
        store: the records.
        read_original: gives the bytes of an original by its hash.
        attachments: gives its PDFs and pictures.
        crops: gives the piece of a picture each value was read from, None where there is none.

    Returns:
        The files, the message first.

    Raises:
        UsageProblem, ArchiveDamaged, StorageFull: as for :func:`write_handout`.
    """
    message = store.message(ref)
    data = read_original(message.sha256)
    files = {f"{message.id}{message_suffix(data)}": data}
    for name, content in attachments(data):
        files[no_program(f"{message.id}-{safe_name(name)}", files)] = content
    seen = codes_by_eye(message)
    pieces = crops(data, seen) if crops is not None else [None] * len(seen)
    for fact, piece in zip(seen, pieces, strict=True):
        if piece is not None:
            files[free_name(f"{message.id}-{fact.kind.value.replace('_', '-')}.png", files)] = piece
    return write_files(folder, files, "--out")


def codes_by_eye(message: MessageRecord) -> list[Fact]:
    """Return the codes that were read by eye, those chosen first."""
    noted = sorted(message.facts, key=lambda n: not n.chosen)
    return [n.fact for n in noted if n.fact.by_eye and n.fact.kind in CODE_KINDS]
