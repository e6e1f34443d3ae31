"""One message, or an mbox, on standard input."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from typing import BinaryIO

from counterfoil.settings import Limits
from counterfoil.sources.found import Found, Received, Unreadable
from counterfoil.sources.mbox import is_mbox, split

NAME = "standard input"


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
