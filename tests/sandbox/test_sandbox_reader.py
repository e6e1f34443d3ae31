"""Reading in processes of their own."""

from __future__ import annotations

import hashlib
import os
import random
import signal
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from conftest import TEXT_LETTERS
from hostile_files import flate_bomb, mail, page_of, recursive_forms, stream

from counterfoil.errors import PatternFaulty
from counterfoil.model import Message, Problem
from counterfoil.patterns import Patterns
from counterfoil.sandbox import processes
from counterfoil.sandbox.pool import Worker
from counterfoil.sandbox.reader import Reader, Task
from counterfoil.sandbox.wire import Json
from counterfoil.settings import Limits, Settings

SAMPLES = Path(__file__).parent.parent.parent / "samples"
GOOD = page_of(stream(b"BT /F1 12 Tf 50 700 Td (Machine ID: AB-1234) Tj ET"))
FOLDER = SAMPLES / "patterns"
BOMB = flate_bomb()


def make(limits: Limits | None = None, readers: int = 2) -> Reader:
    """Return a reader of the samples' makers."""
    settings = Settings(readers=readers, limits=limits or Limits())
    return Reader(settings, FOLDER, lambda: Patterns.load(FOLDER))


@pytest.fixture
def reader() -> Iterator[Reader]:
    """A reader with the usual limits."""
    made = make()
    yield made
    made.close()


def task(data: bytes) -> Task:
    """Return the task of reading some bytes."""
    return Task(hashlib.sha256(data).hexdigest(), data)


def read_one(reader: Reader, data: bytes) -> Message:
    """Return one message, read."""
    ((message, _),) = reader.read([task(data)])
    return message


def problems(message: Message) -> dict[str, Problem | None]:
    """Return the problem of each document."""
    return {d.name: d.problem for d in message.documents}


def test_all_come_back_in_order(reader: Reader) -> None:
    """Each message of a batch comes back as itself, in the order given, read as in one process."""
    tasks = [task(path.read_bytes()) for path in TEXT_LETTERS[:40]]
    found = list(reader.read(tasks))
    assert [message.sha256 for message, _ in found] == [t.sha256 for t in tasks]
    assert sum(bool(reading.chosen) for _, reading in found) > 30


def test_a_small_plain_message_starts_no_process(reader: Reader, monkeypatch: pytest.MonkeyPatch) -> None:
    """A small message without files is read here: a process of its own would take a hundred times as long."""
    monkeypatch.setattr(sys, "executable", "/nonexistent/python")
    monkeypatch.setattr(processes, "_stock", {})
    assert read_one(reader, b"From: a@letterbox.example\n\nMachine ID: HG-1").documents[0].text.startswith("Machine ID")


@pytest.mark.parametrize("hostile", [BOMB, recursive_forms()], ids=["bomb", "forms"])
def test_a_file_that_ends_its_reader_is_left_out(reader: Reader, hostile: bytes) -> None:
    """A PDF that takes all memory or aborts pdfium becomes a question; text and the other PDF are read."""
    data = mail(("bad.pdf", hostile), ("good.pdf", GOOD), text="Here are both.")
    message = read_one(reader, data)
    assert problems(message) == {"body": None, "pdf:bad.pdf": Problem.DAMAGED, "pdf:good.pdf": None}
    assert message.documents[1].reason.startswith("Opening it ")
    assert message.documents[1].reason.endswith("it was left out.")
    assert message.documents[2].text == "Machine ID: AB-1234"
    assert read_one(reader, mail(("good.pdf", GOOD))).documents[1].text == "Machine ID: AB-1234"


def test_what_takes_too_long_is_stopped() -> None:
    """A PDF that keeps its reader busy beyond the clock is left out, and the reason says so."""
    reader = make(Limits(reader_seconds=1, reader_bytes=4_000_000_000))
    try:
        message = read_one(reader, mail(("slow.pdf", BOMB), ("good.pdf", GOOD)))
    finally:
        reader.close()
    assert problems(message)["pdf:good.pdf"] is None
    assert "took more than 1 s" in message.documents[1].reason


def test_an_answer_that_is_too_large_is_not_taken() -> None:
    """A file whose text makes the answer larger than is taken is left out and becomes a question; the rest is read."""
    rows = b"".join(b"0 -12 Td (Row %d of very many that say nothing) Tj " % n for n in range(900))
    wordy = page_of(stream(b"BT /F1 9 Tf 50 12000 Td " + rows + b"ET"))
    reader = make(Limits(reader_answer_bytes=20_000))
    try:
        message = read_one(reader, mail(("wordy.pdf", wordy), ("good.pdf", GOOD)))
    finally:
        reader.close()
    assert problems(message) == {"body": None, "pdf:wordy.pdf": Problem.DAMAGED, "pdf:good.pdf": None}
    assert message.documents[1].reason.startswith("Opening it ")


