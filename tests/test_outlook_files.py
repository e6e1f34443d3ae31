"""Outlook message files through the whole ingest: filed like any other mail, opened in reading processes alone."""

from __future__ import annotations

import email
import email.policy
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from confirmations import confirmations
from conftest import ROOT
from hostile_files import flate_bomb
from msg_files import file_inside, message_inside, msg, tree

from counterfoil import pipeline
from counterfoil.answers.handout import write_original
from counterfoil.archive import Archive
from counterfoil.model import Kind, Standing
from counterfoil.settings import Settings
from counterfoil.sources import Received


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    """Give a new archive."""
    made = Archive.create(tmp_path / "archive", shop_name="Files")
    made.settings = Settings(readers=1)
    yield made
    made.close()


def test_a_confirmation_in_a_file_is_filed(archive: Archive, tmp_path: Path) -> None:
    """A confirmation saved from Outlook gives the same facts as the mail itself, and is kept byte for byte."""
    (whole,) = confirmations(1, pdf_share=0.0)
    mail = email.message_from_bytes(whole.data, policy=email.policy.default)
    body = mail.get_body(("plain", "html"))
    assert body is not None
    kind = 0x1000 if body.get_content_type() == "text/plain" else 0x1013
    text = body.get_content()
    header = "".join(f"{name}: {value}\r\n" for name, value in mail.items() if not name.lower().startswith("content"))
    data = msg(
        {0x0037: str(mail["subject"]), 0x007D: header, kind: text if kind == 0x1000 else text.encode(), 0x3FDE: 65001}
    )
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "saved.msg").write_bytes(data)
    (tmp_path / "in" / "sent.eml").write_bytes(whole.data)
    report = pipeline.ingest(archive, [str(tmp_path / "in")])
    assert (report.new, report.unreadable) == (2, 0)
    saved, sent = archive.store.messages()
    assert archive.originals.read(saved.sha256) == data

    def codes(message: object) -> set[tuple[Kind, str]]:
        return {(noted.fact.kind, noted.fact.normal) for noted in message.facts if noted.chosen}  # type: ignore[attr-defined]

    assert codes(saved) == codes(sent)
    assert len(codes(saved)) > 3


def test_the_run_itself_opens_none(archive: Archive, tmp_path: Path) -> None:
    """The process that keeps records never loads what opens these files; reading processes do."""
    (tmp_path / "a.msg").write_bytes(msg({0x0037: "S", 0x1000: "Machine ID: AB-1234"}))
    code = (
        "import sys\nfrom counterfoil.faces.cli import run\n"
        f"code = run(['ingest', {str(tmp_path / 'a.msg')!r}, '--archive', {str(archive.folder)!r}])\n"
        "assert code == 0, code\nassert not {'oxmsg', 'olefile', 'striprtf', 'compressed_rtf'} & set(sys.modules)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, env={"PYTHONPATH": str(ROOT / "src")})
    (message,) = archive.store.messages()
    assert message.subject == "S"


def test_a_file_inside_that_ends_its_reader(archive: Archive) -> None:
    """A PDF in a message file that swells its reader is left out; all the rest is read."""
    inner = tree({0x0037: "Inner", 0x1000: "Two"}, header=24)
    attached = [file_inside("bomb.pdf", flate_bomb()), message_inside(inner)]
    data = msg({0x0037: "Outer", 0x1000: "One", 0x5D01: "a@one.example"}, attachments=attached)
    pipeline.ingest(archive, mail=[Received(data, "test")])
    (message,) = archive.store.messages()
    assert (message.subject, message.standing) == ("Outer", Standing.OPEN)
    texts = " ".join(d.text for d in message.documents)
    assert "One" in texts
    assert "Two" in texts
    assert any(d.problem is not None for d in message.documents)


def test_it_is_written_out_under_its_own_name(archive: Archive, tmp_path: Path) -> None:
    """Written out for a person, such an original is called .msg, so that a double click opens it."""
    pipeline.ingest(archive, mail=[Received(msg({0x0037: "S", 0x1000: "T"}), "test")])
    (path,) = write_original("E1", tmp_path / "out", archive.store, archive.originals.read, lambda data: [])
    assert path.name == "E1.msg"
