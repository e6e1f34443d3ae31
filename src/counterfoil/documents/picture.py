"""Pictures: recognised by their first bytes, measured where the format says its size up front."""

from __future__ import annotations

from dataclasses import dataclass

#: A picture shown inside the text with at least this many pixels both ways is more than a logo or a signature:
#: a photo of a card is never left out as decoration. Common practice, no source.
PHOTO_PIXELS = 480
#: The same for formats whose size in pixels is not told up front, in bytes.
PHOTO_BYTES = 150_000

_HEIF_BRANDS = frozenset({b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif"})


@dataclass(frozen=True, slots=True)
class Picture:
    """What the bytes are: media type, width and height in pixels (0 where unknown)."""

    media_type: str
    width: int = 0
    height: int = 0


def recognise(data: bytes) -> Picture | None:
    """Return what picture the bytes are, None when they are none that is known.

    Args:
        data: the decoded part.
    """
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return Picture("image/png", int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big"))
    if data.startswith((b"GIF87a", b"GIF89a")):
        return Picture("image/gif", int.from_bytes(data[6:8], "little"), int.from_bytes(data[8:10], "little"))
    if data.startswith(b"\xff\xd8\xff"):
        return Picture("image/jpeg", *_jpeg_size(data))
    if data[:2] == b"BM" and int.from_bytes(data[14:18], "little") in (12, 40, 108, 124):
        return Picture("image/bmp", int.from_bytes(data[18:22], "little"), int.from_bytes(data[22:26], "little"))
    if data.startswith((b"II*\0", b"MM\0*")):
        return Picture("image/tiff")
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return Picture("image/webp")
    if data[4:8] == b"ftyp" and data[8:12] in _HEIF_BRANDS:
        return Picture("image/heic")
    return None


def _jpeg_size(data: bytes) -> tuple[int, int]:
    """Return width and height from the frame header (ITU T.81, table B.2); 0, 0 where it is not found."""
    at = 2
    for _ in range(200):
        if at + 9 > len(data) or data[at] != 0xFF:
            break
        marker = data[at + 1]
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            return int.from_bytes(data[at + 7 : at + 9], "big"), int.from_bytes(data[at + 5 : at + 7], "big")
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return 0, 0


def is_decoration(picture: Picture, size: int) -> bool:
    """Say whether a picture shown inside the text may be passed over as a logo or part of a signature.

    Args:
        picture: what was recognised.
        size: its bytes.
    """
    if picture.width and picture.height:
        return min(picture.width, picture.height) < PHOTO_PIXELS
    return size < PHOTO_BYTES


#: Pixels along the edge from which a picture in the text may be a QR code.
_SYMBOL_PIXELS = 60


def may_be_symbol(picture: Picture, size: int) -> bool:
    """Say whether a picture shown inside the text may be a QR code: about as wide as high, and not tiny.

    Args:
        picture: what was recognised.
        size: its bytes.
    """
    low, high = sorted((picture.width, picture.height))
    if not low:
        return size < PHOTO_BYTES
    return low >= _SYMBOL_PIXELS and high <= 2 * low
