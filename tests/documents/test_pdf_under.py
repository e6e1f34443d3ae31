"""Text that a scanner put over or under its picture of a page: read by eye, not as what the PDF says."""

from __future__ import annotations

import random
from collections.abc import Iterator
from email.message import EmailMessage
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from PIL import Image, ImageDraw, ImageFont
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.documents import pictured
from counterfoil.documents.message import read_message
from counterfoil.documents.pdf import PdfText, layer_of, read_pdf
from counterfoil.model import Document, Problem, Standing
from counterfoil.settings import Limits

LIMITS = Limits()
LINES = [
    "Confirmation of your activation",
    "Machine ID: HG-482913-K",
    "Product key: SPQR-7788-ABCD-0192",
    "Activation code: Z9QX-44TT-PLM2-881A",
]
WIDTH, HEIGHT = 595, 842


def picture(lines: list[str] = LINES) -> Image.Image:
    """Return the page as a scanner saw it."""
    image = Image.new("RGB", (WIDTH * 2, HEIGHT * 2), "white")
    draw = ImageDraw.Draw(image)
    for number, line in enumerate(lines):
        draw.text((120, 200 + 60 * number), line, fill="black", font=ImageFont.load_default(32))
    return image


def scan(
    mode: int = 3, *, first: bool = False, shown: str = "", rotate: int = 0, origin: float = 0.0, clear: bool = False
) -> bytes:
    """Return a PDF with a picture of the whole page and its text in a rendering mode, drawn before it or after.

    ``shown`` is a line that is seen; ``rotate`` and ``origin`` turn and move the page; ``clear`` makes the picture one
    that text shows through.
    """
    image = picture()
    if clear:
        image.putalpha(90)
    out = BytesIO()
    canvas = Canvas(out, pagesize=(WIDTH, HEIGHT), invariant=1)
    canvas.translate(origin, origin)

    def text() -> None:
        beside = canvas.beginText(60, HEIGHT - 113)
        beside.setFont("Helvetica", 15.5)
        beside.setLeading(30)
        beside.setTextRenderMode(mode)
        beside.textLines(LINES)
        canvas.saveState()
        canvas.drawText(beside)
        canvas.restoreState()

    if first:
        text()
    canvas.drawImage(ImageReader(image), 0, 0, WIDTH, HEIGHT, mask="auto")
    if not first:
        text()
    if shown:
        canvas.setFont("Helvetica", 10)
        canvas.drawString(60, 30, shown)
    canvas.showPage()
    canvas.save()
    with pikepdf.open(BytesIO(out.getvalue())) as pdf:
        pdf.pages[0].Rotate = rotate
        pdf.pages[0].MediaBox = [origin, origin, origin + WIDTH, origin + HEIGHT]
        moved = BytesIO()
        pdf.save(moved)
    return moved.getvalue()


def layer(data: bytes) -> Document | None:
    """Return the document of what is not seen."""
    return next(iter(layer_of(read_pdf(data, LIMITS), "scan.pdf", 0, data)), None)


@pytest.mark.parametrize("data", [scan(3), scan(7), scan(0, first=True)], ids=["unseen", "as a cut-out", "under it"])
def test_text_that_is_not_seen_is_no_text_of_the_pdf(data: bytes) -> None:
    """In each way of hiding it the PDF is a scan, and the text a document of its own, read by eye."""
    read = read_pdf(data, LIMITS)
    assert (read.text, read.problem) == ("", Problem.SCANNED)
    found = layer(data)
    assert found is not None
    assert found.text.split("\n") == LINES
    assert (found.name, found.turns) == ("layer:scan.pdf", (0,))


@pytest.mark.parametrize("data", [scan(0), scan(0, first=True, clear=True), scan(2)])
def test_text_that_is_seen_stays_text(data: bytes) -> None:
    """Text drawn over a picture, or under one that it shows through, is the PDF's own."""
    read = read_pdf(data, LIMITS)
    assert read.text.split("\n") == LINES
    assert layer(data) is None


def test_both_on_one_page() -> None:
    """A line that is seen stays the PDF's, what is not seen beside it goes apart; neither counts for the other."""
    data = scan(3, shown="Scanned by Nadel und Faden on 3 March 2026, for the warranty file")
    read = read_pdf(data, LIMITS)
    assert read.text == "Scanned by Nadel und Faden on 3 March 2026, for the warranty file"
    assert read.problem is None
    found = layer(data)
    assert found is not None and found.text.split("\n") == LINES


