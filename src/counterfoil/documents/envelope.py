"""What is left of a message that cannot be read as a whole: its first header section."""

from __future__ import annotations

import email

from counterfoil.documents.headers import read_fields, read_layer
from counterfoil.model import Document, Layer, Message, Problem
from counterfoil.settings import Limits


def read_envelope(data: bytes, limits: Limits) -> tuple[tuple[Layer, ...], tuple[str, ...]]:
    """Read the first header section of a message and nothing else. Never raises.

    Args:
        data: the bytes as received.
        limits: how much of a header is read.

    Returns:
        One layer, and sentences on what was broken.
    """
    head = data[: limits.header_bytes].lstrip(b"\xef\xbb\xbf\r\n\t ").partition(b"\n\n")[0].partition(b"\r\n\r\n")[0]
    try:
        fields = read_fields(email.message_from_bytes(head + b"\n\n"), limits)
        layer, more = read_layer(fields, limits, "received", None)
        return (layer,), (*fields.defects, *more)
    # Even a header may be hostile, and then the message is kept without one.
    except Exception:  # noqa: BLE001
        return (Layer("received", None, None),), ("Its header cannot be read either.",)


def head_only(data: bytes, limits: Limits, sha256: str, error: Exception) -> Message:
    """Return a message of which only the header was read.

    Args:
        data: the bytes as received.
        limits: how much of a header is read.
        sha256: the name of the original.
        error: what stopped the reading of the rest.
    """
    layers, defects = read_envelope(data, limits)
    what = f"The message is broken or nested too deeply ({type(error).__name__}); only its header was read."
    reason = "The message is broken and could not be read."
    broken = Document("body", 0, "", (), problem=Problem.DAMAGED, reason=reason, size=len(data))
    return Message(sha256, len(data), layers, (broken,), (what, *defects))
