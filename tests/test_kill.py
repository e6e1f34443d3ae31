"""kill -9 during ingest: nothing lost, nothing doubled, the index complete after catching up."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from confirmations import confirmations
from filelock import FileLock, Timeout

from counterfoil import pipeline
from counterfoil.answers.verify import verify
from counterfoil.archive import Archive

MESSAGES = 900
#: Kills fall into this many seconds from the end of start-up: most runs are in the middle of their work then.
SPAN_SECONDS = 0.5


def start_ingest(archive: Path, box: Path) -> subprocess.Popen[bytes]:
    """Start an ingest as a process of its own."""
    command = [sys.executable, "-m", "counterfoil", "ingest", "--archive", str(archive), str(box)]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def lock_is_held(archive: Path) -> bool:
    """Tell whether a run holds the archive's lock."""
    lock = FileLock(archive / "write.lock")
    try:
        lock.acquire(timeout=0)
    except Timeout:
        return True
    lock.release()
    return False


@pytest.mark.skipif(
    sys.platform == "win32", reason="Windows has no SIGKILL; the same order of writes is tested on POSIX"
)
@pytest.mark.parametrize("kills", [3, pytest.param(20, marks=pytest.mark.long)])
def test_kills_lose_and_double_nothing(tmp_path: Path, kills: int) -> None:
    """Killed again and again at random, then run to its end, an ingest has each message once, kept and indexed."""
    rng = random.Random(20)
    box = tmp_path / "box"
    box.mkdir()
    for n, confirmation in enumerate(confirmations(MESSAGES, pdf_share=0.3)):
        (box / f"{n:04}.eml").write_bytes(confirmation.data)
    folder = tmp_path / "archive"
    Archive.create(folder, shop_name="Kill").close()
    hit = 0
    for _ in range(kills):
        process = start_ingest(folder, box)
        # From the moment the run takes the lock it works on the archive.
        deadline = time.monotonic() + 30
        while not lock_is_held(folder) and process.poll() is None and time.monotonic() < deadline:
            time.sleep(0.002)
        time.sleep(rng.uniform(0.0, SPAN_SECONDS))
        if process.poll() is None:
            os.kill(process.pid, signal.SIGKILL)
            hit += 1
        process.communicate()
    assert hit >= kills - 2, "nearly every kill must fall into a running ingest"

    archive = Archive(folder)
    report = pipeline.ingest(archive, [str(box)])
    assert report.new + report.already_kept == MESSAGES
    assert report.problems == []
    assert archive.store.message_count() == MESSAGES
    assert len(set(archive.originals.hashes())) == MESSAGES
    assert verify(archive.store, archive.originals, archive.index).findings == ()
    assert not list((folder / "originals").rglob("*.tmp"))
    again = pipeline.ingest(archive, [str(box)])
    assert (again.new, again.already_kept) == (0, MESSAGES)
    archive.close()
