"""Takes the attached files of a message out again, decoded, to be handed out beside a restore sheet."""

from __future__ import annotations

import email

from counterfoil.documents import parts
from counterfoil.settings import Limits


def attachments(data: bytes, limits: Limits) -> list[tuple[str, bytes]]:
    """Return the attached PDFs and pictures of a message, those inside attached messages too.

    Args:
        data: the message's bytes.
        limits: what it may cost; parts beyond them are left out.

    Returns:
        Name (may be empty, and is as the sender wrote it) and bytes of each, in their order.
    """
    prepared, _ = parts.prepare(data[: limits.message_bytes], limits)
    found: list[tuple[str, bytes]] = []
    for number, part in enumerate(email.message_from_bytes(prepared).walk()):
        if number >= limits.parts:
            break
        if part.is_multipart():
            continue
        file, _ = parts.open_part(part, related=False)
        if (file.is_pdf or file.media_type.startswith("image/")) and len(file.data) <= limits.part_bytes:
            found.append((file.name, file.data))
    return found