@pytest.mark.parametrize(("rotate", "origin"), [(0, 0.0), (0, 120.0), (90, 0.0), (180, 40.0), (270, 0.0)])
def test_boxes_are_those_of_the_page_as_shown(rotate: int, origin: float) -> None:
    """On a turned or moved page the box of a code is where the code is seen when the page is drawn."""
    data = scan(3, rotate=rotate, origin=origin)
    found = layer(data)
    assert found is not None
    if rotate:
        assert set(found.text.split("\n")) == set(LINES)
    start = found.text.index("Z9QX-44TT")
    box = found.box(start, start + len("Z9QX-44TT-PLM2-881A"))
    assert box is not None
    upright = scan(3)
    plain = layer(upright)
    assert plain is not None
    start = plain.text.index("Z9QX-44TT")
    there = plain.box(start, start + len("Z9QX-44TT-PLM2-881A"))
    assert there is not None
    expected = {
        0: (there.x0, there.y0, there.x1, there.y1),
        90: (there.y0, WIDTH - there.x1, there.y1, WIDTH - there.x0),
        180: (WIDTH - there.x1, HEIGHT - there.y1, WIDTH - there.x0, HEIGHT - there.y0),
        270: (HEIGHT - there.y1, there.x0, HEIGHT - there.y0, there.x1),
    }[rotate]
    assert (box.x0, box.y0, box.x1, box.y1) == pytest.approx(expected, abs=0.5)


def test_a_page_without_a_picture_is_not_looked_at() -> None:
    """Text in a mode of cutting out on a page without a picture stays what the PDF says."""
    out = BytesIO()
    canvas = Canvas(out, invariant=1)
    beside = canvas.beginText(60, 700)
    beside.setTextRenderMode(3)
    beside.textLines(LINES)
    canvas.drawText(beside)
    canvas.save()
    read: PdfText = read_pdf(out.getvalue(), LIMITS)
    assert read.text.split("\n") == LINES and read.under is None


def test_a_scan_in_strips() -> None:
    """A picture of the page cut into strips is one scan: its unseen text is read by eye."""
    out = BytesIO()
    canvas = Canvas(out, pagesize=(WIDTH, HEIGHT), invariant=1)
    strips = 10
    for number in range(strips):
        strip = picture().crop((0, number * HEIGHT * 2 // strips, WIDTH * 2, (number + 1) * HEIGHT * 2 // strips))
        canvas.drawImage(ImageReader(strip), 0, HEIGHT - (number + 1) * HEIGHT / strips, WIDTH, HEIGHT / strips)
    beside = canvas.beginText(60, HEIGHT - 113)
    beside.setTextRenderMode(3)
    beside.textLines(LINES)
    canvas.drawText(beside)
    canvas.save()
    found = layer(out.getvalue())
    assert found is not None and found.text.split("\n") == LINES
    assert read_pdf(out.getvalue(), LIMITS).text == ""


def test_a_page_without_any_text_beside_one_with_a_layer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where pictures are not read, a PDF with one page that nobody read stays a scan, whatever the other page has."""
    monkeypatch.setattr(pictured, "can_read", lambda: False)
    out = BytesIO()
    with pikepdf.open(BytesIO(scan(3))) as pdf, pikepdf.open(BytesIO(scan(3))) as second:
        page = second.pages[0]
        page.Contents = second.make_stream(page.Contents.read_bytes().rsplit(b"q\nBT", 1)[0])
        pdf.pages.append(page)
        pdf.save(out)
    by_name = {document.name: document for document in read_message(mail(out.getvalue()), LIMITS).documents}
    assert by_name["pdf:scan.pdf"].problem is Problem.SCANNED
    assert by_name["layer:scan.pdf"].text.split("\n") == LINES


@pytest.fixture(params=[pytest.param("with pictures read", marks=pytest.mark.long), "without"])
def reading(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Have pictures read, or not."""
    if request.param == "without":
        monkeypatch.setattr(pictured, "can_read", lambda: False)
    yield request.param


def mail(data: bytes) -> bytes:
    """Return a mail with the scan attached."""
    message = EmailMessage()
    message["From"] = f"Marit Solvang <marit{random.Random(3).randrange(99)}@solvang.example>"
    message["To"] = "help@threadworks.example"
    message["Subject"] = "my activation confirmation"
    message.set_content("Here is the confirmation, scanned.\n\nMarit Solvang\n")
    message.add_attachment(data, maintype="application", subtype="pdf", filename="scan.pdf")
    return message.as_bytes()


def test_the_documents_of_a_message(reading: str) -> None:
    """The layer comes as a document, the PDF without text says that it is a scan, and no exact text has the codes."""
    message = read_message(mail(scan(3)), LIMITS)
    by_name = {document.name: document for document in message.documents}
    assert by_name["layer:scan.pdf"].text.split("\n") == LINES, reading
    assert by_name["pdf:scan.pdf"].problem is Problem.EMPTY
    assert not any("Z9QX" in d.text for d in message.documents if not d.turns)


@pytest.mark.long
def test_no_code_of_it_is_filed_unconfirmed(tmp_path: Path) -> None:
    """Taken in, such a scan is a question about codes read by eye, and none of them is filed."""
    (tmp_path / "a.eml").write_bytes(mail(scan(3)))
    archive = Archive.create(tmp_path / "archive", shop_name="Nadel und Faden")
    pipeline.ingest(archive, [str(tmp_path / "a.eml")])
    (message,) = archive.store.messages()
    assert message.standing is Standing.OPEN
    assert "code_read_by_eye" in [question.code for question in message.questions]
    assert archive.store.machines() == []
    archive.close()
