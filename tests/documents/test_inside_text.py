"""Files that stand in a text: uuencoded, in base64 that no header announces, or encrypted line by line."""

from __future__ import annotations

import base64
import binascii
import time

import pytest
from mail_parts import doc, mail, names, read

from counterfoil.documents.inside_text import take_out
from counterfoil.model import Problem

#: The example of POSIX.1-2017, uuencode: "begin 644" and a file of three letters (written from memory).
CAT = b"begin 644 cat.txt\n#0V%T\n`\nend\n"
#: 26 bytes a line would be too short for what programs write: 57 bytes make 76 characters (RFC 2045, section 6.8).
LONG = b"%PDF-1.4\n" + bytes(range(1, 250)) * 3


def uu(name: str, data: bytes) -> bytes:
    """Return a file as uuencode writes it, by the library."""
    rows = b"".join(binascii.b2a_uu(data[at : at + 45]) for at in range(0, len(data), 45))
    return f"begin 644 {name}\n".encode() + rows + b"`\nend\n"


def test_a_uuencoded_file_is_taken_out() -> None:
    """What begin and end stand around is a file; the words around it stay."""
    for data in (CAT, CAT.replace(b"`", b" ")):
        taken = take_out(b"See below.\n" + data + b"Bye\n")
        assert (taken.text, taken.files) == (b"See below.\nBye\n", [("cat.txt", b"Cat")])


@pytest.mark.parametrize("change", [lambda d: d.replace(b"\n", b"\r\n"), lambda d: d.rstrip(b"end\n"), lambda d: d])
def test_a_long_file_comes_out_byte_for_byte(change: object) -> None:
    """With other line ends, and cut off before its end, all bytes that are there come out."""
    assert callable(change)
    taken = take_out(change(uu("a b.pdf", LONG)))
    assert taken.files == [("a b.pdf", LONG)]


def test_uuencode_in_base64() -> None:
    """The form in base64 (POSIX: begin-base64, ends with ====) is read as well."""
    data = b"begin-base64 644 a.bin\n" + base64.encodebytes(LONG) + b"====\nBye\n"
    taken = take_out(data)
    assert (taken.text, taken.files) == (b"Bye\n", [("a.bin", LONG)])


@pytest.mark.parametrize(
    "text",
    [
        b"begin 644 words\nthat go on\nend of it\n",
        b"To begin 644 is enough.\n",
        b"begin 644 a\n",
        b"A" * 76 + b"\n",
        (b"QUJDREVGR0hJSktMTU5PUFFSU1RVVldYWVphYmNkZWZnaGlqa2xtbm9wcXJzdHV2d3h5eg==\n"),
        base64.encodebytes(bytes(range(256)) * 4),
        b"-----BEGIN PGP SIGNATURE-----\n\n" + b"iQEz" * 16 + b"\n=abcd\n-----END PGP SIGNATURE-----\n",
    ],
)
def test_what_is_no_file_stays(text: bytes) -> None:
    """Words, tokens, signatures and base64 of nothing known stay where they are, byte for byte."""
    taken = take_out(text)
    assert (taken.text, taken.files, taken.encrypted) == (text, [], False)


def test_base64_of_a_file_and_of_a_text() -> None:
    """A file in base64 comes out; a text in base64 takes the place of its lines."""
    taken = take_out(b"Attached.\n" + base64.encodebytes(LONG) + b"Bye\n")
    assert (taken.text, taken.files) == (b"Attached.\nBye\n", [("", LONG)])
    text = "Machine ID: HG-1 é\n".encode() * 20
    assert take_out(base64.encodebytes(text)).text == text


def test_what_is_quoted_is_found_and_stays_quoted() -> None:
    """In a quote, files and what is encrypted are found as well; a text in base64 stays in its quote."""

    def quoted(data: bytes) -> bytes:
        return b"Hi\n" + b"".join(b"> > " + line for line in data.splitlines(keepends=True)) + b"Bye\n"

    assert take_out(quoted(uu("c.pdf", LONG))).files == [("c.pdf", LONG)]
    assert take_out(quoted(base64.encodebytes(LONG))).files == [("", LONG)]
    assert take_out(quoted(b"-----BEGIN PGP MESSAGE-----\n\nhQEMA\n-----END PGP MESSAGE-----\n")).encrypted
    text = b"Machine ID: HG-1\n" * 20
    assert take_out(quoted(base64.encodebytes(text))).text == quoted(text)


def test_what_is_encrypted_is_told() -> None:
    """An encrypted block is taken out and told, also one that never ends; what stands around it stays."""
    block = b"-----BEGIN PGP MESSAGE-----\n\nhQEMA\n-----END PGP MESSAGE-----\n"
    taken = take_out(b"a\n" + block + b"b\n")
    assert (taken.text, taken.encrypted) == (b"a\nb\n", True)
    message = read(mail(f"Hello\n{block.decode()}"))
    assert [(d.name, d.problem) for d in message.documents] == [("body", None), ("file:encrypted", Problem.ENCRYPTED)]
    assert take_out(block[:40]).encrypted


def test_a_file_in_the_text_is_a_document() -> None:
    """A file in the text is read like an attached one, and the message says where it stood."""
    message = read(mail(f"Here:\n{uu('a.txt', b'Machine ID: HG-1').decode()}"))
    assert names(message) == ["body", "file:a.txt"]
    assert doc(message, "file:a.txt").text == "Machine ID: HG-1"
    assert any("in the text itself" in defect for defect in message.defects)


@pytest.mark.parametrize(
    "hostile",
    [
        b"begin 644 a\n" * 50_000,
        (b"begin 644 a\n" + b"M" + b"!" * 60 + b"\n") * 10_000,
        (b"A" * 76 + b"\n" + b"B" * 60 + b"\n") * 10_000,
        b"-----BEGIN PGP MESSAGE-----\n" * 50_000,
        b"begin-base64 644 a\n" * 30_000,
        b"> " * 100_000 + b"\n> begin 644 a\n" * 30_000,
    ],
    ids=range(6),
)
def test_hostile_texts_take_no_time(hostile: bytes) -> None:
    """Texts made of beginnings alone are done with in a moment: every line is looked at once."""
    started = time.perf_counter()
    assert take_out(hostile) is not None
    assert time.perf_counter() - started < 5
