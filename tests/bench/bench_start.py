"""How long a person waits for the help and for a search on a small archive, whole processes, beside bare Python.

python tests/bench/bench_start.py [--runs 9]
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from conftest import SAMPLES, sample_archive

from counterfoil import pipeline


def seconds(command: list[str], runs: int) -> float:
    """Return the median seconds of a command over some runs, one run before them not counted."""
    took = []
    for _ in range(runs + 1):
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        took.append(time.perf_counter() - start)
    return statistics.median(took[1:])


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=9)
    runs = parser.parse_args().runs
    python = [sys.executable, "-m", "counterfoil"]
    with tempfile.TemporaryDirectory() as folder:
        archive = sample_archive(Path(folder) / "archive")
        pipeline.ingest(archive, [str(SAMPLES / "mailbox")])
        archive.close()
        os.environ["COUNTERFOIL_ARCHIVE"] = str(archive.folder)
        bare = seconds([sys.executable, "-c", "pass"], runs)
        print(f"bare Python        {1000 * bare:6.0f} ms")
        for name, words in (
            ("--help", ["--help"]),
            ("search a name", ["search", "Garnhöfer"]),
            ("search words", ["search", "warranty", "hoop"]),
            ("search a code", ["search", "VB881818752"]),
            ("warranty", ["warranty", "M1"]),
        ):
            took = seconds(python + words, runs)
            print(f"{name:18} {1000 * took:6.0f} ms   {took / bare:5.1f} x bare Python")


if __name__ == "__main__":
    main()
