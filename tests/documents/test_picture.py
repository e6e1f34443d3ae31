"""Pictures: recognised by their bytes and measured."""

from __future__ import annotations

from io import BytesIO

import pytest
from PIL import Image

from counterfoil.documents.picture import Picture, is_decoration, recognise


@pytest.mark.parametrize(
    ("form", "media_type"),
    [
        ("PNG", "image/png"),
        ("JPEG", "image/jpeg"),
        ("GIF", "image/gif"),
        ("BMP", "image/bmp"),
        ("TIFF", "image/tiff"),
        ("WEBP", "image/webp"),
    ],
)
def test_formats(form: str, media_type: str) -> None:
    """Pictures written by Pillow are recognised, and measured where the format has its size up front."""
    out = BytesIO()
    Image.new("RGB", (640, 480)).save(out, form)
    found = recognise(out.getvalue())
    assert found is not None
    assert found.media_type == media_type
    assert (found.width, found.height) == ((0, 0) if form in ("TIFF", "WEBP") else (640, 480))


@pytest.mark.parametrize("data", [b"", b"%PDF-1.7", b"BM is a name", b"RIFFxxxxWAVE", b"\xff\xd8"])
def test_what_is_no_picture(data: bytes) -> None:
    """Other bytes are none."""
    assert recognise(data) is None


def test_cut_jpeg_has_no_size() -> None:
    """A JPEG cut before its frame header is still a picture, of unknown size."""
    assert recognise(b"\xff\xd8\xff\xe0\0\x10JFIF") == Picture("image/jpeg")


def test_decoration_is_small() -> None:
    """Small pictures in the text are decoration; those of the size of a photo are not."""
    assert is_decoration(Picture("image/png", 600, 120), 50_000)
    assert not is_decoration(Picture("image/jpeg", 1200, 900), 50_000)
    assert is_decoration(Picture("image/webp"), 4_000)
    assert not is_decoration(Picture("image/webp"), 400_000)
