"""PDF to text in visual lines, every character with its box.

pdfium reads; values of form fields are drawn into the page first. What pdfium cannot open, or opens with pages that
say nothing, is mended and read again; then pdfplumber tries. A PDF that opens and yields no character is told apart: a
scan, nothing at all, or damage.
"""

from __future__ import annotations

import contextlib
import logging
from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from io import BytesIO
from typing import Any, cast

import pypdfium2
import pypdfium2.raw as pdfium

from counterfoil.documents.pdf_layout import Builder, Mark, TextLine, Word
from counterfoil.documents.pdf_page import page_words
from counterfoil.documents.pdf_pictures import may_show_symbol, shows_large_picture
from counterfoil.documents.pdf_repair import Mended, mend
from counterfoil.documents.pdf_rules import Ruled, cells_between, ruled_cells
from counterfoil.documents.pdf_tables import arrange
from counterfoil.documents.pdf_under import unseen, upright
from counterfoil.model import Document, Line, Problem
from counterfoil.settings import Limits

MEDIA_TYPE = "application/pdf"
#: A page with a picture and less text than this, in characters, is a scan with a stamp or a footer of the scanner.
_SCAN_CHARS = 40
#: Objects of a page that are looked at for pictures.
_OBJECTS = 500
#: Lines and edges of drawings that are looked at for tables where pdfplumber reads.
_EDGES = 4_000
#: A file larger than this, in bytes, is not tried with pdfplumber, which takes a hundred times as long.
_SLOW_BYTES = 5_000_000
#: How a person gives a password; it is kept in a file of its own, and nowhere else.
_HOW = (
    "Note one customer's with: counterfoil password CUSTOMER. One that the maker uses for all goes on a line of its own"
    " into the file that pdf_password_file names in counterfoil.toml. Then run: counterfoil reread --write"
)


@dataclass(frozen=True, slots=True)
class PdfText:
    """What a PDF says: text, lines, boxes of characters (see :class:`counterfoil.model.Document`), pages, problem.

    ``silent``: whether a page without any content was met, which a broken file has as well as a blank one. ``mended``:
    the bytes that were read where the file had to be mended first, else empty. ``password``: what opened it.
    """

    text: str = ""
    lines: tuple[Line, ...] = ()
    marks: tuple[Mark, ...] = ()
    pages: int = 0
    problem: Problem | None = None
    reason: str = ""
    silent: bool = False
    mended: bytes = b""
    password: str = field(default="", repr=False)
    scans: tuple[int, ...] = ()
    """Pages, from 1, that are pictures without text, or show a large picture beside their text."""
    drawn: tuple[int, ...] = ()
    """Pages, from 1, on which a QR or bar code may stand: those with pictures or many small shapes."""
    under: Builder | None = field(default=None, repr=False)
    """Lines of text that pages hold and do not show, beside a picture: a scanner's reading of it."""
    bare: bool = False
    """Whether a page is a picture without any text, seen or not."""


def pdf_document(name: str, layer: int, data: bytes, limits: Limits) -> Document:
    """Read a PDF as a document of a message, see :func:`document_of`."""
    return document_of(read_pdf(data, limits), name, layer, data)


def document_of(read: PdfText, name: str, layer: int, data: bytes) -> Document:
    """Return what a PDF says as a document of a message.

    Args:
        read: what it says.
        name: the document's name.
        layer: the layer it came with.
        data: the file.
    """
    return Document(
        name,
        layer,
        read.text,
        read.lines,
        media_type=MEDIA_TYPE,
        pages=read.pages,
        problem=read.problem,
        reason=read.reason,
        size=len(data),
        marks=read.marks,
    )


def layer_of(read: PdfText, label: str, layer: int, data: bytes) -> list[Document]:
    """Return what pages hold and do not show as a document of its own, read by eye; none where there is nothing.

    Args:
        read: what the PDF says.
        label: the file's name.
        layer: the layer it came with.
        data: the file.
    """
    under = read.under
    if under is None:
        return []
    lines, marks = tuple(under.lines), cast("tuple[Mark, ...]", under.marks)
    turns, size = (0,) * read.pages, len(data)
    name = f"layer:{label}"
    return [Document(name, layer, under.text, lines, MEDIA_TYPE, pages=read.pages, size=size, marks=marks, turns=turns)]


