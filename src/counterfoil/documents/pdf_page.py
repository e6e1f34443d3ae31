"""Words of a PDF page through pdfium's own functions.

One call returns the text of a page, one call a character its box; the calls go through prototypes made here, with
plain addresses into one buffer, because the usual ones cost several times more in Python than in pdfium.
"""

from __future__ import annotations

import ctypes
import re
from array import array
from collections import deque
from collections.abc import Callable
from itertools import pairwise, repeat

import pypdfium2.raw as pdfium

from counterfoil.documents.pdf_layout import LEADERS, Word

Edges = tuple[float, float, float, float]
#: pdfium writes these for a hyphen at a line end, and joins the lines: a broken code would lose its hyphen.
HYPHENS = "\ufffe\x02"
#: A word: up to white space, or up to a hyphen at a line end.
_WORD = re.compile(rf"[^\s\0{HYPHENS}]*[{HYPHENS}]|[^\s\0{HYPHENS}]+")
#: Words are taken together where the gap is that of one space, in shares of the height of the line.
_LEAST_GAP = 0.08
_MOST_GAP = 0.6
#: No character is wider than this many heights: pieces that far apart are no word.
_WIDEST = 2.5
#: Height of a line for fonts that tell none, in points.
_HEIGHT = 10.0

_prototype = ctypes.PYFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_int, ctypes.c_void_p)
#: FPDFText_GetLooseCharBox(text page, index, address of four floats): left, top, right, bottom.
_loose_box = _prototype(ctypes.cast(pdfium.FPDFText_GetLooseCharBox, ctypes.c_void_p).value or 0)


def page_words(
    text_page: object, most: int, place: Callable[[Edges], Edges] | None = None
) -> tuple[list[Word], array[float], int]:
    """Read the words of a page.

    Args:
        text_page: pdfium's text page.
        most: characters that are read.
        place: moves each box.

    Returns:
        Its words in pdfium's order, the boxes of its characters (x0, y0, x1, y1 each, in points), and how many
        characters the page has.
    """
    count = pdfium.FPDFText_CountChars(text_page)
    read = min(count, most)
    if read <= 0:
        return [], array("f"), max(count, 0)
    text = _text(text_page, read)
    raw = array("f", bytes(16 * read))
    address, _ = raw.buffer_info()
    handle = ctypes.cast(text_page, ctypes.c_void_p).value  # type: ignore[arg-type]
    boxes = map(_loose_box, repeat(handle, read), range(read), range(address, address + 16 * read, 16))
    deque(boxes, maxlen=0)
    # pdfium: left, top, right, bottom. Here: x0, y0, x1, y1.
    raw[1::4], raw[3::4] = raw[3::4], raw[1::4]
    if place is not None:
        for at in range(0, 4 * read, 4):
            raw[at : at + 4] = array("f", place((raw[at], raw[at + 1], raw[at + 2], raw[at + 3])))
    return _words(text, raw), raw, count


def _text(text_page: object, count: int) -> str:
    buffer = (ctypes.c_ushort * (count + 1))()
    written = pdfium.FPDFText_GetText(text_page, 0, count, buffer)
    text = bytes(buffer)[: 2 * count].decode("utf-16-le", "replace")
    if written == count + 1 and len(text) == count:
        return text
    # Characters beyond the first plane, or without a meaning, put text and boxes out of step: take each by itself.
    return "".join(_character(pdfium.FPDFText_GetUnicode(text_page, i)) for i in range(count))


def _character(code: int) -> str:
    return chr(code) if 0 < code < 0x110000 and not 0xD800 <= code < 0xE000 else "\0"


def _words(text: str, boxes: array[float]) -> list[Word]:
    """Return the words; those one plain space apart on one line come as one, which makes all that follows cheaper."""
    words: list[Word] = []
    # The run under way: its edges, where it begins and ends in the text. An end of -1: there is none.
    x0 = y0 = x1 = y1 = 0.0
    begin, stop = 0, -1
    lefts, bottoms, rights, tops = boxes[0::4], boxes[1::4], boxes[2::4], boxes[3::4]
    for match in _WORD.finditer(text):
        start, end = match.span()
        left, bottom, top = lefts[start], bottoms[start], tops[start]
        right, last_bottom, last_top = rights[end - 1], bottoms[end - 1], tops[end - 1]
        height = top - bottom
        if (
            start == stop + 1
            and bottom == y0
            and top == y1
            and end - start > 1
            and text[stop] == " "
            and text[stop - 1] not in LEADERS
            and _LEAST_GAP * height < left - x1 < _MOST_GAP * height
            and last_bottom == bottom
            and 0 < right - left < _WIDEST * height * (end - start)
            and text[end - 1] not in HYPHENS
        ):
            x1, stop = right, end
            continue
        if stop >= 0:
            words.append(_run(text, x0, y0, x1, y1, begin, stop))
            stop = -1
        if (
            right > left
            and height > 0
            and last_bottom < top
            and last_top > bottom
            and right - left < _WIDEST * height * (end - start)
        ):
            x0, y0, x1, y1, begin, stop = left, bottom, right, top, start, end
        else:
            words.extend(_odd_word(_plain(match.group()), start, boxes, _is_apart(text, start)))
    if stop >= 0:
        words.append(_run(text, x0, y0, x1, y1, begin, stop))
    return words


def _run(text: str, x0: float, y0: float, x1: float, y1: float, begin: int, stop: int) -> Word:
    return Word(x0, y0, x1, y1, _plain(text[begin:stop]), begin, 0, _is_apart(text, begin))


def _plain(word: str) -> str:
    return word[:-1] + "-" if word[-1] in HYPHENS else word


def _is_apart(text: str, start: int) -> bool:
    """Say whether a space stands before a word, not a line break or a hyphen at a line end."""
    return start > 0 and text[start - 1] not in "\r\n" and text[start - 1] not in HYPHENS


def _odd_word(word: str, start: int, boxes: array[float], apart: bool) -> list[Word]:
    """Read a word that does not run from left to right: turned, or of pieces that pdfium put together wrongly."""
    found = [tuple(boxes[4 * i : 4 * i + 4]) for i in range(start, start + len(word))]
    x0, y0, x1, y1 = found[0]
    across = (found[-1][0] + found[-1][2] - x0 - x1) / 2
    up = (found[-1][1] + found[-1][3] - y0 - y1) / 2
    if len(word) > 1 and abs(up) > 2 * abs(across):
        # Turned coordinates: the text runs along the first axis, the second points to its top.
        if up > 0:
            return [Word(y0, -x1, found[-1][3], -x0, word, start, 1, apart)]
        return [Word(-y1, x0, -found[-1][1], x1, word, start, 3, apart)]
    if len(word) > 1 and across < 0 and abs(up) < (y1 - y0) / 2 and all(a[0] > b[0] for a, b in pairwise(found)):
        return [Word(-x1, -y1, -found[-1][0], -y0, word, start, 2, apart)]
    return [_letter(char, start + i, found[i], apart and not i) for i, char in enumerate(word)]


def _letter(char: str, index: int, box: tuple[float, ...], apart: bool) -> Word:
    x0, y0, x1, y1 = box
    if y1 - y0 < 0.5:
        y1 = y0 + max(_HEIGHT, x1 - x0)
    return Word(x0, y0, max(x1, x0), y1, char, index, 0, apart)
