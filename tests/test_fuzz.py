"""Readers fed with whatever hypothesis thinks of, built from the pieces that real mail is made of."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from counterfoil.documents.forwards import split_forwards
from counterfoil.documents.html import html_rows
from counterfoil.documents.message import read_message
from counterfoil.documents.opening import Opening
from counterfoil.documents.text import document, plain_rows
from counterfoil.model import Layer, Message
from counterfoil.patterns import Patterns
from counterfoil.settings import Limits, Settings

pytestmark = pytest.mark.long

LIMITS = Limits()
PATTERNS = Patterns.load(None)
EXAMPLES = settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)

_MAIL = [
    b"From: ",
    b"To: ",
    b"Subject: ",
    b"Date: ",
    b"Content-Type: ",
    b"multipart/mixed; boundary=",
    b"multipart/alternative",
    b"message/rfc822",
    b"text/html; charset=",
    b"application/pdf; name=",
    b"Content-Transfer-Encoding: base64",
    b"Content-Disposition: attachment; filename*0*=",
    b"--b",
    b"--b--",
    b"\r\n",
    b"\n",
    b"\r\n\r\n",
    b" ",
    b"\t",
    b'"',
    b"b",
    b"=?utf-8?b?TWFyaXQ=?=",
    b"=?x?q?",
    b"?=",
    b"Marit <m@x.example>",
    b"group:;",
    b"Tue, 3 Mar 2026 10:00:00 +0000",
    b"<table><tr><td>",
    b"</td></tr>",
    b"&#x41;",
    b"<!--",
    b"%PDF-1.7",
    b"\xff\xfe",
    b"\0",
    b"TWFjaGluZSBJRDo=",
    b"=3D=\r\n",
    b"utf-8",
    b"utf-16",
    b"iso-2022-jp",
    b"\x1b$B",
    b";",
    b"name=a.eml",
    b"Machine ID: AB-1234",
]
_TEXT = [
    "From: ",
    "Von: ",
    "To: ",
    "Subject: ",
    "Sent: ",
    "Date: ",
    "4 March 2026",
    "2026年3月4日",
    "-----Original Message-----",
    "---------- Forwarded message ---------",
    "Begin forwarded message:",
    "> ",
    ">> ",
    "\n",
    "\n\n",
    "\t",
    "  ",
    " : ",
    "：",
    "Marit <m@x.example>",
    "Machine ID",
    "Maschinen-ID:",
    "Activation code: ",
    "シリアル番号：",
    "AB12-CD34-",
    "7K2M",
    "-",
    "•",
    "\u00ad",
    "\u2011",
    "\u200e",
    "\ufffe",
    "(old)",
    "not",
    "___________",
    "*",
    "|",
    "old",
    "2.10",
    "+44 1632 960517",
    "\0",
]


@EXAMPLES
@given(st.lists(st.one_of(st.sampled_from(_MAIL), st.binary(max_size=6)), max_size=60))
def test_the_message_reader_never_fails(pieces: list[bytes]) -> None:
    """Any pieces of mail in any order are read; no fault comes as far as the last net; every layer has its place."""
    message = read_message(b"".join(pieces), LIMITS, opening=Opening(frozenset()))
    assert not any("nested too deeply" in defect for defect in message.defects)
    assert message.layers[0].parent is None
    assert all(layer.parent is not None and layer.parent < n for n, layer in enumerate(message.layers) if n)
    assert all(0 <= d.layer < len(message.layers) for d in message.documents)
    assert len({d.name for d in message.documents}) == len(message.documents)


@EXAMPLES
@given(st.lists(st.one_of(st.sampled_from(_TEXT), st.text(max_size=6)), max_size=60), st.booleans())
def test_the_forward_reader_loses_nothing(pieces: list[str], rich: bool) -> None:
    """Any text is taken apart without a fault; no piece holds what was not in the text; each has its parent."""
    text = "".join(pieces)
    rows = html_rows(text)[0] if rich else plain_rows(text)
    found = split_forwards(rows, LIMITS)
    assert found[0].parent is None
    assert all(piece.parent is not None and piece.parent < n for n, piece in enumerate(found) if n)
    given_words = "".join(row.text for row in rows).split()
    kept = [word for piece in found for row in piece.rows for word in row.text.split()]
    assert len("".join(kept)) <= len("".join(given_words))


@EXAMPLES
@given(st.lists(st.one_of(st.sampled_from(_TEXT), st.text(max_size=6)), max_size=80))
def test_the_pattern_reader_never_fails(pieces: list[str]) -> None:
    """Any text is read for facts without a fault; each fact stands where it says; masking keeps the length."""
    made = document("body", 0, plain_rows("".join(pieces)), limit=LIMITS.text_chars, media_type="text/plain", size=1)
    message = Message("0" * 64, 1, (Layer("received", None, None),), (made,))
    reading = PATTERNS.read(message, Settings())
    for fact in reading.facts:
        if fact.place.span is not None and fact.place.document == "body":
            start, end = fact.place.span
            assert 0 <= start <= end <= len(made.text)
    assert len(reading.redacted["body"]) == len(made.text)
