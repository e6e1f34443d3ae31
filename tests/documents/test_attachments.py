"""Attached files: taken out again as they were, wherever in the message they stand."""

from __future__ import annotations

import base64
import re

import pdf_papers as papers
from mail_parts import HEAD, LIMITS, multipart, part

from counterfoil.documents.attachments import all_files, attachments
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


def test_every_kind_of_file() -> None:
    """Of all files, content packs and named texts come out too; what the sender wrote into the message does not."""
    packed = b"PK\x03\x04 not a real zip \x00\xff"
    data = multipart(
        part("Hi", "text/plain"),
        part("<p>Hi</p>", "text/html"),
        part(packed, "application/zip; name=motifs.zip"),
        part(b"#PES0001\x00", 'application/octet-stream; name="rose.pes"'),
        part("read me", "text/plain; name=readme.txt"),
        part(b"BEGIN:VCARD", "text/vcard; name=card.vcf"),
        part(INNER, "message/rfc822"),
    )
    files, complete = all_files(data, LIMITS)
    assert [name for name, _ in files] == ["motifs.zip", "rose.pes", "readme.txt", "inner.pdf"]
    assert files[0][1] == packed and files[1][1] == b"#PES0001\x00"
    assert complete


def test_all_files_say_when_they_are_not_all() -> None:
    """Beyond the number of parts or bytes that are looked at, the answer says that something is missing."""
    data = multipart(*(part(PDF, f"application/pdf; name={i}.pdf") for i in range(5)))
    files, complete = all_files(data, Limits(parts=3))
    assert (len(files), complete) == (3, False)
    assert all_files(data, Limits(message_bytes=100))[1] is False
    assert len(all_files(data, Limits(part_bytes=10))[0]) == 5
