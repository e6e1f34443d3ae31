"""Ruled tables: cells by rules, what is wrapped in a cell as one line, boxes of characters that stay right."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

import pdf_papers as papers
import pdfplumber
import pypdfium2
import pytest
from pypdfium2 import raw as pdfium
from reportlab.pdfgen.canvas import Canvas

from counterfoil.documents import pdf as reading
from counterfoil.documents.pdf import PdfText, read_pdf
from counterfoil.documents.pdf_rules import Ruled, ruled_cells
from counterfoil.settings import Limits

LIMITS = Limits()
Cell = Sequence[str]


def table(c: Canvas, rows: Sequence[Sequence[Cell]], widths: Sequence[float], *, top: float = 740) -> None:
    """Draw a table with a rule around each cell; a cell is its lines, 12 points apart, in 10 point type."""
    for row in rows:
        height, left = 12 * max(map(len, row)) + 6, 60.0
        for width, lines in zip(widths, row, strict=True):
            c.rect(left, top - height, width, height)
            for number, line in enumerate(lines):
                c.drawString(left + 3, top - 12 * (number + 1), line)
            left += width
        top -= height


def read(draw: papers.Draw) -> PdfText:
    """Return what is read of a page."""
    return read_pdf(papers.paper(draw), LIMITS)


def rows_of(found: PdfText) -> list[list[str]]:
    """Return the cells of each line."""
    return [[found.text[c.start : c.end] for c in line.cells] for line in found.lines]


def rows(draw: papers.Draw) -> list[list[str]]:
    """Return the cells of each line that is read of a page."""
    return rows_of(read(draw))


@pytest.mark.parametrize(
    ("cell", "width", "text"),
    [
        (["Z9QX-44TT-", "PLM2-881A"], 65, "Z9QX-44TT-PLM2-881A"),  # behind a hyphen
        (["Z9QX 44TT", "PLM2 881A"], 66, "Z9QX 44TT PLM2 881A"),  # at a space
        (["Z9QX44TT", "PLM2881A7"], 65, "Z9QX44TTPLM2881A7"),  # anywhere
        (["Z9QX44TTPLM", "B"], 77, "Z9QX44TTPLMB"),
        (["Marit Solvang", "von Aldermoor"], 72, "Marit Solvang von Aldermoor"),
        (["Bestätigungs-", "nummer"], 72, "Bestätigungsnummer"),  # a hyphen put in by wrapping
        (["E-", "Mail"], 26, "E-Mail"),  # one that was there before
    ],
)
def test_what_is_wrapped_in_a_cell_is_one_text(cell: Cell, width: float, text: str) -> None:
    """What goes on in the next line of its cell because the cell was full comes out whole, beside its label."""
    assert rows(lambda c: table(c, [[["Label"], cell], [["Other"], ["12"]]], (90, width))) == [
        ["Label", text],
        ["Other", "12"],
    ]


def test_label_wrapped_and_value_in_the_middle() -> None:
    """A label of three lines and a value set level with its middle stand on one line."""

    def draw(c: Canvas) -> None:
        table(c, [[["Activation", "code of the", "machine"], []], [["Model"], ["Lindra 300"]]], (62, 160))
        c.drawString(125, 716, "Z9QX-44TT-PLM2-881A")

    assert rows(draw) == [["Activation code of the machine", "Z9QX-44TT-PLM2-881A"], ["Model", "Lindra 300"]]


def test_lines_of_a_cell_with_room_stay_apart() -> None:
    """The lines of an address, which had room for more words, are no wrapped text."""
    address = ["Marit Solvang", "Mill Lane 12", "4471 Hollerby"]
    assert rows(lambda c: table(c, [[["Customer"], address], [["Model"], ["Lindra 300"]]], (90, 160))) == [
        ["Customer", "Marit Solvang"],
        ["Mill Lane 12"],
        ["4471 Hollerby"],
        ["Model", "Lindra 300"],
    ]


def test_boxes_with_label_over_value() -> None:
    """In boxes side by side labels stand in one line and values in the next, each in the edges of its box."""
    found = read(lambda c: table(c, [[["Machine ID", "HG-482913-K"], ["Model", "Lindra 300"]]], (120, 140)))
    assert rows_of(found) == [["Machine ID", "Model"], ["HG-482913-K", "Lindra 300"]]
    assert [[(cell.x0, cell.x1) for cell in line.cells] for line in found.lines] == [[(60, 180), (180, 320)]] * 2


def test_boxes_out_of_step_come_one_after_the_other() -> None:
    """Where labels and values of boxes take different numbers of lines, each box is read by itself."""
    boxes = [[["Machine ID", "HG-482913-K"], ["Model", "Lindra 300"], ["Serial", "8812-00731"]]]
    assert rows(lambda c: table(c, boxes, (68, 90, 90))) == [
        ["Machine ID HG-482913-K"],
        ["Model"],
        ["Lindra 300"],
        ["Serial"],
        ["8812-00731"],
    ]


def test_values_under_labels_in_one_row_are_not_mixed() -> None:
    """Labels one under the other in one cell keep their lines where the values beside them are no wrapped text."""
    labels, values = ["Serial number", "Machine ID", "Model"], ["8812-00731", "HG-482913-K", "Lindra"]
    for widths in ((68, 160), (90, 160)):
        found = rows(lambda c, w=widths: table(c, [[labels, values], [["Firmware"], ["2.40"]]], w))  # type: ignore[misc]
        assert found[:3] == [list(pair) for pair in zip(labels, values, strict=True)]


def test_two_codes_in_a_cell_stay_two() -> None:
    """Two codes of one shape, one above the other in a cell they fill, are not joined."""
    codes = ["Z9QX-44TT-PLM2", "B7RK-20VW-XX31"]
    found = rows(lambda c: table(c, [[["Codes"], codes], [["Model"], ["Lindra"]]], (90, 92)))
    assert found == [["Codes", codes[0]], [codes[1]], ["Model", "Lindra"]]


def test_a_rule_parts_what_stands_close() -> None:
    """Texts with no more than a space between them are two cells where a rule stands in that space."""

    def draw(c: Canvas) -> None:
        table(c, [[[""], [""]], [[""], [""]]], (51, 160))
        for y in (728, 710):
            c.drawString(63, y, "Serial no.")
            c.drawString(112.2, y, "8812-00731")

    assert rows(draw)[0] == ["Serial no.", "8812-00731"]


@pytest.mark.parametrize("way", ["level rules", "shading"])
def test_rows_without_upright_rules(way: str) -> None:
    """Where only level rules or shading part the rows, columns are told by the room between them."""

    def draw(c: Canvas) -> None:
        cells = [("Key", ["Z9QX 44TT", "PLM2 881A"]), ("Code", ["B7RK 20VW", "XX31 0077"]), ("Model", ["Lindra"])]
        for number, (label, lines) in enumerate([*cells, ("Firmware", ["2.40"])]):
            y = 700 - 30 * number
            if way == "level rules":
                c.line(60, y - 18, 226, y - 18)
                c.line(60, y + 12, 226, y + 12)
            elif number % 2 == 0:
                c.setFillGray(0.9)
                c.rect(60, y - 18, 166, 30, stroke=0, fill=1)
                c.setFillGray(0)
            c.drawString(63, y, label)
            for n, line in enumerate(lines):
                c.drawString(163, y - 12 * n, line)

    found = rows(draw)
    assert found[:2] == [["Key", "Z9QX 44TT PLM2 881A"], ["Code", "B7RK 20VW XX31 0077"]]


def test_text_beside_and_below_a_table_keeps_its_order() -> None:
    """Lines above and below a table, and a label outside its box, stay where they are seen."""

    def draw(c: Canvas) -> None:
        c.drawString(60, 760, "Your activation")
        table(c, [[["Key"], ["Z9QX-44TT-", "PLM2-881A"]], [["Model"], ["Lindra"]]], (60, 65))
        c.drawString(60, 640, "Shop number")
        c.rect(140, 634, 80, 18)
        c.drawString(144, 640, "4711")
        c.drawString(60, 600, "Keep this letter.")

    assert rows(draw) == [
        ["Your activation"],
        ["Key", "Z9QX-44TT-PLM2-881A"],
        ["Model", "Lindra"],
        ["Shop number", "4711"],
        ["Keep this letter."],
    ]


def test_a_paragraph_in_a_frame_stays_lines() -> None:
    """A frame around a text is no table."""

    def draw(c: Canvas) -> None:
        table(c, [[["Keep this letter for the", "warranty of your machine."]]], (140,))

    assert rows(draw) == [["Keep this letter for the"], ["warranty of your machine."]]


def test_boxes_of_characters_stay_right() -> None:
    """Each character of a joined text keeps the box that pdfium gives the same character of the page."""
    data = papers.paper(lambda c: table(c, [[["Key"], ["Z9QX-44TT-", "PLM2-881A"]], [["A"], ["B"]]], (60, 65)))
    found = read_pdf(data, LIMITS)
    document = reading.document_of(found, "pdf:a.pdf", 0, data)
    start = found.text.index("Z9QX")
    with pypdfium2.PdfDocument(data) as pdf:
        page = pdf[0].get_textpage()
        text = page.get_text_range().replace("\ufffe", "-")
        for part, at in (("Z9QX-44TT", start), ("PLM2-881A", start + len("Z9QX-44TT-"))):
            own = text.index(part)
            for number in range(len(part)):
                box = document.box(at + number, at + number + 1)
                assert box is not None
                expected = page.get_charbox(own + number, loose=True)
                assert (box.x0, box.y0, box.x1, box.y1) == pytest.approx(expected, abs=0.01)
    whole = document.box(start, start + len("Z9QX-44TT-PLM2-881A"))
    assert whole is not None and whole.y1 - whole.y0 > 20


@pytest.mark.parametrize("angle", [90, 180, 270])
def test_turned_tables(angle: int) -> None:
    """A table on a page turned by quarters is read like an upright one."""

    def draw(c: Canvas) -> None:
        c.translate(297, 421)
        c.rotate(angle)
        c.translate(-160, -700)
        table(c, [[["Key"], ["Z9QX-44TT-", "PLM2-881A"]], [["Model"], ["Lindra 300"]]], (60, 65))

    assert rows(draw) == [["Key", "Z9QX-44TT-PLM2-881A"], ["Model", "Lindra 300"]]


def test_rules_in_a_drawing_placed_on_the_page() -> None:
    """Rules inside a drawing that is placed on the page, moved and scaled, part cells as others do."""

    def draw(c: Canvas) -> None:
        c.beginForm("grid")
        for x in (0, 30, 62.5):
            c.line(x, 0, x, 24)
        for y in (0, 9, 24):
            c.line(0, y, 62.5, y)
        c.endForm()
        c.saveState()
        c.translate(60, 692)
        c.scale(2, 2)
        c.doForm("grid")
        c.restoreState()
        c.drawString(63, 728, "Key")
        c.drawString(123, 728, "Z9QX-44TT-")
        c.drawString(123, 716, "PLM2-881A")
        c.drawString(63, 698, "Model")
        c.drawString(123, 698, "Lindra")

    assert rows(draw) == [["Key", "Z9QX-44TT-PLM2-881A"], ["Model", "Lindra"]]


@pytest.mark.parametrize("draw", [*papers.SIDE_BY_SIDE, papers.under, papers.two_columns, papers.broken_code])
def test_pages_without_wrapped_cells_read_as_before(draw: papers.Draw, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing changes in the text of a page without rules, or of a table with one line in each cell."""
    data = papers.paper(draw)
    found = read_pdf(data, LIMITS)
    monkeypatch.setattr(reading, "ruled_cells", lambda page, words: [])
    assert found.text == read_pdf(data, LIMITS).text


