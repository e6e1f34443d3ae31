"""PDFs: visual lines, boxes, and every way in which a PDF can fail."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence

import pdf_papers as papers
import pypdfium2
import pytest
from reportlab.pdfgen.canvas import Canvas

from counterfoil.documents.pdf import PdfText, pdf_document, read_pdf
from counterfoil.model import Problem
from counterfoil.settings import Limits

LIMITS = Limits()


def cells(read: PdfText) -> list[list[str]]:
    """Return the cells of each line."""
    return [[read.text[c.start : c.end] for c in line.cells] for line in read.lines]


@pytest.mark.parametrize("draw", papers.SIDE_BY_SIDE, ids=lambda d: d.__name__)
def test_label_and_value_on_one_line(draw: papers.Draw) -> None:
    """In every layout with label and value side by side, both come out on one line, the value whole."""
    lines = read_pdf(papers.paper(draw), LIMITS).text.split("\n")
    for label, value in papers.FIELDS:
        hits = [line for line in lines if value in line]
        assert len(hits) == 1
        assert hits[0].casefold().startswith(label.casefold())
        assert hits[0].endswith((value, f"{value}\tH"))


@pytest.mark.parametrize("draw", [papers.beside, papers.labels_first, papers.right_aligned, papers.leaders])
def test_wide_gaps_part_cells(draw: papers.Draw) -> None:
    """A wide gap, or a row of dots, sets the value apart as a cell of its own."""
    found = [row[-1] for row in cells(read_pdf(papers.paper(draw), LIMITS))]
    assert found == [value for _, value in papers.FIELDS]


def test_values_under_labels() -> None:
    """Values under their labels come on the line after."""
    lines = read_pdf(papers.paper(papers.under), LIMITS).text.split("\n")
    assert lines == [text for field in papers.FIELDS for text in field]


def test_two_columns_stand_side_by_side() -> None:
    """Two columns share their lines, each in its own cells, whatever was drawn first."""
    found = cells(read_pdf(papers.paper(papers.two_columns), LIMITS))
    assert found == [[*papers.FIELDS[i], *papers.FIELDS[i + 3]] for i in range(3)]


def test_hyphen_at_line_end_is_kept() -> None:
    """A code broken after a hyphen keeps it, and the line stays broken: pdfium alone would lose both."""
    text = read_pdf(papers.paper(papers.broken_code), LIMITS).text
    assert text == "Activation code\tZ9QX-44TT-\nPLM2-881A"
    assert "\ufffe" not in text


def test_letters_drawn_apart_are_one_code() -> None:
    """Letters set apart at even gaps are one word."""
    assert cells(read_pdf(papers.paper(papers.letters), LIMITS)) == [["Code", "AB12-CD34"]]


def test_form_fields_show_their_values() -> None:
    """The value of a form field is read with its label."""
    text = read_pdf(papers.paper(papers.form), LIMITS).text
    assert "Machine ID" in text.split("\n")[0]
    assert "HG-482913-K" in text.split("\n")[0]


def test_turned_text_has_lines_of_its_own() -> None:
    """A line turned by ninety degrees comes out whole, after the upright ones, and damages none of them."""
    read = read_pdf(papers.paper(papers.turned_margin), LIMITS)
    assert read.text.split("\n")[-1] == "Form 27 of the registration office"
    box = read.lines[-1].box
    assert box is not None
    assert box.y1 - box.y0 > 100 > box.x1 - box.x0


@pytest.mark.parametrize("angle", [90, 180, 270])
def test_turned_pages_read_from_left_to_right(angle: int) -> None:
    """Text turned by quarter turns keeps label and value on one line, in their order."""

    def page(c: Canvas) -> None:
        c.translate(297, 421)
        c.rotate(angle)
        c.drawString(-200, 20, "Machine ID")
        c.drawString(0, 20, "HG-482913-K")
        c.drawString(-200, 0, "Product key")
        c.drawString(0, 0, "SPQR-7788-ABCD-0192")

    read = read_pdf(papers.paper(page), LIMITS)
    assert cells(read) == [["Machine ID", "HG-482913-K"], ["Product key", "SPQR-7788-ABCD-0192"]]
    assert all(line.box and line.box.x0 < line.box.x1 and line.box.y0 < line.box.y1 for line in read.lines)


def test_every_character_has_its_box() -> None:
    """The box of a value stands where it was drawn; separators have none; spans of the text have one box each."""
    document = pdf_document("pdf:a.pdf", 0, papers.paper(papers.beside), LIMITS)
    start = document.text.index("HG-482913-K")
    box = document.box(start, start + len("HG-482913-K"))
    assert box is not None
    assert box.x0 == pytest.approx(220, abs=0.1)
    assert box.y0 < 720 < box.y1
    assert len(document.marks) == len(document.text)
    assert document.marks[document.text.index("\t")] == (0.0, 0.0, 0.0, 0.0)
    assert document.page_of(start) == 1
    assert isinstance(document.marks, Sequence)
    assert hash(document.marks) == hash(tuple(document.marks))
    assert document.marks == tuple(document.marks)


def test_lines_cover_the_text() -> None:
    """Lines follow one another over the whole text, their cells over all that is no white space."""
    read = read_pdf(papers.paper(*papers.SIDE_BY_SIDE), LIMITS)
    assert "\n".join(read.text[line.start : line.end] for line in read.lines) == read.text
    for line in read.lines:
        covered = "".join(read.text[c.start : c.end] for c in line.cells)
        assert covered.replace(" ", "") == read.text[line.start : line.end].replace("\t", "").replace(" ", "")


def test_pages_are_numbered() -> None:
    """Lines know their page, counted from one."""
    read = read_pdf(papers.paper(papers.beside, papers.under), LIMITS)
    assert read.pages == 2
    assert {line.page for line in read.lines} == {1, 2}


def test_reading_twice_gives_the_same() -> None:
    """Reading is deterministic."""
    data = papers.paper(*papers.SIDE_BY_SIDE)
    assert read_pdf(data, LIMITS) == read_pdf(data, LIMITS)


def test_locked_pdf() -> None:
    """A PDF behind a password is ENCRYPTED, one locked against printing only is read."""
    assert read_pdf(papers.paper(papers.beside, password="secret"), LIMITS).problem is Problem.ENCRYPTED


def test_scan() -> None:
    """A PDF of pictures is SCANNED."""
    read = read_pdf(papers.paper(papers.photo), LIMITS)
    assert read.problem is Problem.SCANNED
    assert read.reason.endswith(".")


def test_scan_with_a_footer_is_a_scan() -> None:
    """The line that a scanner prints on its pictures does not make the scan a text; the line is kept."""

    def page(c: Canvas) -> None:
        papers.photo(c)
        c.drawString(60, 30, "Scanned with Office 4")

    read = read_pdf(papers.paper(page), LIMITS)
    assert read.problem is Problem.SCANNED
    assert read.text == "Scanned with Office 4"


def test_empty_page() -> None:
    """A PDF with nothing on its pages is EMPTY, not read in silence."""
    assert read_pdf(papers.paper(papers.blank), LIMITS).problem is Problem.EMPTY


@pytest.mark.parametrize("share", [0.05, 0.3, 0.6, 0.9])
def test_cut_file_is_never_silent(share: float) -> None:
    """A file cut anywhere has a problem, or all of its values: never an empty text without a reason."""
    whole = papers.paper(papers.beside)
    read = read_pdf(whole[: int(len(whole) * share)], LIMITS)
    complete = all(value in read.text for _, value in papers.FIELDS)
    assert read.problem is not None or complete
    assert bool(read.reason) == (read.problem is not None)


def test_junk_before_the_header() -> None:
    """A file with five kilobytes of something else before it is read: pdfium alone refuses."""
    read = read_pdf(b"x\r\n" * 1700 + papers.paper(papers.beside), LIMITS)
    assert read.problem is None
    assert "HG-482913-K" in read.text


def test_second_reader_takes_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """What pdfium cannot open the second reader reads, with boxes, and says that the file is damaged."""

    def refuse(*_: object, **__: object) -> None:
        raise pypdfium2.PdfiumError("refused")

    monkeypatch.setattr(pypdfium2, "PdfDocument", refuse)
    read = read_pdf(papers.paper(papers.beside), LIMITS)
    assert read.problem is Problem.DAMAGED
    assert [row[-1] for row in cells(read)] == [value for _, value in papers.FIELDS]
    start = read.text.index("HG-482913-K")
    assert read.marks[start][0] == pytest.approx(220, abs=0.5)


def test_second_reader_leaves_turned_text_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The second reader reads turned text backwards: it is left out, so that no code comes out in reverse."""

    def page(c: Canvas) -> None:
        papers.turned_margin(c)
        c.translate(595, 842)
        c.rotate(180)
        c.drawString(60, 700, "Product key: SPQR-7788-ABCD-0192")

    def refuse(*_: object, **__: object) -> None:
        raise pypdfium2.PdfiumError("refused")

    monkeypatch.setattr(pypdfium2, "PdfDocument", refuse)
    read = read_pdf(papers.paper(page), LIMITS)
    assert read.problem is Problem.DAMAGED
    assert [row[-1] for row in cells(read)] == [value for _, value in papers.FIELDS]


