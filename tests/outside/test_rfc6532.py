"""RFC 6532 (internationalized headers, 2012) and the charset labels of the WHATWG Encoding Standard, section 4.2."""

from __future__ import annotations

import base64

import pytest

from counterfoil.documents.message import read_message
from counterfoil.documents.text import decode
from counterfoil.model import Mailbox, Problem
from counterfoil.settings import Limits

HEAD = (
    "From: Jiří Dvořák <jiří@příklad.example>\nTo: 田中 <田中@例え.example>, Ærø <ærø@ø.example>\n"
    "Subject: Potvrzení – 確認\nDate: Tue, 4 Mar 2025 10:12:00 +0100\nMessage-ID: <č1@příklad.example>\n"
)


def test_raw_utf8_in_every_field() -> None:
    """Section 3.2: UTF-8 in names, in addresses on both sides, in the subject and in the message's id is read."""
    message = read_message(f"{HEAD}Content-Type: text/plain; charset=utf-8\n\nHotovo – 完了\n".encode(), Limits())
    head = message.head
    assert head.sender == Mailbox("Jiří Dvořák", "jiří@příklad.example")
    assert head.to == (Mailbox("田中", "田中@例え.example"), Mailbox("Ærø", "ærø@ø.example"))
    assert head.subject == "Potvrzení – 確認"
    assert head.message_id == "<č1@příklad.example>"
    assert message.documents[0].text == "Hotovo – 完了"


def test_raw_utf8_in_a_file_name() -> None:
    """Section 3.2: UTF-8 in the parameters of a MIME field is a file's name."""
    message = read_message(
        'From: a@b.example\nContent-Type: application/x-stuff; name="Náhradní díly.bin"\n\nx\n'.encode(), Limits()
    )
    assert [document.name for document in message.documents] == ["file:Náhradní díly.bin"]


@pytest.mark.parametrize("encoding", ["8bit", "base64"])
def test_attached_global_message(encoding: str) -> None:
    """Section 3.7: a message/global part is a message, and unlike message/rfc822 may be encoded."""
    inner = f"{HEAD}Content-Type: text/plain; charset=utf-8\n\nHotovo\n".encode()
    data = base64.encodebytes(inner) if encoding == "base64" else inner
    outer = (
        "From: a@b.example\nContent-Type: multipart/mixed; boundary=x\n\n--x\nContent-Type: message/global\n"
        f"Content-Transfer-Encoding: {encoding}\n\n"
    ).encode()
    message = read_message(outer + data + b"\n--x--\n", Limits())
    assert [layer.how for layer in message.layers] == ["received", "attached"]
    assert message.layers[1].sender == Mailbox("Jiří Dvořák", "jiří@příklad.example")
    assert message.documents[-1].text == "Hotovo"
    assert all(document.problem is not Problem.DAMAGED for document in message.documents)


@pytest.mark.parametrize(
    ("label", "codec", "text"),
    [
        ("iso-8859-1", "cp1252", "“Nähen” – 5 €"),
        ("iso-8859-9", "cp1254", "“Dikiş” – 5 €"),
        ("gb2312", "gb18030", "确认 镕 €"),
        ("GBK", "gb18030", "确认 镕 €"),
        ("shift_jis", "cp932", "確認①髙"),
        ("euc-kr", "cp949", "확인 똠"),
        ("tis-620", "cp874", "ยืนยัน – €"),
    ],
)
def test_labels_over_their_supersets(label: str, codec: str, text: str) -> None:
    """A text in the superset that the standard reads under a label loses no character, in bodies and in subjects."""
    assert decode(text.encode(codec), label) == (text, None)
    subject = "".join(f"={byte:02X}" for byte in text.encode(codec))
    message = read_message(f"From: a@b.example\nSubject: =?{label}?Q?{subject}?=\n\nx\n".encode(), Limits())
    assert message.head.subject == text


def test_a_damaged_utf8_text_is_said_to_be_damaged() -> None:
    """Bytes that are no UTF-8 in a text of it are shown as replaced, and the sentence says so and no more."""
    text, defect = decode("Nähen ".encode() + b"\xff!", "UTF-8")
    assert text == "Nähen \ufffd!"
    assert defect == "A text declared as utf-8 has bytes that are none; each is shown as \ufffd."
