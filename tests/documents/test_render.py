"""Pictures of pages: what they show, where frames lie, and that what is hidden is gone from the picture."""

from __future__ import annotations

from collections.abc import Callable
from email.message import EmailMessage
from io import BytesIO

import pypdfium2
import pytest
from mail_parts import multipart, part
from odd_mail import holding, packed, page
from pdf_papers import beside, paper
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from counterfoil.documents.message import read_message
from counterfoil.documents.render import MOST_PIXELS, page_picture
from counterfoil.model import Box, Document, PagePicture
from counterfoil.settings import Limits

LIMITS = Limits()
CODE = "SPQR-7788-ABCD-0192"


def mail(*pdfs: bytes, name: str = "confirmation.pdf") -> bytes:
    """Return a message with PDFs, all of one name."""
    message = EmailMessage()
    message["From"], message["Subject"] = "Marit Solvang <marit@solvang.example>", "Confirmation"
    message.set_content("See attached.")
    for data in pdfs:
        message.add_attachment(data, maintype="application", subtype="pdf", filename=name)
    return message.as_bytes()


def read(data: bytes, number: int = 0) -> Document:
    """Return one of the PDFs of a message as it is read."""
    return [d for d in read_message(data, LIMITS).documents if d.name.startswith("pdf:")][number]


def box_of(document: Document, text: str) -> Box:
    """Return the box of a text."""
    at = document.text.index(text)
    box = document.box(at, at + len(text))
    assert box is not None
    return box


def pixels(picture: PagePicture) -> Image.Image:
    """Return the picture as another library reads it."""
    image = Image.open(BytesIO(picture.png))
    image.load()
    assert image.size == (picture.width, picture.height)
    return image.convert("L")


def cut(picture: PagePicture, number: int = 0) -> Image.Image:
    """Return the part of the picture inside a frame."""
    left, top, right, bottom = picture.frames[number]
    w, h = picture.width, picture.height
    return pixels(picture).crop((round(left * w), round(top * h), round(right * w), round(bottom * h)))


def share_of_ink(image: Image.Image) -> float:
    """Return which share of a picture is dark."""
    return sum(image.histogram()[:128]) / (image.width * image.height)


def draw(data: bytes, frames: list[Box], hidden: list[Box], *, hide_pictures: bool = False) -> PagePicture:
    """Draw the first page of the first PDF."""
    picture = page_picture(data, read(data), 1, frames, hidden, LIMITS, hide_pictures=hide_pictures)
    assert picture is not None
    return picture


def test_a_frame_lies_around_its_text() -> None:
    """Inside the frame of a value there is ink, and outside every frame of a page with one line there is none."""
    data = mail(paper(lambda c: c.drawString(220, 700, CODE)))
    picture = draw(data, [box_of(read(data), CODE)], [])
    inside = cut(picture)
    assert 0.05 < share_of_ink(inside) < 0.6
    total = share_of_ink(pixels(picture)) * picture.width * picture.height
    assert share_of_ink(inside) * inside.width * inside.height == pytest.approx(total, rel=0.001)


def test_what_is_hidden_is_one_black_bar() -> None:
    """A hidden value leaves nothing but black, in the bytes of the picture itself; its neighbours stay."""
    data = mail(paper(beside))
    document = read(data)
    code, neighbour = box_of(document, CODE), box_of(document, "8812-00731")
    picture = draw(data, [code, neighbour], [code])
    assert cut(picture).getextrema() == (0, 0)
    assert 0.02 < share_of_ink(cut(picture, 1)) < 0.6


def turned(degrees: int) -> Callable[[Canvas], None]:
    """Draw a code on a page that is shown turned."""

    def page(c: Canvas) -> None:
        c.setPageRotation(degrees)
        c.drawString(120, 300, CODE)

    return page


@pytest.mark.parametrize("degrees", [0, 90, 180, 270])
def test_turned_pages_hide_the_right_place(degrees: int) -> None:
    """On a page that is shown turned the bar covers the code and the whole code: no ink is left beside it."""
    data = mail(paper(turned(degrees)))
    code = box_of(read(data), CODE)
    assert share_of_ink(pixels(draw(data, [code], []))) > 0
    picture = draw(data, [code], [code])
    inside = cut(picture)
    assert inside.getextrema() == (0, 0)
    dark = share_of_ink(pixels(picture)) * picture.width * picture.height
    assert dark == pytest.approx(inside.width * inside.height)


def test_a_page_cut_to_a_part_of_its_paper_hides_the_right_place() -> None:
    """A crop box moves the picture's corner: the bar moves along (ISO 32000-1, 14.11.2)."""

    def page(c: Canvas) -> None:
        c.setCropBox((100, 250, 500, 450))
        c.drawString(120, 300, CODE)

    data = mail(paper(page))
    code = box_of(read(data), CODE)
    picture = draw(data, [code], [code])
    assert picture.width / picture.height == pytest.approx(2.0, rel=0.01)
    assert cut(picture).getextrema() == (0, 0)


