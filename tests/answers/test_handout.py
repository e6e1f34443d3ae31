"""What is written beside the sheet, and what never is."""

from __future__ import annotations

import stat
import sys
from datetime import date
from pathlib import Path

import pytest
from answers_world import MARIT, MARIT_AGAIN, MARIT_SWAPPED, TRADED_IN, Desk

from counterfoil.answers.handout import Attachments, Handout, save_attachments, write_handout, write_original
from counterfoil.answers.restore import RestoreSheet, restore
from counterfoil.errors import ArchiveDamaged, StorageFull, UsageProblem
from counterfoil.records.settling import settle

PDF = b"%PDF-1.7 the attachment "
PACK = b"PK\x03\x04 five hundred motifs"


def attachments(data: bytes) -> tuple[list[tuple[str, bytes]], bool]:
    """Take a message apart: here every message carries two confirmations of one name, its own, and one content pack."""
    assert data.startswith(b"From:")
    own = PDF + data[-30:]
    return [("confirmation.pdf", own), ("../Confirmation.pdf", own + b"!"), ("motifs.zip", PACK)], True


def carrying(*files: tuple[str, bytes], complete: bool = True) -> Attachments:
    """Return what takes a message apart into these files."""
    return lambda _data: (list(files), complete)


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
        "M1-E2.eml",
        "M1-E1-confirmation.pdf",
        "M1-E1-Confirmation~2.pdf",
        "M1-E1-motifs.zip",
        "M1-E2-confirmation.pdf",
        "M1-E2-Confirmation~2.pdf",
    ]
    assert out.files[0].read_bytes().startswith(b"%PDF")
    assert out.files[1].read_bytes() == desk.originals.read(desk.store.message("E1").sha256)
    assert out.files[3].read_bytes() == PDF + out.files[1].read_bytes()[-30:]
    assert out.files[5].read_bytes() == PACK
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
    with pytest.raises(UsageProblem, match="cannot take the files"):
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

    monkeypatch.setattr("counterfoil.answers.handout_files.os.fdopen", full)
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


def test_attachments_alone_are_saved_byte_for_byte(desk: Desk, tmp_path: Path) -> None:
    """Every attachment of the machine's messages is written as it came; the same bytes twice make one file."""
    out = save_attachments(revealed(desk), tmp_path / "out", desk.store, desk.originals.read, attachments)
    names = [path.name for path in out.files]
    assert names == [
        "M1-E1-confirmation.pdf",
        "M1-E1-Confirmation~2.pdf",
        "M1-E1-motifs.zip",
        "M1-E2-confirmation.pdf",
        "M1-E2-Confirmation~2.pdf",
    ]
    assert (tmp_path / "out" / "M1-E1-motifs.zip").read_bytes() == PACK
    with pytest.raises(UsageProblem, match="is there already"):
        save_attachments(revealed(desk), tmp_path / "out", desk.store, desk.originals.read, attachments)


def test_programs_are_never_left_ready_to_run(desk: Desk, tmp_path: Path) -> None:
    """A program is saved byte for byte under an ending that nothing runs, without the right to be run, and said."""
    take = carrying(("Update.EXE", b"MZ"), ("run.sh", b"#!/bin/sh"), ("motifs.pes", b"#PES0001"))
    out = save_attachments(revealed(desk), tmp_path / "out", desk.store, desk.originals.read, take)
    assert [path.name for path in out.files] == ["M1-E1-Update.EXE_", "M1-E1-run.sh_", "M1-E1-motifs.pes"]
    assert out.files[0].read_bytes() == b"MZ"
    assert all(stat.S_IMODE(path.stat().st_mode) & 0o111 == 0 for path in out.files)
    assert [sentence.split(" is a program")[0] for sentence in out.left_out] == ["M1-E1-Update.EXE_", "M1-E1-run.sh_"]


def test_a_program_that_calls_itself_a_picture(desk: Desk, tmp_path: Path) -> None:
    """What a sender declares to be a picture is written beside its message under an ending that nothing runs."""
    (_, program) = write_original(
        "E1", tmp_path / "out", desk.store, desk.originals.read, lambda _: [("photo.exe", b"MZ")]
    )
    assert (program.name, program.read_bytes()) == ("E1-photo.exe_", b"MZ")


def test_confirmations_of_dead_codes_are_left_out(desk: Desk, tmp_path: Path) -> None:
    """After a swap of the board the old PDFs stay out and are named; the content pack that came with them is saved."""
    desk.confirm(MARIT_SWAPPED, day="2025-05-05")
    out = save_attachments(revealed(desk), tmp_path / "out", desk.store, desk.originals.read, attachments)
    assert [path.name for path in out.files] == [
        "M1-E1-motifs.zip",
        "M1-E3-confirmation.pdf",
        "M1-E3-Confirmation~2.pdf",
    ]
    assert "E1: confirmation.pdf is left out: the codes of E1 must not be entered." in out.left_out


def test_attachments_of_a_former_holder_are_not_handed_out(desk: Desk, tmp_path: Path) -> None:
    """After a trade-in only what belongs to the present holder is written, and the rest is named."""
    third = desk.confirm(TRADED_IN, day="2025-06-12")
    settle(desk.store, desk.settings, third, customer="new", machine="M1", who="anna", why="traded in at the shop")
    out = save_attachments(revealed(desk), tmp_path / "out", desk.store, desk.originals.read, attachments)
    assert {path.name.split("-")[1] for path in out.files} == {third}
    assert out.left_out == tuple(f"{ref} belongs to another customer and is not handed out." for ref in ("E1", "E2"))


def test_parts_that_are_not_read_are_said(desk: Desk, tmp_path: Path) -> None:
    """Where a message has more parts than the limits allow, the person is told to look at the original."""
    take = carrying(("a.zip", b"a"), complete=False)
    out = save_attachments(revealed(desk), tmp_path / "out", desk.store, desk.originals.read, take)
    assert out.left_out[0] == "E1 has more parts than are read: look for further files in its original."


def test_attachments_show_codes_and_need_a_reveal(desk: Desk, tmp_path: Path) -> None:
    """Without a reveal no attachment is written."""
    with pytest.raises(UsageProblem, match="show codes in clear"):
        save_attachments(restore(desk.store, "M1"), tmp_path / "out", desk.store, desk.originals.read, attachments)
    assert not (tmp_path / "out").exists()
