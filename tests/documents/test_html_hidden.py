"""Text that a page does not show: every way of hiding it, its near misses, what is said of it, and that it is no fact.

The ways stand in CSS Display Level 3 (display), CSS 2.2 (visibility, overflow, offsets, text-indent) and CSS Color
Level 4 (opacity, colours); what mail programs and senders make of them is common practice, no source.
"""

from __future__ import annotations

import pytest
from mail_parts import HEAD, mail, multipart, part, read
from PIL import ImageColor

from counterfoil.documents.html import html_rows
from counterfoil.documents.html_colours import NAMED, alike, colour
from counterfoil.documents.html_hidden import hidden_defect, masked
from counterfoil.model import Kind
from counterfoil.patterns import Patterns
from counterfoil.settings import Settings

HTML = "text/html; charset=utf-8"


def lines(html: str) -> list[str]:
    """Return the lines that are not empty."""
    return [row.text for row in html_rows(html)[0] if row.text]


HIDDEN = [
    "<div style='display:none'>X</div>",
    "<div style='display:/**/none'>X</div>",
    "<div style='display:none!important;display:block'>X</div>",
    "<div style='visibility:hidden'>X</div>",
    "<div style='visibility:collapse'><b>X</b></div>",
    "<div style='opacity:0'>X</div>",
    "<div style='opacity:0.0'><b style='opacity:1'>X</b></div>",
    "<div style='font-size:0'>X</div>",
    "<div style='font-size:0pt'>X</div>",
    "<div style='font-size:0em'>X</div>",
    "<div style='font-size:1px'>X</div>",
    "<div style='font-size:0'><b style='font-size:2em'>X</b></div>",
    "<div style='font:0/0 a'>X</div>",
    "<div style='max-height:0;overflow:hidden'>X</div>",
    "<div style='max-height:0px;max-width:0px;overflow:hidden;padding:0'>X</div>",
    "<div style='height:0;overflow:hidden'>X</div>",
    "<span style='display:block;height:1px;overflow:hidden'>X</span>",
    "<div style='line-height:0;overflow:hidden'>X</div>",
    "<div style='mso-hide:all'>X</div>",
    "<div style='color:#fff'>X</div>",
    "<div style='color:white'>X</div>",
    "<div style='color:#fefefe'>X</div>",
    "<div style='color:rgb(255, 255, 255)'>X</div>",
    "<div style='color:rgba(0,0,0,0)'>X</div>",
    "<div style='color:transparent'>X</div>",
    "<font color=white>X</font>",
    "<font color=FFFFFF>X</font>",
    "<div style='color:#336699;background:#369'>X</div>",
    "<table bgcolor=navy><tr><td><font color='#000080'>X</font></td></tr></table>",
    "<div style='background-color:black;color:white'><p style='background-color:white'>X</p></div>",
    "<div style='text-indent:-9999px'>X</div>",
    "<div style='position:absolute;left:-9999px'>X</div>",
    "<div style='margin-left:-1000px'>X</div>",
    "<div style='margin:0 0 0 -999em'>X</div>",
    "<p hidden>X</p>",
    "<style>p.gone{display:none}</style><p class='a gone'>X</p>",
    "<style>b, #gone {display:none}</style><p id=gone>X</p>",
    "<style>i{font-size:0}</style><i>X</i>",
    "<style><!-- .gone{color:#fff} --></style><p class=gone>X</p>",
    "<style>.gone{display:none!important}</style><p class=gone style='display:block'>X</p>",
    "<pre style='visibility:hidden'>X</pre>",
    "<table><tr style='display:none'><td>X</td></tr></table>",
    "<table><tr><td style='color:white'>X</td></tr></table>",
    "<div>" * 160 + "<b style='display:none'>X</b>" + "</div>" * 160,
]


