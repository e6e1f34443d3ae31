"""mbox: many messages in one file, each after a line that begins with "From ".

Read as a stream, one message in memory at a time. The bytes between two separators are handed out as they
are, but for two things the format itself adds: the empty line before the next separator, and one ">" before
"From " at the start of a line (the mboxrd rule: ">From " was "From ", ">>From " was ">From ").
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from counterfoil.settings import Limits
from counterfoil.sources.found import Found, Received, SourceKind, Unreadable, first_bytes, too_large

#: A separator: "From ", who, and a date as asctime writes it (RFC 4155, appendix A), or one near to it. A
#: sentence that merely begins with "From " has no such date and does not split a message.
_SEPARATOR = re.compile(
    rb"From (?:[^\r\n]{0,300}? )?(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun),? +"
    rb"(?:(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) +[0-9]{1,2}"
    rb"|[0-9]{1,2} +(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec))[^\r\n]{0,60}[0-9]{2}[^\r\n]{0,60}\r?\n?$"
)
_QUOTED = re.compile(rb">+From ")
_CHUNK = 65_536
"""Bytes: longer lines are read in pieces, so that a file without line breaks does not fill the memory."""


def _lines(stream: BinaryIO) -> Iterator[tuple[bytes, bool]]:
    """Hand out lines, and whether the piece is the start of one."""
    fresh = True
    while piece := stream.readline(_CHUNK):
        yield piece, fresh
        fresh = piece.endswith(b"\n")


def split(stream: BinaryIO, source: str, limits: Limits) -> Iterator[Found]:
    """Hand out the messages of an mbox.

    Args:
        stream: the file, at its start.
        source: its name; messages are called ``source#1`` and so on.
        limits: the size beyond which a message is passed over.
    """
    number, kept, size = 0, bytearray(), 0
    for piece, fresh in _lines(stream):
        if fresh and piece.startswith(b"From ") and (number == 0 or _SEPARATOR.match(piece)):
            if number or kept.strip():
                yield _finished(kept, size, f"{source}#{max(number, 1)}", limits)
            number, kept, size = number + 1, bytearray(), 0
            continue
        if fresh and _QUOTED.match(piece):
            piece = piece[1:]
        size += len(piece)
        if size <= limits.message_bytes:
            kept += piece
    if number or kept.strip():
        yield _finished(kept, size, f"{source}#{max(number, 1)}", limits)


def _finished(kept: bytearray, size: int, source: str, limits: Limits) -> Found:
    if size > limits.message_bytes:
        return too_large(source, size, limits)
    if not kept.strip():
        return Unreadable(source, "The message is empty.")
    for ending, line in ((b"\r\n\r\n", 2), (b"\n\n", 1)):
        if kept.endswith(ending):
            return Received(bytes(kept[:-line]), source)
    return Received(bytes(kept), source)


def is_mbox(start: bytes) -> bool:
    """Say whether a file that begins with these bytes is an mbox."""
    return start.startswith(b"From ")


def _recognises(path: Path) -> bool:
    return path.suffix.lower() != ".eml" and path.is_file() and is_mbox(first_bytes(path, 5))


def _read(path: Path, limits: Limits) -> Iterator[Found]:
    try:
        with path.open("rb") as file:
            yield from split(file, path.as_posix(), limits)
    except OSError as error:
        yield Unreadable(path.as_posix(), f"The file cannot be read to its end: {error.strerror or error}.")


KIND = SourceKind("mbox", _recognises, _read, lambda path: None)
