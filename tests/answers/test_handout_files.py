"""Names of attachments: harmless on every file system, never over another file, never run at a click."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.answers.handout_files import (
    free_name,
    is_program,
    is_shown,
    message_suffix,
    no_program,
    safe_name,
    write_files,
)
from counterfoil.errors import UsageProblem


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
        ("aux .txt", "_aux.txt"),
        ("x" * 300 + ".pdf", "x" * 80 + ".pdf"),
        ("縫" * 80 + ".zip", "縫" * 53 + ".zip"),
        (".hidden", "hidden"),
        ("invoice\u202efdp.exe", "invoice_fdp.exe"),
        ("a.pdf ", "a.pdf"),
        ("e\u0301.zip", "é.zip"),
    ],
)
def test_hostile_names_stay_in_their_folder(name: str, safe: str) -> None:
    """Names of attachments come out as plain names that every file system takes."""
    assert safe_name(name) == safe


@settings(database=None, derandomize=True, deadline=None)
@given(st.text(max_size=120))
def test_any_name_can_be_written(name: str) -> None:
    """Whatever a message calls a file, the name has no path, no control character, and fits a file system."""
    safe = safe_name(name)
    assert safe and not set(safe) & set('/\\:*?"<>|\0\n\r')
    assert len(f"M12345-E123456-{safe}~2_".encode()) <= 255
    assert safe == safe.strip(" .")


@pytest.mark.parametrize("name", ["setup.exe", "RUN.BAT", "a.pdf.scr", "x.lnk", "mac.command", "s.ps1", "p.jar"])
def test_programs_are_told_by_their_ending(name: str) -> None:
    """What Windows, macOS or a desktop runs at a click is a program, in whatever case."""
    assert is_program(name)


@pytest.mark.parametrize("name", ["motifs.zip", "rose.pes", "a.exe.pdf", "exe", "firmware.bin", "setup.exe_"])
def test_content_is_no_program(name: str) -> None:
    """Content packs, stitches and documents keep their names."""
    assert not is_program(name)


def test_what_codes_are_read_from() -> None:
    """PDFs and pictures are told by their bytes, texts and mails by their names; packs are none of them."""
    assert is_shown("a.bin", b"%PDF-1.7") and is_shown("b", b"\x89PNG\r\n") and is_shown("c.TXT", b"hello")
    assert not is_shown("motifs.zip", b"PK\x03\x04") and not is_shown("rose.pes", b"#PES0001")


def test_names_taken_are_numbered() -> None:
    """A name that differs from another in case only would be the same file on Windows and macOS."""
    assert free_name("A.pdf", ["a.PDF", "A~2.pdf"]) == "A~3.pdf"
    assert free_name("a", ["A"]) == "a~2"


def test_a_link_is_not_written_through(tmp_path: Path) -> None:
    """A symbolic link of the name, even one that leads nowhere, is refused like a file."""
    (tmp_path / "out").mkdir()
    try:
        (tmp_path / "out" / "a.pdf").symlink_to(tmp_path / "elsewhere")
    except OSError:
        (tmp_path / "out" / "a.pdf").write_bytes(b"mine")
    with pytest.raises(UsageProblem, match=r"a\.pdf is there already .* with --save"):
        write_files(tmp_path / "out", {"a.pdf": b"x"}, "--save")
    assert not (tmp_path / "elsewhere").exists()


def test_no_name_runs_at_a_click() -> None:
    """A program gets an ending that nothing runs, numbered where that name is taken; other names stay."""
    assert no_program("E5-photo.exe", []) == "E5-photo.exe_"
    assert no_program("E5-photo.exe", ["E5-photo.exe_"]) == "E5-photo~2.exe_"
    assert no_program("E5-photo.png", ["e5-PHOTO.png"]) == "E5-photo~2.png"


def test_a_message_has_the_ending_of_its_kind() -> None:
    """A compound file ([MS-CFB], section 2.2: its signature) is named .msg, every other message .eml."""
    assert message_suffix(bytes.fromhex("D0CF11E0A1B11AE1") + b"rest") == ".msg"
    assert message_suffix(b"From: a@b.example") == ".eml"
