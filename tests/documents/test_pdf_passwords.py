"""Locked PDFs: opened with the shop's passwords, else a question that says how to give one; none is shown."""

from __future__ import annotations

import sys
from email.message import EmailMessage
from io import BytesIO
from pathlib import Path

import pdf_papers as papers
import pikepdf
import pytest

from counterfoil import pipeline, upkeep
from counterfoil.archive import Archive
from counterfoil.documents.pdf import read_pdf
from counterfoil.errors import SettingsFaulty
from counterfoil.model import Problem, Standing
from counterfoil.password_file import MOST_PASSWORDS, read_passwords
from counterfoil.sandbox.wire import settings_json
from counterfoil.settings import Limits

LIMITS = Limits()
SECRET = "Garnrolle-7719"
#: Revisions of the standard security handler (ISO 32000-2, table 21): RC4 of 40 and 128 bits, AES-128, AES-256.
LOCKS = {
    "RC4-40": pikepdf.Encryption(owner="o", user=SECRET, R=2, allow=pikepdf.Permissions(), aes=False, metadata=False),
    "RC4-128": pikepdf.Encryption(owner="o", user=SECRET, R=3, aes=False, metadata=False),
    "AES-128": pikepdf.Encryption(owner="o", user=SECRET, R=4),
    "AES-256": pikepdf.Encryption(owner="o", user=SECRET, R=6),
}


def locked(lock: pikepdf.Encryption) -> bytes:
    """Return the paper, locked."""
    out = BytesIO()
    with pikepdf.open(BytesIO(papers.paper(papers.beside))) as pdf:
        pdf.save(out, encryption=lock)
    return out.getvalue()


def mail(data: bytes) -> bytes:
    """Return a message with a PDF attached."""
    message = EmailMessage()
    message["From"] = "Maker <post@maker.example>"
    message["To"] = "Marit Solvang <marit@solvang.example>"
    message["Message-ID"] = "<1@maker.example>"
    message.set_content("Your activation confirmation is attached: machine ID and product key.")
    message.add_attachment(data, maintype="application", subtype="pdf", filename="card.pdf")
    return message.as_bytes()


@pytest.mark.parametrize("lock", LOCKS.values(), ids=LOCKS.keys())
def test_every_lock_opens_with_its_password(lock: pikepdf.Encryption) -> None:
    """With each kind of lock the paper opens with its password among others, and stays ENCRYPTED without it."""
    data = locked(lock)
    read = read_pdf(data, LIMITS, ("wrong", SECRET, "other"))
    assert read.text == read_pdf(papers.paper(papers.beside), LIMITS).text
    assert read.problem is None
    for passwords in ((), ("wrong", SECRET.lower())):
        refused = read_pdf(data, LIMITS, passwords)
        assert (refused.problem, refused.text) == (Problem.ENCRYPTED, "")
        assert "pdf_password_file" in refused.reason
        assert ("not among those known" in refused.reason) == bool(passwords)


def test_lock_against_printing_only_needs_no_password() -> None:
    """A PDF that only its owner may change is read as everybody can read it."""
    lock = pikepdf.Encryption(owner="o", user="", R=6, allow=pikepdf.Permissions(extract=False))
    assert read_pdf(locked(lock), LIMITS).problem is None
    assert "HG-482913-K" in read_pdf(locked(lock), LIMITS).text


def test_password_is_shown_nowhere() -> None:
    """What is read does not show the password when it is printed, as it would be in a log."""
    assert SECRET not in repr(read_pdf(locked(LOCKS["AES-256"]), LIMITS, (SECRET,)))


def test_file_of_passwords(tmp_path: Path) -> None:
    """Passwords stand one a line, spaces in them kept; empty files, too many, and files others can read are refused."""
    path = tmp_path / "pdf.pw"
    path.write_text("one two\n\nthree \none two\n", encoding="utf-8")
    path.chmod(0o600)
    assert read_passwords(path, "pdf_password_file") == ("one two", "three ")
    for text in ("\n \n", "".join(f"{n}\n" for n in range(MOST_PASSWORDS + 1))):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(SettingsFaulty, match=f"1 to {MOST_PASSWORDS} passwords"):
            read_passwords(path, "pdf_password_file")
    with pytest.raises(SettingsFaulty, match="cannot be read"):
        read_passwords(tmp_path / "none.pw", "pdf_password_file")
    if sys.platform != "win32":
        path.chmod(0o644)
        with pytest.raises(SettingsFaulty, match="chmod 600"):
            read_passwords(path, "pdf_password_file")


def test_locked_pdf_is_a_question_until_its_password_is_known(tmp_path: Path) -> None:
    """Ingest asks for the password; once it stands in the shop's file, reading anew reads the PDF, and neither the
    settings that are sent to reading processes nor any file of the archive but that one holds it."""
    source, folder = tmp_path / "a.eml", tmp_path / "archive"
    source.write_bytes(mail(locked(LOCKS["AES-256"])))
    archive = Archive.create(folder, shop_name="Nadel und Faden")
    pipeline.ingest(archive, [str(source)])
    questions = archive.store.messages(Standing.OPEN)[0].questions
    assert any("asks for a password" in q.sentence for q in questions if q.code == "document_unreadable")
    archive.close()

    settings, passwords = folder / "counterfoil.toml", folder / "pdf.pw"
    settings.write_text(settings.read_text(encoding="utf-8") + '\npdf_password_file = "pdf.pw"\n', encoding="utf-8")
    archive = Archive(folder)
    with pytest.raises(SettingsFaulty, match=r"pdf\.pw"):
        upkeep.reread(archive, write=True, who="desk", why="")
    passwords.write_text(f"wrong\n{SECRET}\n", encoding="utf-8")
    passwords.chmod(0o600)
    upkeep.reread(archive, write=True, who="desk", why="password known")
    text = " ".join(q.sentence for m in archive.store.messages(Standing.OPEN) for q in m.questions)
    assert "asks for a password" not in text
    assert SECRET not in str(settings_json(archive.settings))
    archive.close()
    held = [p for p in folder.rglob("*") if p.is_file() and SECRET.encode() in p.read_bytes()]
    assert held == [passwords]
