"""Ruled cells of a PDF page: the lines come from pdfium, the cells they enclose from pdfplumber's table functions.

Where rows are parted by level rules or by shading only, columns are parted where no row has text. pdfplumber by itself
reads a page anew, at a hundred times the cost and without bounds; of it only the geometry is used.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import pypdfium2.raw as pdfium

from counterfoil.documents.pdf_layout import Word

#: Ends of a straight line, in points of the page: x0, y0, x1, y1.
Stroke = tuple[float, float, float, float]
#: a, b, c, d, e, f of a transformation (ISO 32000-1, 8.3.3).
_Matrix = tuple[float, float, float, float, float, float]
_SAME: _Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

#: Objects of a page, segments of all its paths, and levels of drawings within drawings that are looked at.
_OBJECTS = 2_000
_SEGMENTS = 4_000
_LEVELS = 4
#: A rule is longer than this, in points, and leans by no more than that.
_SHORTEST = 8.0
_LEAN = 0.7
#: Rules closer than this, in points, are one: both edges of a thick one, borders of two cells side by side.
_SNAP = 3.0
#: With more crossings than this it is no table but a drawing, and pdfplumber compares each with each.
_MOST_CROSSINGS = 2_500
#: Level rules with the same ends part rows from this many on; a row is no higher than this, in points.
_FEWEST_LEVEL = 3
_TALLEST = 90.0
#: Room without text from top to bottom that parts columns, in points, and where they are parted: before the next one.
_RIVER = 5.0
_BEFORE = 2.0
_MOST_COLUMNS = 8
#: A cell with less room than this, in points, holds no text.
_LEAST_WIDTH = 10.0
_LEAST_HEIGHT = 7.0


class Ruled(NamedTuple):
    """A cell: its edges in points of the page."""

    x0: float
    y0: float
    x1: float
    y1: float


def ruled_cells(page: object, words: Sequence[Word]) -> list[Ruled]:
    """Return the cells that rules, frames and shaded boxes part a page into.

    Args:
        page: pdfium's page.
        words: its words.

    Returns:
        The cells from top to bottom and left to right, none where there are next to no rules or far too many.
    """
    return cells_between(_strokes(page), words)


def cells_between(strokes: Iterable[Stroke], words: Sequence[Word]) -> list[Ruled]:
    """Return the cells that straight lines enclose, see :func:`ruled_cells`.

    Args:
        strokes: lines in points of the page; those that are neither level nor upright are passed over.
        words: the words of the page.
    """
    edges = [edge for stroke in strokes if (edge := _edge(stroke)) is not None]
    if len(edges) < _FEWEST_LEVEL:
        return []
    # Imported here: few pages have rules, and the library takes a tenth of a second to import.
    from pdfplumber.table import edges_to_intersections, intersections_to_cells, merge_edges

    merged = merge_edges(edges, _SNAP, _SNAP, _SNAP, _SNAP)
    merged += list(_columns(merged, words))
    upright = sum(edge["orientation"] == "v" for edge in merged)
    if upright * (len(merged) - upright) > _MOST_CROSSINGS:
        return []
    found = intersections_to_cells(edges_to_intersections(merged, _SNAP, _SNAP))
    # The library counts downwards.
    cells = [Ruled(x0, -bottom, x1, -top) for x0, top, x1, bottom in found]
    return sorted(
        (c for c in cells if c.x1 - c.x0 >= _LEAST_WIDTH and c.y1 - c.y0 >= _LEAST_HEIGHT),
        key=lambda cell: (-cell.y1, cell.x0),
    )


def _columns(edges: Sequence[dict[str, Any]], words: Sequence[Word]) -> Iterator[dict[str, Any]]:
    """Yield upright rules where rows parted by level rules alone have columns."""
    level = sorted((e for e in edges if e["orientation"] == "h"), key=lambda e: (e["x0"], e["x1"], e["top"]))
    groups: list[list[dict[str, Any]]] = []
    for edge in level:
        last = groups[-1][-1] if groups else None
        if (
            last is not None
            and abs(last["x0"] - edge["x0"]) <= _SNAP
            and abs(last["x1"] - edge["x1"]) <= _SNAP
            and edge["top"] - last["top"] <= _TALLEST
        ):
            groups[-1].append(edge)
        else:
            groups.append([edge])
    for group in groups:
        x0, x1, top, bottom = group[0]["x0"], group[0]["x1"], group[0]["top"], group[-1]["top"]
        inner = (
            e["orientation"] == "v" and x0 + _SNAP < e["x0"] < x1 - _SNAP and e["top"] < bottom and e["bottom"] > top
            for e in edges
        )
        if len(group) < _FEWEST_LEVEL or any(inner):
            continue
        borders = _borders([w for w in words if not w.turn and x0 < w.x0 < x1 and top < -w.y1 and -w.y0 < bottom])
        if 0 < len(borders) < _MOST_COLUMNS:
            for x in (x0, *borders, x1):
                yield _upright(x, top, bottom)


def _borders(words: Sequence[Word]) -> list[float]:
    """Return where columns are parted: behind rivers that run through all rows."""
    spans: list[tuple[float, float]] = []
    for x0, x1 in sorted((word.x0, word.x1) for word in words):
        if spans and x0 <= spans[-1][1] + _RIVER:
            spans[-1] = spans[-1][0], max(spans[-1][1], x1)
        else:
            spans.append((x0, x1))
    return [after[0] - _BEFORE for _, after in pairwise(spans)]


def _edge(stroke: Stroke) -> dict[str, Any] | None:
    x0, x1 = sorted((stroke[0], stroke[2]))
    y0, y1 = sorted((stroke[1], stroke[3]))
    if y1 - y0 <= _LEAN and x1 - x0 >= _SHORTEST:
        return {"orientation": "h", "x0": x0, "x1": x1, "top": -y0, "bottom": -y0, "width": x1 - x0, "height": 0.0}
    if x1 - x0 <= _LEAN and y1 - y0 >= _SHORTEST:
        return _upright(x0, -y1, -y0)
    return None


def _upright(x: float, top: float, bottom: float) -> dict[str, Any]:
    return {"orientation": "v", "x0": x, "x1": x, "top": top, "bottom": bottom, "width": 0.0, "height": bottom - top}


def _strokes(page: object) -> Iterator[Stroke]:
    """Yield the straight lines of a page's paths, also those of drawings that are placed on it."""
    left = [_SEGMENTS]
    for number in range(min(pdfium.FPDFPage_CountObjects(page), _OBJECTS)):
        yield from _strokes_of(pdfium.FPDFPage_GetObject(page, number), _SAME, _LEVELS, left)


