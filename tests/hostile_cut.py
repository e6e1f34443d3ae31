"""Hostile PDFs that are cut off at their end: what they hold swells only once they are mended."""

from __future__ import annotations

import re
import struct
import zlib

from hostile_files import page_of, stream


def _packed(size: int, head: bytes, filler: bytes = b" " * 1_000_000) -> bytes:
    """Return ``head`` and then ``size`` bytes of ``filler``, packed."""
    packer = zlib.compressobj(9)
    blocks = (packer.compress(filler) for _ in range(size // len(filler)))
    return packer.compress(head) + b"".join(blocks) + packer.flush()


def _cut(page: bytes, info: bytes, packed: bytes, *more: bytes, lengths: bytes = b"") -> bytes:
    """Return a PDF of one page that is cut off at its end, so that it is mended; pdfium alone reads it with ease.

    Args:
        page: what the page has beside its content.
        info: the number of the object that tells of the file, object 0 of the object stream.
        packed: the object stream (object 6), packed.
        more: objects from number 7 on.
        lengths: what stands for the lengths of all streams; empty: the true ones.
    """
    inner = stream(packed, b"/Type /ObjStm /N 1 /First 6 /Filter /FlateDecode")
    parts = [stream(b"BT /F1 9 Tf (Thank you for the machine) Tj ET"), inner, *more]
    if lengths:
        parts = [re.sub(rb"/Length \d+", b"/Length " + lengths, part, count=1) for part in parts]
    whole = page_of(parts[0], page, *parts[1:])
    start = whole.rindex(b"xref\n0")
    count = 7 + len(more)
    rows = [b"\0\0\0\0\0\0"]
    rows += [b"\1" + struct.pack(">I", whole.index(b"\n%d 0 obj" % n) + 1) + b"\0" for n in range(1, count)]
    rows += [b"\2" + struct.pack(">I", 6) + b"\0", b"\1" + struct.pack(">I", start) + b"\0"]
    table = b"/Type /XRef /W [1 4 1] /Size %d /Root 1 0 R /Info %b 0 R" % (count + 2, info)
    return whole[:start] + b"%d 0 obj\n%b\nendobj\nstartxref\n%d\n" % (count + 1, stream(b"".join(rows), table), start)


def object_stream_bomb(size: int = 900_000_000) -> bytes:
    """Return a cut PDF whose object stream unpacks to ``size`` bytes from a thousandth of it, once it is mended."""
    return _cut(b"", b"7", _packed(size, b"7 0   << /Title (x) >>"))


def object_stream_flood(size: int = 60_000_000) -> bytes:
    """Return a cut PDF whose object stream unpacks to one array of half as many numbers, each an object in memory."""
    return _cut(b"", b"7", _packed(size, b"7 0   << /Title [", b"1 " * 500_000))


def undrawn_form_bomb(size: int = 900_000_000) -> bytes:
    """Return a cut PDF with a form that the page names, does not draw, and that unpacks to ``size`` bytes."""
    form = stream(_packed(size, b""), b"/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Filter /FlateDecode")
    return _cut(b"/XObject << /X 7 0 R >>", b"8", zlib.compress(b"8 0   << /Title (x) >>"), form)


def lengths_in_each_other() -> bytes:
    """Return a cut PDF whose streams have for a length what stands in an object stream of that very length."""
    return _cut(b"", b"7", zlib.compress(b"7 0   999999999"), lengths=b"7 0 R")
