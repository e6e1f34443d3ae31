"""Names that stay in their folder on every file system, and files written all or none, never over another."""

from __future__ import annotations

import errno
import os
import re
import unicodedata
from collections.abc import Iterable, Mapping
from pathlib import Path

from counterfoil.errors import StorageFull, UsageProblem

_LONGEST_NAME = 80
#: Most file systems take 255 bytes for a name; something stands before and behind.
_LONGEST_BYTES = 160
#: Names that Windows keeps for devices, whatever their ending.
_DEVICES = frozenset({"CON", "PRN", "AUX", "NUL", *(f"{port}{n}" for port in ("COM", "LPT") for n in range(1, 10))})
# fmt: off
#: Endings by which a system runs a file, or another file it points to, at a click (common knowledge, no source).
_PROGRAMS = frozenset({
    "action", "app", "appimage", "application", "bat", "chm", "cmd", "com", "command", "cpl", "desktop", "dll",
    "dmg", "exe", "gadget", "hta", "inf", "ins", "jar", "js", "jse", "lnk", "msc", "msi", "msix", "msp", "mst",
    "pif", "pkg", "ps1", "psm1", "py", "pyw", "reg", "scf", "scr", "sct", "sh", "sys", "url", "vb", "vbe", "vbs",
    "workflow", "ws", "wsc", "wsf", "wsh",
})
# fmt: on
_PICTURES = (b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"II*\0", b"MM\0*", b"BM", b"RIFF")


def safe_name(name: str) -> str:
    """Turn the name of an attachment into one that every file system takes and that stays in its folder.

    Args:
        name: the name as the message has it; may be empty or hostile.
    """
    last = unicodedata.normalize("NFC", re.split(r"[/\\]", name)[-1])
    plain = re.sub(r"[^\w.\- ()+]", "_", last).strip(" .")
    stem, dot, ending = plain.rpartition(".")
    if not dot:
        stem, ending = plain, ""
    if stem.upper().split(".")[0].strip() in _DEVICES:
        stem = f"_{stem}"
    stem = stem[:_LONGEST_NAME]
    while len(stem.encode()) > _LONGEST_BYTES:
        stem = stem[:-1]
    stem = stem.rstrip(" .") or "attachment"
    ending = ending[:10].rstrip(" .")
    return f"{stem}.{ending}" if ending else stem


def is_program(name: str) -> bool:
    """Tell whether a system would run a file of this name at a click."""
    _, dot, ending = name.rpartition(".")
    return bool(dot) and ending.lower() in _PROGRAMS


def is_shown(name: str, data: bytes) -> bool:
    """Tell whether a file is one that people read codes from: a PDF, a picture, a text, a mail."""
    if b"%PDF-" in data[:1024] or data.startswith(_PICTURES):
        return True
    return name.lower().endswith((".pdf", ".txt", ".html", ".htm", ".eml", ".msg", ".rtf", ".doc", ".docx", ".csv"))


def free_name(name: str, taken: Iterable[str]) -> str:
    """Return the name, numbered where one like it (in any case) is taken."""
    folded = {other.casefold() for other in taken}
    stem, dot, ending = name.rpartition(".")
    number, free = 1, name
    while free.casefold() in folded:
        number += 1
        free = f"{stem}~{number}{dot}{ending}" if stem else f"{name}~{number}"
    return free


def no_program(name: str, taken: Iterable[str]) -> str:
    """Return :func:`free_name`, its ending changed where a system would run a file of that name at a click."""
    held = tuple(taken)
    free = free_name(name, held)
    return free_name(f"{free}_", held) if is_program(free) else free


def message_suffix(data: bytes) -> str:
    """Return the ending by which programs know a message; Outlook's begin like all compound files ([MS-CFB])."""
    return ".msg" if data.startswith(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1") else ".eml"


def write_files(folder: Path, files: Mapping[str, bytes], option: str) -> tuple[Path, ...]:
    """Write all files, or none where one of them is there already; readable by the owner only, never to be run.

    Args:
        folder: where to; it is made where it does not exist.
        files: names and bytes.
        option: the option that names another place, for messages.

    Raises:
        UsageProblem: a file is there already, or the folder is none.
        StorageFull: the folder cannot be written; what was begun is taken away again.
    """
    another = f"Name another with {option}."
    paths = [folder / name for name in files]
    for path in paths:
        if path.exists() or path.is_symlink():
            raise UsageProblem(f"{path} is there already and is not overwritten.", another)
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
            raise UsageProblem(f"{folder} cannot take the files: {error.strerror}.", another) from error
        raise StorageFull(f"{folder} cannot be written: {error.strerror or error}.") from error
    return tuple(paths)
