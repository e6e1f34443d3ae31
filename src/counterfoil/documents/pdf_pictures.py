"""Pictures on PDF pages: which pages are worth a look, and these pages drawn for the readers of text and bar codes."""

from __future__ import annotations

import contextlib
import ctypes
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

import pypdfium2
import pypdfium2.raw as pdfium

from counterfoil.settings import Limits

if TYPE_CHECKING:
    from PIL.Image import Image

#: Objects of a page that are looked at.
_OBJECTS = 2_000
#: A picture that takes this share of the page may be a scan of a card or of a letter.
_LARGE = 0.25
_MOST_OF_PAGE = 0.5
#: The least QR code has 21 by 21 modules (ISO/IEC 18004); drawn as shapes, about half of them.
_SHAPES = 100
#: Points along one path in which such a code may be drawn.
_SEGMENTS = 400
#: A picture smaller than this, in points, shows no code that a camera could read.
_SMALL = 20
#: Dots an inch at which pages are drawn: scanned text reads best at what scanners use for text (common practice).
DOTS_PER_INCH = 200
_POINTS_PER_INCH = 72
_PICTURED = (pdfium.FPDF_PAGEOBJ_IMAGE, pdfium.FPDF_PAGEOBJ_FORM)


def shows_large_picture(page: object) -> bool:
    """Say whether a picture takes a good part of a page, or several most of it: scanners cut pages into strips."""
    area = pdfium.FPDF_GetPageWidthF(page) * pdfium.FPDF_GetPageHeightF(page)
    pictures = [width * height for kind, width, height in _sizes(page) if kind == "picture"]
    return any(one > _LARGE * area for one in pictures) or sum(pictures) > _MOST_OF_PAGE * area


def may_show_symbol(page: object) -> bool:
    """Say whether a QR or bar code may stand on a page: as a picture, a drawing, or a crowd of shapes."""
    shapes = 0
    for kind, width, height in _sizes(page):
        if kind == "picture" and min(width, height) >= _SMALL:
            return True
        shapes += _SHAPES if kind == "drawing" else kind == "shape"
        if shapes >= _SHAPES:
            return True
    return False


def _sizes(page: object) -> Iterator[tuple[str, float, float]]:
    """Yield what pictures, drawings and shapes a page shows, with width and height in points."""
    edges = [ctypes.c_float() for _ in range(4)]
    addresses = [ctypes.byref(edge) for edge in edges]
    for number in range(min(pdfium.FPDFPage_CountObjects(page), _OBJECTS)):
        item = pdfium.FPDFPage_GetObject(page, number)
        kind = pdfium.FPDFPageObj_GetType(item)
        if kind == pdfium.FPDF_PAGEOBJ_PATH:
            yield ("drawing" if pdfium.FPDFPath_CountSegments(item) >= _SEGMENTS else "shape"), 0.0, 0.0
        elif kind in _PICTURED and pdfium.FPDFPageObj_GetBounds(item, *addresses):
            x0, y0, x1, y1 = (edge.value for edge in edges)
            yield "picture", abs(x1 - x0), abs(y1 - y0)


def drawn_pages(
    data: bytes, pages: Iterable[int], limits: Limits, password: str = ""
) -> Iterator[tuple[int, Image, float, float]]:
    """Draw pages of a PDF.

    Args:
        data: the file.
        pages: their numbers, from 1.
        limits: pixels; larger pages are drawn smaller.
        password: what opens it, where it is locked.

    Yields:
        Number, picture in RGB, width and height in points. Pages that cannot be drawn are passed over.
    """
    header = data.find(b"%PDF-")
    try:
        with contextlib.closing(pypdfium2.PdfDocument(data[max(header, 0) :], password=password or None)) as pdf:
            for number in pages:
                with contextlib.suppress(pypdfium2.PdfiumError), contextlib.closing(pdf[number - 1]) as page:
                    width, height = page.get_size()
                    if width <= 0 or height <= 0:
                        continue
                    yield number, draw(page, limits), width, height
    except pypdfium2.PdfiumError:
        return


def draw(page: pypdfium2.PdfPage, limits: Limits) -> Image:
    """Draw a page in RGB at :data:`DOTS_PER_INCH`, with fewer where it would have too many pixels."""
    width, height = page.get_size()
    scale = min(DOTS_PER_INCH / _POINTS_PER_INCH, (limits.picture_pixels / (width * height)) ** 0.5 * 0.99)
    with contextlib.closing(page.render(scale=scale, rev_byteorder=True)) as bitmap:
        drawn: Image = bitmap.to_pil().convert("RGB")
        return drawn