@pytest.mark.parametrize("html", HIDDEN, ids=range(len(HIDDEN)))
def test_hidden_text_is_no_row_and_is_returned(html: str) -> None:
    """Text that nobody sees stands in no row, and is returned beside them."""
    rows, _, hidden, _ = html_rows(f"a{html}<p>b</p>")
    assert [row.text for row in rows if row.text] == ["a", "b"]
    assert hidden == "X"


SHOWN = [
    "<div style='color:black;background:white'>X</div>",
    "<table><tr><td bgcolor='#003366'><table><tr><td><b style='color:#fff'>X</b></td></tr></table></td></tr></table>",
    "<body bgcolor=black text=white>X</body>",
    "<style>.dark .cell{background:#000}</style><div class=cell style='color:#fff'>X</div>",
    "<div style='background:url(https://a.example/x.png);background-color:#fff;color:#fff'>X</div>",
    "<table background='https://a.example/x.png'><tr><td style='color:#fff'>X</td></tr></table>",
    "<div style='color:#fff'><a href='https://a.example'>X</a></div>",
    "<div style='color:#ddd'>X</div>",
    "<div style='color:hsl(0 0% 100%)'>X</div>",
    "<div style='font-size:10px'>X</div>",
    "<div style='font-size:0'><b style='font-size:14px'>X</b></div>",
    "<font size=1>X</font>",
    "<div style='opacity:.9'>X</div>",
    "<div style='height:0'>X</div>",
    "<div style='max-height:0'>X</div>",
    "<span style='height:0;overflow:hidden'>X</span>",
    "<table><tr><td style='height:0;overflow:hidden'>X</td></tr></table>",
    "<div style='width:1%;overflow:hidden'>X</div>",
    "<div style='height:0;padding-top:40px;overflow:hidden'>X</div>",
    "<div style='line-height:0'>X</div>",
    "<div style='line-height:0;overflow:hidden'><p style='line-height:20px'>X</p></div>",
    "<div style='visibility:hidden'><p style='visibility:visible'>X</p></div>",
    "<div style='text-indent:-20px'>X</div>",
    "<div style='left:-9999px'>X</div>",
    "<a href='https://a.example' style='mso-hide:all'>X</a>",
    "<div style='display:none;display:block'>X</div>",
    "<style>.a{display:none}</style><p class=a style='display:block'>X</p>",
    "<style>@media print{.a{color:#fff}}</style><p class=a>X</p>",
    "<style media=print>.a{display:none}</style><p class=a>X</p>",
    "<style>.a .b{display:none}</style><p class=b>X</p>",
    "<style>a:hover{display:none}</style><a href='https://a.example'>X</a>",
]


@pytest.mark.parametrize("html", SHOWN, ids=range(len(SHOWN)))
def test_near_misses_are_shown(html: str) -> None:
    """Text that is small, pale, on a dark or an unknown ground, or in a box that is not cut off is read."""
    assert lines(html) == ["X"]
    assert html_rows(html)[2] == ""


def test_hidden_text_between_the_parts_of_a_word() -> None:
    """Text of no size leaves no gap where it stood, white text does, and a footnote behind it stays apart."""
    assert lines("AB<b style='font-size:0'>zz</b>CD") == ["ABCD"]
    assert lines("AB<b style='color:#fff'>zz</b>CD") == ["AB CD"]
    assert lines("AB-12<b style='font-size:0'>zz</b><sup>1</sup>") == ["AB-12^1"]


def test_colour_names() -> None:
    """All 148 names of CSS Color Level 4 have the values that Pillow gives them, and notations agree with it."""
    # Pillow turns values of its table into numbers as they are asked for.
    assert NAMED.keys() == ImageColor.colormap.keys()
    assert all(ImageColor.getrgb(name) == ImageColor.getrgb(f"#{value}") for name, value in NAMED.items())
    for value in ("#fff", "#1a2b3c", "rgb(1,2,3)", "rgb(100%,0%,50%)"):
        found = colour(value)
        assert found is not None
        assert alike(found[0], ImageColor.getrgb(value)[:3])
    assert [colour(value) for value in ("#ff", "#ggg", "hsl(0,0%,0%)", "rgb(1)", "rgb(1.2.3,0,0)", "")] == [None] * 6


