"""How a code is set: columns, marks of look-alikes, rows, and its QR symbol."""

from __future__ import annotations

from io import BytesIO

import pypdfium2
import pytest
from reportlab.pdfgen.canvas import Canvas

from counterfoil.answers.masking import mask
from counterfoil.answers.sheet_code import BOXED, UNDERLINED, CodeBlock, qr_square
from counterfoil.answers.sheet_type import BOLD, MONO, fitted, glyphs

WIDTH = 400.0


class Drawn:
    """What a flowable drew, as a one-page PDF."""

    def __init__(self, code: str, room: float = WIDTH) -> None:
        glyphs()
        buffer = BytesIO()
        self.canvas = Canvas(buffer, pagesize=(500, 300), invariant=1)
        self.block = CodeBlock(code)
        self.width, self.height = self.block.wrap(room, 300)
        self.block.drawOn(self.canvas, 0, 100)
        self.canvas.showPage()
        self.canvas.save()
        page = pypdfium2.PdfDocument(buffer.getvalue())[0]
        text = page.get_textpage()
        self.text = text.get_text_range()
        self.rows: dict[int, str] = {}
        """The characters by the height of their base line, from top to bottom."""
        for n in range(text.count_chars()):
            if (character := text.get_text_range(n, 1)).strip():
                line = round((300 - text.get_charbox(n, loose=True)[1]) / 5)
                self.rows[line] = self.rows.get(line, "") + character
        self.picture = page.render(scale=4).to_pil().convert("L")
        self.shapes = [obj for obj in page.get_objects() if obj.type == 2]
        """Paths: boxes and lines (FPDF_PAGEOBJ_PATH is 2)."""


def test_letters_that_look_like_digits_are_boxed() -> None:
    """O I L Z S B G stand for digits to the eye; zero and one are underlined; nothing else is marked."""
    assert set("OILZSBG") == BOXED
    assert set("01") == UNDERLINED
    assert len(Drawn("OILZSBG01").shapes) == 9
    assert len(Drawn("oil").shapes) == 3
    assert Drawn("3479ACDEFHJKMNPQRTUVWXY2568").shapes == []


def test_look_alikes_have_different_forms() -> None:
    """Zero and O, one and I and l, set in the type of the sheet and without their marks, are different pictures."""
    for group in ("0O", "1Il", "5S", "8B", "2Z", "6G"):
        pictures = set()
        for character in group:
            glyphs()
            buffer = BytesIO()
            canvas = Canvas(buffer, pagesize=(30, 30), invariant=1)
            canvas.setFont(MONO, 20)
            canvas.drawCentredString(15, 8, character)
            canvas.save()
            picture = pypdfium2.PdfDocument(buffer.getvalue())[0].render(scale=2).to_pil().convert("1")
            pictures.add(picture.tobytes())
        assert len(pictures) == len(group)


@pytest.mark.parametrize(
    ("code", "rows"),
    [
        ("EM08-1922-9630-38", 1),
        ("16046-25488-11905-22566", 1),
        ("ABCDE-FGHJK-LMNPQ-RSTUV-WXYZ2", 1),
        ("ABCDE-FGHJK-LMNPQ-RSTUV-WXYZ2-34567", 2),
        ("A" * 60, 3),
    ],
)
def test_codes_are_broken_between_groups(code: str, rows: int) -> None:
    """The usual codes stand in one row; longer ones go on in the next, no group is torn, no character is lost."""
    lines = [text for _, text in sorted(Drawn(code).rows.items())]
    assert "".join(lines) == code
    assert len(lines) == rows
    if rows > 1 and "-" in code:
        assert all(line.endswith("-") for line in lines[:-1])


def test_a_masked_code_is_dots_and_no_symbol() -> None:
    """Of a masked code only the last four characters are text, and there is no QR symbol of it."""
    code = mask("7K5S-UV6G-99L1-44TT")
    assert "".join(Drawn(code).text.split()).replace("-", "") == "44TT"
    assert qr_square(code) is None
    assert qr_square("A" * 200) is None


def test_a_symbol_has_its_quiet_zone() -> None:
    """Around the symbol four modules stay white (ISO/IEC 18004); its modules are at least 0.42 mm."""
    for code in ("EM08-1922-9630-38", "ABCDEFGHJK" * 9):
        square = qr_square(code)
        assert square is not None
        glyphs()
        buffer = BytesIO()
        canvas = Canvas(buffer, pagesize=(square.edge, square.edge), invariant=1)
        square.drawOn(canvas, 0, 0)
        canvas.save()
        picture = pypdfium2.PdfDocument(buffer.getvalue())[0].render(scale=10).to_pil().convert("L")
        dark = picture.point(lambda value: 255 if value < 128 else 0).getbbox()
        assert dark is not None
        modules = (dark[2] - dark[0]) / picture.width
        count = round(8 * modules / (1 - modules))
        module = square.edge / (count + 8)
        assert count in (21, 25, 29, 33, 37, 41, 45)
        assert abs(dark[0] / picture.width - 4 / (count + 8)) < 0.01
        assert module >= 0.42 / 25.4 * 72 - 1e-9


def test_a_text_is_made_to_fit_its_line() -> None:
    """A long name is set smaller, and cut with an ellipsis where even that does not help."""
    glyphs()
    assert fitted("Short", BOLD, 12, 300) == ("Short", 12)
    text, points = fitted("A shop with a name of some length", BOLD, 12, 150)
    assert text.startswith("A shop") and 8 <= points < 12
    cut, points = fitted("x" * 200, BOLD, 12, 150)
    assert cut.endswith("…") and points == 8 and len(cut) < 200
