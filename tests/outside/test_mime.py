"""The examples of MIME: RFC 2045 (encodings), RFC 2046 (media types), RFC 2049, appendix A (a complex multipart); 1996.

Written down from memory; where the standards name people, invented names stand here.
"""

from __future__ import annotations

import base64

import pytest

from counterfoil.documents.message import read_message
from counterfoil.model import Mailbox, Message, Problem
from counterfoil.settings import Limits

HEAD = (
    "MIME-Version: 1.0\nFrom: Nathan Solvang <nathan@one.example>\nTo: Ned Fontrevel <ned@two.example>\n"
    "Date: Sun, 21 Mar 1993 23:56:48 -0800 (PST)\nSubject: Sample message\n"
)


def read(rest: str) -> Message:
    """Read a message of a head and ``rest``, which begins with further fields."""
    return read_message((HEAD + rest).encode("latin-1"), Limits())


def one(rest: str) -> str:
    """Return the text of a message that has one document."""
    (document,) = read(rest).documents
    return document.text


QUOTED = "Content-Type: text/plain; charset=utf-8\nContent-Transfer-Encoding: quoted-printable\n\n"


@pytest.mark.parametrize(
    ("rule", "encoded", "shown"),
    [
        (
            "6.7 the example of rule 5",
            "Now's the time =\nfor all folk to come=\n to the aid of their country.\n",
            "Now's the time for all folk to come to the aid of their country.",
        ),
        ("6.7 rule 1, any byte", "=41=3D=C3=A4\n", "A=ä"),
        ("6.7 rule 2, a byte for itself", "!<>~\n", "!<>~"),
        ("6.7 rule 3, white space at a line end goes", "one  \t\ntwo\n", "one\ntwo"),
        ("6.7 rule 3, unless encoded", "one=20=\n two\n", "one  two"),
        ("6.7 rule 4, line ends are line ends", "one\ntwo\n", "one\ntwo"),
        ("6.7 rule 5, white space after the last mark", "one= \ntwo\n", "onetwo"),
        ("6.7 lower case, tolerated", "=c3=a4\n", "ä"),
        ("6.7 a mark before something else stays", "a=ZZb\n", "a=ZZb"),
    ],
)
def test_quoted_printable(rule: str, encoded: str, shown: str) -> None:
    """RFC 2045, section 6.7: each rule on quoted-printable, and the standard's example."""
    assert one(QUOTED + encoded) == shown, rule
    assert one((QUOTED + encoded).replace("\n", "\r\n")) == shown, rule


@pytest.mark.parametrize("text", ["f", "fo", "foo", "foob", "fooba", "foobar"])
def test_base64(text: str) -> None:
    """RFC 4648, section 10, which has the vectors to RFC 2045, section 6.8: each padding, and line ends anywhere."""
    vectors = {"f": "Zg==", "fo": "Zm8=", "foo": "Zm9v", "foob": "Zm9vYg==", "fooba": "Zm9vYmE=", "foobar": "Zm9vYmFy"}
    head = "Content-Type: text/plain\nContent-Transfer-Encoding: base64\n\n"
    assert one(f"{head}{vectors[text]}\n") == text
    assert one(f"{head}{'!'.join(vectors[text])}\n") == text, "characters outside the alphabet are passed over"
    assert one(head + "\r\n".join(vectors[text]) + "\r\n") == text


def test_content_type_syntax() -> None:
    """RFC 2045, sections 5.1, 5.2: quotes, a comment and upper case change nothing; without a type it is plain text."""
    for kind in (
        "text/plain; charset=us-ascii (Plain text)",
        'text/plain; charset="us-ascii"',
        "TEXT/Plain;CharSet=US-ASCII",
    ):
        message = read(f"Content-type: {kind}\n\nText\n")
        assert (message.documents[0].media_type, message.documents[0].text) == ("text/plain", "Text")
        assert message.defects == ()
    assert one("\nText\n") == one("Content-Type: nonsense\n\nText\n") == "Text"


SIMPLE = (
    'Content-type: multipart/mixed; boundary="simple boundary"\n\n'
    "This is the preamble.  It is to be ignored.\n\n"
    "--simple boundary\n\n"
    "This is implicitly typed plain US-ASCII text.\nIt does NOT end with a linebreak.\n"
    "--simple boundary\n"
    "Content-type: text/plain; charset=us-ascii\n\n"
    "This is explicitly typed plain US-ASCII text.\nIt DOES end with a linebreak.\n\n"
    "--simple boundary--\n\n"
    "This is the epilogue.  It is also to be ignored.\n"
)


def test_simple_multipart() -> None:
    """RFC 2046, section 5.1.1: both parts are read, what stands before and behind them is not."""
    message = read(SIMPLE)
    assert message.head.sender == Mailbox("Nathan Solvang", "nathan@one.example")
    assert one(SIMPLE) == (
        "This is implicitly typed plain US-ASCII text.\nIt does NOT end with a linebreak.\n\n"
        "This is explicitly typed plain US-ASCII text.\nIt DOES end with a linebreak."
    )
    assert message.defects == ()


