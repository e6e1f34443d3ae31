"""Importing a customer list: seconds, memory, bad rows listed, and that the second import changes nothing.

    python tests/bench/bench_import.py [--rows 20000] [--bad 200]

The list is invented and the same each time. Memory is the most the process ever held (resident set, of getrusage).
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from customer_lists import make_list

from counterfoil import pipeline, upkeep
from counterfoil.archive import Archive
from counterfoil.records.importing import ImportReport
from counterfoil.sources.customer_list import read_customer_list


def main() -> int:
    """Measure and print; leave with 1 if a promise does not hold."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=20_000)
    parser.add_argument("--bad", type=int, default=200)
    options = parser.parse_args()
    made = make_list(options.rows, options.bad)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "list.csv"
        path.write_bytes(made.text.encode("utf-8", errors="surrogateescape"))
        archive = Archive.create(Path(folder) / "archive", shop_name="Bench")
        before = _memory_mb()
        _timed(archive, path, "dry run", write=False)
        first = _timed(archive, path, "import", write=True)
        second = _timed(archive, path, "second import", write=True)
        start = time.perf_counter()
        pipeline.undo(archive, str(first.journal), who="bench", why="")
        print(f"{'undo':15} {time.perf_counter() - start:6.1f} s, customers left: {len(archive.store.customers())}")
        archive.close()
    print(f"memory          {_memory_mb():6.0f} MB at most, {before:.0f} MB before the first import")
    listed = tuple(row.line for row in first.bad) == made.bad
    print(f"all {len(made.bad)} bad rows listed, and no others: {listed}")
    print(f"second import changes nothing: {not second.changes and second.journal is None}")
    return 0 if listed and not second.changes else 1


def _timed(archive: Archive, path: Path, what: str, *, write: bool) -> ImportReport:
    start, cpu = time.perf_counter(), time.process_time()
    listed = read_customer_list(path, mapping=[("name", "Kundin")])
    report = upkeep.import_customers(archive, listed, write=write, who="bench", why="")
    taken = f"{time.perf_counter() - start:6.1f} s ({time.process_time() - cpu:.1f} s of one processor)"
    print(
        f"{what:15} {taken}, new {len(report.new)}, same {report.same}, "
        f"merged {len(report.merged)}, questions {len(report.questions)}, bad {len(report.bad)}"
    )
    return report


def _memory_mb() -> float:
    # Kilobytes on Linux, bytes on macOS.
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024 if sys.platform == "linux" else 1024 * 1024)


if __name__ == "__main__":
    sys.exit(main())
