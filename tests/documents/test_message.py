"""Messages: the part tree, names, layers, what is broken and how it is read all the same."""

from __future__ import annotations

import base64
import random
import re
from datetime import datetime, timedelta, timezone

import pdf_papers as papers
import pytest
from in_bounds import done_in_bounds
from mail_parts import HEAD, LIMITS, doc, mail, multipart, names, nested, part, read

from counterfoil.documents import parts
from counterfoil.documents.message import read_message
from counterfoil.model import Mailbox, Problem
from counterfoil.settings import Limits

PDF = papers.paper(papers.beside)
INNER = mail("Machine ID: HG-482913-K\n", head=HEAD.replace("marit@solvang", "noreply@upgrades").replace("<1@", "<2@"))
FORWARD = (
    "See below.\n\n---------- Forwarded message ---------\nFrom: Upgrades <noreply@upgrades.example>\n"
    "Date: Mon, 3 Mar 2025 at 08:01\nSubject: Your code\nTo: <marit@solvang.example>\n\nMachine ID: HG-482913-K\n"
)
PNG = b"\x89PNG\r\n\x1a\n" + b"\0\0\0\rIHDR" + (40).to_bytes(4, "big") + (20).to_bytes(4, "big") + b"\0" * 30


def test_envelope() -> None:
    """A plain message gives one layer with its sender, recipients, date with offset, subject and message id."""
    message = read(mail("Hello\n"))
    head = message.head
    assert head.how == "received"
    assert head.parent is None
    assert head.sender == Mailbox("Marit Solvang", "marit@solvang.example")
    assert head.to == (Mailbox("", "support@thread.example"),)
    assert head.date == datetime(2025, 3, 4, 10, 12, tzinfo=timezone(timedelta(hours=1)))
    assert head.date.hour == 10
    assert (head.subject, head.message_id) == ("Confirmation", "<1@solvang.example>")
    assert message.defects == ()
    assert (message.sha256, message.size) == ("0" * 64, len(mail("Hello\n")))


def test_pdf_with_a_name() -> None:
    """An attached PDF is a document of its own name in the layer of its message."""
    message = read(multipart(part("Hi", "text/plain"), part(PDF, 'application/pdf; name="confirmation.pdf"')))
    assert names(message) == ["body", "pdf:confirmation.pdf"]
    assert "HG-482913-K" in doc(message, "pdf:confirmation.pdf").text
    assert doc(message, "pdf:confirmation.pdf").pages == 1


@pytest.mark.parametrize("kind", ["application/pdf", "application/octet-stream", "application/x-unknown", "text/plain"])
def test_pdf_without_a_name(kind: str) -> None:
    """A PDF without a name, or under another type, is found by its bytes."""
    message = read(multipart(part("Hi", "text/plain"), part(PDF, kind)))
    assert names(message) == ["body", "pdf:unnamed-1"]
    assert "HG-482913-K" in doc(message, "pdf:unnamed-1").text


def test_same_name_twice() -> None:
    """Two files of one name get names that differ."""
    message = read(multipart(part(PDF, "application/pdf; name=a.pdf"), part(PDF, "application/pdf; name=a.pdf")))
    assert names(message) == ["pdf:a.pdf", "pdf:a.pdf~2"]


def test_name_with_a_path_loses_it() -> None:
    """Only the last part of a file name is taken, without characters that do not print."""
    message = read(
        multipart(part(PDF, "application/pdf", 'Content-Disposition: attachment; filename="../../a\x07.pdf"\n'))
    )
    assert names(message) == ["pdf:a.pdf"]


def test_file_names_in_both_encodings() -> None:
    """File names are decoded from RFC 2231 parameters and from encoded words."""
    first = part(PDF, "application/pdf", "Content-Disposition: attachment; filename*=utf-8''Best%C3%A4tigung.pdf\n")
    second = part(
        PDF, "application/pdf", 'Content-Disposition: attachment; filename="=?utf-8?q?Best=C3=A4tigung?=.pdf"\n'
    )
    assert names(read(multipart(first, second))) == ["pdf:Bestätigung.pdf", "pdf:Bestätigung.pdf~2"]


def test_forward_in_the_text_and_pdf_beside_it() -> None:
    """The PDF of a message with a forward in its text belongs to the forwarded layer."""
    message = read(multipart(part(FORWARD, "text/plain"), part(PDF, "application/pdf; name=a.pdf")))
    assert names(message) == ["body", "forward:1", "pdf:a.pdf"]
    assert [d.layer for d in message.documents] == [0, 1, 1]
    assert doc(message, "body").text == "See below."
    inner = message.layers[1]
    assert (inner.how, inner.parent, inner.subject) == ("inline", 0, "Your code")
    assert inner.sender == Mailbox("Upgrades", "noreply@upgrades.example")
    assert inner.to == (Mailbox("", "marit@solvang.example"),)


