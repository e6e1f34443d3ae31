"""Parts that are easily lost or doubled: files in attached messages, calendar entries, signatures, empty files."""

from __future__ import annotations

import socket

import pdf_papers as papers
import pytest
from mail_parts import doc, mail, multipart, names, nested, part, read

from counterfoil.model import Problem
from counterfoil.settings import Limits

PDF = papers.paper(papers.beside)


@pytest.mark.parametrize(
    "kind", ["message/rfc822", "message/rfc822; name=o.eml", "application/octet-stream; name=o.eml"]
)
def test_a_file_inside_an_attached_message_is_read_once(kind: str) -> None:
    """The PDF of an attached message, base64 or a named file, is one document in the layer of that message."""
    inner = multipart(part("Inside", "text/plain"), part(PDF, "application/pdf; name=a.pdf"))
    message = read(multipart(part("Hi", "text/plain"), part(inner, kind)))
    assert [(d.name, d.layer) for d in message.documents] == [("body", 0), ("attached:1", 1), ("pdf:a.pdf", 1)]
    assert doc(message, "body").text == "Hi"


def test_a_calendar_entry_alone_is_read() -> None:
    """What a calendar entry says to people is read where the message says nothing else, folds and signs undone."""
    entry = (
        "BEGIN:VEVENT\r\nUID:7\r\nDESCRIPTION;LANGUAGE=en:Machine ID: HG-4829\r\n 13-K\\nKey\\, card: 1\r\nEND:VEVENT"
    )
    message = read(multipart(part(entry, "text/calendar; method=REQUEST; name=i.ics"), kind="alternative"))
    assert doc(message, "file:calendar").text == "Machine ID: HG-482913-K\nKey, card: 1"


@pytest.mark.parametrize("kind", ["application/octet-stream; name=smime.p7s", "application/octet-stream; name=s.asc"])
def test_signatures_without_their_type_are_passed_over(kind: str) -> None:
    """A signature whose type was lost on the way is told by its name, or by its first line."""
    data = "-----BEGIN PGP SIGNATURE-----\n" if ".asc" in kind else b"\x30\x80"
    assert names(read(multipart(part("Hi", "text/plain"), part(data, kind)))) == ["body"]


def test_a_file_of_which_nothing_arrived_is_said() -> None:
    """An empty PDF or file is a question; the empty texts that some servers put behind attachments are none."""
    empty = [
        part("", f"{kind}; name=a.{end}") for kind, end in (("application/pdf", "pdf"), ("application/x-knots", "k"))
    ]
    message = read(multipart(part("Hi", "text/plain"), *empty, part(" ", "text/plain; name=ATT00001.txt")))
    assert [(d.name, d.problem) for d in message.documents[1:]] == [
        ("pdf:a.pdf", Problem.DAMAGED),
        ("file:a.k", Problem.DAMAGED),
    ]


def test_a_text_about_a_pdf_is_a_text() -> None:
    """A text that only names how a PDF begins stays a text; one that begins so is a PDF."""
    assert doc(read(mail("It says %PDF-1.7 here.\nMachine ID: HG-1\n")), "body").text.endswith("HG-1")
    assert names(read(multipart(part(b"\n" + PDF, "text/plain")))) == ["pdf:unnamed-1"]


def test_a_message_beyond_the_limit_is_read_up_to_it() -> None:
    """Of a message larger than is read the first part is, and it says so."""
    data = mail("Machine ID: HG-1\n" + "x\n" * 500)
    message = read(data, Limits(message_bytes=400))
    assert doc(message, "body").text.startswith("Machine ID: HG-1")
    assert (message.size, any("only the first 400" in defect for defect in message.defects)) == (len(data), True)


def test_nothing_is_fetched_for_a_message(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures, styles, frames, links and content elsewhere are named in a message; with the network closed it reads
    as with it open."""

    def closed(*_: object, **__: object) -> object:
        raise AssertionError("the network was asked for")

    html = (
        "<link rel=stylesheet href='https://x.example/a.css'><style>@import url(https://x.example/b.css)</style>"
        "<img src='https://x.example/c.png'><iframe src='https://x.example/d'></iframe><script src='//x.example/e.js'>"
        "</script><object data='https://x.example/f'></object><a href='https://x.example/g'>Machine ID: HG-1</a>"
    )
    link = papers.paper(
        lambda c: (c.drawString(60, 700, "Key"), c.linkURL("https://x.example/h", (50, 690, 90, 710)))[0]
    )
    elsewhere = (
        b'Content-Type: message/external-body; access-type=URL; URL="https://x.example/i"\n\nContent-Type: a/b\n\n'
    )
    data = multipart(
        nested(part("See HTML", "text/plain"), part(html, "text/html"), kind="alternative"),
        part(link, "application/pdf; name=a.pdf"),
        elsewhere,
    )
    for name in ("socket", "create_connection", "getaddrinfo"):
        monkeypatch.setattr(socket, name, closed)
    message = read(data)
    assert doc(message, "body:html").text == "Machine ID: HG-1"
    assert doc(message, "pdf:a.pdf").text == "Key"
    assert doc(message, "file:message").problem is Problem.UNKNOWN_TYPE
