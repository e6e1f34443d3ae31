"""Mail goes in by every door, once, whatever happens around it."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from cli_world import PATIENCE_SECONDS, Desk, _tidy, desk, empty, own_environment, process
from conftest import SAMPLES, TEXT_LETTERS

from counterfoil.archive import Archive

__all__ = ["_tidy", "desk", "empty"]

LETTERS = TEXT_LETTERS


@pytest.fixture
def mailbox(tmp_path: Path) -> Path:
    """A folder with the letters."""
    folder = tmp_path / "mailbox"
    folder.mkdir()
    for path in LETTERS:
        shutil.copy(path, folder / path.name)
    return folder


def counts(outcome: object) -> dict[str, int]:
    """Return the figures of an ingest without the seconds."""
    return {k: v for k, v in outcome.json().items() if k != "seconds"}  # type: ignore[attr-defined]


def test_the_same_mail_twice_adds_nothing(desk: Desk) -> None:
    """A second ingest of everything keeps nothing new and changes no record."""
    before = desk("export").out
    again = counts(desk("ingest", *(str(SAMPLES / name) for name in ("mailbox", "old.mbox", "Maildir")), "--json"))
    assert again["new"] == again["filed"] == again["open"] == again["aside"] == again["unreadable"] == 0
    assert again["received"] == again["already_kept"] > 100
    assert desk("export").out == before


def test_one_message_from_standard_input(empty: Desk) -> None:
    """A message piped into `ingest -` is kept byte for byte, and says where it came from."""
    letter = LETTERS[0].read_bytes()
    done = process("ingest", "-", "--json", "--archive", str(empty.folder), input=letter)
    assert done.returncode == 0
    assert json.loads(done.stdout)["new"] == 1
    archive = Archive(empty.folder)
    (sha256,) = archive.originals.hashes()
    assert archive.originals.read(sha256) == letter
    archive.close()
    assert empty("export").lines()[0]["source"] == "standard input"


def test_zip_mbox_and_maildir_give_the_same_messages(empty: Desk, tmp_path: Path) -> None:
    """The same letters in a folder, a zip, an mbox and a Maildir are found in each, and kept once."""
    letters = [path for path in LETTERS if b"\nFrom " not in path.read_bytes()][:5]
    folder = tmp_path / "letters"
    folder.mkdir()
    with zipfile.ZipFile(tmp_path / "letters.zip", "w") as packed:
        for path in letters:
            shutil.copy(path, folder)
            packed.write(path, path.name)
    for part in ("cur", "new", "tmp"):
        (tmp_path / "box" / part).mkdir(parents=True)
    for number, path in enumerate(letters):
        shutil.copy(path, tmp_path / "box" / "cur" / f"{number}.host.example:2,S")
    for source in ("letters", "letters.zip", "box"):
        figures = counts(empty("ingest", str(tmp_path / source), "--json"))
        assert figures["received"] == len(letters), source
        assert figures["new"] == (len(letters) if source == "letters" else 0), source
    mbox = counts(empty("ingest", str(SAMPLES / "old.mbox"), "--json"))
    assert mbox["received"] == mbox["new"] == len(json.loads((SAMPLES / "old.expected.json").read_text()))


def test_two_ingests_at_once_lose_and_double_nothing(empty: Desk, mailbox: Path) -> None:
    """Two processes that take in the same mailbox at once both end well; each message is kept once."""
    command = [sys.executable, "-m", "counterfoil", "ingest", str(mailbox), "--json"]
    command += ["--archive", str(empty.folder)]
    both = [
        subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=own_environment())
        for _ in range(2)
    ]
    outputs = [p.communicate(timeout=PATIENCE_SECONDS) for p in both]
    assert [p.returncode for p in both] == [0, 0], outputs
    figures = [json.loads(out) for out, _ in outputs]
    different = len({path.read_bytes() for path in LETTERS})
    assert sum(f["new"] for f in figures) == different
    assert sum(f["received"] for f in figures) == 2 * len(LETTERS)
    assert len([r for r in empty("export").lines() if r["record"] == "message"]) == different
    assert empty("verify").code == 0


def test_a_killed_run_is_made_good_by_any_later_one(empty: Desk) -> None:
    """Originals that a killed run left without a record are filed at the next ingest, of other paths too, and told."""
    archive = Archive(empty.folder)
    archive.originals.keep(LETTERS[0].read_bytes())
    archive.unfinished.touch()
    archive.close()
    outcome = empty("ingest", str(LETTERS[1]))
    assert outcome.code == 0
    assert "recovered" in outcome.out
    assert len([r for r in empty("export").lines() if r["record"] == "message"]) == 2
    assert "recovered" not in empty("ingest", str(LETTERS[1])).out


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limit on the size of files a process may write")
def test_a_full_disk_is_said_and_made_good(empty: Desk, mailbox: Path) -> None:
    """When the disk refuses, the run leaves with 11; the next one files all that was kept and the rest."""
    import resource

    def little_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, resource.RLIM_INFINITY))

    command = [sys.executable, "-m", "counterfoil", "ingest", str(mailbox), "--archive", str(empty.folder)]
    done = subprocess.run(
        command, capture_output=True, preexec_fn=little_room, timeout=PATIENCE_SECONDS, env=own_environment()
    )
    assert done.returncode == 11, done
    assert b"Traceback" not in done.stderr
    assert b"cannot be written" in done.stderr
    assert counts(empty("ingest", str(mailbox), "--json"))["received"] == len(LETTERS)
    records = [r for r in empty("export").lines() if r["record"] == "message"]
    assert len(records) == len({path.read_bytes() for path in LETTERS})
    assert empty("verify").code == 0


def test_a_message_that_breaks_a_reader_becomes_a_question(empty: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """An unforeseen failure in reading one message leaves it open with sender and day, and the batch goes on."""
    from counterfoil.patterns import Patterns

    whole = Patterns.read

    def fail_once(self: Patterns, message: object, settings: object) -> object:
        if "hetty" in message.head.sender.address:  # type: ignore[attr-defined]
            raise IndexError("secret text")
        return whole(self, message, settings)  # type: ignore[arg-type]

    monkeypatch.setattr(Patterns, "read", fail_once)
    figures = counts(empty("ingest", str(LETTERS[0]), str(LETTERS[2]), "--json"))
    assert (figures["new"], figures["open"]) == (2, 1)
    groups = empty("triage", "--json").json()["groups"]
    assert isinstance(groups, list)
    (group,) = groups
    assert group["code"] == "document_unreadable"
    assert "hetty" in group["messages"][0]["sender"]
    assert "IndexError" in group["messages"][0]["questions"][0]["sentence"]
    assert "secret text" not in json.dumps(group)


def test_no_progress_bar_in_a_pipe(empty: Desk) -> None:
    """Without a terminal nothing but the result is printed, and no line ends in blanks."""
    done = process("ingest", str(SAMPLES / "old.mbox"), "--archive", str(empty.folder))
    assert done.stderr == b""
    lines = done.stdout.decode().splitlines()
    assert lines
    assert [line for line in lines if line != line.rstrip()] == []


def test_a_hostile_zip_cannot_leave_its_folder(empty: Desk, tmp_path: Path) -> None:
    """Names in a zip are names only: a message called ../../x.eml is read and nothing is written out there."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as target:
        target.writestr("../../x.eml", LETTERS[0].read_bytes())
    (tmp_path / "bad.zip").write_bytes(packed.getvalue())
    before = sorted(p.name for p in tmp_path.parent.iterdir())
    assert counts(empty("ingest", str(tmp_path / "bad.zip"), "--json"))["new"] == 1
    assert sorted(p.name for p in tmp_path.parent.iterdir()) == before


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no named pipes in folders")
def test_a_pipe_in_the_way_is_not_waited_for(empty: Desk, tmp_path: Path) -> None:
    """A named pipe without a writer is named as unreadable at once; the lock is not held for ever."""
    import os

    os.mkfifo(tmp_path / "pipe.eml")
    done = process("ingest", str(tmp_path / "pipe.eml"), "--json", "--archive", str(empty.folder))
    assert done.returncode == 1
    assert json.loads(done.stdout)["unreadable"] == 1
    assert b"pipe.eml" in done.stderr
