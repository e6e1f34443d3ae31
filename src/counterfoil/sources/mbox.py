"""mbox: many messages in one file, each after a line that begins with "From ".

Read as a stream, one message in memory at a time. The bytes between two separators are handed out as they
are, but for two things the format itself adds: the empty line before the next separator, and one ">" before
"From " at the start of a line (the mboxrd rule: ">From " was "From ", ">>From " was ">From "; the older mboxo
quotes "From " alone, which comes out the same).

Where a Content-Length ends just before a separator or the end of the file, that many bytes are the body, whatever
lines are in it (mboxcl2, which quotes nothing; mboxcl, which quotes as mboxo does). The variants are common practice,
without a standard; RFC 4155 describes the separators.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO
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
_QUOTED_LINE = re.compile(rb"^>(>*From )", re.MULTILINE)
_CHUNK = 65_536
"""Bytes: longer lines are read in pieces, so that a file without line breaks does not fill the memory."""


_LENGTH = re.compile(rb"Content-Length:[ \t]*([0-9]{1,12})[ \t]*\r?\n", re.IGNORECASE)
#: A file whose lengths were wrong so often was changed after they were written: they are not tried any more.
_WRONG_LENGTHS = 3


class _Lines:
    """The lines of a stream, some of which may be put back."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._back = BytesIO()

    def read(self, size: int = _CHUNK) -> bytes:
        """Return the next line, or a piece of it of at most so many bytes; nothing at the end."""
        piece = self._back.readline(size)
        if len(piece) < size and not piece.endswith(b"\n"):
            piece += self._stream.readline(size - len(piece))
        return piece

    def take(self, size: int) -> bytes:
        """Return so many bytes, or those there are."""
        taken = bytearray()
        while len(taken) < size and (piece := self.read(min(_CHUNK, size - len(taken)))):
            taken += piece
        return bytes(taken)

    def put_back(self, data: bytes) -> None:
        """Put bytes back, to be read next."""
        self._back = BytesIO(data + self._back.read())


class _Lengths:
    """Takes bodies by their Content-Length, as long as that can be believed."""

    def __init__(self, lines: _Lines, limits: Limits) -> None:
        self._lines, self._limits = lines, limits
        self._wrong = 0

    def body(self, length: int | None) -> bytes:
        """Return the body that is so long, unquoted; nothing where that is not to be believed."""
        if length is None or not 0 < length <= self._limits.message_bytes or self._wrong >= _WRONG_LENGTHS:
            return b""
        data = self._lines.take(length)
        after = self._lines.read()
        if not after.strip():
            after += self._lines.read()
        follows = after.lstrip(b"\r\n")
        if (
            len(data) == length
            and (not follows or _SEPARATOR.match(follows))
            and (data[-1:] == b"\n" or after[:1] in b"\r\n")
        ):
            self._lines.put_back(after)
            bare = data.startswith(b"From ") or b"\nFrom " in data
            return data if bare else _QUOTED_LINE.sub(rb"\1", data)
        self._wrong += 1
        self._lines.put_back(data + after)
        return b""


def split(stream: BinaryIO, source: str, limits: Limits) -> Iterator[Found]:
    """Hand out the messages of an mbox.

    Args:
        stream: the file, at its start.
        source: its name; messages are called ``source#1`` and so on.
        limits: the size beyond which a message is passed over.
    """
    number, kept, size = 0, bytearray(), 0
    lines = _Lines(stream)
    lengths, length, in_header, fresh = _Lengths(lines, limits), None, True, True
    while piece := lines.read():
        begins, fresh = fresh, piece.endswith(b"\n")
        if begins and piece.startswith(b"From ") and (number == 0 or _SEPARATOR.match(piece)):
            if number or kept.strip():
                yield _finished(kept, size, f"{source}#{max(number, 1)}", limits)
            number, kept, size = number + 1, bytearray(), 0
            length, in_header = None, True
            continue
        if begins and in_header and (found := _LENGTH.fullmatch(piece)):
            length = int(found[1])
        elif begins and in_header and not piece.strip():
            in_header = False
            piece += lengths.body(length)
        elif begins and _QUOTED.match(piece):
            piece = piece[1:]
        fresh = piece.endswith(b"\n")
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
