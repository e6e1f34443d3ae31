"""Pictures and scans read by eye: formats, orientation, several pages, bounds, QR and bar codes."""

from __future__ import annotations

import os
import socket
import struct
import zlib
from contextlib import nullcontext
from io import BytesIO
from typing import Any

import pi_heif
import pytest
from cards import draw, mail, saved, symbol_picture
from PIL import Image, ImageDraw
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from counterfoil.documents import pictured
from counterfoil.documents.barcodes import codes_in, is_link
from counterfoil.documents.by_eye import picture_documents
from counterfoil.documents.message import read_message
from counterfoil.documents.picture_open import PictureUnread, pages_of
from counterfoil.model import Document, Problem
from counterfoil.settings import Limits

TRUTH = {"machine_id": "KT4-7729-31", "product_key": "HD3K-9WQ2-7TRM", "activation_code": "88213-44729-22911"}
LIMITS = Limits()
CARD = draw(TRUTH, "Marit Solvang", size=34)
ORIENTATION = 0x0112


def opened(data: bytes, limits: Limits = LIMITS) -> list[tuple[Image.Image, tuple[int, int]]]:
    """Return the pages of a picture."""
    return list(pages_of(data, limits, nullcontext))


def documents(*files: tuple[str, bytes], limits: Limits = LIMITS) -> dict[str, Document]:
    """Return the documents of a mail with files, by name."""
    return {d.name: d for d in read_message(mail(*files), limits).documents}


def scan(*pages: tuple[Image.Image | None, str]) -> bytes:
    """Return a PDF of pages with a picture (None: none) and a line of text above it."""
    out = BytesIO()
    paper = Canvas(out, pagesize=(480, 400), invariant=1)
    for image, text in pages:
        if text:
            paper.drawString(30, 380, text)
        if image is not None:
            paper.drawImage(ImageReader(image), 0, 20, 480, 320)
        paper.showPage()
    paper.save()
    return out.getvalue()


@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF", "WEBP", "GIF", "BMP"])
def test_formats_are_opened(form: str) -> None:
    """Each format comes out in RGB in its own size; a JPEG may have fewer pixels, its full size is told."""
    ((image, size),) = opened(saved(Image.new("RGB", (640, 480), "white"), form))
    assert (image.mode, size) == ("RGB", (640, 480))
    assert image.getpixel((0, 0)) == (255, 255, 255)


def test_heif_goes_to_its_library() -> None:
    """Bytes with the brand of HEIC (ISO/IEC 23008-12, annex B) reach the library for them, and are damaged without
    their pictures."""
    data = b"\0\0\0\x18ftypheic\0\0\0\0heicmif1" + b"\0" * 40
    assert pi_heif.is_supported(data)
    with pytest.raises(PictureUnread, match="damaged"):
        opened(data)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "CMYK", "I;16"])
def test_every_kind_of_pixel_becomes_rgb(mode: str) -> None:
    """White stays white in black and white, grey, sixteen bits, palettes and print colours; what is transparent is
    white, as on paper."""
    white: Any = {"CMYK": (0, 0, 0, 0), "I;16": 65535, "RGBA": (0, 0, 0, 0), "LA": (0, 0)}.get(mode, "white")
    data = saved(Image.new(mode, (40, 30), white), "TIFF")
    ((image, _),) = opened(data)
    assert image.getpixel((5, 5)) == (255, 255, 255)


def test_a_photo_is_turned_by_its_orientation() -> None:
    """Orientation 6 of EXIF (Exif 2.3, tag 274): the top row of the stored picture is the right side of the scene."""
    image = Image.new("RGB", (80, 40), "white")
    ImageDraw.Draw(image).rectangle((0, 0, 80, 10), fill="black")
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    ((upright, size),) = opened(saved(image, "JPEG", exif=exif, quality=95))
    assert upright.size == size == (40, 80)
    assert [sum(upright.getpixel((x, 40))) < 100 for x in (2, 36)] == [False, True]  # type: ignore[arg-type]


def test_too_many_pixels_are_refused_before_decoding() -> None:
    """A picture with more pixels than are read, and one so large that it is meant to be a bomb, are refused by what
    their header says."""
    for width in (9_000, 30_000):
        head = struct.pack(">IIBBBBB", width, width, 8, 2, 0, 0, 0)
        chunk = struct.pack(">I", len(head)) + b"IHDR" + head + struct.pack(">I", zlib.crc32(b"IHDR" + head))
        with pytest.raises(PictureUnread, match="at most 40,000,000") as refused:
            opened(b"\x89PNG\r\n\x1a\n" + chunk + struct.pack(">I", 9) + b"IDAT" + b"\0" * 13)
        assert refused.value.problem is Problem.TOO_LARGE


@pytest.mark.parametrize("cut", [9, 33, 60, 0.5])
@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF", "WEBP", "GIF", "BMP"])
def test_a_damaged_picture_says_so(form: str, cut: float) -> None:
    """A picture cut off is damaged, whatever its format and wherever it is cut; nothing else comes out."""
    data = saved(Image.effect_noise((200, 100), 50).convert("RGB"), form)
    with pytest.raises(PictureUnread) as broken:
        opened(data[: int(cut if cut > 1 else len(data) * cut)])
    assert broken.value.problem is Problem.DAMAGED


def test_tiny_pictures_have_no_text() -> None:
    """A picture of one dot, and one of a single row, are looked at without a fault, and a person is asked."""
    for size in ((1, 1), (3_000, 1)):
        (document,) = picture_documents(
            "a.png", 0, saved(Image.new("RGB", size), "PNG"), "image/png", LIMITS, nullcontext, text=True
        )
        assert (document.problem, document.text) == (Problem.PICTURE, "")


