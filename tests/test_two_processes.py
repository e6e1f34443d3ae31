"""Two desks and a mailbox at once: no decision is lost, nothing is doubled, and nobody is shown a lock."""

from __future__ import annotations

import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest
from confirmations import confirmations

from counterfoil import pipeline
from counterfoil.answers.verify import verify
from counterfoil.archive import Archive
from counterfoil.model import Standing
from counterfoil.settings import SETTINGS_FILE

#: Run as a process of its own: settles open messages until the time is up, one line a decision.
DESK = """
import sys, time
from pathlib import Path
from counterfoil import pipeline
from counterfoil.archive import Archive

folder, who, seconds, part = Path(sys.argv[1]), sys.argv[2], float(sys.argv[3]), int(sys.argv[4])
archive, end, done = Archive(folder), time.monotonic() + seconds, set()
while time.monotonic() < end:
    for message in archive.store.messages():
        if int(message.id[1:]) % 2 != part or message.id in done or time.monotonic() > end:
            continue
        done.add(message.id)
        settled = pipeline.settle(archive, message.id, aside=True, who=who, why="two at once")
        print(message.id, settled.journal, flush=True)
        if int(message.id[1:]) % 3 == 0:
            entry = pipeline.undo(archive, settled.journal, who=who, why="taken back")
            print("undone", entry.id, flush=True)
archive.close()
"""


def _box(folder: Path, first: int, number: int) -> Path:
    folder.mkdir()
    for n, confirmation in enumerate(confirmations(first + number, pdf_share=0.0)):
        if n >= first:
            (folder / f"{n:05}.eml").write_bytes(confirmation.data)
    return folder


def _run(tmp_path: Path, seconds: float, mails: int) -> None:
    """Let two desks settle while two boxes are taken in, and compare what they were told with what is on record."""
    folder = tmp_path / "archive"
    Archive.create(folder, shop_name="Two").close()
    # Whoever has no turn within this ends with a message, and the run with it.
    chosen = folder / SETTINGS_FILE
    told_to_wait = chosen.read_text(encoding="utf-8").replace("# lock_wait_seconds = 30.0", "lock_wait_seconds = 10.0")
    chosen.write_text(told_to_wait, encoding="utf-8")
    archive = Archive(folder)
    assert archive.settings.lock_wait_seconds == 10.0
    pipeline.ingest(archive, [str(_box(tmp_path / "first", 0, 40))])
    desks = [
        subprocess.Popen(
            [sys.executable, "-c", DESK, str(folder), who, str(seconds), str(part)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for part, who in enumerate(("ada", "kim"))
    ]
    box, end = _box(tmp_path / "second", 40, mails), time.monotonic() + seconds
    command = [sys.executable, "-m", "counterfoil", "ingest", "--archive", str(folder), str(box)]
    while time.monotonic() < end:
        taken = subprocess.run(command, capture_output=True, text=True, check=False)
        assert (taken.returncode, taken.stderr) == (0, "")
    told: list[list[str]] = []
    for desk in desks:
        out, err = desk.communicate(timeout=120)
        assert (desk.returncode, err) == (0, "")
        told += [line.split() for line in out.splitlines()]
    _compare(archive, told, 40 + mails)
    archive.close()


def _compare(archive: Archive, told: list[list[str]], mails: int) -> None:
    decisions = {line[1]: line[0] for line in told if line[0] != "undone"}
    undone = {line[1] for line in told if line[0] == "undone"}
    entries = {entry.id: entry for entry in archive.store.journal()}
    assert {e.id for e in entries.values() if e.action == "settle"} == set(decisions)
    assert {e.id for e in entries.values() if e.action == "undo"} == undone
    assert {e.undone_by for e in entries.values()} - {None} == undone
    messages = {message.id: message for message in archive.store.messages()}
    assert len(messages) == mails
    for journal, message in decisions.items():
        if entries[journal].undone_by is None:
            assert messages[message].standing is Standing.ASIDE, message
    pipeline.catch_up(archive)
    assert verify(archive.store, archive.originals, archive.index).findings == ()
    turns = Counter(entry.who for entry in entries.values() if entry.action == "settle")
    # How many is a matter of the machine; that neither is kept out by the others is not.
    assert min(turns["ada"], turns["kim"]) >= 2, "both desks must have come to their turn"


@pytest.mark.long
def test_two_desks_and_a_mailbox_for_a_minute(tmp_path: Path) -> None:
    """For a minute two processes settle and undo while a third takes mail in: all is there, no error is shown."""
    _run(tmp_path, seconds=60.0, mails=1500)