def read_pdf(data: bytes, limits: Limits, passwords: Sequence[str] = ()) -> PdfText:
    """Read a PDF.

    Args:
        data: the file; bytes before its header are passed over.
        limits: pages, characters and objects that are read.
        passwords: tried on a locked file, in this order.

    Returns:
        The text. ``problem`` is ENCRYPTED, SCANNED, DAMAGED, EMPTY or TOO_LARGE where some or all of it is
        missing; what was read is kept.
    """
    header = data.find(b"%PDF-")
    if header > 0:
        data = data[header:]
    read = _open(data, limits, passwords)
    if read is not None and read.problem is not Problem.ENCRYPTED and _is_cut_update(data):
        # What stands before the update opens without a fault, and may hold a value that the update replaced.
        return _with_problem(read, "The PDF is cut off in what was added last: what is read may be out of date.")
    if read is not None and (read.problem is Problem.ENCRYPTED or read.password):
        return read
    if read is not None and not read.silent and read.problem is not Problem.DAMAGED and not _is_cut(data):
        return read
    mended = mend(data, limits)
    if mended is not None and (better := _mended(read, mended, limits)) is not None:
        return better
    if read is not None and read.text:
        return _with_problem(read, "The PDF is damaged; only what could be found was read.")
    return _read_slowly(data, limits) if len(data) <= _SLOW_BYTES else _damaged()


def _open(data: bytes, limits: Limits, passwords: Sequence[str]) -> PdfText | None:
    """Read with pdfium, with the first password that opens; None where it cannot be opened at all."""
    for password in ("", *passwords):
        try:
            read = _read(data, limits, password)
            return replace(read, password=password) if password else read
        except pypdfium2.PdfiumError as error:
            if getattr(error, "err_code", None) not in (pdfium.FPDF_ERR_PASSWORD, pdfium.FPDF_ERR_SECURITY):
                return None
    tried = " that is not among those known" if passwords else ""
    return PdfText(problem=Problem.ENCRYPTED, reason=f"The PDF asks for a password{tried}. {_HOW}")


def _is_cut(data: bytes) -> bool:
    """Say whether the end of the file is gone (ISO 32000-1, 7.5.5); a file for slow lines has two ends (annex F)."""
    return data.count(b"%%EOF") < (2 if b"/Linearized" in data[:1024] else 1)


def _is_cut_update(data: bytes) -> bool:
    """Say whether objects follow the last end of the file: an update (ISO 32000-1, 7.5.6) that has lost its own end."""
    last = data.rfind(b"%%EOF")
    return last >= 0 and data[last + 5 : last + 40].lstrip()[:1].isdigit()


def _mended(first: PdfText | None, mended: Mended, limits: Limits) -> PdfText | None:
    """Choose between what was read before mending and after it, and say what is lost; None: mending did not help."""
    lost = mended.gaps or mended.missing
    if first is not None and mended.sound and not lost:
        return first
    again = _open(mended.data, limits, ())
    if again is None or again.problem is Problem.ENCRYPTED:
        return None
    # What pdfium found by itself is kept where mending brings nothing more.
    best = first if first is not None and len(first.text) >= len(again.text) else replace(again, mended=mended.data)
    if lost:
        where = f"page {', '.join(map(str, mended.gaps[:5]))}" if mended.gaps else f"{mended.missing} of its pages"
        return _with_problem(best, f"The PDF is damaged: {where} cannot be read in full.")
    if not best.text and best.problem in (None, Problem.EMPTY):
        return replace(best, problem=Problem.DAMAGED, reason="The PDF is damaged: no text can be found in it.")
    return best


def _with_problem(read: PdfText, reason: str) -> PdfText:
    """Say that a PDF is damaged, unless something worse is known."""
    known = read.problem in (Problem.SCANNED, Problem.TOO_LARGE)
    return read if known else replace(read, problem=Problem.DAMAGED, reason=reason)


def _damaged() -> PdfText:
    return PdfText(problem=Problem.DAMAGED, reason="The PDF is damaged and cannot be opened.")


