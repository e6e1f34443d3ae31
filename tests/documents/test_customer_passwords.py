"""Passwords of customers' locked PDFs: tried on the customer's own mail only, kept in one file, shown nowhere."""

from __future__ import annotations

import sys
from email.message import EmailMessage
from io import BytesIO
from pathlib import Path

import pdf_papers as papers
import pikepdf
import pytest

from counterfoil import byhand, pipeline, upkeep
from counterfoil.archive import Archive
from counterfoil.errors import RecordUnknown, SettingsFaulty, StorageFull, UsageProblem
from counterfoil.model import Kind, Standing
from counterfoil.password_file import MOST_OF_ONE, read_customer_passwords, write_customer_passwords

SECRET, OTHER = "Garnrolle 7719 ", "Knopfloch-22"
MARIT, ODILE = "marit@solvang.example", "odile@bruckwald.example"


def locked(password: str, draw: papers.Draw = papers.beside) -> bytes:
    """Return a paper, locked by AES-256."""
    out = BytesIO()
    with pikepdf.open(BytesIO(papers.paper(draw))) as pdf:
        pdf.save(out, encryption=pikepdf.Encryption(owner="o", user=password, R=6))
    return out.getvalue()


def mail(number: int, name: str, address: str, text: str, pdf: bytes | None = None) -> bytes:
    """Return a maker's mail, perhaps with a PDF attached."""
    message = EmailMessage()
    message["From"] = "Maker <post@maker.example>"
    message["To"] = f"{name} <{address}>"
    message["Message-ID"] = f"<{number}@maker.example>"
    message["Date"] = "Tue, 04 Mar 2025 10:00:00 +0000"
    message["Subject"] = "Your activation"
    message.set_content(text)
    if pdf is not None:
        message.add_attachment(pdf, maintype="application", subtype="pdf", filename="card.pdf")
    return message.as_bytes()


def confirmation(number: int, name: str, address: str, machine: str, code: str) -> bytes:
    """Return a mail that makes somebody known."""
    lines = (
        f"Customer: {name}",
        f"E-mail address: {address}",
        f"Machine ID: {machine}",
        "Model: Lindra 300",
        f"Activation code: {code}",
    )
    return mail(number, name, address, "Your activation confirmation\n\n" + "\n".join(lines) + "\n")


ATTACHED = "Your activation confirmation is attached: machine ID and product key."


@pytest.fixture
def archive(tmp_path: Path) -> Archive:
    """Return an archive that knows two customers, Marit and Odile."""
    made = Archive.create(tmp_path / "archive", shop_name="Nadel und Faden")
    take_in(
        made,
        confirmation(1, "Marit Solvang", MARIT, "HG-482913-K", "Z9QX-44TT-PLM2-881A"),
        confirmation(2, "Odile Bruckwald", ODILE, "HG-771204-M", "B7RK-20VW-XX31-0077"),
    )
    for message in made.store.messages(Standing.OPEN):
        pipeline.settle(made, message.id, customer="new", machine="new", sure=True, who="desk", why="known in the shop")
    return made


def take_in(archive: Archive, *mails: bytes) -> list[str]:
    """Take messages in; return the ids of those that are new."""
    before = {m.id for m in archive.store.messages()}
    folder = archive.folder.parent / f"in{len(before)}"
    folder.mkdir()
    for number, data in enumerate(mails):
        (folder / f"{number}.eml").write_bytes(data)
    pipeline.ingest(archive, [str(folder)])
    return [m.id for m in archive.store.messages() if m.id not in before]


def who(archive: Archive, address: str) -> str:
    """Return the id of the customer with an address."""
    return next(c.id for c in archive.store.customers() if address in c.values(Kind.EMAIL_ADDRESS))


def asks(archive: Archive, message: str) -> bool:
    """Say whether a message asks for a password."""
    return "asks for a password" in str([q.sentence for q in archive.store.message(message).questions])


def again(archive: Archive) -> Archive:
    """Return the archive as the next command opens it."""
    archive.close()
    return Archive(archive.folder)


