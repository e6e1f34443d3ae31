"""The examples of RFC 2047, section 8 (MIME part three: message header extensions, 1996), written down from memory.

The table of the section has comments, shown in parentheses. Its header examples name people; here the same forms
carry invented names.
"""

from __future__ import annotations

import pytest

from counterfoil.documents.headers import header_text
from counterfoil.documents.message import read_message
from counterfoil.model import Mailbox
from counterfoil.settings import Limits


@pytest.mark.parametrize(
    ("encoded", "displayed"),
    [
        ("(=?ISO-8859-1?Q?a?=)", "(a)"),
        ("(=?ISO-8859-1?Q?a?= b)", "(a b)"),
        ("(=?ISO-8859-1?Q?a?= =?ISO-8859-1?Q?b?=)", "(ab)"),
        ("(=?ISO-8859-1?Q?a?=  =?ISO-8859-1?Q?b?=)", "(ab)"),
        ("(=?ISO-8859-1?Q?a?=\n    =?ISO-8859-1?Q?b?=)", "(ab)"),
        ("(=?ISO-8859-1?Q?a_b?=)", "(a b)"),
        ("(=?ISO-8859-1?Q?a?= =?ISO-8859-2?Q?_b?=)", "(a b)"),
    ],
)
def test_table_of_section_8(encoded: str, displayed: str) -> None:
    """Encoded words are shown as the table has it: white space between two of them goes, all other stays."""
    assert header_text(encoded) == displayed
    assert header_text(encoded.replace("\n", "\r\n")) == displayed


def test_header_examples_of_section_8() -> None:
    """Encoded words in names, alone and beside plain ones, and a subject of two words in two character sets."""
    message = read_message(
        b"From: =?US-ASCII?Q?Keith_Fontrevel?= <keith@one.example>\n"
        b"To: =?ISO-8859-1?Q?Keld_J=F8rn_Solvang?= <keld@two.example>\n"
        b"CC: =?ISO-8859-1?Q?Andr=E9?= Fontrevel <ANDRE@three.example>\n"
        b"Subject: =?ISO-8859-1?B?SWYgeW91IGNhbiByZWFkIHRoaXMgeW8=?=\n"
        b" =?ISO-8859-2?B?dSB1bmRlcnN0YW5kIHRoZSBleGFtcGxlLg==?=\n"
        b"\nText\n",
        Limits(),
    )
    head = message.head
    assert head.sender == Mailbox("Keith Fontrevel", "keith@one.example")
    assert head.to == (Mailbox("Keld Jørn Solvang", "keld@two.example"),)
    assert head.cc == (Mailbox("André Fontrevel", "ANDRE@three.example"),)
    assert head.subject == "If you can read this you understand the example."


def test_folded_names_and_comments_of_section_8() -> None:
    """A folded list, and a comment of an encoded word beside a name: the comment is no part of the name."""
    message = read_message(
        b"From: Nathan Solvang <nathan@one.example>\n"
        b"    (=?iso-8859-8?b?+ezl7Q==?=)\n"
        b"To: Greg Fontrevel <GREG@TWO.EXAMPLE>, Ned Solvang\n"
        b"   <ned@three.example>, Keith Fontrevel <keith@one.example>\n"
        b"Subject: Test of new header generator\n"
        b"MIME-Version: 1.0\n"
        b"Content-type: text/plain; charset=ISO-8859-1\n"
        b"\nText\n",
        Limits(),
    )
    assert message.head.sender == Mailbox("Nathan Solvang", "nathan@one.example")
    assert message.head.to == (
        Mailbox("Greg Fontrevel", "GREG@TWO.EXAMPLE"),
        Mailbox("Ned Solvang", "ned@three.example"),
        Mailbox("Keith Fontrevel", "keith@one.example"),
    )
    assert message.head.subject == "Test of new header generator"