def test_pictures_on_the_page_are_hidden_when_asked() -> None:
    """A picture may show what the text hides: with the option it is one grey."""
    stripes = Image.effect_noise((60, 60), 90)

    def page(c: Canvas) -> None:
        c.drawString(60, 700, CODE)
        c.drawInlineImage(stripes, 200, 400, 120, 120)

    data = mail(paper(page))
    where = Box(205, 405, 315, 515)
    low, high = cut(draw(data, [where], [], hide_pictures=True)).getextrema()
    assert low == high == 0xD8
    assert cut(draw(data, [where], [])).getextrema() != (0xD8, 0xD8)


def test_values_of_form_fields_are_hidden_too() -> None:
    """A code in a form field is drawn by pdfium after the page: its bar still covers it."""

    def page(c: Canvas) -> None:
        c.acroForm.textfield(name="code", value=CODE, x=120, y=300, width=240, height=24, borderWidth=0, fillColor=None)

    data = mail(paper(page))
    code = box_of(read(data), CODE)
    assert share_of_ink(cut(draw(data, [code], []))) > 0.02
    assert cut(draw(data, [code], [code])).getextrema() == (0, 0)


def test_notes_over_the_page_are_left_out_where_codes_are_hidden() -> None:
    """A note laid over the page is no part of its text, so what it says cannot be hidden: it is not drawn."""

    def page(c: Canvas) -> None:
        c.drawString(60, 700, "Confirmation")
        c.highlightAnnotation(CODE, Rect=[100, 300, 300, 340], QuadPoints=[100, 340, 300, 340, 100, 300, 300, 300])

    data = mail(paper(page))
    where = Box(110, 305, 290, 335)
    assert cut(draw(data, [where], [], hide_pictures=True)).getextrema() == (255, 255)


def test_of_two_pdfs_of_one_name_the_right_one_is_drawn() -> None:
    """Names of attachments may repeat: the PDF is told by what is in it."""
    data = mail(paper(lambda c: c.drawString(60, 700, "Machine one")), paper(lambda c: c.drawString(60, 100, CODE)))
    second = read(data, 1)
    picture = page_picture(data, second, 1, [box_of(second, CODE)], [], LIMITS, hide_pictures=False)
    assert picture is not None
    assert picture.frames[0][1] > 0.8
    assert share_of_ink(cut(picture)) > 0.05


def test_a_huge_page_stays_bounded() -> None:
    """A page of ten metres is drawn small enough to be held."""
    out = BytesIO()
    canvas = Canvas(out, pagesize=(14_000, 14_000), invariant=1)
    canvas.setFont("Helvetica", 600)
    canvas.drawString(2_000, 7_000, CODE)
    canvas.save()
    data = mail(out.getvalue())
    picture = draw(data, [], [])
    assert max(picture.width, picture.height) <= MOST_PIXELS + 1


def test_what_cannot_be_drawn_is_no_picture() -> None:
    """A page that is not there, or another message's document, gives no picture and no error."""
    data = mail(paper(beside))
    other = mail(paper(lambda c: c.drawString(60, 700, "other")))
    assert page_picture(data, read(data), 2, [], [], LIMITS, hide_pictures=True) is None
    assert page_picture(other, read(data), 1, [], [], LIMITS, hide_pictures=True) is None
    body = read_message(data, LIMITS).documents[0]
    assert page_picture(data, body, 1, [], [], LIMITS, hide_pictures=True) is None


def test_the_picture_is_pdfiums_own() -> None:
    """Without anything hidden, the PNG has the pixels that pdfium draws, read back by another library."""
    pdf = paper(beside)
    data = mail(pdf)
    picture = draw(data, [], [])
    drawn = pypdfium2.PdfDocument(pdf)[0].render(scale=picture.width / 595).to_pil().convert("L")
    assert pixels(picture).size == drawn.size
    assert pixels(picture).tobytes() == drawn.tobytes()


def test_a_pdf_inside_another_file_is_drawn() -> None:
    """A PDF that came in a zip file, or inside another PDF, is found again by what is in it, and drawn."""
    inner = page("Machine ID: HG-482913-K")
    for data, kind, name in (
        (packed(("c.pdf", inner)), "application/zip", "a.zip"),
        (holding(page("Open this."), ("c.pdf", inner)), "application/pdf", "a.pdf"),
    ):
        message = multipart(part("Hi", "text/plain"), part(data, f"{kind}; name={name}"))
        found = next(d for d in read_message(message, LIMITS).documents if d.name == "pdf:c.pdf")
        drawn = page_picture(message, found, 1, (), (), LIMITS, hide_pictures=False)
        assert drawn is not None
        assert drawn.png.startswith(b"\x89PNG")