def test_the_password_of_the_customer_opens(archive: Archive) -> None:
    """A locked PDF is a question until its customer's password is noted; read anew, its code is filed."""
    (sent,) = take_in(archive, mail(3, "Marit Solvang", MARIT, ATTACHED, locked(SECRET)))
    assert asks(archive, sent)
    marit = who(archive, MARIT)
    assert byhand.locked_messages_of(archive, marit) == [sent]
    assert byhand.locked_messages_of(archive, who(archive, ODILE)) == []
    byhand.note_password(archive, marit, SECRET, who="desk", why="told on the phone")
    archive = again(archive)
    upkeep.reread(archive, write=True, who="desk", why="")
    assert not asks(archive, sent)
    record = archive.store.message(sent)
    assert record.customer == marit
    assert byhand.locked_messages_of(archive, marit) == []
    assert "SPQR77" in str([fact.fact.normal for fact in record.facts])
    archive.close()


def test_the_password_of_another_customer_is_not_tried(archive: Archive) -> None:
    """What opens one customer's PDFs does not open another's, though the password is the same."""
    byhand.note_password(archive, who(archive, ODILE), SECRET, who="desk", why="")
    archive = again(archive)
    of_marit, of_odile = take_in(
        archive,
        mail(3, "Marit Solvang", MARIT, ATTACHED, locked(SECRET)),
        mail(4, "Odile Bruckwald", ODILE, ATTACHED, locked(SECRET, papers.one_string)),
    )
    assert (asks(archive, of_marit), asks(archive, of_odile)) == (True, False)
    archive.close()


def test_addresses_of_forwards_count(archive: Archive) -> None:
    """Whose mail it is is told by the forward inside as well: the husband forwards what was sent to her."""
    byhand.note_password(archive, who(archive, MARIT), SECRET, who="desk", why="")
    archive = again(archive)
    text = (
        "Here it is.\n\n---------- Forwarded message ---------\nFrom: Maker <post@maker.example>\n"
        f"Date: Tue, 4 Mar 2025 at 10:00\nSubject: Your activation\nTo: <{MARIT}>\n\n{ATTACHED}\n"
    )
    (sent,) = take_in(archive, mail(3, "Shop", "help@threadworks.example", text, locked(SECRET)))
    assert not asks(archive, sent)
    archive.close()


def test_a_message_filed_by_hand_is_read_with_the_passwords_of_its_customer(archive: Archive) -> None:
    """A PDF sent from an address nobody knows is opened once its message is filed to the customer."""
    marit = who(archive, MARIT)
    byhand.note_password(archive, marit, SECRET, who="desk", why="")
    archive = again(archive)
    (sent,) = take_in(archive, mail(3, "M. S.", "m7@elsewhere.example", ATTACHED, locked(SECRET)))
    assert asks(archive, sent)
    pipeline.settle(archive, sent, customer=marit, machine="M1", who="desk", why="her new address", sure=True)
    assert archive.store.message(sent).customer == marit
    assert archive.concerned(archive.store.message(sent).sha256) == (marit,)
    message = archive.read_with_boxes(archive.originals.read(archive.store.message(sent).sha256))
    assert "SPQR-7788" in str([d.text for d in message.documents])
    archive.close()


def test_passwords_go_along_when_profiles_are_merged(archive: Archive) -> None:
    """After a merge the passwords of both open the PDFs of the one that stands, and forgetting takes all of them."""
    marit, odile = who(archive, MARIT), who(archive, ODILE)
    byhand.note_password(archive, odile, SECRET, who="desk", why="")
    byhand.note_password(archive, marit, OTHER, who="desk", why="")
    byhand.merge_customers(archive, marit, odile, sure=True, who="desk", why="one person")
    archive = again(archive)
    assert byhand.customers_with_passwords(archive) == {marit: 2}
    sent = take_in(
        archive,
        mail(3, "Marit Solvang", MARIT, ATTACHED, locked(SECRET)),
        mail(4, "Odile Bruckwald", ODILE, ATTACHED, locked(OTHER, papers.one_string)),
    )
    assert [asks(archive, ref) for ref in sent] == [False, False]
    assert byhand.forget_passwords(archive, odile, who="desk", why="") is not None
    assert byhand.customers_with_passwords(archive) == {}
    assert byhand.forget_passwords(archive, marit, who="desk", why="") is None
    archive.close()


