"""`ingest --for-mail-server -`: the exit codes of sysexits.h (4.3BSD, values from its header file).

That mail servers try again after EX_TEMPFAIL and send mail back after EX_DATAERR and EX_NOINPUT is common practice.
"""

from __future__ import annotations

import os
import shutil
import sys

import pytest
from cli_world import Desk, _tidy, empty, process
from conftest import SAMPLES
from filelock import FileLock

from counterfoil.archive import Archive

__all__ = ["_tidy", "empty"]

LETTER = sorted((SAMPLES / "mailbox").glob("*.eml"))[0].read_bytes()
PIPE = ("ingest", "--for-mail-server", "-", "--archive")
#: A line that an mbox would be split at, in the middle of a text.
TRAP = b"From: a@one.example\nSubject: Two\n\nOne.\n\nFrom b@two.example Tue Mar  4 10:13:00 2025\n>From me.\n"


def originals(desk: Desk) -> list[bytes]:
    """Return the bytes of all originals."""
    archive = Archive(desk.folder)
    found = [archive.originals.read(sha256) for sha256 in archive.originals.hashes()]
    archive.close()
    return found


def test_a_message_is_kept_and_nothing_is_printed(empty: Desk) -> None:
    """A message leaves 0 and no word: some servers send back what a command prints. Twice adds nothing."""
    for _ in range(2):
        done = process(*PIPE, str(empty.folder), input=LETTER)
        assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")
    assert originals(empty) == [LETTER]


@pytest.mark.parametrize("before", [b"", b"From b@two.example Tue Mar  4 10:13:00 2025\n"])
def test_one_message_stays_one(empty: Desk, before: bytes) -> None:
    """A line in the text that looks like an mbox separator parts nothing, one before the header is taken off."""
    assert process(*PIPE, str(empty.folder), input=before + TRAP).returncode == 0
    assert originals(empty) == [TRAP]


def test_what_cannot_be_taken_in_goes_back(empty: Desk) -> None:
    """Too large a message leaves with EX_DATAERR (65), nothing at all with EX_NOINPUT (66), each with a sentence."""
    with (empty.folder / "counterfoil.toml").open("a", encoding="utf-8") as file:
        file.write("\n[limits]\nmessage_bytes = 1000\n")
    for data, code in ((b"A: b\n\n" + b"x" * 5_000, 65), (b"", 66), (b"\n", 66)):
        done = process(*PIPE, str(empty.folder), input=data)
        assert (done.returncode, done.stdout) == (code, b"")
        assert done.stderr.startswith(b"counterfoil: The message was not taken in.")
    assert originals(empty) == []


def test_what_the_shop_can_mend_is_tried_again(empty: Desk, tmp_path: os.PathLike[str]) -> None:
    """No archive, wrong settings, a wrong option, another writer: EX_TEMPFAIL (75), and the message comes later."""
    assert process(*PIPE, str(tmp_path / "nowhere"), input=LETTER).returncode == 75  # type: ignore[operator]
    assert process(*PIPE, str(empty.folder), "--jsno", input=LETTER).returncode == 75
    assert process("ingest", "--for-mail-server", "x.eml", "--archive", str(empty.folder)).returncode == 75
    settings = empty.folder / "counterfoil.toml"
    good = settings.read_text(encoding="utf-8")
    settings.write_text("shop_name = ", encoding="utf-8")
    assert process(*PIPE, str(empty.folder), input=LETTER).returncode == 75
    settings.write_text(f"lock_wait_seconds = 0.2\n{good}", encoding="utf-8")
    with FileLock(empty.folder / "write.lock"):
        assert process(*PIPE, str(empty.folder), input=LETTER).returncode == 75
    assert process(*PIPE, str(empty.folder), input=LETTER).returncode == 0
    assert originals(empty) == [LETTER]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limit on the size of files a process may write")
def test_a_full_disk_is_tried_again(empty: Desk) -> None:
    """A disk that refuses leaves with EX_TEMPFAIL (75), and no half of the message stays."""
    limited = f"ulimit -f 1; exec {sys.executable} -m counterfoil {' '.join(PIPE)} {empty.folder}"
    import subprocess

    from cli_world import own_environment

    big = LETTER + b"x\n" * 50_000
    done = subprocess.run(
        [shutil.which("bash") or "sh", "-c", limited], input=big, capture_output=True, env=own_environment()
    )
    assert done.returncode == 75, done
    assert originals(empty) == []
