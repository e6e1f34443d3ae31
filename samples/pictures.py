# ruff: noqa: E501  (sentences of a mail stay in one piece)
"""The two pictures of the samples: a logo of a few dots, and a photo of a card, taken once and kept beside this file."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

#: A photo of an upgrade card (JPEG).
PHOTO = (Path(__file__).parent / "card.jpg").read_bytes()


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _png(width: int, height: int) -> bytes:
    """Return a grey chequered PNG; its data are stored, not compressed, so that every zlib writes the same."""
    rows = b"".join(b"\0" + bytes((90 if (x // 4 + y // 4) % 2 else 200) for x in range(width)) for y in range(height))
    size = len(rows)
    stored = b"\x01" + struct.pack("<HH", size, size ^ 0xFFFF) + rows
    packed = b"\x78\x01" + stored + struct.pack(">I", zlib.adler32(rows))
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + _chunk(b"IDAT", packed) + _chunk(b"IEND", b"")


#: A maker's logo, shown inside the text (PNG).
LOGO = _png(48, 16)
