"""What is written beside the sheet, and what never is."""

from __future__ import annotations

import stat
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest
from answers_world import MARIT, MARIT_AGAIN, Desk

from counterfoil.answers.handout import Handout, safe_name, write_handout
from counterfoil.answers.restore import RestoreSheet, restore
from counterfoil.errors import ArchiveDamaged, StorageFull, UsageProblem

PDF = b"%PDF-1.7 the attachment"


def attachments(data: bytes) -> Sequence[tuple[str, bytes]]:
    """Take a message apart: here every message carries the same two files of one name."""
    assert data.startswith(b"From:")
    return [("confirmation.pdf", PDF), ("../Confirmation.pdf", PDF + b"!")]


def revealed(desk: Desk) -> RestoreSheet:
    """Return the first machine's sheet with its codes shown."""
    return restore(desk.store, "M1", reveal=True, who="anna", reason="machine was reset")


def write(desk: Desk, sheet: RestoreSheet, folder: Path) -> Handout:
    """Write a sheet into a folder."""
    day = date(2026, 11, 25)
    read = desk.originals.read
    return write_handout(sheet, folder, desk.store, read, attachments, shop_name="Tidewheel Sewing", printed=day)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """An archive with one machine and two confirmations."""
    desk = Desk(tmp_path / "archive")
    desk.confirm(MARIT)
    desk.confirm(MARIT_AGAIN, day="2024-03-01")
    return desk


def test_sheet_originals_and_attachments_are_written(desk: Desk, tmp_path: Path) -> None:
    """The sheet stands first; originals are copied to the byte, attachments decoded, names never clash."""
    out = write(desk, revealed(desk), tmp_path / "out")
    assert [path.name for path in out.files] == [
        "M1-restore-sheet.pdf",
        "M1-E1.eml",
        "M1-E1-confirmation.pdf",
        "M1-E1-Confirmation~2.pdf",
        "M1-E2.eml",
        "M1-E2-confirmation.pdf",
        "M1-E2-Confirmation~2.pdf",
    ]
    assert out.files[0].read_bytes().startswith(b"%PDF")
    assert out.files[1].read_bytes() == desk.originals.read(desk.store.message("E1").sha256)
    assert out.files[2].read_bytes() == PDF
    assert out.left_out == ()


def test_files_are_for_the_owner_only(desk: Desk, tmp_path: Path) -> None:
    """Files with codes can be read by their owner only, where the platform knows such rights."""
    rights = 0o666 if sys.platform == "win32" else 0o600
    for path in write(desk, revealed(desk), tmp_path / "out").files:
        assert stat.S_IMODE(path.stat().st_mode) == rights


def test_a_masked_sheet_takes_no_originals_along(desk: Desk, tmp_path: Path) -> None:
    """Originals hold the codes in clear, so that without a reveal they stay where they are."""
    out = write(desk, restore(desk.store, "M1"), tmp_path / "out")
    assert [path.name for path in out.files] == ["M1-restore-sheet.pdf"]
    assert out.left_out == ("Originals show codes in clear: they are copied only with --reveal.",)


def test_nothing_is_overwritten(desk: Desk, tmp_path: Path) -> None:
    """Where one file is there already, none is written and it stays as it was."""
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "M1-E2.eml").write_bytes(b"mine")
    with pytest.raises(UsageProblem, match=r"M1-E2\.eml is there already and is not overwritten"):
        write(desk, revealed(desk), folder)
    assert [path.name for path in folder.iterdir()] == ["M1-E2.eml"]
    assert (folder / "M1-E2.eml").read_bytes() == b"mine"


def test_a_file_in_place_of_the_folder_is_said(desk: Desk, tmp_path: Path) -> None:
    """A file where the folder should be is a wrong use, not a full disk."""
    (tmp_path / "out").write_text("a file")
    with pytest.raises(UsageProblem, match="cannot take the sheet"):
        write(desk, revealed(desk), tmp_path / "out")


def test_a_disk_that_refuses_leaves_nothing_behind(desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk runs full half way, what was begun is taken away again."""
    import os

    real, opened = os.fdopen, []

    def full(handle: int, mode: str) -> object:
        opened.append(handle)
        if len(opened) == 3:
            os.close(handle)
            raise OSError(28, "No space left on device")
        return real(handle, mode)

    monkeypatch.setattr("counterfoil.answers.handout.os.fdopen", full)
    with pytest.raises(StorageFull, match="No space left on device"):
        write(desk, revealed(desk), tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


def test_a_changed_original_is_not_handed_out(desk: Desk, tmp_path: Path) -> None:
    """An original whose bytes no longer have its hash stops the handout."""
    path = desk.originals.path(desk.store.message("E1").sha256)
    path.write_bytes(b"changed")
    with pytest.raises(ArchiveDamaged):
        write(desk, revealed(desk), tmp_path / "out")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("confirmation.pdf", "confirmation.pdf"),
        ("../../etc/passwd", "passwd"),
        ("C:\\temp\\Bestätigung Nr. 5.pdf", "Bestätigung Nr. 5.pdf"),
        ("", "attachment"),
        ("..", "attachment"),
        ("a\x00b\n<c>.pdf", "a_b__c_.pdf"),
        ("NUL.pdf", "_NUL.pdf"),
        ("com1", "_com1"),
        ("x" * 300 + ".pdf", "x" * 80 + ".pdf"),
        (".hidden", "hidden"),
    ],
)
def test_hostile_names_stay_in_their_folder(name: str, safe: str) -> None:
    """Names of attachments come out as plain names that every file system takes."""
    assert safe_name(name) == safe
