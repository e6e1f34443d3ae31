"""Files inside a zip file that was attached. Call this in a reading process only; nothing is unpacked to disk."""

from __future__ import annotations

import zipfile
import zlib
from io import BytesIO
from pathlib import PurePosixPath

from counterfoil.documents.leftovers import Unread, too_large
from counterfoil.documents.parts import File, named_file
from counterfoil.documents.picture import recognise
from counterfoil.model import Problem
from counterfoil.settings import Limits

#: What reading a damaged or oddly packed entry raises.
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError, ValueError)
#: What systems add of their own (common practice, no source).
_OWN = ("__MACOSX/", ".DS_Store", "Thumbs.db", "desktop.ini")


def open_zip(file: File, label: str, limits: Limits) -> tuple[list[File], list[Unread]]:
    """Open a zip file.

    Args:
        file: the zip file.
        label: its name.
        limits: how many entries are read, and how many bytes of each and together.

    Returns:
        The files in it, and what is unread. One with nothing in it that can be read is unread as a whole.
    """
    name = f"file:{label}"
    try:
        with zipfile.ZipFile(BytesIO(file.data)) as packed:
            entries = [e for e in packed.infolist() if not e.is_dir() and not _is_own(e.filename)]
            found, unread = _entries(packed, entries[: limits.zip_entries], limits)
    except _BROKEN:
        return [], [(name, Problem.DAMAGED, "The zip file is damaged and cannot be opened.", len(file.data))]
    if not unread and not any(_is_read(inner) for inner in found):
        kinds = ", ".join(sorted({inner.suffix or "unknown type" for inner in found})[:5]) or "nothing"
        reason = f"The zip file holds no files of a kind that is read ({kinds})."
        return [], [(name, Problem.UNKNOWN_TYPE, reason, len(file.data))]
    if len(entries) > limits.zip_entries:
        reason = f"The zip file has {len(entries):,} entries; the first {limits.zip_entries} were read."
        unread.append((name, Problem.TOO_LARGE, reason, len(file.data)))
    return found, unread


def _entries(
    packed: zipfile.ZipFile, entries: list[zipfile.ZipInfo], limits: Limits
) -> tuple[list[File], list[Unread]]:
    found: list[File] = []
    unread: list[Unread] = []
    left = limits.unpacked_bytes
    for entry in sorted(entries, key=lambda e: e.filename):
        empty = named_file(entry.filename, b"")
        name = f"file:{empty.name or 'unnamed'}"
        if entry.flag_bits & 1:
            unread.append((name, Problem.ENCRYPTED, "The file in the zip file is locked with a password.", 0))
            continue
        most = min(limits.part_bytes, left)
        try:
            # What an entry really holds counts, not what the directory says.
            with packed.open(entry) as stream:
                data = stream.read(most + 1)
        except _BROKEN:
            unread.append((name, Problem.DAMAGED, "The file in the zip file is damaged.", entry.file_size))
            continue
        left -= len(data)
        inner = named_file(entry.filename, data)
        if len(data) > most:
            unread.append(too_large(inner))
            if left <= 0:
                break
        else:
            found.append(inner)
    return found, unread


def _is_own(name: str) -> bool:
    return name.startswith(_OWN[0]) or PurePosixPath(name).name in _OWN


def _is_read(file: File) -> bool:
    return file.is_pdf or file.is_message or file.is_outlook or file.is_text or recognise(file.data) is not None