def _read(data: bytes, limits: Limits, password: str) -> PdfText:
    builder, under = Builder(), Builder()
    problem: tuple[Problem, str] | None = None
    scans = damaged = 0
    silent = bare = False
    pictured: list[int] = []
    drawn: list[int] = []
    with contextlib.closing(pypdfium2.PdfDocument(data, password=password or None)) as pdf:
        pages = len(pdf)
        has_form = pdf.get_formtype() != pdfium.FORMTYPE_NONE
        if has_form:
            pdf.init_forms()
        for number in range(min(pages, limits.pdf_pages)):
            left = limits.pdf_chars - builder.length - under.length
            with _page(pdf, number, has_form) as page:
                if page is None:
                    damaged += 1
                    continue
                if pdfium.FPDFPage_CountObjects(page) > limits.page_objects:
                    problem = Problem.TOO_LARGE, f"Page {number + 1} has too many objects to be read."
                    continue
                before = under.length
                count = _add_page(builder, under, pdf, page, number + 1, left)
                scan = count < _SCAN_CHARS and (_has_picture(page) or (not count and _has_drawing(page)))
                scans += scan
                bare |= scan and under.length == before
                pictured += [number + 1] * (scan or shows_large_picture(page))
                drawn += [number + 1] * (scan or may_show_symbol(page))
                silent |= not count and not pdfium.FPDFPage_CountObjects(page)
            if count > left:
                problem = Problem.TOO_LARGE, f"The PDF has more than the {limits.pdf_chars:,} characters that are read."
                break
    if problem is None and pages > limits.pdf_pages:
        problem = Problem.TOO_LARGE, f"The PDF has {pages:,} pages; the first {limits.pdf_pages} were read."
    problem = problem or _why_little(builder.length, pages, scans, damaged)
    read = _result(builder, pages, problem)
    unseen_text = under if under.length else None
    return replace(read, silent=silent, scans=tuple(pictured), drawn=tuple(drawn), under=unseen_text, bare=bare)


def _why_little(length: int, pages: int, scans: int, damaged: int) -> tuple[Problem, str] | None:
    """Return the problem of a PDF with little or no text, None when there is none."""
    if scans and scans + damaged == pages and length < _SCAN_CHARS * pages:
        return Problem.SCANNED, "The PDF is a scan: pictures of pages, without text."
    if damaged:
        which = "The PDF is damaged: none" if damaged == pages else f"The PDF is damaged: {damaged} of {pages}"
        return (
            Problem.DAMAGED,
            f"{which} of its pages can be read." if damaged == pages else f"{which} pages are missing.",
        )
    if not length:
        if pages and not scans:
            return Problem.EMPTY, "There is no text in the PDF, and no picture."
        return (
            (Problem.SCANNED, "The PDF shows pictures, without text.")
            if scans
            else (
                Problem.DAMAGED,
                "The PDF opens and has no pages.",
            )
        )
    return None


def _result(builder: Builder, pages: int, problem: tuple[Problem, str] | None) -> PdfText:
    kind, reason = problem or (None, "")
    # The boxes are worked out on demand; the sequence is one of the kind that the model asks for.
    marks = cast("tuple[Mark, ...]", builder.marks)
    return PdfText(builder.text, tuple(builder.lines), marks, pages, kind, reason)


@contextlib.contextmanager
def _page(pdf: pypdfium2.PdfDocument, number: int, has_form: bool) -> Iterator[object | None]:
    """Open a page, with the values of its form fields drawn into it; None where it cannot be opened."""
    if has_form:
        with contextlib.suppress(pypdfium2.PdfiumError), contextlib.closing(pdf[number]) as fields:
            fields.flatten()
    page = pdfium.FPDF_LoadPage(pdf.raw, number)
    if not page:
        yield None
        return
    try:
        yield page
    finally:
        pdfium.FPDF_ClosePage(page)


def _add_page(
    builder: Builder, under: Builder, pdf: pypdfium2.PdfDocument, page: object, number: int, most: int
) -> int:
    """Add a page's text, what is not seen of it to another builder; return how many characters of it are seen."""
    text_page = pdfium.FPDFText_LoadPage(page)
    if not text_page:
        return 0
    try:
        words, boxes, count = page_words(text_page, most)
        hidden = unseen(pdf.raw, page, text_page, words) if words and shows_large_picture(page) else set()
        if hidden:
            place = upright(page)
            others, moved = page_words(text_page, most, place)[:2] if place is not None else (words, boxes)
            under.add_page(number, [word for word in others if word.start in hidden], moved)
            words = [word for word in words if word.start not in hidden]
            # A page cut off at the limit stays one: what is left says so by its number of characters.
            count = count if count > most else sum(len(word.text) for word in words)
    finally:
        pdfium.FPDFText_ClosePage(text_page)
    if words:
        builder.add_page(number, *_in_cells(words, ruled_cells(page, words), boxes))
    return count if words else 0


