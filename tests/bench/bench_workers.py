"""Two reading processes against one: half of the messages with a one-page PDF.

    python tests/bench/bench_workers.py [--messages 600] [--rounds 5]

Four figures, each the best of some rounds that take turns, since a shared machine only ever makes a run slower:

- reading alone, by a pool of one and of two processes (processes started before the clock);
- the whole ingest with the setting ``readers`` at 1 and at 2. With one reader the run files beside it, on another core:
  on two cores that leaves less to gain than twice;
- the whole ingest with everything held to one core, and free to use two (Linux);
- one small message without files, as the run reads it: here, without a pool. Beside it the floor, which is the same two
  calls without anything around them, and a pool started for it.

Processor seconds of the run and of its readers stand beside the wall clock.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from confirmations import confirmations

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.sandbox import processes
from counterfoil.sandbox.reader import LIGHT_BYTES, Reader, Task
from counterfoil.settings import Settings


@dataclass(frozen=True, slots=True)
class Run:
    """Seconds of one run: wall clock, processor of this process, processor of the readers."""

    wall: float
    own: float
    readers: float


def _children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def timed(do: Callable[[], None]) -> Run:
    """Time something; readers are ended inside, so that their processor time is known."""
    start, own, readers = time.perf_counter(), time.process_time(), _children()
    do()
    wall, own = time.perf_counter() - start, time.process_time() - own
    processes._end_all()
    return Run(wall, own, _children() - readers)


def read_alone(mails: Sequence[bytes], readers: int) -> Run:
    """Read all mails with so many processes; nothing is filed."""
    from counterfoil.patterns import Patterns

    patterns = Patterns.load(None)
    reader = Reader(replace(Settings(), readers=readers), Path("none"), lambda: patterns)
    tasks = [Task(f"{n:064}", data) for n, data in enumerate(mails)]
    for _ in reader.read(tasks[: 2 * readers], apart=True):
        pass

    def do() -> None:
        assert sum(1 for _ in reader.read(tasks, apart=True)) == len(mails)

    run = timed(do)
    reader.close()
    processes._end_all()
    return run


def one_small(way: str) -> Run:
    """Read one small message: by the bare calls, as the run does, or in a process started for it."""
    from counterfoil.documents.message import read_message
    from counterfoil.patterns import Patterns

    patterns, settings = Patterns.load(None), Settings()
    data = next(iter(confirmations(1, pdf_share=0.0))).data
    assert len(data) < LIGHT_BYTES
    processes._end_all()
    reader = Reader(settings, Path("none"), lambda: patterns)

    def do() -> None:
        if way == "bare":
            patterns.read(read_message(data, settings.limits, sha256="0" * 64), settings)
        else:
            ((message, _),) = reader.read([Task("0" * 64, data)], apart=way == "pool")
            assert message.documents

    # Once before the clock what is loaded or worked out when it is first needed; a pool would stay, and is closed.
    do()
    reader.close()
    run = timed(do)
    reader.close()
    return run


def ingest(mails: Sequence[bytes], readers: int) -> Run:
    """Take all mails into a new archive with so many reading processes; starting them is counted."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for n, data in enumerate(mails):
            (folder / f"{n:06}.eml").write_bytes(data)
        with closing(Archive.create(folder / "archive", shop_name="Bench")) as archive:
            archive.settings = replace(archive.settings, readers=readers)
            found = [str(path) for path in sorted(folder.glob("*.eml"))]

            def do() -> None:
                assert pipeline.ingest(archive, found).new == len(mails)
                archive.reader.close()

            return timed(do)


def on_one_core(mails: Sequence[bytes]) -> Run:
    """Take all mails in while this process and its readers are held to one core."""
    cores = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(cores)})
    try:
        return ingest(mails, 1)
    finally:
        os.sched_setaffinity(0, cores)


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--messages", type=int, default=600)
    parser.add_argument("--rounds", type=int, default=5)
    arguments = parser.parse_args()
    mails = [c.data for c in confirmations(arguments.messages, pdf_share=0.5, full_pages=1.0)]
    ways: dict[str, Callable[[], Run]] = {
        "reading, 1 process": lambda: read_alone(mails, 1),
        "reading, 2 processes": lambda: read_alone(mails, 2),
        "ingest, readers 1": lambda: ingest(mails, 1),
        "ingest, readers 2": lambda: ingest(mails, 2),
    }
    if hasattr(os, "sched_setaffinity"):
        ways["ingest, one core"] = lambda: on_one_core(mails)
    best: dict[str, Run] = {}
    for _ in range(arguments.rounds):
        for name, way in ways.items():
            run = way()
            if name not in best or run.wall < best[name].wall:
                best[name] = run
    small = {way: min(one_small(way).wall for _ in range(arguments.rounds)) for way in ("bare", "run", "pool")}
    print(f"{len(mails)} messages, half with a full page as PDF, best of {arguments.rounds}, {os.cpu_count()} cores:")
    for name, run in best.items():
        rate = len(mails) / run.wall
        print(
            f"  {name:21} {rate:6.0f} messages/s   processor ms a message: run {1000 * run.own / len(mails):5.2f}, "
            f"readers {1000 * run.readers / len(mails):5.2f}"
        )
    pairs = [("reading, 2 processes", "reading, 1 process"), ("ingest, readers 2", "ingest, readers 1")]
    pairs += [("ingest, readers 2", "ingest, one core")] if "ingest, one core" in best else []
    for fast, slow in pairs:
        print(f"  {fast} / {slow} = {best[slow].wall / best[fast].wall:.2f}")
    print(f"One small message without files: {1000 * small['run']:.2f} ms")
    print(f"  as the run reads it / bare calls = {small['run'] / small['bare']:.2f}")
    print(f"  with a pool started for it / as the run reads it = {small['pool'] / small['run']:.0f}")


if __name__ == "__main__":
    main()
