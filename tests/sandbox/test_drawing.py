"""Pages drawn in processes of their own."""

from __future__ import annotations

from collections.abc import Iterator
from email.message import EmailMessage
from pathlib import Path

import pytest
from hostile_files import page_of, recursive_forms, stream

from counterfoil.documents.message import read_message
from counterfoil.documents.render import page_picture
from counterfoil.model import Box
from counterfoil.patterns import Patterns
from counterfoil.sandbox.drawing import Drawing, picture_of
from counterfoil.sandbox.reader import Reader, Task
from counterfoil.sandbox.wire import FrameBroken
from counterfoil.settings import Limits, Settings

CODE = "SPQR-7788-ABCD-0192"
GOOD = page_of(stream(f"BT /F1 12 Tf 50 700 Td ({CODE}) Tj ET".encode()))


def mail(data: bytes) -> bytes:
    """Return a message with a PDF."""
    message = EmailMessage()
    message["Subject"] = "Confirmation"
    message.set_content("See attached.")
    message.add_attachment(data, maintype="application", subtype="pdf", filename="a.pdf")
    return message.as_bytes()


@pytest.fixture
def reader() -> Iterator[Reader]:
    """A reader with one process."""
    made = Reader(Settings(readers=1), Path("none"), lambda: Patterns.load(None))
    yield made
    made.close()


def test_the_page_is_the_same_as_drawn_here(reader: Reader) -> None:
    """A page drawn apart, its frames and what is painted over are what the drawing itself gives, byte for byte."""
    data = mail(GOOD)
    ((message, _),) = reader.read([Task("", data, whole=True, boxes=True)])
    document = message.documents[1]
    at = document.text.index(CODE)
    box = document.box(at, at + len(CODE))
    assert box is not None
    here = read_message(data, Limits()).documents[1]
    assert (here.text, here.lines, tuple(here.marks)) == (document.text, document.lines, document.marks)
    for hidden in ((), (box,)):
        apart = reader.draw(data, Drawing(document.name, 1, (box,), hidden, hide_pictures=True))
        assert apart == page_picture(data, here, 1, [box], list(hidden), Limits(), hide_pictures=True)
        assert apart is not None and apart.png.startswith(b"\x89PNG")


def test_a_page_that_ends_its_process_is_no_picture(reader: Reader) -> None:
    """A PDF that ends the process gives no picture, nor does one that is not there; the next page is drawn."""
    asked = Drawing("pdf:a.pdf", 1, (Box(0, 0, 10, 10),), (), hide_pictures=False)
    assert reader.draw(mail(recursive_forms()), asked) is None
    assert reader.draw(mail(GOOD), Drawing("pdf:b.pdf", 1, (), (), hide_pictures=False)) is None
    assert reader.draw(mail(GOOD), Drawing("pdf:a.pdf", 2, (), (), hide_pictures=False)) is None
    assert reader.draw(mail(GOOD), asked) is not None


@pytest.mark.parametrize(
    "value", [{}, [], {"png": "?", "width": 1, "height": 1, "frames": []}, {"png": "", "width": "x"}, {"png": 5}]
)
def test_what_is_no_picture_is_refused(value: object) -> None:
    """A process taken over by a file can say anything; what is no picture is a broken frame."""
    with pytest.raises(FrameBroken):
        picture_of(value)