def test_letters_apart_over_a_row_of_dots() -> None:
    """Codes set letter by letter over dotted leaders come out whole, as a cell of their own."""

    def page(c: Canvas) -> None:
        for number, (label, value) in enumerate(papers.FIELDS[1:5]):
            c.drawString(60, 740 - 22 * number, label + " " + "." * 100)
            for at, char in enumerate(value):
                c.drawString(220 + 11 * at, 741 - 22 * number, char)

    found = cells(read_pdf(papers.paper(page), LIMITS))
    assert [row[-1] for row in found] == [value for _, value in papers.FIELDS[1:5]]


@pytest.mark.parametrize("data", [b"", b"%PDF-1.7", b"no pdf", b"%PDF-1.7\n" + b"\0" * 500])
def test_no_pdf_is_damaged(data: bytes) -> None:
    """Bytes that are no PDF are DAMAGED."""
    assert read_pdf(data, LIMITS).problem is Problem.DAMAGED


def test_too_many_pages() -> None:
    """Beyond the page limit nothing is read, the problem says so, and what was read is kept."""
    read = read_pdf(papers.paper(papers.beside, papers.beside, papers.under), Limits(pdf_pages=2))
    assert read.problem is Problem.TOO_LARGE
    assert read.pages == 3
    assert read.text.count("HG-482913-K") == 2


def test_too_many_characters() -> None:
    """Beyond the character limit nothing is read, the problem says so, and what was read is kept."""
    read = read_pdf(papers.paper(papers.beside, papers.beside), Limits(pdf_chars=60))
    assert read.problem is Problem.TOO_LARGE
    assert read.text.startswith("Customer:")
    assert len(read.text) <= 70


def test_too_many_objects() -> None:
    """A page of more drawing objects than the limit is left out and named."""
    read = read_pdf(papers.paper(papers.beside, papers.blank), Limits(page_objects=5))
    assert read.problem is Problem.TOO_LARGE
    assert "Page 1" in read.reason


def test_slow_reader_is_loaded_only_when_needed() -> None:
    """Reading a message with a good PDF does not import pdfplumber: it takes longer to load than to read a mailbox."""
    code = (
        "import sys, counterfoil.documents.message; sys.exit('pdfplumber' in sys.modules or 'pdfminer' in sys.modules)"
    )
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    assert subprocess.run([sys.executable, "-c", code], check=False, env=environment).returncode == 0
