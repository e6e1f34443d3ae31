"""Outlook message files: read like any other message, whole or attached, and never opened where they could do harm.

The test files are written by msg_files.py after [MS-CFB] and [MS-OXMSG]; property ids are those of [MS-OXPROPS].
"""

from __future__ import annotations

from datetime import UTC, datetime
from email.message import EmailMessage
from io import BytesIO

import compressed_rtf
import olefile
import pytest
from msg_files import CUTOFF, Tree, Value, compound, file_inside, linked, message_inside, msg, tree
from pdf_papers import beside, paper

from counterfoil.documents.attachments import attachments
from counterfoil.documents.message import read_message
from counterfoil.documents.opening import FilesInside, Opening
from counterfoil.model import Message, Problem
from counterfoil.settings import Limits

LIMITS = Limits()
ALL = Opening()
CARD = paper(beside)
SENT = datetime(2026, 3, 4, 10, 12, tzinfo=UTC)
TEXT = "Machine ID: KS-204417-8\r\nActivation code: 16046-25488\r\n"
BASE: dict[int, Value] = {
    0x0037: "Fwd: Bestätigung",
    0x0C1A: "Jörg Brandt",
    0x5D01: "joerg@brandt.example",
    0x0039: SENT,
    0x1000: TEXT,
}


def read(data: bytes, limits: Limits = LIMITS, opening: Opening = ALL) -> Message:
    """Read a message."""
    return read_message(data, limits, sha256="0" * 64, opening=opening)


def text_of(message: Message) -> str:
    """Return the text of all documents."""
    return "\n".join(document.text for document in message.documents)


def mail_with(data: bytes, name: str = "confirmation.msg", kind: str = "vnd.ms-outlook") -> bytes:
    """Return a mail that a file is attached to."""
    mail = EmailMessage()
    mail["From"], mail["To"], mail["Subject"] = "m@post.example", "desk@shop.example", "See attached"
    mail.set_content("Please see the message.")
    mail.add_attachment(data, maintype="application", subtype=kind, filename=name)
    return mail.as_bytes()


def test_the_written_files_are_compound_files() -> None:
    """The files written for these tests hold what they should, by olefile: small and large streams, storages."""
    made = compound({"a": b"x" * 10, "b": b"y" * (CUTOFF + 700), "in": {"c": b"z" * 100, "d": b""}})
    with olefile.OleFileIO(BytesIO(made)) as file:
        assert sorted(file.listdir()) == [["a"], ["b"], ["in", "c"], ["in", "d"]]
        assert file.openstream("b").read() == b"y" * (CUTOFF + 700)
        assert file.openstream("in/c").read() == b"z" * 100
        assert file.parsing_issues == []


def test_header_and_text_from_the_properties() -> None:
    """A file without a header has sender, recipients, date and subject in its properties; umlauts stay."""
    message = read(msg(BASE, to=[("Desk", "desk@shop.example"), ("Ærø Sømand", "aero@post.example")]))
    head = message.layers[0]
    assert head.sender is not None
    assert (head.sender.name, head.sender.address) == ("Jörg Brandt", "joerg@brandt.example")
    assert [box.address for box in head.to] == ["desk@shop.example", "aero@post.example"]
    assert head.to[1].name == "Ærø Sømand"
    assert (head.subject, head.date) == ("Fwd: Bestätigung", SENT)
    (body,) = message.documents
    assert (body.name, body.problem) == ("body", None)
    assert "Machine ID: KS-204417-8\nActivation code: 16046-25488" in body.text
    assert message.defects == ()


def test_the_header_it_came_with_comes_first() -> None:
    """The header as received is taken where there is one, without the fields that describe parts it no longer has."""
    came = (
        "From: Nell <nell@one.example>\r\nTo: desk@shop.example\r\nMessage-ID: <1@one.example>\r\n"
        'Content-Type: multipart/mixed; boundary="x"\r\nDate: Tue, 3 Mar 2026 09:00:00 +0100\r\n\r\n'
    )
    message = read(msg({**BASE, 0x007D: came}))
    head = message.layers[0]
    assert head.sender is not None
    assert (head.sender.address, head.message_id) == ("nell@one.example", "<1@one.example>")
    assert head.subject == "Fwd: Bestätigung"
    assert head.date is not None
    assert head.date.day == 3
    assert "KS-204417-8" in text_of(message)


def test_a_text_in_an_old_code_page() -> None:
    """Texts of 8 bits are read in the code page the file names; a byte that does not fit costs only itself."""
    message = read(msg({0x3FFD: 1250, 0x0037: ("cp1250", "Žádost"), 0x1000: ("cp1250", "Číslo stroje: 4711")}))
    assert message.layers[0].subject == "Žádost"
    assert "Číslo stroje: 4711" in text_of(message)
    broken = read(msg({0x3FFD: 65001, 0x1000: ("latin-1", "Nr. é 4711")}))
    assert "4711" in text_of(broken)


def test_html_keeps_its_rows() -> None:
    """An HTML body is read as HTML: a label and its value in a table stay on a line."""
    html = b"<table><tr><td>Machine ID</td><td>KS-204417-8</td></tr></table>"
    message = read(msg({0x0037: "S", 0x1013: html, 0x3FDE: 65001}))
    (body,) = message.documents
    assert body.media_type == "text/html"
    assert "Machine ID\tKS-204417-8" in body.text


@pytest.mark.parametrize("packed", [True, False])
def test_a_body_that_is_rtf_only(packed: bool) -> None:
    """A body in RTF alone, compressed or not ([MS-OXRTFCP]), is read; cells of a table stay on a line."""
    rtf = rb"{\rtf1\ansi\ansicpg1252 Gr\'fc\'dfe\par\trowd Machine ID\cell KS-204417-8\cell\row}"
    message = read(msg({0x0037: "S", 0x1009: compressed_rtf.compress(rtf, packed)}))
    (body,) = message.documents
    assert "Grüße" in body.text
    assert "Machine ID\tKS-204417-8" in body.text


