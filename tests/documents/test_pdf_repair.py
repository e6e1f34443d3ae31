"""Damaged PDFs: mended where their structure is broken, named where their content is, never silently short."""

from __future__ import annotations

import re
from email.message import EmailMessage

import pdf_papers as papers
import pytest
from hostile_files import page_of, stream

from counterfoil.documents.message import read_message
from counterfoil.documents.pdf import read_pdf
from counterfoil.documents.pdf_repair import mend
from counterfoil.documents.render import page_picture
from counterfoil.model import Problem
from counterfoil.settings import Limits

LIMITS = Limits()
WHOLE = papers.paper(papers.beside, papers.under)
#: The table of objects; without it no reader finds an object by its number (ISO 32000-1, 7.5.4).
_TABLE = re.compile(rb"xref\n0.*?trailer", re.DOTALL)
_FIRST_STREAM = WHOLE.index(b"stream") + 8
#: Structure broken in ways that leave all content in the file.
BROKEN = {
    "cut at 90 %": WHOLE[: int(len(WHOLE) * 0.9)],
    "without table": _TABLE.sub(b"trailer", WHOLE),
    "wrong start of table": re.sub(rb"startxref\n\d+", b"startxref\n7", WHOLE),
    "lengths too short": re.sub(rb"/Length \d+", b"/Length 7", WHOLE),
    "lengths too long": re.sub(rb"/Length \d+", b"/Length 99999", WHOLE),
    "junk before": b"x\r\n" * 1700 + WHOLE,
    "junk behind": WHOLE + b"\0" * 5000,
    "wrong type of page tree": WHOLE.replace(b"/Type /Pages", b"/Type /Pagez"),
    "end mark missing": WHOLE.replace(b"%%EOF", b""),
}


def mail(data: bytes) -> bytes:
    """Return a message with a PDF attached."""
    message = EmailMessage()
    message["From"] = "Maker <a@maker.example>"
    message.set_content("Your confirmation is attached.")
    message.add_attachment(data, maintype="application", subtype="pdf", filename="card.pdf")
    return message.as_bytes()


@pytest.mark.parametrize("data", BROKEN.values(), ids=BROKEN.keys())
def test_broken_structure_loses_nothing(data: bytes) -> None:
    """Where all content is still in the file, all of it is read, as from the whole file, and no question is left."""
    read = read_pdf(data, LIMITS)
    assert read.text == read_pdf(WHOLE, LIMITS).text
    assert (read.problem, read.pages) == (None, 2)


def updated() -> tuple[bytes, int]:
    """Return a PDF whose code was replaced by an update behind its end, and where the update begins."""
    old = page_of(stream(b"BT /F1 12 Tf 50 700 Td (Machine ID: OL-0000) Tj ET"))
    start = int(old.rsplit(b"startxref\n", 1)[1].split()[0])
    added = b"4 0 obj\n%b\nendobj\n" % stream(b"BT /F1 12 Tf 50 700 Td (Machine ID: NE-1111) Tj ET")
    table = b"xref\n4 1\n%010d 00000 n \ntrailer\n<< /Size 6 /Root 1 0 R /Prev %d >>\n" % (len(old), start)
    end = b"startxref\n%d\n%%%%EOF\n" % (len(old) + len(added))
    return old + added + table + end, len(old)


def test_an_update_that_is_cut_off_is_named() -> None:
    """A file cut off in an update (ISO 32000-1, 7.5.6) opens without a fault and shows old values: it says so."""
    whole, start = updated()
    assert (read_pdf(whole, LIMITS).text, read_pdf(whole, LIMITS).problem) == ("Machine ID: NE-1111", None)
    for end in range(start + 1, len(whole) - 6, 13):
        read = read_pdf(whole[:end], LIMITS)
        assert (read.problem, "out of date" in read.reason) == (Problem.DAMAGED, True), end


def test_second_mending_is_the_same() -> None:
    """Mending is deterministic: the picture of a page is drawn from bytes mended anew."""
    assert mend(BROKEN["cut at 90 %"], LIMITS) == mend(BROKEN["cut at 90 %"], LIMITS)


@pytest.mark.parametrize("step", range(1, 20))
def test_cut_anywhere_is_whole_or_named(step: int) -> None:
    """Cut at nineteen places a file gives all of its text or says that some is missing; no text is never EMPTY."""
    read = read_pdf(WHOLE[: len(WHOLE) * step // 20], LIMITS)
    assert read.text == read_pdf(WHOLE, LIMITS).text or read.problem is Problem.DAMAGED
    assert bool(read.reason) == (read.problem is not None)


@pytest.mark.parametrize("junk", [b"\0" * 60, b"!!!!!", b"zzzz" * 20])
def test_page_that_cannot_be_unpacked_is_named(junk: bytes) -> None:
    """A page whose content is broken yields no character: the file is damaged, and the other page is kept."""
    data = WHOLE[:_FIRST_STREAM] + junk + WHOLE[_FIRST_STREAM + len(junk) :]
    read = read_pdf(data, LIMITS)
    assert read.problem is Problem.DAMAGED
    assert "page 1 cannot be read" in read.reason
    assert "HG-482913-K" in read.text


def test_only_page_broken_is_unread() -> None:
    """A file that opens without an error and yields nothing is damaged, not empty."""
    one = papers.paper(papers.beside)
    start = one.index(b"stream") + 8
    read = read_pdf(one[:start] + b"\0" * 60 + one[start + 60 :], LIMITS)
    assert (read.problem, read.text) == (Problem.DAMAGED, "")


def test_blank_page_of_a_sound_file_is_no_damage() -> None:
    """A blank back page in a sound file raises no question and costs no text."""
    read = read_pdf(papers.paper(papers.beside, papers.blank), LIMITS)
    assert (read.problem, read.mended) == (None, b"")
    assert "HG-482913-K" in read.text


def test_drawn_letters_are_a_scan() -> None:
    """A page that shows lines and no characters has to be looked at: it is no empty page."""
    read = read_pdf(papers.paper(lambda c: c.lines([(60, 700, 90, 740), (90, 740, 120, 700)])), LIMITS)
    assert read.problem is Problem.SCANNED


def test_mended_file_says_so_and_can_be_drawn() -> None:
    """The message names the mended PDF among its defects, and its page can still be shown."""
    data = mail(BROKEN["cut at 90 %"])
    message = read_message(data, LIMITS)
    assert "The PDF card.pdf was damaged; it was mended and then read." in message.defects
    document = next(d for d in message.documents if d.name == "pdf:card.pdf")
    assert document.problem is None
    picture = page_picture(data, document, 1, (), (), LIMITS, hide_pictures=False)
    assert picture is not None
    assert picture.png.startswith(b"\x89PNG")


def test_sound_file_is_not_mended() -> None:
    """A sound PDF is read as it came, and the message has no defect."""
    assert read_message(mail(WHOLE), LIMITS).defects == ()
    assert read_pdf(WHOLE, LIMITS).mended == b""


@pytest.mark.parametrize("data", [b"", b"%PDF-1.7", b"%PDF-1.7\n" + b"\0" * 500])
def test_nothing_to_mend(data: bytes) -> None:
    """Bytes without any object are not mended into an empty document."""
    assert mend(data, LIMITS) is None


def test_mended_file_is_bounded() -> None:
    """A file that is larger mended than may be unpacked is left as it is."""
    assert mend(WHOLE, Limits(unpacked_bytes=1000)) is None
