"""A watched folder: everything put there is taken in once, whole, over failures, signals and kills."""

from __future__ import annotations

import json
import random
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from conftest import SAMPLES
from imap_world import until

from counterfoil.archive import Archive
from counterfoil.errors import SourceUnreadable
from counterfoil.mailbox import Waits
from counterfoil.pipeline import IngestReport
from counterfoil.watching import watch_folder

LETTERS = [path.read_bytes() for path in sorted((SAMPLES / "mailbox").glob("*.eml"))[:6]]


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    """Give a new archive that believes in quiet quickly."""
    with closing(Archive.create(tmp_path / "archive", shop_name="Watch")) as made:
        made.settings = replace(made.settings, watch_quiet_seconds=0.15)
        yield made


class Watching:
    """A watch in a thread of its own."""

    def __init__(self, archive: Archive, folder: Path) -> None:
        self.stop, self.reports = threading.Event(), list[IngestReport]()
        self.warned: list[str] = []
        waits = Waits(0.02, 0.1, random.Random(1))

        def run() -> None:
            watch_folder(
                archive, folder, stop=self.stop, tell=self.reports.append, warn=self.warned.append,
                every_seconds=0.05, waits=waits,
            )  # fmt: skip

        self.thread = threading.Thread(target=run, daemon=True)
        self.thread.start()

    def new(self) -> int:
        """Return how many messages were taken in so far."""
        return sum(report.new for report in self.reports)

    def end(self) -> None:
        """Stop it; it must end."""
        self.stop.set()
        self.thread.join(10)
        assert not self.thread.is_alive()


def kept(archive: Archive) -> list[bytes]:
    """Return the originals on record."""
    return sorted(archive.originals.read(sha256) for sha256 in archive.store.hashes())


def test_what_comes_is_taken_in_whole(archive: Archive, tmp_path: Path) -> None:
    """Files there before, files that come, and one written slowly are each taken in once and whole."""
    box = tmp_path / "box"
    box.mkdir()
    (box / "0.eml").write_bytes(LETTERS[0])
    watching = Watching(archive, box)
    until(lambda: watching.new() == 1, "the file that was there")
    with (box / "1.eml").open("wb") as slow:
        for at in range(0, len(LETTERS[1]), len(LETTERS[1]) // 6 + 1):
            slow.write(LETTERS[1][at : at + len(LETTERS[1]) // 6 + 1])
            slow.flush()
            watching.stop.wait(0.05)
    (box / "2.eml").write_bytes(LETTERS[2])
    (box / "same.eml").write_bytes(LETTERS[0])
    until(lambda: watching.new() == 3, "the files that came")
    watching.end()
    assert kept(archive) == sorted(LETTERS[:3])
    assert watching.warned == []


def test_a_folder_that_goes_away_is_waited_for(archive: Archive, tmp_path: Path) -> None:
    """A share that is not there for a while is warned of; what comes after it is back is taken in."""
    box, away = tmp_path / "box", tmp_path / "away"
    box.mkdir()
    (box / "first.eml").write_bytes(LETTERS[1])
    watching = Watching(archive, box)
    until(lambda: watching.new() == 1, "the file that was there")
    box.rename(away)
    until(lambda: len(watching.warned) >= 2, "two warnings")
    (away / "0.eml").write_bytes(LETTERS[0])
    away.rename(box)
    until(lambda: watching.new() == 2, "the file in the folder that came back")
    watching.end()
    assert "Trying again in" in watching.warned[0]


def test_no_folder_is_no_watch(archive: Archive, tmp_path: Path) -> None:
    """A name that is no folder is refused at once, with what takes files."""
    with pytest.raises(SourceUnreadable, match="no folder"):
        watch_folder(archive, tmp_path / "none", stop=threading.Event(), tell=print, warn=print)


def _start(archive: Path, box: Path, log: Path) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "counterfoil", "watch", str(box), "--json", "--every", "1", "--archive"]
    with log.open("ab") as out:
        return subprocess.Popen([*command, str(archive)], stdout=out, stderr=subprocess.PIPE)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has neither SIGKILL nor SIGTERM to send")
def test_killed_and_stopped(tmp_path: Path) -> None:
    """A watch that is killed and started anew keeps each delivery of a Maildir once; SIGTERM ends it with 0."""
    box, folder, log = tmp_path / "box", tmp_path / "archive", tmp_path / "log"
    for name in ("cur", "new", "tmp"):
        (box / name).mkdir(parents=True)
    Archive.create(folder, shop_name="Watch").close()
    with (folder / "counterfoil.toml").open("a", encoding="utf-8") as file:
        file.write("\nwatch_quiet_seconds = 0.2\n")

    def deliver(number: int) -> None:
        name = f"1700000{number:03}.a{number}.desk"
        (box / "tmp" / name).write_bytes(LETTERS[number])
        (box / "tmp" / name).rename(box / "new" / name)

    deliver(0)
    first = _start(folder, box, log)
    until(lambda: b'"new"' in log.read_bytes(), "the first delivery")
    deliver(1)
    deliver(2)
    first.kill()
    first.communicate()
    deliver(3)
    second = _start(folder, box, log)
    until(lambda: _records(folder) == 4, "all deliveries")
    second.send_signal(signal.SIGTERM)
    _, err = second.communicate(timeout=30)
    assert (second.returncode, b"Stopped" in err, b"Traceback" in err) == (0, True, False), err
    assert all(json.loads(line)["unreadable"] == 0 for line in log.read_text().splitlines())
    with closing(Archive(folder)) as archive:
        assert kept(archive) == sorted(LETTERS[:4])
        assert archive.store.message_count() == 4


def _records(folder: Path) -> int:
    with closing(Archive(folder)) as archive:
        return archive.store.message_count()