def test_attached_message() -> None:
    """A message/rfc822 part is a layer with its own envelope, its text and PDFs belong to it."""
    inner = multipart(
        part("Code inside", "text/plain"), part(PDF, "application/pdf"), head=HEAD.replace("Confirm", "In")
    )
    message = read(multipart(part("Hi", "text/plain"), b"Content-Type: message/rfc822\n\n" + inner))
    assert names(message) == ["body", "attached:1", "pdf:unnamed-1"]
    assert [d.layer for d in message.documents] == [0, 1, 1]
    assert (message.layers[1].how, message.layers[1].parent, message.layers[1].subject) == ("attached", 0, "Ination")


@pytest.mark.parametrize("encoding", ["base64", "quoted-printable"])
def test_encoded_attached_message(encoding: str) -> None:
    """An attached message in base64 or quoted-printable, against the standard, is decoded, read and named as broken."""
    data = base64.encodebytes(INNER) if encoding == "base64" else INNER.replace(b"=", b"=3D").replace(b"HG", b"=48G")
    wrapped = f"Content-Type: message/rfc822\nContent-Transfer-Encoding: {encoding}\n\n".encode() + data
    message = read(multipart(part("Hi", "text/plain"), wrapped))
    assert doc(message, "attached:1").text == "Machine ID: HG-482913-K"
    assert message.layers[1].sender == Mailbox("Marit Solvang", "noreply@upgrades.example")
    assert any("standard forbids" in defect for defect in message.defects)


def test_message_attached_as_a_file() -> None:
    """An .eml file attached as application/octet-stream is read as a message."""
    message = read(multipart(part("Hi", "text/plain"), part(INNER, "application/octet-stream; name=original.eml")))
    assert names(message) == ["body", "attached:1"]
    assert message.layers[1].message_id == "<2@solvang.example>"


def test_forward_inside_an_attached_message() -> None:
    """An attached message with a forward in its text: layers and names go on counting."""
    message = read(multipart(part(FORWARD, "text/plain"), part(mail(FORWARD), "application/octet-stream; name=o.eml")))
    assert names(message) == ["body", "forward:1", "attached:1", "forward:2"]
    assert [(layer.how, layer.parent) for layer in message.layers] == [
        ("received", None),
        ("inline", 0),
        ("attached", 1),
        ("inline", 2),
    ]


def test_alternative_that_says_the_same() -> None:
    """Of a plain and an HTML text with the same words the plain one is kept."""
    both = nested(part("Hello Marit", "text/plain"), part("<p>Hello <b>Marit</b></p>", "text/html"), kind="alternative")
    message = read(multipart(both))
    assert [(d.name, d.media_type) for d in message.documents] == [("body", "text/plain")]


def test_alternative_that_adds() -> None:
    """HTML that says more than the plain text beside it is kept as well."""
    both = nested(part("See HTML", "text/plain"), part("<p>Machine ID: HG-1</p>", "text/html"), kind="alternative")
    message = read(multipart(both))
    assert [(d.name, d.text) for d in message.documents] == [("body", "See HTML"), ("body:html", "Machine ID: HG-1")]


def test_alternative_whose_table_the_plain_text_broke() -> None:
    """HTML that has label and value on one line, where the plain text parted them, is kept as well."""
    html = "<table><tr><td>Machine ID</td><td>HG-1</td></tr></table>"
    both = nested(part("Machine ID\n\nHG-1", "text/plain"), part(html, "text/html"), kind="alternative")
    assert doc(read(multipart(both)), "body:html").text == "Machine ID\tHG-1"


def test_alternative_in_either_order() -> None:
    """HTML before the plain text, against the standard, is not read twice."""
    both = nested(part("<p>Hello</p>", "text/html"), part("Hello", "text/plain"), kind="alternative")
    assert [d.text for d in read(multipart(both)).documents] == ["Hello"]


def test_forward_in_both_sides_of_an_alternative() -> None:
    """A forward found in plain text and HTML is one layer with two documents."""
    html = FORWARD.replace("<", "&lt;").replace("\n", "<br>") + "<p>More in HTML</p>"
    both = nested(part(FORWARD, "text/plain"), part(html, "text/html"), kind="alternative")
    message = read(multipart(both))
    assert len(message.layers) == 2
    assert names(message) == ["body", "forward:1", "body:html", "forward:1:html"]


