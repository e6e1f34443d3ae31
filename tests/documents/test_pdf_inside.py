"""Files inside PDFs, and forms whose pages a program makes."""

from __future__ import annotations

from io import BytesIO

import pikepdf
import pytest
from hostile_files import pdf, stream
from mail_parts import doc, multipart, names, part, read
from odd_mail import holding, packed, page, program_form

from counterfoil.documents.pdf_inside import FORM, files_inside
from counterfoil.model import Problem
from counterfoil.settings import Limits

LIMITS = Limits()
INNER = page("Machine ID: HG-482913-K")
OUTER = page("Open this in another program.")


@pytest.mark.parametrize("mark", [False, True], ids=["names", "mark"])
def test_a_file_inside_is_found(mark: bool) -> None:
    """A file in the tree of names, or behind a mark on a page, comes out byte for byte, once."""
    assert files_inside(holding(OUTER, ("c.pdf", INNER), mark=mark), LIMITS) == [("c.pdf", INNER)]
    assert files_inside(OUTER, LIMITS) == []


def test_it_is_found_where_objects_are_packed() -> None:
    """A file whose description stands in a packed object stream, without its type, is found as well."""
    whole = pikepdf.open(BytesIO(holding(OUTER, ("c.pdf", INNER))))
    for thing in whole.objects:
        if isinstance(thing, pikepdf.Stream) and thing.get("/Type") == "/EmbeddedFile":
            del thing["/Type"]
    out = BytesIO()
    whole.save(out, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    assert b"/EmbeddedFile" not in out.getvalue()
    assert files_inside(out.getvalue(), LIMITS) == [("c.pdf", INNER)]


def test_what_is_inside_is_read_behind_all_others() -> None:
    """A PDF and a text inside a PDF are documents in its layer; the machine's copy of an invoice is none."""
    held = holding(OUTER, ("c.pdf", INNER), ("a.txt", b"Serial number: 12"), ("factur-x.xml", b"<a/>"))
    message = read(multipart(part(held, "application/pdf; name=a.pdf"), part(INNER, "application/pdf; name=c.pdf")))
    assert sorted(names(message)) == ["file:a.txt", "pdf:a.pdf", "pdf:c.pdf", "pdf:c.pdf~2"]
    assert doc(message, "pdf:c.pdf~2").text == "Machine ID: HG-482913-K"
    assert names(message)[:2] == ["pdf:a.pdf", "pdf:c.pdf"]


def test_a_locked_file_gives_what_is_in_it_with_its_password() -> None:
    """With the password that opened it the files inside a locked PDF come out."""
    whole = pikepdf.open(BytesIO(holding(OUTER, ("c.pdf", INNER))))
    out = BytesIO()
    whole.save(out, encryption=pikepdf.Encryption(owner="o", user="secret"))
    assert files_inside(out.getvalue(), LIMITS, "secret") == [("c.pdf", INNER)]
    assert files_inside(out.getvalue(), LIMITS) == []


def test_files_inside_are_bounded() -> None:
    """A packed file is not unpacked beyond what a part may have, files beyond the parts are not taken: it is said."""
    bomb = holding(OUTER, ("a.bin", b"\0" * 5_000_000))
    ((_, data),) = files_inside(bomb, Limits(part_bytes=1000))
    assert len(data) == 1001
    message = read(multipart(part(bomb, "application/pdf; name=a.pdf")), Limits(part_bytes=200_000))
    assert doc(message, "file:a.bin").problem is Problem.TOO_LARGE
    many = holding(OUTER, *((f"{n}.txt", b"%d" % n) for n in range(9)))
    assert len(files_inside(many, Limits(parts=4))) == 4


def test_a_zip_or_a_pdf_inside_is_opened_once() -> None:
    """A zip file inside a PDF stays closed and is a question, not lost."""
    held = holding(OUTER, ("b.zip", packed(("c.pdf", INNER))))
    message = read(multipart(part(held, "application/pdf; name=a.pdf")))
    assert doc(message, "file:b.zip").problem is Problem.UNKNOWN_TYPE


@pytest.mark.parametrize(
    "names",
    [b"/Names << /EmbeddedFiles 3 0 R >>", b"/Names << /EmbeddedFiles << /Names [(a) 3 0 R] >> >>", b"/Names 1 0 R"],
)
def test_trees_that_lead_nowhere(names: bytes) -> None:
    """A tree of names that holds itself, or what is no file, gives nothing and raises nothing."""
    data = pdf(
        b"<< /Type /Catalog /Pages 2 0 R %b >>" % names,
        b"<< /Type /Pages /Kids [] /Count 0 >>",
        b"<< /Type /Filespec /Kids [3 0 R] /Names [(a) 3 0 R] /EF << /F 4 0 R >> >>",
        stream(b"xx", b"/Type /EmbeddedFile /Filter /FlateDecode"),
    )
    assert all(content == b"" for _, content in files_inside(data, LIMITS))


def test_a_form_of_a_program_is_a_question() -> None:
    """A form whose pages are made when it is opened shows a placeholder: it is a question, and the text is kept."""
    message = read(multipart(part(program_form(), "application/pdf; name=a.pdf")))
    found = doc(message, "pdf:a.pdf")
    assert (found.problem, found.reason) == (Problem.UNKNOWN_TYPE, FORM)
    assert found.text.startswith("Please wait")
