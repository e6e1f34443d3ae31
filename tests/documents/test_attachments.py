"""Attached files: taken out again as they were, wherever in the message they stand."""

from __future__ import annotations

import base64
import re

import pdf_papers as papers
from mail_parts import HEAD, LIMITS, multipart, part

from counterfoil.documents.attachments import attachments
from counterfoil.settings import Limits

PDF = papers.paper(papers.beside)
PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 40
INNER = multipart(part("Hi", "text/plain"), part(PDF, "application/pdf; name=inner.pdf"), head=HEAD)


def test_pdfs_and_pictures() -> None:
    """PDFs and pictures come out byte for byte, named or not; texts do not."""
    data = multipart(
        part("Hi", "text/plain"),
        part(PDF, "application/pdf; name=a.pdf"),
        part(PDF, "application/octet-stream"),
        part(PNG, "image/png; name=b.png"),
    )
    assert attachments(data, LIMITS) == [("a.pdf", PDF), ("", PDF), ("b.png", PNG)]


def test_inside_attached_messages() -> None:
    """Files inside attached messages come out, also when the message was encoded or attached as a file."""
    plain = b"Content-Type: message/rfc822\n\n" + INNER
    encoded = b"Content-Type: message/rfc822\nContent-Transfer-Encoding: base64\n\n" + base64.encodebytes(INNER)
    for wrapped in (plain, encoded, part(INNER, "application/octet-stream; name=original.eml")):
        assert attachments(multipart(part("Hi", "text/plain"), wrapped), LIMITS) == [("inner.pdf", PDF)]


def test_broken_multipart() -> None:
    """Files of a multipart that names another boundary than it uses come out all the same."""
    broken = re.sub(rb'boundary="[^"]+"', b'boundary="other"', INNER, count=1)
    assert attachments(broken, LIMITS) == [("inner.pdf", PDF)]


def test_limits() -> None:
    """Parts beyond the limits on number, size and depth are left out."""
    data = multipart(*(part(PDF, f"application/pdf; name={i}.pdf") for i in range(5)))
    assert len(attachments(data, Limits(parts=3))) == 3
    assert attachments(data, Limits(part_bytes=10)) == []
    assert attachments(data, Limits(mime_depth=0)) == []
