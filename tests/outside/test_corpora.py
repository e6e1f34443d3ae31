"""Long runs over messages and PDFs of other projects; a second library has its say on each. Sources: see corpora.py.

A collection that is not on the machine fails these tests, and the sentence says how to get it.
"""

from __future__ import annotations

import email
import email.policy
import logging
import re
import unicodedata
import warnings
from datetime import UTC, datetime
from email.message import EmailMessage
from pathlib import Path

import mailparser
import pdfplumber
import pytest
from corpora import files, python_messages

from counterfoil.documents.message import read_message
from counterfoil.documents.pdf import PdfText, read_pdf
from counterfoil.model import Message, Problem
from counterfoil.settings import Limits

pytestmark = pytest.mark.long

WORD = re.compile(r"\w{2,}")
#: Share of the second opinion's words that have to be in ours, in one file and in all of them.
SHARE_ONE, SHARE_ALL = 0.95, 0.98
#: Files whose text stands across the page, which pdfplumber reads from top to bottom or from right to left.
ACROSS = {"AutoCad_Diagram.pdf", "indirect-rotation.pdf", "test Orient.pdf"}
#: Words of a file below which a share says little.
FEW = 15


def plain(text: object) -> str:
    """Return text with single spaces."""
    return " ".join(str(text or "").split())


def read(path: Path) -> Message:
    """Read a message; that nothing is lost on the way is checked here for all of them."""
    data = path.read_bytes()
    message = read_message(data, Limits())
    assert message.size == len(data)
    assert message.layers, path.name
    assert message.documents, path.name
    assert all(document.text or document.problem for document in message.documents), path.name
    assert not any("only its header was read" in defect for defect in message.defects), (path.name, message.defects)
    return message


def same_moment(ours: datetime | None, theirs: datetime | None) -> bool:
    """Compare moments; one without an offset is in UTC."""
    if ours is None or theirs is None:
        return ours is theirs
    return ours == (theirs if theirs.tzinfo else theirs.replace(tzinfo=UTC))


def test_mails_of_mail_parser() -> None:
    """Every mail of mail-parser's tests has the sender, recipients, subject, date and files that mail-parser sees."""
    paths = [path for path in files("mail-parser") if path.name != "mail_outlook_1"]  # that one is no mail: a .msg
    assert len(paths) >= 20
    for path in paths:
        message, theirs = read(path), mailparser.parse_from_bytes(path.read_bytes())
        head = message.head
        assert [a for _, a in theirs.from_[:1]] == ([head.sender.address] if head.sender else []), path.name
        assert [a for _, a in theirs.to] == [box.address for box in head.to], path.name
        assert same_moment(head.date, theirs.date), path.name
        # In one mail a character outside the declared gb2312 makes mail-parser lose others.
        if path.name != "mail_test_9":
            assert plain(theirs.subject) == plain(head.subject), path.name
        named = " ".join(document.name for document in message.documents)
        for file in theirs.attachments:
            stem = str(file["filename"]).rpartition(".")[0]
            if file["mail_content_type"].startswith("application/") and stem.isascii():
                assert stem in named, (path.name, file["filename"])


def addresses(message: EmailMessage, field: str) -> list[str]:
    """Return the whole addresses of a field as the standard library reads them."""
    found = [box.addr_spec for value in message.get_all(field, []) for box in value.addresses]
    return [address for address in found if "@" in address]


def test_messages_of_cpython() -> None:
    """Every message of CPython's own tests has the envelope and all the words that the standard library sees."""
    paths = sorted(python_messages().glob("msg_*.txt"))
    assert len(paths) >= 45
    for path in paths:
        message = read(path)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            theirs = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
        assert isinstance(theirs, EmailMessage)
        head = message.head
        assert addresses(theirs, "from")[:1] == ([head.sender.address] if head.sender else []), path.name
        assert addresses(theirs, "to") == [box.address for box in head.to], path.name
        assert plain(theirs["subject"]) == plain(head.subject), path.name
        if theirs["date"] is not None and theirs["date"].datetime is not None:
            assert same_moment(head.date, theirs["date"].datetime), path.name
        # The words of a forward's header block went into its layer.
        ours = set(WORD.findall(" ".join(document.text for document in message.documents)))
        if any(layer.how == "inline" for layer in message.layers) or path.name == "msg_36.txt":
            continue  # in the other one the text is behind a pointer to a file elsewhere, and no text
        for part in theirs.walk():
            if part.get_content_type() == "text/plain" and not part.is_multipart():
                assert set(WORD.findall(str(part.get_content()))) <= ours, path.name


