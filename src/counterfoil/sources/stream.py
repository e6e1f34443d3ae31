"""One message, or an mbox, on standard input; or the one message that a mail server hands over."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from typing import BinaryIO

from counterfoil.settings import Limits
from counterfoil.sources.found import Found, Received, Unreadable
from counterfoil.sources.mbox import is_mbox, split

NAME = "standard input"
FROM_MAIL_SERVER = "handed over by the mail server"
_SEPARATOR_BYTES = 1_000


def read_stream(stream: BinaryIO, limits: Limits) -> Iterator[Found]:
    """Hand out what stands on a stream, read to its end or to the size limit.

    Args:
        stream: standard input as bytes.
        limits: the size beyond which nothing is taken in.
    """
    data = stream.read(limits.message_bytes + 1)
    if len(data) > limits.message_bytes:
        yield Unreadable(NAME, f"There are more than the {limits.message_bytes:,} bytes that one message may have.")
    elif not data.strip():
        yield Unreadable(NAME, "Nothing came in.")
    elif is_mbox(data):
        found = list(split(BytesIO(data), NAME, limits))
        if len(found) == 1 and isinstance(found[0], Received):
            yield Received(found[0].data, NAME)
        else:
            yield from found
    else:
        yield Received(data, NAME)


def read_delivery(stream: BinaryIO, limits: Limits) -> Found:
    """Return the one message that a mail server hands over, whatever lines in it look like the separators of an mbox.

    A "From " line before its header, which some servers add, is taken off; ">From " stays: whether the server quoted
    it cannot be known.

    Args:
        stream: standard input as bytes.
        limits: the size beyond which nothing is taken in.
    """
    # The separator is no part of the message.
    room = limits.message_bytes + _SEPARATOR_BYTES
    data = stream.read(room + 1)
    if is_mbox(data):
        data = data.partition(b"\n")[2]
    if len(data) > limits.message_bytes:
        return Unreadable(FROM_MAIL_SERVER, f"It has more than the {limits.message_bytes:,} bytes that are read.")
    if not data.strip():
        return Unreadable(FROM_MAIL_SERVER, "Nothing came in.", is_empty=True)
    return Received(data, FROM_MAIL_SERVER)
