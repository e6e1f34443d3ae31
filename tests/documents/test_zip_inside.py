"""Zip files that were attached: what is in them is read, once and within bounds; what is not is said."""

from __future__ import annotations

import re
import zipfile

import pytest
from mail_parts import doc, mail, multipart, names, part, read
from odd_mail import packed, page

from counterfoil.documents.message import read_message
from counterfoil.documents.opening import FilesInside, Opening
from counterfoil.model import Message, Problem
from counterfoil.settings import Limits

PDF = page("Machine ID: HG-482913-K")
LIMITS = Limits()


def attached(data: bytes, limits: Limits = LIMITS) -> Message:
    """Return a read message with a zip file."""
    return read(multipart(part("Hi", "text/plain"), part(data, "application/zip; name=a.zip")), limits)


@pytest.mark.parametrize("how", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
def test_every_file_in_it_is_read(how: int) -> None:
    """PDFs, texts and messages in a zip file are read however they are packed; what systems add is passed over."""
    inner = mail("Serial number: 8812-00731\n")
    data = packed(("in/a.pdf", PDF), ("b.pdf", PDF), ("c.txt", b"Key"), ("d.eml", inner), ("__MACOSX/e", b"x"), how=how)
    message = attached(data)
    assert names(message) == ["body", "pdf:b.pdf", "file:c.txt", "attached:1", "pdf:a.pdf"]
    assert doc(message, "pdf:a.pdf").text == doc(message, "pdf:b.pdf").text == "Machine ID: HG-482913-K"
    assert doc(message, "attached:1").layer == 1


def test_it_is_opened_in_a_reading_process_only() -> None:
    """The run itself opens none, and one that is left out says why."""
    data = multipart(part("Hi", "text/plain"), part(packed(("a.pdf", PDF)), "application/zip; name=a.zip"))
    with pytest.raises(FilesInside):
        read_message(data, LIMITS, opening=Opening(stop=True))
    message = read_message(data, LIMITS, opening=Opening(frozenset(), "It was left out."))
    assert (names(message), message.documents[1].reason) == (["body", "file:a.zip"], "It was left out.")


def test_what_cannot_be_read_is_said() -> None:
    """A damaged file, a damaged entry, a locked one, a zip in it, and one with nothing to read are questions."""
    assert doc(attached(b"PK\x03\x04xx"), "file:a.zip").problem is Problem.DAMAGED
    whole = packed(("a.pdf", PDF), ("b.txt", b"Hello"), how=zipfile.ZIP_STORED)
    broken = attached(whole.replace(b"Hello", b"Hullo"))
    assert (doc(broken, "file:b.txt").problem, doc(broken, "pdf:a.pdf").problem) == (Problem.DAMAGED, None)
    # Bit 0 of the general flags says that an entry is encrypted (APPNOTE.TXT, section 4.4.4).
    locked = re.sub(rb"(PK\x01\x02....)\0\0", lambda m: m[1] + b"\1\0", whole, flags=re.DOTALL)
    assert doc(attached(locked), "file:b.txt").problem is Problem.ENCRYPTED
    nested = attached(packed(("b.zip", packed(("a.pdf", PDF))), ("c.txt", b"Hi")))
    assert "not opened" in doc(nested, "file:b.zip").reason
    pack = doc(attached(packed(("rose.pes", b"#PES0001"))), "file:a.zip")
    assert (pack.problem, ".pes" in pack.reason) == (Problem.UNKNOWN_TYPE, True)


def test_limits() -> None:
    """Entries, bytes of one, and bytes of all are bounded, by what they really hold, and it is said."""
    many = packed(*((f"{n}.txt", b"x" * 100) for n in range(9)))
    found = attached(many, Limits(zip_entries=4))
    assert len(found.documents) == 6
    assert "9 entries" in doc(found, "file:a.zip").reason
    large = attached(packed(("a.txt", b"x" * 300_000), ("b.txt", b"y")), Limits(part_bytes=100_000))
    assert doc(large, "file:a.txt").problem is Problem.TOO_LARGE
    assert doc(large, "file:b.txt").text == "y"
    bomb = attached(packed(*((f"{n}.txt", b"x" * 300_000) for n in range(5))), Limits(unpacked_bytes=500_000))
    assert sum(d.problem is Problem.TOO_LARGE for d in bomb.documents) >= 1
    assert sum(d.size for d in bomb.documents if d.problem is None) < 500_000