def test_html_only() -> None:
    """A message in HTML alone has a body with its text, whose cells know their column."""
    message = read(mail("<table><tr><td>Key</td><td>A1</td></tr></table>", "text/html; charset=utf-8"))
    body = doc(message, "body")
    assert (body.text, body.media_type) == ("Key\tA1", "text/html")
    assert [(c.x0, c.x1) for c in body.lines[0].cells] == [(0.0, 1.0), (1.0, 2.0)]


def test_cells_of_plain_text() -> None:
    """Plain text is parted into cells at tabs and at three spaces, not at two; their places are characters."""
    body = doc(read(mail("Machine  ID    HG-1\nKey\tA1\n")), "body")
    found = [[body.text[c.start : c.end] for c in line.cells] for line in body.lines]
    assert found == [["Machine  ID", "HG-1"], ["Key", "A1"]]
    assert body.lines[0].cells[1].x0 == 15.0
    assert body.lines[1].cells[1].x0 == 8.0


def test_pictures() -> None:
    """A picture shown in the text is inline when small; attached ones, and photos, are not; broken ones say so."""
    html = part('<p>Hi</p><img src="cid:logo"><img src="cid:photo">', "text/html")
    logo = part(PNG, "image/png; name=logo.png", "Content-ID: <logo>\n")
    big = PNG[:16] + (1200).to_bytes(4, "big") + (900).to_bytes(4, "big") + PNG[24:]
    photo = part(big, "image/png; name=photo.png", "Content-ID: <photo>\n")
    card = part(PNG, "application/octet-stream; name=card.png", "Content-Disposition: attachment\n")
    message = read(multipart(nested(html, logo, photo, kind="related"), card))
    assert [(d.name, d.inline) for d in message.documents[1:]] == [
        ("picture:logo.png", True),
        ("picture:photo.png", False),
        ("picture:card.png", False),
    ]
    assert {d.problem for d in message.documents[1:]} == {Problem.PICTURE, Problem.DAMAGED}


def test_other_files_are_questions() -> None:
    """A file of a kind that is not read is a document with a problem and a reason; nothing is dropped in silence."""
    message = read(multipart(part("Hi", "text/plain"), part(b"PK\3\4xx", "application/x-knots; name=a.knt")))
    found = doc(message, "file:a.knt")
    assert found.problem is Problem.UNKNOWN_TYPE
    assert "x-knots" in found.reason


def test_text_files_are_read() -> None:
    """Text, tables and HTML attached as files are read as text."""
    message = read(
        multipart(
            part("Hi", "text/plain"),
            part("id;HG-1", "application/octet-stream; name=list.csv"),
            part("<p>HG-2</p>", "text/html; name=page.html", "Content-Disposition: attachment\n"),
        )
    )
    assert doc(message, "file:list.csv").text == "id;HG-1"
    assert doc(message, "file:page.html").text == "HG-2"


@pytest.mark.parametrize(
    "kind",
    [
        "text/calendar",
        "text/vcard",
        "application/pgp-signature",
        "application/pkcs7-signature",
        "application/applefile",  # what a Mac keeps beside a file (RFC 1740)
    ],
)
def test_signatures_and_cards_are_passed_over(kind: str) -> None:
    """Signatures, calendar entries and visiting cards are no documents and no defects."""
    message = read(multipart(part("Hi", "text/plain"), part("BEGIN:X", f"{kind}; name=x.asc")))
    assert names(message) == ["body"]
    assert message.defects == ()


def test_truncated_multipart() -> None:
    """A multipart that is cut off in its last part is read up to there and named."""
    message = read(
        multipart(part("Hi", "text/plain"), part("Machine ID: HG-1", "text/html", encoding="8bit"), end=False)
    )
    assert "HG-1" in " ".join(d.text for d in message.documents)
    assert any("cut off" in defect for defect in message.defects)


def test_multipart_with_a_wrong_boundary() -> None:
    """A multipart whose header names no boundary, or another one, is read by the one it uses."""
    whole = multipart(part("Hi there", "text/plain"), part(PDF, "application/pdf"))
    for replacement in (b"", b'; boundary="other"'):
        broken = re.sub(rb'; boundary="[^"]+"', replacement, whole, count=1)
        message = read(broken)
        assert names(message) == ["body", "pdf:unnamed-1"]
        assert any("boundary" in defect for defect in message.defects)