def test_cells_are_those_pdfplumber_finds() -> None:
    """The cells told from pdfium's lines are those of pdfplumber's own table finder, which reads the page itself."""

    def draw(c: Canvas) -> None:
        table(c, [[["a"], ["b"], ["c"]], [["d"], ["e", "f"], ["g"]]], (60, 65, 90))
        table(c, [[["a"], ["b"]]], (90, 40), top=500)
        c.grid([100, 160, 300], [100, 130, 160, 200])

    data = papers.paper(draw)
    with pdfplumber.open(BytesIO(data)) as plumbed:
        height = float(plumbed.pages[0].height)
        expected = sorted(
            (x0, height - bottom, x1, height - top)
            for found in plumbed.pages[0].find_tables()
            for x0, top, x1, bottom in found.cells
        )
    with pypdfium2.PdfDocument(data) as pdf:
        page = pdfium.FPDF_LoadPage(pdf.raw, 0)
        own = ruled_cells(page, [])
        pdfium.FPDF_ClosePage(page)
    assert len(own) == 14
    assert [tuple(cell) for cell in sorted(own)] == [pytest.approx(cell, abs=0.1) for cell in expected]


def test_drawings_of_many_lines_are_no_tables() -> None:
    """A page full of crossing lines is left to be read without cells, and its text is read."""

    def draw(c: Canvas) -> None:
        c.grid([50 + 9 * n for n in range(55)], [50 + 9 * n for n in range(75)])
        c.drawString(60, 800, "Machine ID: HG-482913-K")

    data = papers.paper(draw)
    with pypdfium2.PdfDocument(data) as pdf:
        page = pdfium.FPDF_LoadPage(pdf.raw, 0)
        assert ruled_cells(page, []) == []
        pdfium.FPDF_ClosePage(page)
    assert "Machine ID: HG-482913-K" in read_pdf(data, LIMITS).text


