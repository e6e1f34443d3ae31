"""zip files of messages: .eml and .msg files, mboxes and Maildirs packed together.

Nothing is unpacked to disk, so names in the archive (with ".." or a drive in them) lead nowhere. Entries are
read up to the size limits whatever sizes the archive claims; archives inside archives stay closed beyond
``zip_depth``.
"""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path, PurePosixPath
from typing import IO, BinaryIO, cast

from counterfoil.settings import Limits
from counterfoil.sources.found import Found, Received, SourceKind, Unreadable, first_bytes, too_large
from counterfoil.sources.mbox import is_mbox, split

#: What reading a damaged, encrypted or oddly packed entry raises.
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError, ValueError)


class _Budget:
    """Bytes and entries that one zip file may still cost."""

    def __init__(self, limits: Limits) -> None:
        self.entries = limits.zip_entries
        self.bytes = limits.unpacked_bytes


class _Capped:
    """A stream that ends when the budget is used up, so that what an entry really holds is bounded."""

    def __init__(self, stream: IO[bytes], budget: _Budget) -> None:
        self._stream = stream
        self._budget = budget

    def readline(self, size: int = -1) -> bytes:
        piece = self._stream.readline(min(size, self._budget.bytes) if size >= 0 else self._budget.bytes)
        self._budget.bytes -= len(piece)
        return piece


def read_zip(file: BinaryIO | Path, source: str, limits: Limits) -> Iterator[Found]:
    """Hand out the messages in a zip file.

    Args:
        file: the file, or its path.
        source: its name; messages are called ``source/entry``.
        limits: entries, sizes and depth that are read.
    """
    yield from _read_zip(file, source, limits, _Budget(limits), depth=1)


def _read_zip(file: BinaryIO | Path, source: str, limits: Limits, budget: _Budget, depth: int) -> Iterator[Found]:
    try:
        archive = zipfile.ZipFile(file)
    except _BROKEN as error:
        yield Unreadable(source, f"The zip file cannot be read: {error}.")
        return
    with archive:
        entries = sorted((e for e in archive.infolist() if not e.is_dir()), key=lambda e: e.filename)
        for position, entry in enumerate(entries):
            if budget.entries <= 0 or budget.bytes <= 0:
                what = "entries" if budget.entries <= 0 else "bytes when unpacked"
                rest = len(entries) - position
                yield Unreadable(source, f"The zip file has too many {what}; its last {rest} entries were not read.")
                return
            yield from _entry(archive, entry, source, limits, budget, depth)


def _entry(
    archive: zipfile.ZipFile, entry: zipfile.ZipInfo, source: str, limits: Limits, budget: _Budget, depth: int
) -> Iterator[Found]:
    inner = PurePosixPath(entry.filename.replace("\\", "/"))
    name = f"{source}/{''.join(c if c.isprintable() else '?' for c in inner.as_posix())}"
    suffix = inner.suffix.lower()
    delivered = len(inner.parts) > 1 and inner.parts[-2] in ("cur", "new")
    try:
        if entry.flag_bits & 1:
            if delivered or suffix in ("", ".eml", ".msg", ".mbox", ".zip"):
                yield Unreadable(name, "The entry is locked with a password.")
            return
        if delivered or suffix in (".eml", ".msg"):
            budget.entries -= 1
            yield _message(archive, entry, name, limits, budget)
        elif suffix == ".zip":
            budget.entries -= 1
            yield from _inner(archive, entry, name, limits, budget, depth)
        else:
            with archive.open(entry) as stream:
                start = stream.read(5)
            if is_mbox(start):
                budget.entries -= 1
                with archive.open(entry) as stream:
                    yield from split(cast(BinaryIO, _Capped(stream, budget)), name, limits)
    except _BROKEN as error:
        yield Unreadable(name, f"The entry cannot be unpacked: {error}.")


def _message(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str, limits: Limits, budget: _Budget) -> Found:
    most = min(limits.message_bytes, budget.bytes)
    if entry.file_size > most:
        return too_large(name, entry.file_size, limits)
    with archive.open(entry) as stream:
        data = stream.read(most + 1)
    budget.bytes -= len(data)
    if len(data) > most:
        return too_large(name, len(data), limits)
    return Received(data, name) if data.strip() else Unreadable(name, "The entry is empty.")


def _inner(
    archive: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str, limits: Limits, budget: _Budget, depth: int
) -> Iterator[Found]:
    if depth >= limits.zip_depth:
        yield Unreadable(name, "A zip file inside a zip file is not opened; unpack it first.")
    else:
        with archive.open(entry) as stream:
            yield from _read_zip(cast(BinaryIO, stream), name, limits, budget, depth + 1)


def _recognises(path: Path) -> bool:
    return path.suffix.lower() == ".zip" or (
        path.is_file() and first_bytes(path, 4) == b"PK\x03\x04" and not path.suffix
    )


def _read(path: Path, limits: Limits) -> Iterator[Found]:
    yield from read_zip(path, path.as_posix(), limits)


KIND = SourceKind("zip", _recognises, _read, lambda path: None)