def test_html_inside_rtf() -> None:
    """RTF that was made from HTML ([MS-OXRTFEX]) gives the HTML back."""
    rtf = (
        rb"{\rtf1\ansi\ansicpg1252\fromhtml1 \deff0{\*\htmltag64 <table><tr><td>}\htmlrtf {\b \htmlrtf0 Machine ID"
        rb"\htmlrtf }\htmlrtf0 {\*\htmltag72 </td><td>}KS-204417-8{\*\htmltag72 </td></tr></table>}}"
    )
    (body,) = read(msg({0x0037: "S", 0x1009: compressed_rtf.compress(rtf)})).documents
    assert body.media_type == "text/html"
    assert body.text.strip() == "Machine ID\tKS-204417-8"


def test_damaged_rtf_is_a_question() -> None:
    """A formatted text that cannot be unpacked is a document with a problem, never silence."""
    (document,) = [d for d in read(msg({0x0037: "S", 0x1009: b"\x20\0\0\0broken LZFu"})).documents if d.problem]
    assert "RTF" in document.reason


def test_attachments_are_read() -> None:
    """A PDF attached to the file is read, a large one too; what is only linked is a question."""
    pdf = CARD + b"\n%" + b"-" * CUTOFF
    attached = [file_inside("card ü.pdf", pdf, "application/pdf"), linked("C:\\cards\\other.pdf")]
    message = read(msg({0x0037: "S", 0x1000: "See card."}, attachments=attached))
    by_name = {document.name: document for document in message.documents}
    assert "HG-482913-K" in by_name["pdf:card ü.pdf"].text
    (link,) = [d for d in message.documents if d.problem]
    assert "not in the message" in link.reason
    assert "other.pdf" in link.name


def test_messages_inside_are_layers() -> None:
    """A message inside the file is an attached layer with its own header, text and attachments, to any depth."""
    pdf = CARD
    inner: Tree = tree(
        {0x0037: "Inner", 0x1000: "Two", 0x5D01: "b@two.example"}, attachments=[file_inside("c.pdf", pdf)], header=24
    )
    middle = tree({0x0037: "Middle", 0x1000: "One"}, attachments=[message_inside(inner)], header=24)
    message = read(msg({0x0037: "Outer", 0x1000: "Zero"}, attachments=[message_inside(middle)]))
    assert [layer.subject for layer in message.layers] == ["Outer", "Middle", "Inner"]
    assert [layer.how for layer in message.layers] == ["received", "attached", "attached"]
    assert message.layers[2].sender is not None
    assert message.layers[2].sender.address == "b@two.example"
    assert "HG-482913-K" in text_of(message)
    shallow = read(msg({0x0037: "Outer", 0x1000: "Zero"}, attachments=[message_inside(middle)]), Limits(mime_depth=1))
    assert any(document.problem for document in shallow.documents)


@pytest.mark.parametrize(("name", "kind"), [("a.msg", "octet-stream"), ("a.dat", "vnd.ms-outlook"), ("a", "x-unknown")])
def test_a_file_attached_to_a_mail(name: str, kind: str) -> None:
    """A message file attached to a mail is told by its bytes, type or name, and read as an attached message."""
    message = read(mail_with(msg(BASE), name, kind))
    assert [layer.subject for layer in message.layers] == ["See attached", "Fwd: Bestätigung"]
    assert "KS-204417-8" in text_of(message)


def test_it_is_opened_in_a_reading_process_only() -> None:
    """Whoever does not want files opened is told; left out, the file is a question and the mail is read."""
    for data in (msg(BASE), mail_with(msg(BASE))):
        with pytest.raises(FilesInside):
            read(data, opening=Opening(stop=True))
        left = read(data, opening=Opening(frozenset(), "It was left out."))
        assert [d.reason for d in left.documents if d.problem] == ["It was left out."]
    assert "Please see" in text_of(left)


def test_other_office_files_are_none() -> None:
    """A compound file of another program is no message."""
    (_, document) = read(mail_with(compound({"WordDocument": b"x"}), "letter.doc", "msword")).documents
    assert document.problem is Problem.UNKNOWN_TYPE


def test_broken_files_are_questions() -> None:
    """Files cut at twenty places or with bytes changed give a message each: what can be read, or a question."""
    whole = msg({**BASE}, to=[("D", "d@shop.example")], attachments=[file_inside("a.pdf", CARD)])
    cases = [whole[: len(whole) * n // 20] for n in range(1, 20)]
    cases += [whole[:at] + b"\xff\xff\xff\xff" + whole[at + 4 :] for at in range(20, len(whole) - 4, 97)]
    for data in cases:
        message = read(data)
        assert message.layers
        assert message.documents
    named = read(mail_with(b"\xd0\xcf\x11\xe0 no message", "a.msg"))
    assert [d.problem for d in named.documents if d.problem] == [Problem.DAMAGED]


def test_it_is_handed_out_as_it_is() -> None:
    """Beside a printed sheet an attached message file is handed out as it is, unopened."""
    data = msg(BASE, attachments=[file_inside("a.pdf", CARD)])
    assert attachments(mail_with(data), LIMITS) == [("confirmation.msg", data)]
    assert attachments(data, LIMITS) == []


def test_packed_attachments_are_named() -> None:
    """winmail.dat is told by its first bytes whatever type it claims, and is a question."""
    (_, document) = read(mail_with(b"\x78\x9f\x3e\x22\x01\x00", "winmail.dat", "octet-stream")).documents
    assert "TNEF" in document.reason
