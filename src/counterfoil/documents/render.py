"""Pictures of PDF pages: drawn by pdfium, what must not be seen painted over before the picture leaves.

Only what a page says by itself is drawn: nothing is fetched, no script runs.
"""

from __future__ import annotations

import contextlib
import ctypes
import struct
import zlib
from collections.abc import Iterator, Sequence

import pypdfium2
import pypdfium2.raw as pdfium

from counterfoil.documents.attachments import attachments
from counterfoil.documents.parts import named_file
from counterfoil.documents.pdf import MEDIA_TYPE, read_pdf
from counterfoil.documents.pdf_inside import files_inside
from counterfoil.documents.zip_inside import open_zip
from counterfoil.model import Box, Document, PagePicture
from counterfoil.settings import Limits

#: Resolution wanted, in dots an inch, and the most pixels along one edge.
DOTS_PER_INCH = 150
MOST_PIXELS = 2_000
_POINTS_PER_INCH = 72
#: ARGB colours of what is painted over: codes black, pictures grey.
_BLACK, _GREY = 0xFF000000, 0xFFD8D8D8
#: Paper left around a hidden box, in points: letters reach beyond the box of their line.
_BLEED = 1.5
#: Objects of a page that are looked at for pictures.
_OBJECTS = 20_000


def page_picture(
    message: bytes,
    document: Document,
    page: int,
    frames: Sequence[Box],
    hidden: Sequence[Box],
    limits: Limits,
    *,
    hide_pictures: bool,
    passwords: Sequence[str] = (),
) -> PagePicture | None:
    """Draw a page of a PDF that came with a message.

    Args:
        message: the message's bytes.
        document: the PDF as it was read from these bytes.
        page: from 1.
        frames: boxes on the page whose place in the picture is wanted.
        hidden: boxes that are painted over.
        limits: what reading the message may cost.
        hide_pictures: paint over all pictures on the page, which may show what the text hides (a QR code), and leave
            out notes laid over it.
        passwords: tried on a locked PDF.

    Returns:
        The picture; None where the PDF is not found or cannot be drawn.
    """
    data, password = _pdf_of(message, document, limits, passwords)
    if not data:
        return None
    try:
        with contextlib.closing(pypdfium2.PdfDocument(data, password=password or None)) as pdf:
            if pdf.get_formtype() != pdfium.FORMTYPE_NONE:
                pdf.init_forms()
            if not 1 <= page <= len(pdf):
                return None
            with contextlib.closing(pdf[page - 1]) as drawn:
                return _draw(drawn, frames, hidden, hide_pictures)
    except pypdfium2.PdfiumError:
        return None


def _pdf_of(message: bytes, document: Document, limits: Limits, passwords: Sequence[str]) -> tuple[bytes, str]:
    """Find the PDF by what is in it, and what opens it: names of attachments may be missing, or the same twice."""
    if document.media_type != MEDIA_TYPE or not document.text:
        return b"", ""
    for data in _with_inner(message, limits):
        header = data.find(b"%PDF-")
        if header < 0 or len(data) != document.size:
            continue
        read = read_pdf(data, limits, passwords)
        if read.text == document.text:
            # Drawn from what was read: a damaged file opens mended only.
            return read.mended or data[header:], read.password
    return b"", ""


def _with_inner(message: bytes, limits: Limits) -> Iterator[bytes]:
    """Hand out the attached files of a message, then those inside the zip files and PDFs among them."""
    attached = [named_file(name, data) for name, data in attachments(message, limits)]
    yield from (file.data for file in attached)
    for file in attached:
        if file.is_zip:
            yield from (inner.data for inner in open_zip(file, "", limits)[0])
        elif file.is_pdf:
            yield from (data for _, data in files_inside(file.data, limits))


