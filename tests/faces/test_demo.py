"""The demo: one command shows a newcomer the whole job."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from cli_world import process

from counterfoil.faces.cli import run


def test_the_demo_does_the_whole_job_and_what_it_proposes_works(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a new folder: mail is filed, a question settled, a warranty answered, the codes restored; each command
    proposed at the end finds something on the archive that the demo left."""
    done = process("demo", str(tmp_path / "shop"))
    out = done.stdout.decode()
    assert (done.returncode, done.stderr) == (0, b"")
    for word in ("init", "ingest", "triage show", "triage settle", "verify", "search", "warranty", "restore"):
        assert f"$ counterfoil {word} " in out
    assert "all is in order" in out
    assert "covered" in out
    # The live code that the samples' expected values give for the machine's new board.
    assert out.rindex("16046-25488-11905-22566") > out.rindex("$ counterfoil restore")
    assert sorted(path.suffix for path in (tmp_path / "shop" / "restore-sheet").iterdir()) == [".eml", ".pdf"]
    assert [line for line in out.splitlines() if line != line.rstrip()] == []
    proposed = re.findall(r"^  (counterfoil .+)$", out.partition("Now try")[2], re.MULTILINE)
    assert len(proposed) >= 5
    for line in proposed:
        assert run(shlex.split(line)[1:]) == 0, line
        shown = capsys.readouterr().out
        assert len(shown.splitlines()) >= 3, line
        assert "Nothing" not in shown, line


def test_the_demo_touches_nothing_that_is_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder with something in it is refused as wrong use and left as it is."""
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    assert run(["demo", str(tmp_path)]) == 2
    assert "there already" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
