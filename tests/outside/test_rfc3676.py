"""Text of format=flowed against the rules of RFC 3676 (2004), section by section, with texts of our own."""

from __future__ import annotations

import pytest

from counterfoil.documents.message import read_message
from counterfoil.documents.text import plain_rows
from counterfoil.patterns import Patterns
from counterfoil.settings import Limits, Settings


def body(text: str, parameters: str = "") -> str:
    """Return the text of a flowed message as it is read."""
    head = "From: Marit Solvang <marit@solvang.example>\nContent-Type: text/plain; charset=utf-8; format=flowed"
    message = read_message(f"{head}{parameters}\n\n{text}".encode(), Limits())
    return "\n\n".join(document.text for document in message.documents)


@pytest.mark.parametrize(
    ("section", "text", "shown"),
    [
        ("4.1 a space at a line end continues the line", "one \ntwo \nthree\nfour\n", "one two three\nfour"),
        ("4.1 a fixed line stays by itself", "one\ntwo\n", "one\ntwo"),
        ("4.2 an empty line parts paragraphs", "one \ntwo\n\nthree\n", "one two\n\nthree"),
        ("4.3 the signature's line is fixed", "one\n-- \nMarit\n", "one\n--\nMarit"),
        ("4.3 no line is joined to the signature's", "one \n-- \nMarit\n", "one\n--\nMarit"),
        ("4.3 nor to a quoted one", "> one \n> -- \n> Marit\n", "> one\n> --\n> Marit"),
        ("4.4 a stuffed space is taken off", " From here\n", "From here"),
        ("4.4 and one before a mark that is text", "a\n > b\n", "a\n> b"),
        ("4.4 only one", "a\n   b\n", "a\n  b"),
        ("4.5 quoted lines of one depth are joined", "> one \n> two\n", "> one two"),
        ("4.5 with and without a space after the mark", ">one \n> two\n", "> one two"),
        ("4.5 another depth ends the paragraph", "> one \n>> two \nthree\n", "> one\n>> two\nthree"),
        ("4.5 marks of two depths", ">> one \n>> two\n> three\n", ">> one two\n> three"),
        ("4.6 a flowed line may end the text", "one \n", "one"),
    ],
)
def test_sections(section: str, text: str, shown: str) -> None:
    """Each rule on soft line breaks, quotes and stuffing is kept, whatever the line ends."""
    assert body(text) == shown, section
    assert body(text.replace("\n", "\r\n")) == shown, section


def test_delsp_takes_the_space_with_the_line_break() -> None:
    """With DelSp=yes (section 4.1) the space at a soft break is no part of the text, without it is one."""
    text = "VT20 \n4417R and  \nmore\n"
    assert body(text, "; DelSp=yes") == "VT204417R and more"
    assert body(text, "; delsp=YES") == "VT204417R and more"
    assert body(text, "; delsp=no") == body(text) == "VT20 4417R and  more"


def test_a_stuffed_mark_is_text_and_no_quote() -> None:
    """A line that begins with a space and ">" is not quoted (section 4.4), the same without the space is."""
    assert [row.depth for row in plain_rows(" > a\n> b\n>> c\nd", flowed=True)] == [0, 1, 2, 0]


def test_two_marks_apart_are_read_as_two_quotes() -> None:
    """Common practice, no source: "> > " stands for two quotes, and its lines are joined at that depth."""
    assert body("> > one \n> > two\n") == ">> one two"


def test_text_that_is_not_flowed_keeps_its_lines() -> None:
    """Without the parameter, and with another value (section 3.1), lines stay as they are."""
    head = b"From: a@b.example\nContent-Type: text/plain; format="
    for value in (b"fixed", b"other"):
        message = read_message(head + value + b"\n\none \ntwo\n > x\n", Limits())
        assert message.documents[0].text == "one\ntwo\n > x"


def test_a_label_and_a_code_over_soft_breaks_are_one_line() -> None:
    """What a mail program wrapped is read as it was typed: the label with its value, and a code under DelSp whole."""
    patterns = Patterns.load(None)
    head = b"From: a@b.example\nContent-Type: text/plain; charset=utf-8; format=flowed"
    wrapped = read_message(head + b"\n\nSerial \nnumber: \nVT-204417-R\nActivation \nkey: 7KQM-2XPD-94TW\n", Limits())
    cut = read_message(
        head + b"; delsp=yes\n\nSerial number: VT-20 \n4417-R\nActivation key: 7KQM- \n2XPD-94TW\n", Limits()
    )
    plain = read_message(b"From: a@b.example\n\nSerial number: VT-204417-R\nActivation key: 7KQM-2XPD-94TW\n", Limits())
    facts = [
        sorted((fact.kind, fact.value) for fact in patterns.read(message, Settings()).facts)
        for message in (plain, wrapped, cut)
    ]
    assert len(facts[0]) >= 2
    assert facts[1] == facts[0]
    assert facts[2] == facts[0]
