"""What a source hands out, and what it has to offer to be one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from counterfoil.settings import Limits


@dataclass(frozen=True, slots=True)
class Received:
    """One message as received: its exact bytes, and where they came from in words (``old.mbox#12``).

    ``uid`` is its number in a folder on a mail server.
    """

    data: bytes
    source: str
    uid: int = 0


@dataclass(frozen=True, slots=True)
class Unreadable:
    """Something that should have been a message and could not be read; ``reason`` is a sentence.

    ``uid`` as in :class:`Received`; ``is_empty`` says that there is nothing in it.
    """

    source: str
    reason: str
    uid: int = 0
    is_empty: bool = False


Found = Received | Unreadable


@dataclass(frozen=True, slots=True)
class SourceKind:
    """A kind of source.

    ``recognises`` looks at a path that exists; ``in_folders`` says whether files met on the way through a
    folder are asked as well. ``read`` hands out the messages, ``count`` tells how many there will be, or
    None where only reading would tell.
    """

    name: str
    recognises: Callable[[Path], bool]
    read: Callable[[Path, Limits], Iterator[Found]]
    count: Callable[[Path], int | None]
    in_folders: bool = True


def first_bytes(path: Path, length: int = 512) -> bytes:
    """Return the first bytes of a file; nothing where it cannot be read (reading it proper will say so)."""
    try:
        with path.open("rb") as file:
            return file.read(length)
    except OSError:
        return b""


def too_large(source: str, size: int, limits: Limits) -> Unreadable:
    """Return the entry for a message beyond the size limit; ``size`` in bytes."""
    return Unreadable(
        source,
        f"The message has {size:,} bytes, more than the {limits.message_bytes:,} that are read; it was left alone.",
    )


def read_file(path: Path, limits: Limits) -> Found:
    """Read a file that holds one message.

    Args:
        path: the file; it is opened for reading only and left as it is.
        limits: the size beyond which it is not read.
    """
    source = path.as_posix()
    try:
        size = path.stat().st_size
        if size > limits.message_bytes:
            return too_large(source, size, limits)
        data = path.read_bytes()
    except OSError as error:
        return Unreadable(source, f"The file cannot be read: {error.strerror or error}.")
    if not data.strip():
        return Unreadable(source, "The file is empty.")
    return Received(data, source)
