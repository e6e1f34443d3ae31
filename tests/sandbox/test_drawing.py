"""Pages drawn in processes of their own."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import nullcontext
from email.message import EmailMessage
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from hostile_files import page_of, recursive_forms, stream

from counterfoil.documents.crops import crops
from counterfoil.documents.message import read_message
from counterfoil.documents.render import page_picture
from counterfoil.model import BY_EYE, Box, Check, Fact, Kind, Place
from counterfoil.patterns import Patterns
from counterfoil.sandbox.drawing import Drawing, crops_of, picture_of
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


def by_eye(document: str, box: Box | None) -> Fact:
    """Return a value read by eye."""
    place = Place(document, 1, box)
    return Fact(Kind.PRODUCT_KEY, CODE, CODE, place, "label en", Check.NONE, 1.0, (), (BY_EYE,))


def test_pieces_of_pictures_are_those_cut_out_here(reader: Reader) -> None:
    """Pieces cut out apart are byte for byte what cutting them out gives, none where there is none; locked ones too."""
    facts = [by_eye("scan:a.pdf", Box(50, 690, 200, 715)), by_eye("scan:a.pdf", None), by_eye("scan:b.pdf", None)]
    here = crops(mail(GOOD), facts, Limits(), nullcontext)
    assert [piece is None for piece in here] == [False, True, True]
    assert reader.crops(mail(GOOD), facts) == here
    out = BytesIO()
    with pikepdf.open(BytesIO(GOOD)) as pdf:
        pdf.save(out, encryption=pikepdf.Encryption(owner="o", user="told", R=6))
    assert crops(mail(out.getvalue()), facts, Limits(), nullcontext) == [None] * 3
    assert crops(mail(out.getvalue()), facts, Limits(), nullcontext, ("wrong", "told")) == here


def test_a_picture_that_ends_its_process_has_no_pieces() -> None:
    """A file that ends the process gives none, in the run's stead; the next one does. Too many are not drawn."""
    limits = Limits(pictures=3, picture_memory_bytes=1_200_000_000)
    reader = Reader(Settings(readers=1, limits=limits), Path("none"), lambda: Patterns.load(None))
    fact = by_eye("scan:a.pdf", Box(50, 690, 200, 715))
    assert reader.crops(mail(recursive_forms()), [fact]) == [None]
    pieces = reader.crops(mail(GOOD), [fact] * 5)
    assert [piece is not None for piece in pieces] == [True] * 3 + [False] * 2
    reader.close()


@pytest.mark.parametrize("value", [None, {}, ["?"], [5], [], [None]])
def test_what_are_no_pieces_is_refused(value: object) -> None:
    """Pieces that are no pictures, or not as many as were asked for, are a broken frame."""
    with pytest.raises(FrameBroken):
        crops_of(value, 2)


@pytest.mark.parametrize(
    "value", [{}, [], {"png": "?", "width": 1, "height": 1, "frames": []}, {"png": "", "width": "x"}, {"png": 5}]
)
def test_what_is_no_picture_is_refused(value: object) -> None:
    """A process taken over by a file can say anything; what is no picture is a broken frame."""
    with pytest.raises(FrameBroken):
        picture_of(value)
