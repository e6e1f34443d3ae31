"""Boundaries of parts that are used twice."""

from __future__ import annotations

from counterfoil.documents.attachments import all_files
from counterfoil.documents.message import read_message
from counterfoil.settings import Limits

HEAD = b"From: m@x.example\r\nSubject: Code\r\nMIME-Version: 1.0\r\nContent-Type: multipart/mixed; boundary=b\r\n\r\n"
INNER = b"--b\r\nContent-Type: multipart/alternative; boundary=b\r\n\r\n--b\r\n\r\nSee the file.\r\n--b--\r\n\r\n"
FILE = (
    b"--b\r\nContent-Type: text/plain; name=a.txt\r\nContent-Disposition: attachment\r\n\r\n"
    b"Machine ID: HG-1\r\n--b--\r\n"
)


def test_a_boundary_used_inside_itself_loses_no_file() -> None:
    """A multipart that uses the boundary of the one around it ends both; what stands behind is read all the same."""
    message = read_message(HEAD + INNER + FILE, Limits())
    texts = {document.name: document.text for document in message.documents}
    assert texts == {"body": "See the file.", "file:a.txt": "Machine ID: HG-1"}
    assert any("behind the end" in defect for defect in message.defects)
    files, whole = all_files(HEAD + INNER + FILE.replace(b"--b\r\nC", b"--b \t\r\nC", 1), Limits())
    assert [name for name, _ in files] == ["a.txt"]
    assert whole


def test_words_behind_the_end_are_no_parts() -> None:
    """What stands behind the last boundary and is no part stays out, as RFC 2046 section 5.1.1 says."""
    message = read_message(HEAD + FILE + b"\r\nThis is the epilogue. --b\r\n", Limits())
    assert [document.name for document in message.documents] == ["file:a.txt"]
    assert not any("behind the end" in defect for defect in message.defects)