def test_inner_part_without_its_start() -> None:
    """A part that says it has parts, and whose beginning is lost, is read as text: mail-parser fails on it."""
    inner = b'Content-Type: multipart/mixed; boundary="lost"\n\nMachine ID: HG-1\n--lost--\n'
    message = read(multipart(part("Hi", "text/plain"), inner))
    assert "HG-1" in " ".join(d.text for d in message.documents)
    assert message.head.sender is not None


@pytest.mark.parametrize("charset", ["utf-8", "x-unknown", "iso-8859-1", "us-ascii", "unicode_escape", "hex", ""])
def test_charsets(charset: str) -> None:
    """UTF-8 under a wrong or unknown name is read as UTF-8; encodings that no mail is written in are not tried."""
    kind = f"text/plain; charset={charset}" if charset else "text/plain"
    body = doc(read(mail("Nähmaschine \\u0041 €", kind)), "body").text
    assert body == ("NÃ¤hmaschine \\u0041 â‚¬" if charset == "iso-8859-1" else "Nähmaschine \\u0041 €")


def test_eight_bit_text_without_utf8() -> None:
    """Text that is no UTF-8 whatever it says is read as windows-1252, and named."""
    data = HEAD.encode() + b"Content-Type: text/plain; charset=utf-8\n\nN\xe4hmaschine \x80\n"
    message = read(data)
    assert doc(message, "body").text == "Nähmaschine €"
    assert any("windows-1252" in defect for defect in message.defects)


def test_characters_that_show_nothing_are_left_out() -> None:
    """Soft hyphens, zero-width and no-break spaces do not get into codes."""
    assert doc(read(mail("HG\u00ad-48\u200b2913\ufeff-K\u00a0x")), "body").text == "HG-482913-K x"


def test_wide_letters_and_digits_are_plain_ones() -> None:
    """What a Japanese keyboard writes as wide as its own signs is the same code; other wide signs stay."""
    assert doc(read(mail("機械ＩＤ：ＨＧ－４８２９１３－ｋ")), "body").text == "機械ID：HG-482913-k"


def test_format_flowed() -> None:
    """Soft line ends of format=flowed are joined, quoted ones at their depth."""
    body = "One line that \ngoes on\n> quoted \n> text\n-- \nMarit\n"
    assert doc(read(mail(body, "text/plain; format=flowed")), "body").text == (
        "One line that goes on\n> quoted text\n--\nMarit"
    )


def test_depth_parts_and_text_limits() -> None:
    """Beyond the limits on depth, parts and text nothing is read, and a document says so."""
    deep = part("deep", "text/plain")
    for _ in range(5):
        deep = nested(deep, kind="mixed")
    assert read(multipart(deep), Limits(mime_depth=3)).documents[-1].problem is Problem.TOO_LARGE
    many = multipart(*(part(f"text {i}", f"text/plain; name={i}.txt") for i in range(9)))
    found = read(many, Limits(parts=5)).documents
    assert [d.problem for d in found] == [None, None, None, None, Problem.TOO_LARGE]
    long = doc(read(mail("word " * 100), Limits(text_chars=50)), "body")
    assert (long.problem, len(long.text)) == (Problem.TOO_LARGE, 50)


def test_part_and_total_size_limits() -> None:
    """A part beyond the size limit, or beyond the total, is left unread and named."""
    message = read(
        multipart(part("Hi", "text/plain"), part(PDF, "application/pdf; name=a.pdf")), Limits(part_bytes=100)
    )
    assert doc(message, "file:a.pdf").problem is Problem.TOO_LARGE
    message = read(multipart(part("Hi", "text/plain"), part(PDF, "application/pdf")), Limits(unpacked_bytes=100))
    assert message.documents[-1].problem is Problem.TOO_LARGE


def test_large_header_keeps_what_is_needed() -> None:
    """A header beyond the limits loses its other fields and keeps sender, subject and type."""
    filler = "".join(f"X-Filler-{i}: {'x' * 60}\n" for i in range(5000))
    message = read((filler + HEAD).encode() + b"Content-Type: text/html\n\n<p>Hello</p>")
    assert message.head.sender == Mailbox("Marit Solvang", "marit@solvang.example")
    assert message.documents[0].media_type == "text/html"
    assert any("more than are read" in defect for defect in message.defects)


def test_two_thousand_levels() -> None:
    """A message nested two thousand deep is read without a stack overflow, and its header at least."""
    boundary = "".join(f'Content-Type: multipart/mixed; boundary="b{i}"\n\n--b{i}\n' for i in range(2000))
    message = read((HEAD + boundary).encode())
    assert message.head.subject == "Confirmation"
    assert any(d.problem for d in message.documents)


