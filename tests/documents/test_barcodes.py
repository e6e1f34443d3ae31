"""QR codes as photos and scans have them: aslant, noisy, on a page drawn coarsely."""

from __future__ import annotations

from io import BytesIO

import numpy
import pypdfium2
import pytest
from cards import symbol_picture
from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from counterfoil.documents.barcodes import codes_in

TEXT = "Product key: HD3K-9WQ2-7TRM"


@pytest.mark.parametrize("degrees", [0, 15, 90, 195])
@pytest.mark.parametrize("spread", [0, 40])
def test_aslant_and_noisy(degrees: int, spread: int) -> None:
    """A symbol turned by any angle, with noise over it, gives its text, once and exactly."""
    turned = symbol_picture(TEXT).rotate(degrees, expand=True, fillcolor="white", resample=Image.Resampling.BICUBIC)
    pixels = numpy.asarray(turned).astype(float)
    noise = numpy.random.default_rng(7).normal(0, spread, pixels.shape)
    picture = Image.fromarray(numpy.clip(pixels + noise, 0, 255).astype(numpy.uint8))
    assert list(codes_in(picture)) == [TEXT]


def test_a_page_of_a_hundred_dots_an_inch() -> None:
    """A symbol of three centimetres on a page drawn at 100 dots an inch gives its text."""
    out = BytesIO()
    canvas = Canvas(out, pagesize=(595, 842), invariant=1)
    canvas.drawImage(ImageReader(symbol_picture(TEXT)), 60, 600, 85, 85)
    canvas.save()
    pdf = pypdfium2.PdfDocument(out.getvalue())
    picture = pdf[0].render(scale=100 / 72).to_pil()
    pdf.close()
    assert list(codes_in(picture)) == [TEXT]