def test_unseen_lines_part_nothing() -> None:
    """Paths that are neither drawn nor filled are no rules."""

    def draw(c: Canvas) -> None:
        path = c.beginPath()
        path.rect(60, 690, 100, 40)
        path.rect(160, 690, 100, 40)
        c.drawPath(path, stroke=0, fill=0)

    with pypdfium2.PdfDocument(papers.paper(draw)) as pdf:
        page = pdfium.FPDF_LoadPage(pdf.raw, 0)
        assert ruled_cells(page, []) == []
        pdfium.FPDF_ClosePage(page)


def test_slow_reading_uses_rules_too() -> None:
    """A file that only pdfplumber can read gets its cells as well."""
    data = papers.paper(lambda c: table(c, [[["Key"], ["Z9QX-44TT-", "PLM2-881A"]], [["A"], ["B"]]], (60, 65)))
    slow = reading._read_slowly(data, LIMITS)
    assert rows_of(slow) == [["Key", "Z9QX-44TT-PLM2-881A"], ["A", "B"]]


def test_cells_are_ordered() -> None:
    """Cells come from top to bottom, then from left to right."""
    data = papers.paper(lambda c: table(c, [[["a"], ["b"]], [["c"], ["d"]]], (60, 65)))
    with pypdfium2.PdfDocument(data) as pdf:
        page = pdfium.FPDF_LoadPage(pdf.raw, 0)
        found = ruled_cells(page, [])
        pdfium.FPDF_ClosePage(page)
    assert found == [
        Ruled(60, 722, 120, 740),
        Ruled(120, 722, 185, 740),
        Ruled(60, 704, 120, 722),
        Ruled(120, 704, 185, 722),
    ]