def test_bytes_before_the_header() -> None:
    """A byte order mark and empty lines before the header do no harm."""
    assert read(b"\xef\xbb\xbf\r\n\r\n" + mail("Hi")).head.subject == "Confirmation"


@pytest.mark.parametrize(
    "data", [b"", b"\n\n", b"\0" * 100, b"no header at all", b"From: \n\n", b"\xff\xfe\x00", b":\n:\n"]
)
def test_nothing_much(data: bytes) -> None:
    """Bytes that are no message come out as a message with a document that says so."""
    message = read(data)
    assert len(message.layers) == 1
    assert message.size == len(data)


def test_message_with_only_an_empty_text() -> None:
    """An empty message has an empty body with its reason; an empty text beside a PDF is left out."""
    assert doc(read(mail("\n \n")), "body").problem is Problem.EMPTY
    assert names(read(multipart(part("\n", "text/plain"), part(PDF, "application/pdf; name=a.pdf")))) == ["pdf:a.pdf"]


def test_mutations_never_raise() -> None:
    """Four hundred damaged copies of a message with everything in it are read, each one with a layer."""
    random_bytes = random.Random(5322)
    whole = bytearray(
        multipart(
            nested(part(FORWARD, "text/plain"), part("<table><tr><td>a<td>b</table>", "text/html"), kind="alternative"),
            part(PDF, "application/pdf; name=a.pdf"),
            b"Content-Type: message/rfc822\n\n" + INNER,
        )
    )
    for _ in range(400):
        copy = bytearray(whole)
        for _ in range(random_bytes.randrange(1, 12)):
            at = random_bytes.randrange(len(copy))
            choice = random_bytes.randrange(3)
            if choice == 0:
                copy[at] = random_bytes.randrange(256)
            elif choice == 1:
                del copy[at : at + random_bytes.randrange(1, 80)]
            else:
                copy[at:at] = copy[at : at + random_bytes.randrange(1, 80)]
        message = read_message(bytes(copy), LIMITS)
        assert message.layers


HOSTILE = [
    mail("a\t" * 100_000),
    mail("a   " * 100_000),
    mail("Text", "text/plain" + ";a=1" * 50_000),
    mail("Text", head=HEAD.replace("support@thread.example", "@" * 60_000)),
    mail("Text", head=HEAD.replace("support@thread.example", "(" * 60_000)),
    mail("--b\n\nx\n" * 60_000, "multipart/mixed; boundary=b"),
    mail("Text" + "\r" * 300_000),
    mail("=3D" * 100_000, "text/html", more="Content-Transfer-Encoding: quoted-printable\n"),
    mail("> a \n" * 40_000, "text/plain; format=flowed"),
    (HEAD + "Content-Type: message/rfc822\n\n" + "Subject: x\nContent-Type: message/rfc822\n\n" * 500).encode(),
]


def read_recipients(number: str) -> None:
    """Read a message to so many."""
    to = ", ".join(f"p{i}@list.example" for i in range(int(number)))
    message = read(mail("Hi", head=HEAD.replace("support@thread.example", to)))
    assert 0 < len(message.head.to) <= LIMITS.addresses
    assert message.documents[0].text == "Hi"


def read_hostile(number: str) -> None:
    """Read one of the hostile messages; its sender is still read."""
    message = read(HOSTILE[int(number)])
    assert message.head.sender == Mailbox("Marit Solvang", "marit@solvang.example")
    assert message.documents


def test_twenty_thousand_recipients() -> None:
    """A field of twenty thousand addresses is read within the bounds of a reading process, up to the limit."""
    assert done_in_bounds("test_message", "read_recipients", ["20000"]) == ["20000"]


def test_hostile_messages_are_read_within_the_bounds() -> None:
    """Messages made to keep a reader busy take no more than a reading process may, and their sender is read."""
    numbers = [str(number) for number in range(len(HOSTILE))]
    assert done_in_bounds("test_message", "read_hostile", numbers) == numbers


def test_lines_times_nesting_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    """A message of very many lines inside very many parts is cut off where parsing would take minutes, and says so."""
    monkeypatch.setattr(parts, "_LINE_CHECKS", 400_000)
    levels = "".join(f'Content-Type: multipart/mixed; boundary="b{i}"\n\n--b{i}\n' for i in range(19))
    message = read((HEAD + levels + "\nText\n" + "\n" * 40_000).encode())
    assert message.documents[-1].problem is Problem.TOO_LARGE
    assert message.documents[0].text == "Text"