@pytest.mark.long
def test_the_largest_part_is_read_within_the_bounds(reader: Reader) -> None:
    """A PDF of nearly as many bytes as a part may have, which no packing makes smaller, is read like any other, in
    less memory than a reading process has."""
    noise = stream(random.Random(2046).randbytes(Limits().part_bytes - 500_000))
    large = page_of(stream(b"BT /F1 12 Tf 50 700 Td (Machine ID: AB-1234) Tj ET"), b"", noise)
    message = read_one(reader, mail(("large.pdf", large)))
    assert problems(message) == {"body": None, "pdf:large.pdf": None}
    assert message.documents[1].text == "Machine ID: AB-1234"


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such signal")
def test_a_reader_killed_from_outside_is_replaced(reader: Reader, monkeypatch: pytest.MonkeyPatch) -> None:
    """Readers killed again and again from outside, each after some messages, lose no message."""
    tasks = [task(mail((f"{n}.pdf", GOOD))) for n in range(60)]
    done: Counter[int] = Counter()
    killed: set[int] = set()
    honest = Worker.ask

    def ask(self: Worker, wanted: Json, data: bytes) -> Json:
        process = self._held.process
        if process is not None and done[process.pid] > 20 and process.pid not in killed:
            killed.add(process.pid)
            os.kill(process.pid, signal.SIGKILL)
        answer = honest(self, wanted, data)
        assert self._held.process is not None
        done[self._held.process.pid] += 1
        return answer

    monkeypatch.setattr(Worker, "ask", ask)
    while len(killed) < 3:
        found = [message for message, _ in reader.read(tasks)]
        assert [m.sha256 for m in found] == [t.sha256 for t in tasks]
        assert all(m.documents[0].text == "See the files." for m in found)
        assert all(m.documents[1].text == "Machine ID: AB-1234" for m in found)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux shows the bounds of another process")
def test_the_bounds_are_set(reader: Reader) -> None:
    """A reading process may not write files, and has a bound on memory and processor time."""
    read_one(reader, mail(("good.pdf", GOOD)))
    assert reader._pool is not None
    process = next(w._held.process for w in reader._pool._workers if w._held.process is not None)
    lines = Path(f"/proc/{process.pid}/limits").read_text().splitlines()
    bounds = {line[:26].strip(): line[26:].split()[0] for line in lines[1:]}
    assert bounds["Max file size"] == "0"
    assert bounds["Max address space"] == str(Limits().reader_bytes)
    assert int(bounds["Max cpu time"]) <= 60


def test_processes_are_handed_on_and_end() -> None:
    """A closed reader's idle process serves the next archive; none is left that nobody knows."""
    first = make(readers=1)
    read_one(first, mail(("good.pdf", GOOD)))
    assert first._pool is not None
    process = first._pool._workers[0]._held.process
    assert process is not None
    first.close()
    assert process.poll() is None
    second = make(readers=1)
    assert read_one(second, mail(("good.pdf", GOOD))).documents[1].text == "Machine ID: AB-1234"
    second.close()
    with processes._lock:
        assert sum(map(len, processes._stock.values())) <= (os.cpu_count() or 1)


def test_a_faulty_maker_file_is_named_before_any_process_starts(tmp_path: Path) -> None:
    """A maker file with a fault is named as such, not as a reading process that ended."""
    (tmp_path / "bad.toml").write_text("maker = 5\n", encoding="utf-8")
    reader = Reader(Settings(), tmp_path, lambda: Patterns.load(tmp_path))
    with pytest.raises(PatternFaulty, match=r"bad\.toml"):
        read_one(reader, mail(("good.pdf", GOOD)))


def test_an_answer_nobody_waited_for_is_not_taken_for_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where waiting for an answer is broken off, its process is ended: the next task gets the answer to itself."""
    made = make(readers=1)
    pool = made._started()
    (worker,) = pool._workers
    asked: Json = {"open": None, "left_out": "", "whole": False, "boxes": False, "customers": ()}
    first, second = (task(mail((f"{n}.pdf", GOOD))) for n in range(2))
    worker.ask({**asked, "sha256": first.sha256}, first.data)

    def broken_off(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr("counterfoil.sandbox.pool.read_frame", broken_off)
        worker.ask({**asked, "sha256": first.sha256}, first.data)
    assert worker.ask({**asked, "sha256": second.sha256}, second.data)["sha256"] == second.sha256
    made.close()
