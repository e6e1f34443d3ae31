"""Writes a restore sheet into a folder: the PDF, and beside it the original messages and their attachments.

Nothing is ever overwritten. Originals show every code in clear, so they are copied only where the sheet itself
is revealed, and never one that belongs to another customer than the present holder.
"""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from counterfoil.answers.restore import RestoreSheet
from counterfoil.answers.sheet import make_pdf
from counterfoil.errors import StorageFull, UsageProblem

if TYPE_CHECKING:
    from counterfoil.records.store import Store

#: Gives the bytes of an original by its hash.
ReadOriginal = Callable[[str], bytes]
#: Gives the attachments of a message, decoded: each with its name (may be empty) and its bytes.
Attachments = Callable[[bytes], Iterable[tuple[str, bytes]]]

_LONGEST_NAME = 80
#: Names that Windows keeps for devices, whatever their ending.
_DEVICES = frozenset({"CON", "PRN", "AUX", "NUL", *(f"{port}{n}" for port in ("COM", "LPT") for n in range(1, 10))})


@dataclass(frozen=True, slots=True)
class Handout:
    """What was written: the files in order, the sheet first, and sentences on what was left out and why."""

    files: tuple[Path, ...]
    left_out: tuple[str, ...] = ()


def write_handout(
    sheet: RestoreSheet,
    folder: Path,
    store: Store,
    read_original: ReadOriginal,
    attachments: Attachments,
    *,
    shop_name: str,
    printed: date,
) -> Handout:
    """Write a restore sheet and what belongs to it.

    Args:
        sheet: the sheet, from :func:`counterfoil.answers.restore.restore`.
        folder: where to; it is made where it does not exist.
        store: the records.
        read_original: gives the bytes of an original by its hash.
        attachments: takes a message apart.
        shop_name: stands at the head of the sheet.
        printed: the day, at its foot.

    Raises:
        UsageProblem: a file of that name is there already, or the folder is none; nothing is written then.
        ArchiveDamaged: an original does not agree with its hash.
        StorageFull: the folder cannot be written.
    """
    files = {f"{sheet.machine}-restore-sheet.pdf": make_pdf(sheet, shop_name=shop_name, printed=printed)}
    left_out = [f"{ref} belongs to another customer and is not handed out." for ref in sheet.withheld]
    if sheet.revealed is not None:
        for ref in sheet.sources:
            data = read_original(store.message(ref).sha256)
            files[f"{sheet.machine}-{ref}.eml"] = data
            for name, content in attachments(data):
                files[_free(f"{sheet.machine}-{ref}-{safe_name(name)}", files)] = content
    elif sheet.sources:
        left_out.append("Originals show codes in clear: they are copied only with --reveal.")
    return Handout(_write(folder, files), tuple(left_out))


def write_original(
    ref: str, folder: Path, store: Store, read_original: ReadOriginal, attachments: Attachments
) -> tuple[Path, ...]:
    """Write one message as received, and its PDFs and pictures beside it, for a person who must look at them.

    Originals show codes in clear: the caller has put the reveal into the journal.

    Args:
        ref: the message's id.
        folder: where to; it is made where it does not exist.
        store: the records.
        read_original: gives the bytes of an original by its hash.
        attachments: takes a message apart.

    Returns:
        The files, the message first.

    Raises:
        UsageProblem, ArchiveDamaged, StorageFull: as for :func:`write_handout`.
    """
    message = store.message(ref)
    data = read_original(message.sha256)
    files = {f"{message.id}.eml": data}
    for name, content in attachments(data):
        files[_free(f"{message.id}-{safe_name(name)}", files)] = content
    return _write(folder, files)


def safe_name(name: str) -> str:
    """Turn the name of an attachment into one that every file system takes and that stays in its folder.

    Args:
        name: the name as the message has it; may be empty or hostile.
    """
    last = re.split(r"[/\\]", name)[-1]
    plain = re.sub(r"[^\w.\- ()+]", "_", last).strip(" .")
    stem, dot, ending = plain.rpartition(".")
    if not dot:
        stem, ending = plain, ""
    if stem.upper().split(".")[0] in _DEVICES:
        stem = f"_{stem}"
    stem = stem[:_LONGEST_NAME].rstrip(" .") or "attachment"
    return f"{stem}.{ending[:10]}" if ending else stem


def _free(name: str, taken: Iterable[str]) -> str:
    """Return the name, numbered where one like it (in any case) is taken."""
    folded = {other.casefold() for other in taken}
    stem, dot, ending = name.rpartition(".")
    number, free = 1, name
    while free.casefold() in folded:
        number += 1
        free = f"{stem}~{number}{dot}{ending}" if stem else f"{name}~{number}"
    return free


def _write(folder: Path, files: dict[str, bytes]) -> tuple[Path, ...]:
    """Write all files, or none where one of them is there already; readable by the owner only."""
    paths = [folder / name for name in files]
    for path in paths:
        if path.exists() or path.is_symlink():
            raise UsageProblem(f"{path} is there already and is not overwritten.", "Name another folder with --out.")
    written: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path, content in zip(paths, files.values(), strict=True):
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
            written.append(path)
            with os.fdopen(handle, "wb") as file:
                file.write(content)
    except OSError as error:
        for path in written:
            path.unlink(missing_ok=True)
        if error.errno in (errno.EEXIST, errno.ENOTDIR):
            raise UsageProblem(
                f"{folder} cannot take the sheet: {error.strerror}.", "Name a folder with --out."
            ) from error
        raise StorageFull(f"{folder} cannot be written: {error.strerror or error}.") from error
    return tuple(paths)