def _strokes_of(item: Any, matrix: _Matrix, levels: int, left: list[int]) -> Iterator[Stroke]:
    kind = pdfium.FPDFPageObj_GetType(item)
    if kind == pdfium.FPDF_PAGEOBJ_PATH and left[0] > 0:
        yield from _strokes_of_path(item, _combined(_matrix(item), matrix), left)
    elif kind == pdfium.FPDF_PAGEOBJ_FORM and levels:
        inner = _combined(_matrix(item), matrix)
        for number in range(min(pdfium.FPDFFormObj_CountObjects(item), _OBJECTS)):
            if left[0] <= 0:
                return
            left[0] -= 1
            yield from _strokes_of(pdfium.FPDFFormObj_GetObject(item, number), inner, levels - 1, left)


def _strokes_of_path(path: Any, matrix: _Matrix, left: list[int]) -> Iterator[Stroke]:
    fill, stroke = ctypes.c_int(), ctypes.c_int()
    shown = pdfium.FPDFPath_GetDrawMode(path, ctypes.byref(fill), ctypes.byref(stroke))
    if not shown or not (fill.value or stroke.value):
        return
    x, y = ctypes.c_float(), ctypes.c_float()
    begin = before = (0.0, 0.0)
    count = min(pdfium.FPDFPath_CountSegments(path), left[0])
    left[0] -= count
    for number in range(count):
        segment = pdfium.FPDFPath_GetPathSegment(path, number)
        pdfium.FPDFPathSegment_GetPoint(segment, ctypes.byref(x), ctypes.byref(y))
        point = _placed(x.value, y.value, matrix)
        kind = pdfium.FPDFPathSegment_GetType(segment)
        if kind == pdfium.FPDF_SEGMENT_MOVETO:
            begin = point
        elif kind == pdfium.FPDF_SEGMENT_LINETO:
            yield (*before, *point)
        before = point
        if kind != pdfium.FPDF_SEGMENT_MOVETO and pdfium.FPDFPathSegment_GetClose(segment):
            yield (*before, *begin)


def _matrix(item: Any) -> _Matrix:
    found = pdfium.FS_MATRIX()
    if not pdfium.FPDFPageObj_GetMatrix(item, ctypes.byref(found)):
        return _SAME
    return found.a, found.b, found.c, found.d, found.e, found.f


def _combined(first: _Matrix, then: _Matrix) -> _Matrix:
    """Return the transformation that does one after the other."""
    a, b, c, d, e, f = first
    p, q, r, s, t, u = then
    return a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s, e * p + f * r + t, e * q + f * s + u


def _placed(x: float, y: float, matrix: _Matrix) -> tuple[float, float]:
    a, b, c, d, e, f = matrix
    return a * x + c * y + e, b * x + d * y + f