def _draw(
    page: pypdfium2.PdfPage, frames: Sequence[Box], hidden: Sequence[Box], hide_pictures: bool
) -> PagePicture | None:
    width, height = page.get_size()
    longest = max(width, height)
    if longest <= 0 or pdfium.FPDFPage_CountObjects(page.raw) > _OBJECTS:
        return None
    scale = min(DOTS_PER_INCH / _POINTS_PER_INCH, MOST_PIXELS / longest)
    # Notes laid over a page are no part of its text: what they say would be hidden from nobody.
    notes = not hide_pictures
    bitmap = page.render(scale=scale, rev_byteorder=True, fill_color=(255, 255, 255, 255), draw_annots=notes)
    try:
        size = bitmap.width, bitmap.height
        for colour, boxes in ((_GREY, _pictures(page) if hide_pictures else ()), (_BLACK, hidden)):
            for box in boxes:
                left, top, right, bottom = _in_picture(page, box, size, _BLEED)
                pdfium.FPDFBitmap_FillRect(bitmap.raw, left, top, right - left, bottom - top, colour)
        png = _png(bitmap)
    finally:
        bitmap.close()
    shares = []
    for box in frames:
        left, top, right, bottom = _in_picture(page, box, size, _BLEED)
        shares.append((left / size[0], top / size[1], right / size[0], bottom / size[1]))
    return PagePicture(png, *size, tuple(shares))


def _in_picture(page: pypdfium2.PdfPage, box: Box, size: tuple[int, int], bleed: float) -> tuple[int, int, int, int]:
    """Return a box of the page in pixels, left, top, right, bottom, whatever way the page is turned."""
    corners = []
    for x, y in ((box.x0 - bleed, box.y0 - bleed), (box.x1 + bleed, box.y1 + bleed)):
        across, down = ctypes.c_int(), ctypes.c_int()
        pdfium.FPDF_PageToDevice(page.raw, 0, 0, *size, 0, x, y, ctypes.byref(across), ctypes.byref(down))
        corners.append((across.value, down.value))
    (x0, y0), (x1, y1) = corners
    left, right = sorted(min(max(x, 0), size[0]) for x in (x0, x1))
    top, bottom = sorted(min(max(y, 0), size[1]) for y in (y0, y1))
    return left, top, right, bottom


def _pictures(page: pypdfium2.PdfPage) -> list[Box]:
    """Return the boxes of the pictures on a page, those inside drawings with all of the drawing."""
    found = []
    for number in range(pdfium.FPDFPage_CountObjects(page.raw)):
        item = pdfium.FPDFPage_GetObject(page.raw, number)
        if pdfium.FPDFPageObj_GetType(item) not in (pdfium.FPDF_PAGEOBJ_IMAGE, pdfium.FPDF_PAGEOBJ_FORM):
            continue
        if pdfium.FPDFPageObj_GetType(item) == pdfium.FPDF_PAGEOBJ_FORM and not _holds_picture(item):
            continue
        edges = [ctypes.c_float() for _ in range(4)]
        if pdfium.FPDFPageObj_GetBounds(item, *map(ctypes.byref, edges)):
            x0, y0, x1, y1 = (edge.value for edge in edges)
            found.append(Box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)))
    return found


def _holds_picture(form: object, depth: int = 0) -> bool:
    for number in range(pdfium.FPDFFormObj_CountObjects(form)):
        item = pdfium.FPDFFormObj_GetObject(form, number)
        kind = pdfium.FPDFPageObj_GetType(item)
        if kind == pdfium.FPDF_PAGEOBJ_IMAGE:
            return True
        if kind == pdfium.FPDF_PAGEOBJ_FORM and (depth > 8 or _holds_picture(item, depth + 1)):
            return True
    return False


def _png(bitmap: pypdfium2.PdfBitmap) -> bytes:
    """Return a bitmap as PNG (W3C Portable Network Graphics, third edition): RGB, no filter."""
    width, height, stride, channels = bitmap.width, bitmap.height, bitmap.stride, bitmap.n_channels
    raw = bytes(bitmap.buffer)
    rows = bytearray()
    for number in range(height):
        row = raw[number * stride : number * stride + width * channels]
        if channels == 4:
            kept = bytearray(width * 3)
            kept[0::3], kept[1::3], kept[2::3] = row[0::4], row[1::4], row[2::4]
            row = bytes(kept)
        rows += b"\0" + (row if channels >= 3 else bytes(v for v in row for _ in range(3)))
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(bytes(rows), 6)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, data) for kind, data in chunks)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