def _in_cells(
    words: list[Word], cells: list[Ruled], boxes: array[float]
) -> tuple[list[Word], array[float], list[TextLine]]:
    """Return what :meth:`Builder.add_page` takes: words, boxes, and lines put in order by the cells."""
    if not cells:
        return words, boxes, []
    rest, lines = arrange(words, cells, boxes)
    return rest, boxes, lines


def _has_picture(page: object) -> bool:
    """Say whether a page shows a picture, also inside a form of drawings or as one path of a fax."""
    for number in range(min(pdfium.FPDFPage_CountObjects(page), _OBJECTS)):
        kind = pdfium.FPDFPageObj_GetType(pdfium.FPDFPage_GetObject(page, number))
        if kind in (pdfium.FPDF_PAGEOBJ_IMAGE, pdfium.FPDF_PAGEOBJ_FORM):
            return True
    return False


def _has_drawing(page: object) -> bool:
    """Say whether a page without characters shows something: letters drawn as lines look like text to a reader."""
    return bool(pdfium.FPDFPage_CountObjects(page) > 0)


def _read_slowly(data: bytes, limits: Limits) -> PdfText:
    """Read with pdfplumber what pdfium cannot open."""
    # Imported here: it takes as long to import as many PDFs take to read, and few need it.
    import pdfplumber
    from pdfplumber.utils.exceptions import PdfminerException

    # It logs every oddity of a damaged file; that the file is damaged is said once, below.
    logging.getLogger("pdfminer").setLevel(logging.CRITICAL)
    builder = Builder()
    pages = 0
    locked = False
    try:
        with pdfplumber.open(BytesIO(data)) as pdf:
            pages = len(pdf.pages)
            for number, page in enumerate(pdf.pages[: limits.pdf_pages], start=1):
                _add_slow_page(builder, page, number)
                page.close()
                if builder.length > limits.pdf_chars:
                    break
    except PdfminerException as error:
        locked = "Password" in repr(error)
    # On damaged files the libraries raise whatever the broken tokens lead to (KeyError, TypeError, struct.error,
    # RecursionError); each means the same: the rest cannot be read.
    except Exception:  # noqa: BLE001
        locked = False
    if locked:
        return PdfText(problem=Problem.ENCRYPTED, reason=f"The PDF asks for a password. {_HOW}")
    if not builder.length:
        return _damaged()
    return _result(builder, pages, (Problem.DAMAGED, "The PDF is damaged; only what could be found was read."))


def _add_slow_page(builder: Builder, page: Any, number: int) -> None:
    height = float(page.height)
    words: list[Word] = []
    boxes = array("f")
    for found in page.filter(_is_upright).extract_words(x_tolerance=2):
        text = str(found["text"])
        box = float(found["x0"]), height - float(found["bottom"]), float(found["x1"]), height - float(found["top"])
        words.append(Word(*box, text, len(boxes) // 4))
        boxes.extend(_shares(box, len(text)))
    strokes = [
        (float(edge["x0"]), height - float(edge["bottom"]), float(edge["x1"]), height - float(edge["top"]))
        for edge in page.edges[:_EDGES]
    ]
    if words:
        builder.add_page(number, *_in_cells(words, cells_between(strokes, words), boxes))


def _is_upright(thing: dict[str, Any]) -> bool:
    """Say whether a character stands upright: this reader takes turned text apart, or reads it backwards."""
    return bool(thing.get("upright", True)) and float(thing.get("matrix", (1,))[0]) >= 0


def _shares(box: Mark, count: int) -> Iterator[float]:
    """Hand out even shares of a word's box, one for each character."""
    x0, y0, x1, y1 = box
    step = (x1 - x0) / max(count, 1)
    for number in range(count):
        yield from (x0 + step * number, y0, x0 + step * (number + 1), y1)
