"""Text that a page holds but does not show, over or under a large picture: what a scanner's program read off it.

Such text is somebody's reading of the picture, no more exact than ours, though it comes as characters.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import pypdfium2.raw as pdfium

from counterfoil.documents.pdf_layout import Word

#: Objects of a page that are looked at.
_OBJECTS = 20_000
#: A picture that takes this share of the page may have text under it that nobody sees.
_LARGE = 0.25
#: A picture with more room than this, in square points, is not drawn to see whether anything shows through.
_MOST_DRAWN = 4_000_000
#: Large pictures that are drawn for it; a page with more is no scan.
_MOST_PICTURES = 10
#: A picture of which less than this share is opaque covers nothing.
_COVERING = 0.5
#: Devices count in whole dots; so many a point.
_DOTS = 64

Edges = tuple[float, float, float, float]
Place = Callable[[Edges], Edges]


def unseen(pdf: Any, page: Any, text_page: Any, words: Sequence[Word]) -> set[int]:
    """Return the indexes of the characters of words that are not seen on a page with a large picture.

    Args:
        pdf: pdfium's document.
        page: its page.
        text_page: its text.
        words: the words of the page.
    """
    covered = _covered(pdf, page)
    hidden = (word for word in words if _is_unseen(text_page, word.start, covered))
    return {character for word in hidden for character in range(word.start, word.start + len(word.text))}


def upright(page: Any) -> Place | None:
    """Return what moves a box of a page to where it stands on the page as shown; None where it stands there already."""
    width, height = pdfium.FPDF_GetPageWidthF(page), pdfium.FPDF_GetPageHeightF(page)
    across, down = round(width * _DOTS), round(height * _DOTS)
    x, y = ctypes.c_int(), ctypes.c_int()

    def point(x0: float, y0: float) -> tuple[float, float]:
        pdfium.FPDF_PageToDevice(page, 0, 0, across, down, 0, x0, y0, ctypes.byref(x), ctypes.byref(y))
        return x.value / _DOTS, height - y.value / _DOTS

    def place(edges: Edges) -> Edges:
        (a, b), (c, d) = point(*edges[:2]), point(*edges[2:])
        return min(a, c), min(b, d), max(a, c), max(b, d)

    if all(abs(a - b) < 0.1 for a, b in zip(place((10, 20, 30, 50)), (10, 20, 30, 50), strict=True)):
        return None
    return place


def _covered(pdf: Any, page: Any) -> set[int]:
    """Return the addresses of the objects with text over which a large picture was laid that nothing shows through."""
    area = pdfium.FPDF_GetPageWidthF(page) * pdfium.FPDF_GetPageHeightF(page)
    count = min(pdfium.FPDFPage_CountObjects(page), _OBJECTS)
    objects = [pdfium.FPDFPage_GetObject(page, number) for number in range(count)]
    kinds = [pdfium.FPDFPageObj_GetType(item) for item in objects]
    covers: list[Edges] = []
    drawn = 0
    found: set[int] = set()
    for item, kind in zip(reversed(objects), reversed(kinds), strict=True):
        if kind == pdfium.FPDF_PAGEOBJ_IMAGE:
            large = [box for box in _bounds(item) if _area(box) > _LARGE * area]
            drawn += len(large)
            left = drawn <= _MOST_PICTURES
            covers += [b for b in large if not left or _area(b) > _MOST_DRAWN or not _shows_through(pdf, page, item)]
        elif kind == pdfium.FPDF_PAGEOBJ_TEXT and covers:
            for x0, y0, x1, y1 in _bounds(item):
                middle, level = (x0 + x1) / 2, (y0 + y1) / 2
                if any(box[0] < middle < box[2] and box[1] < level < box[3] for box in covers):
                    found.add(_address(item))
    return found


def _area(box: Edges) -> float:
    return (box[2] - box[0]) * (box[3] - box[1])


def _shows_through(pdf: Any, page: Any, image: Any) -> bool:
    """Say whether what is under a picture is seen: it has a mask, or is as thin as a watermark."""
    if pdfium.FPDFPageObj_HasTransparency(image):
        return True
    bitmap = pdfium.FPDFImageObj_GetRenderedBitmap(pdf, page, image)
    if not bitmap:
        return False
    try:
        if pdfium.FPDFBitmap_GetFormat(bitmap) != pdfium.FPDFBitmap_BGRA:
            return False
        size = pdfium.FPDFBitmap_GetStride(bitmap) * pdfium.FPDFBitmap_GetHeight(bitmap)
        opaque = ctypes.string_at(pdfium.FPDFBitmap_GetBuffer(bitmap), size)[3::4]
    finally:
        pdfium.FPDFBitmap_Destroy(bitmap)
    return opaque.count(255) < _COVERING * len(opaque)


def _bounds(item: Any) -> Iterator[Edges]:
    edges = [ctypes.c_float() for _ in range(4)]
    if pdfium.FPDFPageObj_GetBounds(item, *map(ctypes.byref, edges)):
        x0, y0, x1, y1 = (edge.value for edge in edges)
        yield x0, y0, x1, y1


def _is_unseen(text_page: Any, character: int, covered: set[int]) -> bool:
    item = pdfium.FPDFText_GetTextObject(text_page, character)
    if not item:
        return False
    mode = pdfium.FPDFTextObj_GetTextRenderMode(item)
    return mode in (pdfium.FPDF_TEXTRENDERMODE_INVISIBLE, pdfium.FPDF_TEXTRENDERMODE_CLIP) or _address(item) in covered


def _address(item: Any) -> int:
    return ctypes.cast(item, ctypes.c_void_p).value or 0
