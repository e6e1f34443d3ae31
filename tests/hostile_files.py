"""Hostile PDFs and mails made in a few lines each, for tests of the bounds on reading."""

from __future__ import annotations

import zlib
from email.message import EmailMessage


def pdf(*objects: bytes, root: int = 1) -> bytes:
    """Return a PDF of numbered objects with a right cross-reference table.

    Args:
        objects: the bodies of objects 1, 2, 3 ...
        root: the number of the catalogue.
    """
    out = bytearray(b"%PDF-1.7\n")
    offsets = []
    for number, body in enumerate(objects, start=1):
        offsets.append(len(out))
        out += b"%d 0 obj\n%b\nendobj\n" % (number, body)
    start = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    for offset in offsets:
        out += b"%010d 00000 n \n" % offset
    out += b"trailer\n<< /Size %d /Root %d 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (len(objects) + 1, root, start)
    return bytes(out)


def stream(data: bytes, more: bytes = b"") -> bytes:
    """Return a stream object."""
    return b"<< /Length %d %b >>\nstream\n%b\nendstream" % (len(data), more, data)


def page_of(content: bytes, resources: bytes = b"", *more: bytes) -> bytes:
    """Return a PDF of one page; ``content`` is its stream object, ``more`` are objects from number 6 on."""
    font = b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>"
    page = (
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 4 0 R"
        b" /Resources << /Font << /F1 5 0 R >> %b >> >>" % resources
    )
    return pdf(
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        page,
        content,
        font,
        *more,
    )


def flate_bomb(size: int = 1_200_000_000) -> bytes:
    """Return a PDF whose page unpacks to ``size`` bytes from a thousandth of it."""
    packer = zlib.compressobj(9)
    block = b" " * 10_000_000
    data = b"".join(packer.compress(block) for _ in range(size // len(block))) + packer.flush()
    return page_of(stream(data, b"/Filter /FlateDecode"))


def many_operators(count: int = 2_000_000) -> bytes:
    """Return a PDF whose one page draws ``count`` pieces of text."""
    content = zlib.compress(b"BT /F1 1 Tf\n" + b"1 0 Td (a) Tj\n" * count + b"ET", 9)
    return page_of(stream(content, b"/Filter /FlateDecode"))


def recursive_forms(depth: int = 40) -> bytes:
    """Return a PDF with forms that draw each other twice, down to ``depth``: 2 to that power drawings."""
    forms = []
    for level in range(depth):
        inner = b"/X Do /X Do" if level < depth - 1 else b"BT /F1 9 Tf (x) Tj ET"
        resources = b"/Resources << /XObject << /X %d 0 R >> /Font << /F1 5 0 R >> >>" % (7 + level)
        forms.append(stream(inner, b"/Type /XObject /Subtype /Form /BBox [0 0 99 99] %b" % resources))
    return page_of(stream(b"/X Do /X Do"), b"/XObject << /X 6 0 R >>", *forms)


def bombs_inside(count: int = 40, size: int = 200_000_000) -> bytes:
    """Return a PDF that holds files, each of which unpacks to a thousand times its size."""
    packer = zlib.compressobj(9)
    packed = b"".join(packer.compress(b"\0" * 10_000_000) for _ in range(size // 10_000_000)) + packer.flush()
    names = b" ".join(b"(%d.txt) %d 0 R" % (n, 5 + n) for n in range(count))
    specs = [b"<< /Type /Filespec /F (%d.txt) /EF << /F 4 0 R >> >>" % n for n in range(count)]
    return pdf(
        b"<< /Type /Catalog /Pages 2 0 R /Names << /EmbeddedFiles << /Names [%b] >> >> >>" % names,
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] >>",
        stream(packed, b"/Type /EmbeddedFile /Filter /FlateDecode"),
        *specs,
    )


def files_in_circles() -> bytes:
    """Return a PDF whose tree of names leads back to itself, with marks whose files are the page."""
    page = b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Annots [4 0 R 4 0 R] >>"
    return pdf(
        b"<< /Type /Catalog /Pages 2 0 R /Names << /EmbeddedFiles 5 0 R >> >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        page,
        b"<< /Subtype /FileAttachment /FS << /EF << /F 3 0 R >> >> >>",
        b"<< /Type /EmbeddedFile /Kids [5 0 R 5 0 R] /Names [(a) 5 0 R (b) 3 0 R] >>",
    )


def mail(*files: tuple[str, bytes], text: str = "See the files.") -> bytes:
    """Return a mail with PDFs attached."""
    message = EmailMessage()
    message["From"] = "Marit Solvang <marit@letterbox.example>"
    message["To"] = "desk@naht.example"
    message["Subject"] = "My confirmation"
    message["Date"] = "Tue, 03 Mar 2026 10:00:00 +0000"
    message.set_content(text)
    for name, data in files:
        message.add_attachment(data, maintype="application", subtype="pdf", filename=name)
    return message.as_bytes()
