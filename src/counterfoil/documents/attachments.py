"""Takes the attached files of a message out again, decoded, to be looked at or handed out beside a restore sheet."""

from __future__ import annotations

import email
from collections.abc import Iterator
from email.message import Message as Part

from counterfoil.documents import outlook, parts
from counterfoil.settings import Limits


def attachments(data: bytes, limits: Limits) -> list[tuple[str, bytes]]:
    """Return the attached PDFs and pictures of a message, those inside attached messages too.

    Outlook message files and zip files are handed out as they are: what is in them is opened in reading processes only.

    Args:
        data: the message's bytes.
        limits: what it may cost; parts beyond them are left out.

    Returns:
        Name (may be empty, and is as the sender wrote it) and bytes of each, in their order.
    """
    if outlook.is_msg(data):
        return []
    prepared, _ = parts.prepare(data[: limits.message_bytes], limits)
    found: list[tuple[str, bytes]] = []
    for number, part in enumerate(_leaves(email.message_from_bytes(prepared), limits, 0)):
        if number >= limits.parts:
            break
        file, _ = parts.open_part(part, related=False)
        wanted = file.is_pdf or file.is_outlook or file.is_zip or file.media_type.startswith("image/")
        if wanted and len(file.data) <= limits.part_bytes:
            found.append((file.name, file.data))
    return found


def all_files(data: bytes, limits: Limits) -> tuple[list[tuple[str, bytes]], bool]:
    """Return every attached file of a message, whatever its kind, those inside attached messages too.

    Texts that the sender wrote into the message, signatures and empty parts are none. Nothing is opened or run.

    Args:
        data: the message's bytes.
        limits: bytes and number of parts that are looked at.

    Returns:
        Name (may be empty, and is as the sender wrote it) and bytes of each, in their order; and whether these are all:
        False where the message has more than the limits allow.
    """
    prepared, cut = parts.prepare(data[: limits.message_bytes], limits)
    complete = len(data) <= limits.message_bytes and parts.CUT not in cut
    found: list[tuple[str, bytes]] = []
    for number, part in enumerate(_leaves(email.message_from_bytes(prepared), limits, 0)):
        if number >= limits.parts:
            return found, False
        file, _ = parts.open_part(part, related=False)
        if not file.is_body and not file.passed_over:
            found.append((file.name, file.data))
    return found, complete


def _leaves(part: Part, limits: Limits, depth: int) -> Iterator[Part]:
    """Hand out the parts without parts, also of messages that were encoded or attached as files."""
    if depth > limits.mime_depth:
        return
    parts.shorten(part)
    kind = part.get_content_type()
    if kind in parts.MESSAGE_TYPES:
        inner, _ = parts.inner_message(part)
        if inner is not None:
            yield from _leaves(inner, limits, depth + 1)
    elif part.is_multipart():
        for child in part.get_payload():
            if isinstance(child, Part):
                yield from _leaves(child, limits, depth + 1)
        if (behind := parts.parts_behind(part)) is not None:
            yield from _leaves(behind, limits, depth + 1)
    elif kind.startswith("multipart/") and (mended := parts.mend_multipart(part)) is not None:
        yield from _leaves(mended, limits, depth + 1)
    else:
        file, _ = parts.open_part(part, related=False)
        if file.is_message:
            yield from _leaves(email.message_from_bytes(file.data.lstrip(b"\r\n\t ")), limits, depth + 1)
        else:
            yield part