@pytest.mark.parametrize(
    ("name", "subjects"),
    [
        ("msg_02.txt", ["[Ppp] testing #1", "", "[Ppp] testing #3", "[Ppp] testing #4", "[Ppp] testing #5"]),
        ("msg_06.txt", ["testing"]),
        ("msg_11.txt", ["An enclosed message"]),
        ("msg_28.txt", ["ee", "ee"]),
        ("msg_30.txt", ["ee", "ee"]),
        ("msg_46.txt", ["GroupwiseForwardingTest"]),
    ],
)
def test_messages_inside_messages_of_cpython(name: str, subjects: list[str]) -> None:
    """Digests and attached messages come out as layers of their own, in order."""
    layers = read(python_messages() / name).layers
    assert [layer.subject for layer in layers if layer.how == "attached"] == subjects


def second_opinion(path: Path) -> list[str]:
    """Return the words of a PDF's first pages as pdfplumber reads them."""
    logging.getLogger("pdfminer").setLevel(logging.CRITICAL)
    words: list[str] = []
    with pdfplumber.open(path) as pdf:
        for page in pdf.pages[:10]:
            words += WORD.findall(page.extract_text() or "")
            page.close()
    return words


def test_pdfs_of_pypdf() -> None:
    """Every PDF of pypdf's tests has text or a stated problem; pdfplumber's words are in ours, per file and in all."""
    paths = [path for path in files("pypdf", "*.pdf") if path.name != "issue-301.pdf"]  # eight words, three seconds
    assert len(paths) >= 60
    seen = shared = 0
    for path in paths:
        text = read_pdf(path.read_bytes(), Limits())
        assert text.text or text.problem, path.name
        if text.problem is Problem.ENCRYPTED or path.name in ACROSS:
            continue
        words = second_opinion(path)
        # What a scanner's program put over its picture is read as well, as a document of its own.
        ours = set(WORD.findall(text.text + ("" if text.under is None else f"\n{text.under.text}")))
        common = sum(word in ours for word in words)
        seen, shared = seen + len(words), shared + common
        if len(words) > FEW and common < SHARE_ONE * len(words):
            assert path.name in {"hello-world.pdf", "multilang.pdf"}, (path.name, common, len(words))
    assert seen > 14_000
    assert shared >= SHARE_ALL * seen, (shared, seen)


def test_locked_pdfs_of_pypdf() -> None:
    """A PDF that asks for a password is said to be locked; one with an empty password, or an owner's only, is read."""
    read_all: dict[str, PdfText] = {
        path.name: read_pdf(path.read_bytes(), Limits()) for path in files("pypdf", "r?-*.pdf")
    }
    locked = {name for name in read_all if "user-password" in name or "both" in name or "cleartext" in name}
    assert len(locked) >= 7
    for name, text in read_all.items():
        assert (text.problem is Problem.ENCRYPTED) == (name in locked), name
        assert bool(text.text) != (name in locked), name


def test_published_text_of_pypdf() -> None:
    """The text that pypdf's tests expect of their best known page is ours, word for word."""
    (page,) = files("pypdf", "crazyones.pdf")
    (expected,) = files("pypdf", "crazyones.txt")
    ours = read_pdf(page.read_bytes(), Limits()).text
    # Its expectation keeps ligatures as one sign; pdfium tells their letters.
    wanted = unicodedata.normalize("NFKC", expected.read_text(encoding="utf-8"))
    assert re.findall(r"\w", ours) == re.findall(r"\w", wanted)
