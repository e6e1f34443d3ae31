"""Files inside a PDF, and forms that only few programs show.

A PDF holds files in a tree of names (ISO 32000-1, 7.11.4), as portfolios do, or behind a mark on a page (12.5.6.15).
Call this in a reading process only.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pypdfium2
import pypdfium2.raw as pdfium

from counterfoil.settings import Limits

#: The machine's copy of what an invoice says on its pages (Factur-X and ZUGFeRD name these files).
_COPIES = frozenset({"factur-x.xml", "zugferd-invoice.xml", "xrechnung.xml", "order-x.xml"})
#: Why a form of a kind (XFA) is not read: its pages are made by a program when it is opened.
FORM = "The PDF is a form that is filled in by its own program (XFA); what was entered is not read."


def is_program_form(data: bytes, password: str = "") -> bool:
    """Say whether a PDF has no pages of its own but a program that draws them (XFA, ISO 32000-1, 12.7.8)."""
    if b"XFA" not in data and b"/ObjStm" not in data:
        return False
    pdf = _opened(data, password)
    if pdf is None:
        return False
    try:
        return bool(pdf.get_formtype() == pdfium.FORMTYPE_XFA_FULL)
    finally:
        pdf.close()


def files_inside(data: bytes, limits: Limits, password: str = "") -> list[tuple[str, bytes]]:
    """Return the files inside a PDF.

    Args:
        data: the PDF.
        limits: how many files, and bytes of each; a larger one comes one byte too long.
        password: what opens it.

    Returns:
        Name and bytes of each, each once; what cannot be unpacked comes without bytes.
    """
    if not _may_hold_files(data, password):
        return []
    # Imported here: few PDFs hold files.
    import pikepdf

    found: dict[bytes, tuple[str, bytes]] = {}
    try:
        with pikepdf.open(BytesIO(data), password=password) as pdf:
            for name, stream in _streams(pdf):
                if len(found) >= limits.parts:
                    break
                if name.lower() not in _COPIES:
                    content = _content(stream, limits.part_bytes)
                    found.setdefault(content or name.encode(), (name or "unnamed", content))
    # Damaged files make the library raise whatever their broken objects lead to; what was found until then counts.
    except (pikepdf.PdfError, pikepdf.PasswordError, ValueError, TypeError, LookupError, AttributeError, RuntimeError):
        pass
    return list(found.values())


def _may_hold_files(data: bytes, password: str) -> bool:
    if b"/EmbeddedFile" in data or b"/FileAttachment" in data:
        return True
    if b"/ObjStm" not in data:
        return False
    pdf = _opened(data, password)
    if pdf is None:
        return False
    try:
        return bool(pdfium.FPDFDoc_GetAttachmentCount(pdf.raw) > 0)
    finally:
        pdf.close()


def _opened(data: bytes, password: str) -> pypdfium2.PdfDocument | None:
    try:
        return pypdfium2.PdfDocument(data, password=password or None)
    except pypdfium2.PdfiumError:
        return None


def _streams(pdf: Any) -> Iterator[tuple[str, Any]]:
    """Hand out name and stream of each file: of the tree of names, then of the marks on the pages."""
    for name, spec in pdf.attachments.items():
        yield from _of(spec.obj, str(name))
    for page in pdf.pages:
        for mark in page.obj.get("/Annots", ()):
            if mark.get("/Subtype") == "/FileAttachment" and "/FS" in mark:
                yield from _of(mark["/FS"], "")


def _of(spec: Any, name: str) -> Iterator[tuple[str, Any]]:
    held = spec.get("/EF")
    if held is not None:
        stream = held.get("/UF", held.get("/F"))
        if stream is not None:
            yield str(spec.get("/UF", spec.get("/F", name))), stream


def _content(stream: Any, most: int) -> bytes:
    """Return the bytes of a stream, at most one more than ``most``: a packed one is not unpacked beyond."""
    raw: bytes = stream.read_raw_bytes()
    packing = stream.get("/Filter")
    if packing is None:
        return raw[: most + 1]
    if packing == "/FlateDecode" and "/DecodeParms" not in stream:
        try:
            return zlib.decompressobj().decompress(raw, most + 1)
        except zlib.error:
            return b""
    return bytes(stream.read_bytes())[: most + 1]
