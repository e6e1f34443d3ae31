"""Hidden text in HTML: left out of what is read, and reported.

What hides is by CSS Display 3 (2.6), CSS 2.2 (9.3, 11.1, 11.2, 16.1), CSS Color 4 and the HTML Standard (15.3), from
memory; that mail programs know mso-hide is common practice, no source.
"""

from __future__ import annotations

from email.message import EmailMessage

import pytest

from counterfoil.documents.html import html_rows
from counterfoil.documents.html_hidden import masked
from counterfoil.documents.message import read_message
from counterfoil.model import Kind
from counterfoil.patterns import Patterns
from counterfoil.settings import Limits, Settings

SECRET = "quiet words"
HIDING = {
    "display": f"<div style='display:none'>{SECRET}</div>",
    "display, important": f"<div style='display : none !important'>{SECRET}</div>",
    "visibility": f"<span style='visibility:hidden'>{SECRET}</span>",
    "visibility of a row": f"<table><tr style='visibility:collapse'><td>{SECRET}</td></tr></table>",
    "opacity": f"<p style='opacity:0'>{SECRET}</p>",
    "no type size": f"<span style='font-size:0'>{SECRET}</span>",
    "one pixel": f"<span style='font-size:1px;line-height:1px'>{SECRET}</span>",
    "no height": f"<div style='max-height:0;overflow:hidden'>{SECRET}</div>",
    "no height, no width": f"<div style='height:0px;width:0px;overflow:hidden'>{SECRET}</div>",
    "mso-hide": f"<div style='mso-hide:all'>{SECRET}</div>",
    "white on white": f"<p style='color:#ffffff'>{SECRET}</p>",
    "white by name on a named ground": f"<div style='background:white'><font color=white>{SECRET}</font></div>",
    "black on black": f"<div style='background-color:#000'><i style='color:rgb(0,0,0)'>{SECRET}</i></div>",
    "nearly white": f"<p style='color:#fefefe'>{SECRET}</p>",
    "off the page": f"<div style='position:absolute;left:-9999px'>{SECRET}</div>",
    "indented away": f"<p style='text-indent:-9999px'>{SECRET}</p>",
    "hidden": f"<div hidden>{SECRET}</div>",
    "by class": f"<style>.pre {{ display: none }}</style><div class='a pre'>{SECRET}</div>",
    "by id": f"<style>#pre {{ display: none }}</style><div id=pre>{SECRET}</div>",
    "by tag": f"<style>h6 {{ font-size: 0 }}</style><h6>{SECRET}</h6>",
    "by tag and class": f"<style>p.x, div.pre {{ opacity:0 }}</style><div class=pre>{SECRET}</div>",
}
SHOWN = {
    "black on white": f"<p style='color:#000;background:#fff'>{SECRET}</p>",
    "white in a dark cell": f"<table><tr><td bgcolor=navy><b style='color:white'>{SECRET}</b></td></tr></table>",
    "white on a picture": f"<div style='background:url(x.png)'><p style='color:#fff'>{SECRET}</p></div>",
    "small": f"<p style='font-size:9px'>{SECRET}</p>",
    "a size of its own": f"<table style='font-size:0'><tr><td style='font-size:14px'>{SECRET}</td></tr></table>",
    "half opaque": f"<p style='opacity:.6'>{SECRET}</p>",
    "no height, nothing cut off": f"<div style='height:0'>{SECRET}</div>",
    "display block": f"<div style='display:block'>{SECRET}</div>",
    "a rule for telephones": f"<style>@media (width:1px) {{ .m {{ display:none }} }}</style><p class=m>{SECRET}</p>",
    "a rule elsewhere": f"<style>.other .m {{ display:none }}</style><p class=m>{SECRET}</p>",
    "shown again": f"<style>.m {{ display:none }}</style><p class=m style='display:block'>{SECRET}</p>",
    "a link in white cells": f"<td bgcolor=white><a href='x' style=''>{SECRET}</a></td>",
}


def shown(text: str) -> str:
    """Return what is read."""
    return " ".join(row.text for row in html_rows(f"<p>Before</p>{text}<p>After</p>")[0])


@pytest.mark.parametrize("way", HIDING)
def test_what_is_not_shown_is_not_read(way: str) -> None:
    """Hidden text is no row, it is handed out apart, and what stands around it is read."""
    assert SECRET not in shown(HIDING[way])
    assert {"Before", "After"} <= set(shown(HIDING[way]).split())
    assert html_rows(HIDING[way])[2] == SECRET


@pytest.mark.parametrize("way", SHOWN)
def test_what_is_shown_is_read(way: str) -> None:
    """Near misses of hiding are read; where it cannot be told, text is taken for shown."""
    assert SECRET in shown(SHOWN[way])
    assert html_rows(SHOWN[way])[2] == ""


def mail(text: str) -> bytes:
    """Return an HTML mail."""
    message = EmailMessage()
    message["From"], message["Subject"] = "Marit <marit@solvang.example>", "Activation"
    message.set_content(text, subtype="html")
    return message.as_bytes()


def test_a_hidden_code_is_no_fact_and_is_not_shown_in_the_report() -> None:
    """A code in hidden text is no fact and no text; the defect tells of it with the code covered."""
    code = "7K2M-QQ4X-19ZB"
    shown_code = "4F8B-RR2C-77LA"
    text = f"<p>Activation code: {shown_code}</p><p style='display:none'>Activation code: {code}, and more</p>"
    message = read_message(mail(text), Limits())
    reading = Patterns.load(None).read(message, Settings())
    assert [f.value for f in reading.facts if f.kind is Kind.ACTIVATION_CODE] == [shown_code]
    assert code not in message.documents[0].text
    (defect,) = [defect for defect in message.defects if "not shown" in defect]
    assert "Activation code: ••••-••••-••••" in defect
    assert "QQ4X" not in defect


def test_one_defect_a_message() -> None:
    """Many hidden pieces are one sentence with their number of characters; a message without any has none."""
    message = read_message(mail("<p>a</p>" + "<i hidden>bb</i>" * 40), Limits())
    assert sum("not shown" in defect for defect in message.defects) == 1
    assert not any("not shown" in defect for defect in read_message(mail("<p>a</p>"), Limits()).defects)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Your code AB12CD34 is ready", "Your code •••••••• is ready"),
        ("7K2M QQ4X 19ZB", "•••• •••• ••••"),
        ("Read this in your browser", "Read this in your browser"),
        ("on 3 March", "on 3 March"),
    ],
)
def test_what_may_be_a_code_is_covered(text: str, said: str) -> None:
    """Words that may be codes are covered, words of a language are not."""
    assert masked(text) == said
