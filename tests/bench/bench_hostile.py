"""What hostile mail costs: seconds and memory of every case, and ten thousand changed messages with no fault.

No floor: the bare libraries have no bounds, and several of the cases end the process that opens them.

python tests/bench/bench_hostile.py [--mutations 10000]
"""

from __future__ import annotations

import argparse
import hashlib
import random
import resource
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from conftest import SAMPLES, sample_archive
from hostile_set import HEAVY, LIGHT
from test_hostile_set import LETTERS, mutate

from counterfoil import pipeline
from counterfoil.documents.message import read_message
from counterfoil.documents.opening import Opening
from counterfoil.patterns import Patterns
from counterfoil.sandbox.reader import Task
from counterfoil.settings import Limits, Settings

IN_READERS = 20
"""Every so many changed messages one goes through a reading process, files and all."""


def cases() -> None:
    """Print the cost of every case."""
    with tempfile.TemporaryDirectory() as folder:
        archive = sample_archive(Path(folder) / "shop")
        for name, make in (LIGHT | HEAVY).items():
            path = Path(folder) / name
            path.write_bytes(make())
            start = time.perf_counter()
            report = pipeline.ingest(archive, [str(path)])
            seconds = time.perf_counter() - start
            readers = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024
            said = archive.store.message(report.messages[0]).standing if report.messages else "unreadable"
            print(f"{name:60} {path.stat().st_size:>10,} bytes {seconds:6.2f} s  readers up to {readers} MB  {said}")
            path.unlink()
        archive.close()


def mutations(count: int) -> None:
    """Read changed samples; print how many met a fault that no reader foresaw."""
    rng, patterns, limits = random.Random(7), Patterns.load(SAMPLES / "patterns"), Limits()
    samples = [path.read_bytes() for path in LETTERS]
    apart, faults, start = [], 0, time.perf_counter()
    for number in range(count):
        data = mutate(rng.choice(samples), rng)
        message = read_message(data, limits, opening=Opening(frozenset()))
        patterns.read(message, Settings())
        faults += any("nested too deeply" in defect for defect in message.defects)
        if number % IN_READERS == 0:
            apart.append(Task(hashlib.sha256(data).hexdigest(), data))
    with tempfile.TemporaryDirectory() as folder:
        archive = sample_archive(Path(folder) / "shop")
        stopped = sum(
            "stopped with" in defect for m, _ in archive.reader.read(apart, apart=True) for defect in m.defects
        )
        archive.close()
    seconds = time.perf_counter() - start
    print(f"{count:,} changed messages in {seconds:.0f} s: 0 uncaught, {faults} read no further than the header")
    print(f"{len(apart):,} of them with their files in reading processes: {stopped} stopped")


def main() -> None:
    """Print both."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--mutations", type=int, default=10_000)
    chosen = parser.parse_args()
    mutations(chosen.mutations)
    cases()


if __name__ == "__main__":
    main()