def test_passwords_stand_in_their_file_only(archive: Archive) -> None:
    """No file of the archive but customers.pw holds a password; the journal says that one was noted, and of whom."""
    marit = who(archive, MARIT)
    line = byhand.note_password(archive, marit, SECRET, who="desk", why="told on the phone")
    assert byhand.note_password(archive, marit, SECRET, who="desk", why="") is None
    archive = again(archive)
    take_in(archive, mail(3, "Marit Solvang", MARIT, ATTACHED, locked(SECRET)))
    entry = next(e for e in archive.store.journal() if e.id == line)
    assert (entry.action, entry.subject, entry.detail) == ("password", marit, {"noted": 1})
    assert SECRET not in repr(archive.customer_passwords)
    archive.close()
    held = [p for p in archive.folder.rglob("*") if p.is_file() and SECRET.strip().encode() in p.read_bytes()]
    assert held == [archive.customer_password_file]
    if sys.platform != "win32":
        assert held[0].stat().st_mode & 0o077 == 0


def test_what_cannot_be_kept_is_refused(archive: Archive) -> None:
    """Empty passwords, line breaks, an unknown customer and an eleventh password are refused in a sentence."""
    marit = who(archive, MARIT)
    for bad in ("", "  ", " leading", "two\nlines", "a\tb", "nul\0"):
        with pytest.raises(UsageProblem):
            byhand.note_password(archive, marit, bad, who="desk", why="")
    with pytest.raises(RecordUnknown):
        byhand.note_password(archive, "C99", SECRET, who="desk", why="")
    assert not archive.customer_password_file.exists()
    for number in range(MOST_OF_ONE):
        byhand.note_password(archive, marit, f"{number}", who="desk", why="")
    with pytest.raises(UsageProblem, match="--forget"):
        byhand.note_password(archive, marit, SECRET, who="desk", why="")
    archive.close()


def test_the_file_reads_back_what_was_written(tmp_path: Path) -> None:
    """Passwords with spaces, signs of all scripts and a look of their own come back as they were."""
    path = tmp_path / "customers.pw"
    some = {"C1": ("a b ", "ñandú £", "C2 x"), "C20": ("#no remark", "秘密の鍵")}
    write_customer_passwords(path, some)
    assert read_customer_passwords(path) == some
    assert [p.name for p in tmp_path.iterdir()] == ["customers.pw"]
    assert read_customer_passwords(tmp_path / "none.pw") == {}


def test_a_wrong_file_is_named_and_its_lines_are_not_shown(archive: Archive) -> None:
    """A line of another kind, and a file others can read, stop reading before it begins, with a sentence."""
    path = archive.customer_password_file
    path.write_text("C1 good\nC2secret-word\n", encoding="utf-8")
    path.chmod(0o600)
    with pytest.raises(SettingsFaulty, match="line 2") as failed:
        take_in(again(archive), confirmation(3, "Marit Solvang", MARIT, "HG-482913-K", "Z9QX-44TT-PLM2-881A"))
    assert "secret-word" not in str(failed.value)
    path.write_text("C1 good\nC77 of nobody\n", encoding="utf-8")
    fresh = Archive(archive.folder)
    assert fresh.customer_passwords is not None
    assert [owner.customer for owner in fresh.customer_passwords.owners] == ["C1"]
    fresh.close()
    if sys.platform != "win32":
        path.chmod(0o640)
        with pytest.raises(SettingsFaulty, match="chmod 600"):
            _ = Archive(archive.folder).customer_passwords


def test_what_cannot_be_written_leaves_the_old_file(tmp_path: Path) -> None:
    """Where the new file cannot be written the old one stands."""
    path = tmp_path / "customers.pw"
    write_customer_passwords(path, {"C1": ("one",)})
    path.with_suffix(".new").mkdir()
    with pytest.raises(StorageFull, match="cannot be written"):
        write_customer_passwords(path, {"C1": ("two",)})
    assert read_customer_passwords(path) == {"C1": ("one",)}
