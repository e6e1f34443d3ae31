"""kill -9 at every turn of what changes many records at once: all of it is there afterwards, or nothing."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from confirmations import confirmations
from conftest import ROOT
from customer_lists import make_list

from counterfoil import pipeline
from counterfoil.archive import Archive

#: A process of its own, with one thread: it forks for each kill, lets the step be killed before the n-th statement, and
#: prints what is on record then. The first run counts the statements; the last is killed as the transaction ends.
CHILD = """
import json, os, shutil, signal, sys
from pathlib import Path
import sqlalchemy as sa
from counterfoil import byhand, pipeline, upkeep
from counterfoil.archive import Archive
from counterfoil.answers.verify import records_findings
from counterfoil.records.handover import NOBODY
from counterfoil.sources.customer_list import read_customer_list
from records_world import dump

what, base, scratch, most = sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]), int(sys.argv[4])
by = {"who": "kim", "why": "killed"}

def act(archive):
    match what:
        case "merge":
            byhand.merge_customers(archive, "C2", "C3", sure=True, **by)
        case "handover":
            from datetime import date
            byhand.hand_over(archive, "M2", NOBODY, on=date.today(), **by)
        case "undo":
            pipeline.undo(archive, "J1", **by)
        case "import":
            listed = read_customer_list(base / "list.csv", mapping=[("name", "Kundin")])
            upkeep.import_customers(archive, listed, write=True, **by)
        case "reread":
            upkeep.reread(archive, write=True, **by)

def run(number, at):
    folder = scratch / f"run{number}"
    shutil.copytree(base, folder)
    if (child := os.fork()) == 0:
        archive, seen = Archive(folder), 0
        archive.store.customers()
        def stop():
            os.kill(os.getpid(), signal.SIGKILL)
        def count(conn, *_):
            nonlocal seen
            seen += 1
            if seen == at:
                stop()
        def end(conn):
            if at == -1 and conn.get_execution_options().get("counterfoil_writing"):
                stop()
        sa.event.listen(archive.store._engine, "before_cursor_execute", count)
        sa.event.listen(archive.store._engine, "commit", end)
        act(archive)
        archive.close()
        (folder / "count").write_text(str(seen))
        os._exit(0)
    killed = os.WIFSIGNALED(os.waitpid(child, 0)[1])
    archive = Archive(folder)
    store = archive.store
    found = {
        "killed": killed,
        "state": json.dumps(dump(store), sort_keys=True, default=str),
        "lines": store.journal_head().lines,
        "faults": [*store.integrity(), *map(str, records_findings(store))],
        "broken": store.journal_break() is not None,
    }
    archive.close()
    print(json.dumps(found), flush=True)
    return folder

every = int((run(0, None) / "count").read_text())
for number, at in enumerate(sorted({1 + n * (every - 1) // most for n in range(most + 1)}) + [-1], start=1):
    run(number, at)
"""


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make an archive with mail filed, a machine handed over, evidence lost that reading anew finds, and a list."""
    folder = tmp_path_factory.mktemp("killed")
    box = folder / "box"
    box.mkdir()
    for n, confirmation in enumerate(confirmations(4, pdf_share=0.0)):
        (box / f"{n}.eml").write_bytes(confirmation.data)
    archive = Archive.create(folder / "archive", shop_name="Killed")
    pipeline.ingest(archive, [str(box)])
    pipeline.settle(archive, "E1", aside=True, who="kim", why="to be undone")
    with archive.store.write() as conn:
        conn.exec_driver_sql("UPDATE fact SET evidence = NULL")
    assert {c.id for c in archive.store.customers()} >= {"C2", "C3"}
    archive.close()
    made = make_list(60, 3)
    (folder / "archive" / "list.csv").write_bytes(made.text.encode("utf-8", errors="surrogateescape"))
    return folder / "archive"


pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows has neither SIGKILL nor fork; the writes are the same ones"
)
STEPS = ("merge", "handover", "undo", "import", "reread")


def _check(base: Path, scratch: Path, what: str, kills: int) -> None:
    paths = [str(ROOT / "src"), str(ROOT / "tests" / "records")]
    done = subprocess.run(
        [sys.executable, "-c", CHILD, what, str(base), str(scratch), str(kills)],
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
    )
    assert (done.returncode, done.stderr) == (0, "")
    whole, *killed = [json.loads(line) for line in done.stdout.splitlines()]
    assert not whole["killed"] and all(run["killed"] for run in killed)
    before = killed[0]["state"]
    assert before != whole["state"]
    # The last statements may be those of a reader behind the transaction.
    assert {(run["state"], run["lines"]) for run in killed} <= {(before, 1), (whole["state"], 2)}
    assert killed[-1]["state"] == before and sum(run["state"] == before for run in killed) > len(killed) // 2
    assert not any(run["faults"] or run["broken"] for run in (whole, *killed))


@pytest.mark.parametrize("what", ("merge", "import"))
def test_a_kill_leaves_all_or_nothing(base: Path, tmp_path: Path, what: str) -> None:
    """Killed at some statements, or as the transaction ends, the records are whole, and all of the step or nothing is
    there, its line of the journal included."""
    _check(base, tmp_path, what, kills=3)


@pytest.mark.long
@pytest.mark.parametrize("what", STEPS)
def test_a_kill_at_any_statement_leaves_all_or_nothing(base: Path, tmp_path: Path, what: str) -> None:
    """The same at eight statements of each step."""
    _check(base, tmp_path, what, kills=8)
