"""Attributes beyond number: left out before they are parsed, told apart as browsers do."""

from __future__ import annotations

import email
import email.policy
from email.message import EmailMessage

import pytest
from conftest import SAMPLES
from selectolax.lexbor import LexborHTMLParser

from counterfoil.documents.html import html_rows
from counterfoil.documents.html_attributes import with_few_attributes
from counterfoil.documents.message import read_message
from counterfoil.settings import Limits

#: Documents shorter than this are handed on without a look.
FILL = " " * 50_000
#: Each is parsed in a minute or more without the bound, by a time that grows with its square.
HOSTILE = {
    "one tag": "<p " + " ".join(f"a{n}=x" for n in range(300_000)) + ">Machine ID</p>",
    "without values": "<p " + " ".join(f"a{n}" for n in range(300_000)) + ">Machine ID</p>",
    "the same one": "<p " + "a=1 " * 300_000 + ">Machine ID</p>",
    "a name for each tag": "".join(f"<p a{n}=x b{n}=y>" for n in range(100_000)) + "Machine ID",
    "quotes in quotes": "<p " + "a=\"x' b='y\" " * 150_000 + ">Machine ID</p>",
}


@pytest.mark.parametrize("html", HOSTILE.values(), ids=HOSTILE.keys())
def test_what_is_over_the_bound_is_cut_and_its_text_read(html: str) -> None:
    """No tag is left with more than 200 attributes and no document with more than 1,000 names; the text is whole."""
    few, cut = with_few_attributes(html)
    assert cut and len(few) < len(html)
    tree = LexborHTMLParser(few)
    assert max(len(node.attributes) for node in tree.css("p")) <= 200
    assert len({name for node in tree.css("p") for name in node.attributes}) <= 1_000
    found = html_rows(html)
    assert found.cut
    assert "".join(row.text for row in found.rows) == "Machine ID"


@pytest.mark.parametrize(
    "html",
    [
        "<p " + " ".join(f"a{n}={n}" for n in range(200)) + ">x",
        "<!-- <p " + "a " * 5_000 + "> -->x",
        '<p title="' + "a=1 " * 5_000 + '">x',
        "<p title='" + '> a="1 ' * 5_000 + "'>x",
        "<p title=it's " + "b=1>x<p c=d'>" * 100,
        "a < b " + "c = d " * 5_000,
        "".join(f"<td width={n} class='c{n}'>x" for n in range(3_000)),
        "<p " + " \n" * 5_000 + "a\n=\n'1'>x",
        '<p a="' + "b=1 " * 5_000,
    ],
)
def test_what_is_under_it_is_not_touched(html: str) -> None:
    """Comments, values with spaces and signs in them, text, and many tags of few attributes stay as they are."""
    assert with_few_attributes(html + FILL) == (html + FILL, False)


def test_html_of_the_samples_is_not_touched() -> None:
    """No HTML of the sample mailbox is changed."""
    pages = 0
    for path in sorted((SAMPLES / "mailbox").glob("*.eml")):
        message = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
        assert isinstance(message, EmailMessage)
        for part in message.walk():
            if part.get_content_type() == "text/html":
                text = part.get_content() + FILL
                assert with_few_attributes(text) == (text, False)
                pages += 1
    assert pages > 10


def test_attributes_that_count_stay_where_they_come_first() -> None:
    """Of a tag over the bound the first attributes still hide its text; what is left out is told in the defects."""
    rest = " ".join(f"a{n}=x" for n in range(20_000))
    html = f"<p style='display:none' {rest}>hidden</p><p {rest}>Machine ID</p>"
    message = EmailMessage()
    message["From"] = "a@b.example"
    message.set_content(html, subtype="html")
    read = read_message(message.as_bytes(), Limits())
    assert "Machine ID" in read.documents[0].text and "hidden" not in read.documents[0].text
    assert any("more attributes than are read" in defect for defect in read.defects)
