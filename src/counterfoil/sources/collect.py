"""The entry: takes paths, finds out what each is, hands out the messages one at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import BinaryIO

from counterfoil.errors import SourceUnreadable
from counterfoil.settings import Limits
from counterfoil.sources import eml, maildir, mbox, msg, zip
from counterfoil.sources.found import Found, Received, SourceKind, Unreadable, first_bytes, read_file
from counterfoil.sources.stream import read_stream

__all__ = ["KINDS", "Found", "Received", "Unreadable", "collect", "count"]

#: Every kind of source, asked in this order.
KINDS: tuple[SourceKind, ...] = (maildir.KIND, zip.KIND, msg.KIND, mbox.KIND, eml.KIND)

#: Mail that cannot be read: named, never passed over in silence.
_OTHER_MAIL = {".pst": "an Outlook store", ".ost": "an Outlook store"}


def collect(paths: Sequence[str], limits: Limits, stdin: BinaryIO | None = None) -> Iterator[Found]:
    """Hand out every message found at the paths, in the order of the paths and sorted by name within folders.

    Args:
        paths: files (.eml, .msg, mbox, zip), folders, Maildirs, or ``-`` for standard input.
        limits: sizes and numbers that bound the reading.
        stdin: standard input as bytes, needed for ``-``.

    Returns:
        An iterator over messages and over what could not be read, with the reason; reading is lazy.

    Raises:
        SourceUnreadable: a path does not exist, before anything is read.
    """
    for path in paths:
        if path == "-" and stdin is None:
            raise SourceUnreadable("There is no standard input to read a message from.")
        if path != "-" and not Path(path).exists():
            raise SourceUnreadable(f"{path} does not exist.")
    return _collect(paths, limits, stdin)


def _collect(paths: Sequence[str], limits: Limits, stdin: BinaryIO | None) -> Iterator[Found]:
    for name in paths:
        path = Path(name)
        if name == "-" and stdin is not None:
            yield from read_stream(stdin, limits)
        elif path.is_dir() and not maildir.is_maildir(path):
            yield from _folder(path, limits)
        elif kind := _kind(path):
            yield from kind.read(path, limits)
            if path.is_dir():
                yield from _beside(path, limits)
        else:
            yield _named(path, limits)


def _kind(path: Path, in_folder: bool = False) -> SourceKind | None:
    if not (path.is_file() or path.is_dir()):
        # A pipe would be waited for, and a device may never end.
        return None
    return next((k for k in KINDS if (k.in_folders or not in_folder) and k.recognises(path)), None)


def _named(path: Path, limits: Limits) -> Found:
    """Read a file that no kind of source knows but somebody named: a message under another suffix, perhaps."""
    if other := _OTHER_MAIL.get(path.suffix.lower()):
        return Unreadable(path.as_posix(), f"The file is {other}; save its messages as .eml.")
    if path.is_file() and eml.looks_like_message(first_bytes(path)):
        return read_file(path, limits)
    return Unreadable(path.as_posix(), "The file is no message, mbox or zip file.")


def _entries(folder: Path) -> list[Path] | Unreadable:
    try:
        return sorted(folder.iterdir(), key=lambda entry: entry.name)
    except OSError as error:
        return Unreadable(folder.as_posix(), f"The folder cannot be read: {error.strerror or error}.")


def _folder(folder: Path, limits: Limits) -> Iterator[Found]:
    entries = _entries(folder)
    if isinstance(entries, Unreadable):
        yield entries
        return
    for entry in entries:
        # Links to folders could lead round in a circle; hidden files belong to programs.
        if entry.name.startswith(".") or (entry.is_symlink() and entry.is_dir()):
            continue
        if entry.is_dir() and not maildir.is_maildir(entry):
            yield from _folder(entry, limits)
        else:
            yield from read_entry(entry, limits)


def read_entry(entry: Path, limits: Limits) -> Iterator[Found]:
    """Read a file or Maildir met in a folder; a file that is no mail gives nothing.

    Args:
        entry: the file or Maildir.
        limits: sizes and numbers that bound the reading.
    """
    if not entry.is_dir() and not entry.is_file():
        return
    if kind := _kind(entry, in_folder=True):
        yield from kind.read(entry, limits)
        if entry.is_dir():
            yield from _beside(entry, limits)
    elif entry.suffix.lower() in _OTHER_MAIL:
        yield _named(entry, limits)


def _beside(folder: Path, limits: Limits) -> Iterator[Found]:
    """Read the folders inside a Maildir, which are Maildirs themselves and may have names that begin with a dot."""
    entries = _entries(folder)
    for entry in () if isinstance(entries, Unreadable) else entries:
        if entry.name not in ("cur", "new", "tmp") and not entry.is_symlink() and maildir.is_maildir(entry):
            yield from maildir.KIND.read(entry, limits)
            yield from _beside(entry, limits)


def count(paths: Sequence[str]) -> int | None:
    """Return how many messages :func:`collect` will come to, or None where only reading would tell.

    Args:
        paths: as for :func:`collect`.
    """
    total = 0
    for name in paths:
        number = None if name == "-" else _count(Path(name))
        if number is None:
            return None
        total += number
    return total


def _count(path: Path) -> int | None:
    if path.is_dir() and not maildir.is_maildir(path):
        entries = _entries(path)
        total = 0
        for entry in () if isinstance(entries, Unreadable) else entries:
            if entry.name.startswith(".") or (entry.is_symlink() and entry.is_dir()):
                continue
            if entry.is_dir() or _kind(entry, in_folder=True):
                number = _count(entry)
                if number is None:
                    return None
                total += number
        return total
    kind = _kind(path)
    number = kind.count(path) if kind else 1
    if number is not None and path.is_dir():
        inner = [_count(e) for e in path.iterdir() if e.name not in ("cur", "new", "tmp") and maildir.is_maildir(e)]
        return None if None in inner else number + sum(n for n in inner if n is not None)
    return number
