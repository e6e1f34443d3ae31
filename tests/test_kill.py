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

from counterfoil import pipeline
from counterfoil.answers.verify import verify
from counterfoil.archive import Archive

MESSAGES = 400
KILLS = 20


def start_ingest(archive: Path, box: Path) -> subprocess.Popen[bytes]:
    """Start an ingest as a process of its own."""
    command = [sys.executable, "-m", "counterfoil", "ingest", "--archive", str(archive), str(box)]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def kept(archive: Path) -> int:
    """Count the originals on disk."""
    return sum(1 for path in (archive / "originals").rglob("*") if path.is_file())


@pytest.mark.skipif(
    sys.platform == "win32", reason="Windows has no SIGKILL; the same order of writes is tested on POSIX"
)
def test_twenty_kills_lose_and_double_nothing(tmp_path: Path) -> None:
    """Killed 20 times at random, then run to its end, an ingest has kept, recorded and indexed each message once."""
    rng = random.Random(20)
    box = tmp_path / "box"
    box.mkdir()
    for n, confirmation in enumerate(confirmations(MESSAGES, pdf_share=0.5)):
        (box / f"{n:04}.eml").write_bytes(confirmation.data)
    folder = tmp_path / "archive"
    Archive.create(folder, shop_name="Kill").close()
    hit = 0
    for _ in range(KILLS):
        before = kept(folder)
        process = start_ingest(folder, box)
        deadline = time.monotonic() + 20
        # The moment is counted from the first new original, or from the end of start-up where nothing is new.
        while kept(folder) == before and process.poll() is None and time.monotonic() < deadline:
            time.sleep(0.002)
        time.sleep(rng.uniform(0.0, 0.08))
        if process.poll() is None:
            os.kill(process.pid, signal.SIGKILL)
            hit += 1
        process.communicate()
    assert hit >= KILLS // 2, "most kills must fall into a running ingest"

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