_LONG = [pytest.param(turn, marks=pytest.mark.long) for turn in (0, 2, 3)]


@pytest.mark.parametrize("turn", [1, *_LONG])
def test_a_photo_is_read_however_it_was_held(turn: int) -> None:
    """Labels and values stand on one line in whatever way the photo is turned, and the box of a code is that of the
    upright card."""
    image = CARD.rotate(-90 * turn, expand=True)
    card = documents(("card.jpg", saved(image, "JPEG")))["picture:card.jpg"]
    assert card.turns == (turn,)
    lines = card.text.split("\n")
    assert f"Machine ID:\t{TRUTH['machine_id']}" in lines
    start = card.text.index(TRUTH["product_key"])
    box = card.box(start, start + len(TRUTH["product_key"]))
    assert box is not None
    # Drawn at 400 from the left, 350 from the top of 640, in type of 34 pixels.
    assert abs(box.x0 - 400) < 12
    assert abs((box.y0 + box.y1) / 2 - (640 - 350 - 20)) < 12


def test_pages_of_a_tiff_are_all_opened() -> None:
    """Each page of a TIFF comes out; with more pages than are read, those that are, and then a sentence."""
    data = saved(Image.new("RGB", (80, 60)), "TIFF", save_all=True, append_images=[Image.new("L", (30, 20))] * 2)
    assert [size for _, size in opened(data)] == [(80, 60), (30, 20), (30, 20)]
    pages = pages_of(data, Limits(pictures=1), nullcontext)
    assert next(pages)[1] == (80, 60)
    with pytest.raises(PictureUnread, match="3 pages; the first 1"):
        next(pages)


def test_nothing_is_asked_of_the_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """A picture is read with every way into the network closed: models come with the library, telemetry is off."""

    def closed(*_: object, **__: object) -> object:
        raise AssertionError("the network was asked for")

    for name in ("socket", "create_connection", "getaddrinfo"):
        monkeypatch.setattr(socket, name, closed)
    from counterfoil.documents import ocr

    ocr._engine.cache_clear()
    assert TRUTH["machine_id"] in documents(("card.jpg", saved(CARD, "JPEG")))["picture:card.jpg"].text
    assert os.environ["ORT_DISABLE_TELEMETRY"] == "1"


def test_a_scan_is_read_beside_the_text() -> None:
    """A picture that takes a good part of a page with text is read by eye; what it says stands apart from the text, as
    a document of its own, on the page it stands on."""
    line = "This page is text, long enough to be no stamp of a scanner."
    found = documents(("both.pdf", scan((None, line), (CARD, line))))
    pdf, seen = found["pdf:both.pdf"], found["scan:both.pdf"]
    assert (pdf.turns, pdf.problem, TRUTH["machine_id"] in pdf.text) == ((), None, False)
    assert seen.page_of(seen.text.index(TRUTH["activation_code"])) == 2
    assert seen.turns == (0, 0)


def test_without_the_libraries_a_person_is_told_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the extra a picture and a scan are questions that name it, and the rest is read."""
    monkeypatch.setattr(pictured, "can_read", lambda: False)
    found = documents(("card.jpg", saved(CARD, "JPEG")), ("scan.pdf", scan((CARD, ""))))
    assert (found["picture:card.jpg"].problem, found["pdf:scan.pdf"].problem) == (Problem.PICTURE, Problem.SCANNED)
    assert all("pip install 'counterfoil[images]'" in found[n].reason for n in ("picture:card.jpg", "pdf:scan.pdf"))
    assert found["body"].text


# --- QR and bar codes -----------------------------------------------------------------------------------------------


def test_what_a_qr_code_holds_is_text() -> None:
    """A QR code in a photo and one on a PDF page with text become documents of their own, not read by eye."""
    symbol = symbol_picture("Product key: HD3K-9WQ2-7TRM")
    out = BytesIO()
    paper = Canvas(out, pagesize=(480, 400), invariant=1)
    paper.drawString(30, 380, "Your activation is confirmed. The product key stands in the square below.")
    paper.drawImage(ImageReader(symbol), 30, 150, 90, 90)
    paper.save()
    found = documents(("card.png", saved(symbol, "PNG")), ("paper.pdf", out.getvalue()))
    for name in ("code:card.png", "code:paper.pdf"):
        assert (found[name].text, found[name].turns) == ("Product key: HD3K-9WQ2-7TRM", ())
    assert "scan:paper.pdf" not in found


def test_an_address_is_kept_and_not_followed() -> None:
    """A QR code with an address is text under a name of its own."""
    link = "https://stitch.example/activate?key=HD3K-9WQ2-7TRM"
    found = documents(("card.png", saved(symbol_picture(link), "PNG")))
    assert found["link:card.png"].text == link
    assert "code:card.png" not in found


@pytest.mark.parametrize(
    ("text", "link"),
    [
        ("https://stitch.example/a?b=C-1", True),
        ("WWW.STITCH.EXAMPLE", True),
        ("mailto:desk@stitch.example", True),
        ("Product key: HD3K-9WQ2", False),
        ("HD3K-9WQ2-7TRM", False),
        ("See https://stitch.example", False),
    ],
)
def test_what_is_an_address(text: str, link: bool) -> None:
    """An address alone is one; a code, or words around an address, are not."""
    assert is_link(text) is link


def test_stripes_and_text_hold_no_code() -> None:
    """No symbol is seen in a card without one, nor in rows of stripes."""
    stripes = Image.new("L", (600, 200), "white")
    for x in range(0, 600, 7):
        ImageDraw.Draw(stripes).rectangle((x, 20, x + x % 3, 180), fill="black")
    assert codes_in(stripes) == codes_in(CARD) == []