@pytest.mark.parametrize(
    "code",
    [
        "K7QM-4T2X-9HVD",
        "K7QM 4T2X 9HVD",
        "K7QM4T2X9HVD",
        "k7qm.4t2x.9hvd",
        "48 2913 55",
        "ABCDE-FGHJK-LMNPQ",
        "abcde-fghjk-lmnpq",
        "ABCDEFGHJK",
        "AB1*CD2*EF3",
        "A 1 B 2 C 3",
        "K7QM\u200b4T2X\u200b9HVD",
    ],
)
def test_no_code_is_quoted(code: str) -> None:
    """Nothing of a code is left in the sentence on hidden text, however the code is written."""
    hidden = html_rows(f"<p style='display:none'>your code is {code} for now</p>")[2]
    said = hidden_defect([hidden])
    assert said is not None
    quote = said[said.index("“") :]
    assert quote.startswith("“your code is •")
    assert quote.endswith(" for now”.")
    assert not set(code) & set(quote.removeprefix("“your code is ").removesuffix(" for now”.")) - set(" -.*")


def test_a_code_cut_by_the_end_of_the_quote() -> None:
    """A code over the end of what is quoted is hidden before the text is cut."""
    said = hidden_defect(["so " * 18 + "AB12-CD34-EF56 and more"])
    assert said is not None
    assert "“" + "so " * 18 + "••••-•…”" in said


def test_plain_words_stay() -> None:
    """A sentence without a code is quoted as it is."""
    text = "Thank you for your order, see what is new in our state-of-the-art shop!"
    assert masked(text) == text


def test_one_sentence_a_message() -> None:
    """A message has one sentence on all its hidden texts, with their length; none where filler alone is hidden."""
    gone = "<p style='display:none'>{}</p>seen"
    message = read(multipart(part(gone.format("one two"), HTML), part(gone.format("six"), HTML)))
    said = "The HTML has text that is not shown (10 characters), which was not read: “one two six”."
    assert message.defects == (said,)
    assert read(mail(gone.format("&zwnj;&nbsp;&#847; &shy;"), HTML)).defects == ()


def test_a_hidden_code_is_no_fact() -> None:
    """From bytes to facts: the code that is shown is the only one found; the hidden one is nowhere in the message."""
    table = (
        "<table><tr><td>Machine ID</td><td>HG-482913-K</td></tr><tr><td>Activation code</td><td>{}</td></tr></table>"
    )
    shown, hidden = "K7QM-4T2X-9HVD", "Z3WP-8N5R-2CJF"
    trick = "<div style='color:#ffffff'>" + table.format(hidden) + "</div>"
    patterns = Patterns.load(None)

    def codes(body: str) -> set[str]:
        message = read(mail(body, HTML, head=HEAD))
        reading = patterns.read(message, Settings())
        assert hidden not in repr(message) or trick not in body
        return {fact.value for fact in reading.facts if fact.kind is Kind.ACTIVATION_CODE}

    assert codes(table.format(shown) + trick) == {shown}
    assert codes(table.format(hidden)) == {hidden}


def test_many_rules_and_classes_take_no_longer() -> None:
    """Rules beyond the bound are passed over, and those before it still hide."""
    rules = ".gone{display:none}" + "".join(f".c{n}{{color:red}}" for n in range(5_000)) + ".late{display:none}"
    names = " ".join(f"c{n}" for n in range(1_000))
    html = f"<style>{rules}</style><p class=gone>X</p><p class=late>Y</p>" + f"<p class='{names}'>Z</p>" * 50
    assert lines(html) == ["Y", *["Z"] * 50]
