"""The examples of RFC 2231 (MIME parameter values: character sets, languages, continuations; 1997), from memory.

The standard's parameters are called URL and title; a title becomes a file's name here, which is what a reader shows.
"""

from __future__ import annotations

import pytest

from counterfoil.documents.message import read_message
from counterfoil.model import Mailbox, Message, Problem
from counterfoil.settings import Limits

HEAD = "From: Keith Fontrevel <keith@one.example>\nMIME-Version: 1.0\n"


def with_file(field: str, parameters: str) -> Message:
    """Return a message that is one attached file, its name given in ``field``."""
    kind, disposition = ("application/x-stuff", "attachment")
    if field == "Content-Type":
        kind += parameters
    else:
        disposition += parameters
    head = f"{HEAD}Content-Type: {kind}\nContent-Disposition: {disposition}\n\nstuff\n"
    return read_message(head.encode(), Limits())


@pytest.mark.parametrize(("field", "name"), [("Content-Type", "name"), ("Content-Disposition", "filename")])
@pytest.mark.parametrize(
    ("section", "parameters", "shown"),
    [
        ("3 continuations", ';\n %*0="long";\n %*1="er name"', "longer name"),
        ("3 in any order", ';\n %*1="er name";\n %*0="long"', "longer name"),
        (
            "4 character set and language",
            ";\n %*=us-ascii'en-us'This%20is%20%2A%2A%2Afun%2A%2A%2A",
            "This is ***fun***",
        ),
        (
            "4.1 both together",
            ";\n %*0*=us-ascii'en'This%20is%20even%20more%20;\n %*1*=%2A%2A%2Afun%2A%2A%2A%20;\n %*2=\"isn't it!\"",
            "This is even more ***fun*** isn't it!",
        ),
        ("4 without a language", ";\n %*=utf-8''N%C3%A4hen%20%E2%82%AC", "Nähen €"),
        ("4.1 a character cut in two", ";\n %*0*=utf-8''N%C3;\n %*1*=%A4hen", "Nähen"),
        ("4 an unknown character set", ";\n %*=x-none''N%C3%A4hen", "Nähen"),
    ],
)
def test_parameters(section: str, parameters: str, shown: str, field: str, name: str) -> None:
    """A parameter in pieces, with a character set and a language, is the file's name, in either field."""
    message = with_file(field, parameters.replace("%*", f"{name}*"))
    assert [document.name for document in message.documents] == [f"file:{shown}"], section


def test_an_external_body_in_pieces_is_named_and_not_fetched() -> None:
    """The first example of section 3: what stands elsewhere becomes a question, and nothing is fetched."""
    head = (
        f"{HEAD}Content-Type: message/external-body; access-type=URL;\n"
        ' URL*0="ftp://";\n URL*1="one.example/pub/bulk-mailer.tar"\n\nContent-Type: text/plain\n\nphantom\n'
    )
    (document,) = read_message(head.encode(), Limits()).documents
    assert document.problem is Problem.UNKNOWN_TYPE
    assert "fetched" in document.reason


def test_language_in_an_encoded_word() -> None:
    """Section 5: a language behind the character set of an encoded word is no part of the text."""
    message = read_message(
        b"From: =?US-ASCII*EN?Q?Keith_Fontrevel?= <keith@one.example>\nSubject: =?utf-8*de?B?TsOkaGVu?=\n\nText\n",
        Limits(),
    )
    assert message.head.sender == Mailbox("Keith Fontrevel", "keith@one.example")
    assert message.head.subject == "Nähen"