def test_alternative() -> None:
    """RFC 2046, section 5.1.4: of one text in several forms the plain one is the body; a form unknown is a question."""
    message = read(
        "Content-Type: multipart/alternative; boundary=boundary42\n\n"
        "--boundary42\nContent-Type: text/plain; charset=us-ascii\n\nplain text version\n"
        "--boundary42\nContent-Type: text/html\n\n<p>plain text version</p>\n"
        "--boundary42\nContent-Type: application/x-whatever\n\nfanciest version\n--boundary42--\n"
    )
    assert [(d.name, d.text, d.problem) for d in message.documents] == [
        ("body", "plain text version", None),
        ("file:unnamed-1", "", Problem.UNKNOWN_TYPE),
    ]


def test_nested_digest() -> None:
    """RFC 2046, section 5.1.5: a digest inside a multipart; its parts are messages without saying so."""
    message = read(
        'Content-Type: multipart/mixed; boundary="---- main boundary ----"\n\n'
        "------ main boundary ----\n\n...Introductory text...\n\n"
        "------ main boundary ----\n"
        'Content-Type: multipart/digest; boundary="---- next message ----"\n\n'
        "------ next message ----\n\nFrom: someone-else@one.example\nDate: Fri, 26 Mar 1993 11:13:32 +0200\n"
        "Subject: my opinion\n\n...body goes here ...\n\n"
        "------ next message ----\n\nFrom: someone-else-again@two.example\nDate: Fri, 26 Mar 1993 10:07:13 -0500\n"
        "Subject: my different opinion\n\n... another body goes here ...\n\n"
        "------ next message ------\n\n------ main boundary ------\n"
    )
    assert [(layer.how, layer.parent, layer.subject) for layer in message.layers] == [
        ("received", None, "Sample message"),
        ("attached", 0, "my opinion"),
        ("attached", 0, "my different opinion"),
    ]
    assert [d.text for d in message.documents] == [
        "...Introductory text...",
        "...body goes here ...",
        "... another body goes here ...",
    ]


@pytest.mark.parametrize(
    "kind",
    [
        'message/partial; id="ABC@host.example"; number=2; total=3',
        'message/external-body; name="a.ps"; site="one.example"; mode="image"; access-type=ANON-FTP; directory="pub"',
    ],
)
def test_content_that_is_elsewhere(kind: str) -> None:
    """RFC 2046, sections 5.2.2 and 5.2.3: a piece of a message, or a pointer to a file, becomes a question."""
    (document,) = read(
        f"Content-Type: {kind}\n\nContent-type: application/postscript\nContent-ID: <1@one.example>\n\n"
    ).documents
    assert document.problem is Problem.UNKNOWN_TYPE
    assert document.reason


def test_complex_multipart() -> None:
    """RFC 2049, appendix A: five parts, one of them two in parallel, one a message with another character set."""
    gif = base64.encodebytes(b"GIF89a\x01\x00\x01\x00\x80\x00\x00\x00\x00\x00\xff\xff\xff;").decode()
    message = read(
        "Content-Type: multipart/mixed;\n    boundary=unique-boundary-1\n\n"
        "This is the preamble area of a multipart message.\n\n"
        "--unique-boundary-1\n\n  ... Some text appears here ...\n\n"
        "--unique-boundary-1\nContent-type: text/plain; charset=US-ASCII\n\n"
        "This could have been part of the previous part, but\nillustrates explicit versus implicit typing.\n\n"
        "--unique-boundary-1\nContent-Type: multipart/parallel; boundary=unique-boundary-2\n\n"
        "--unique-boundary-2\nContent-Type: audio/basic\nContent-Transfer-Encoding: base64\n\nLnNuZAAAABg=\n\n"
        f"--unique-boundary-2\nContent-Type: image/jpeg\nContent-Transfer-Encoding: base64\n\n{gif}\n"
        "--unique-boundary-2--\n\n"
        "--unique-boundary-1\nContent-type: text/enriched\n\n"
        "This is <bold><italic>enriched.</italic></bold>\n<smaller>as defined in RFC 1896</smaller>\n\n"
        "--unique-boundary-1\nContent-Type: message/rfc822\n\n"
        "From: Keith Fontrevel <keith@three.example>\nTo: Nathan Solvang <nathan@one.example>\n"
        "Subject: (subject in US-ASCII)\nContent-Type: Text/plain; charset=ISO-8859-1\n"
        "Content-Transfer-Encoding: Quoted-printable\n\n  ... Additional text in ISO-8859-1 goes here =E4 ...\n\n"
        "--unique-boundary-1--\n"
    )
    assert [(layer.how, layer.sender and layer.sender.address, layer.subject) for layer in message.layers] == [
        ("received", "nathan@one.example", "Sample message"),
        ("attached", "keith@three.example", "(subject in US-ASCII)"),
    ]
    assert [(d.name, d.layer, d.problem) for d in message.documents] == [
        ("body", 0, None),
        ("file:unnamed-1", 0, Problem.UNKNOWN_TYPE),
        ("picture:unnamed-2", 0, Problem.DAMAGED),
        ("file:unnamed-3", 0, Problem.UNKNOWN_TYPE),
        ("attached:1", 1, None),
    ]
    body, *_, attached = message.documents
    assert "Some text appears here" in body.text
    assert "explicit versus implicit" in body.text
    assert "preamble" not in body.text
    assert attached.text == "  ... Additional text in ISO-8859-1 goes here ä ..."
