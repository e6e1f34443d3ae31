"""An archive with the invented mailbox, made once a process, and a way to run commands on copies of it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
from conftest import ROOT, SAMPLES, sample_archive

from counterfoil import pipeline
from counterfoil.faces.cli import run

#: Bounds on what a command may take, so that a hanging test ends.
PATIENCE_SECONDS = 60


@cache
def _built() -> Path:
    """Ingest all samples once a process; the folder goes with the process."""
    folder = Path(tempfile.mkdtemp(prefix="counterfoil-faces-"))
    archive = sample_archive(folder / "archive")
    pipeline.ingest(archive, [str(SAMPLES / name) for name in ("mailbox", "old.mbox", "Maildir")])
    archive.close()
    return folder / "archive"


@pytest.fixture(scope="session", autouse=True)
def _tidy() -> Iterator[None]:
    """Remove the built archive at the end."""
    yield
    if _built.cache_info().currsize:
        shutil.rmtree(_built().parent, ignore_errors=True)
        _built.cache_clear()


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command printed and its exit code."""

    code: int
    out: str
    err: str

    def json(self) -> dict[str, object]:
        """Return the one JSON object printed; more or less than one line is a failure."""
        lines = self.out.splitlines()
        assert len(lines) == 1, self
        value = json.loads(lines[0])
        assert isinstance(value, dict)
        return value

    def lines(self) -> list[dict[str, object]]:
        """Return the JSON objects printed, one a line."""
        return [json.loads(line) for line in self.out.splitlines()]


class Desk:
    """Runs commands on one archive."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder = folder
        self._capsys = capsys

    def __call__(self, *words: str) -> Outcome:
        """Run a command in this process, on this archive; a traceback in the output is a failure."""
        self._capsys.readouterr()
        code = run([*words, "--archive", str(self.folder)])
        out, err = self._capsys.readouterr()
        assert "Traceback" not in out + err
        return Outcome(code, out, err)

    def message(self, source: str) -> str:
        """Return the id of the message whose source ends so."""
        found = [str(r["id"]) for r in self("export").lines() if str(r.get("source", "")).endswith(source)]
        assert len(found) == 1, source
        return found[0]


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Desk:
    """Give a fresh copy of the archive with the samples in it."""
    monkeypatch.delenv("COLUMNS", raising=False)
    shutil.copytree(_built(), tmp_path / "archive")
    return Desk(tmp_path / "archive", capsys)


@pytest.fixture
def shelf(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Desk:
    """Give the archive with the samples itself: for commands that change nothing, without the cost of a copy."""
    monkeypatch.delenv("COLUMNS", raising=False)
    return Desk(_built(), capsys)


@pytest.fixture
def empty(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Desk:
    """Give a new archive of the invented shop without mail."""
    monkeypatch.delenv("COLUMNS", raising=False)
    sample_archive(tmp_path / "archive").close()
    return Desk(tmp_path / "archive", capsys)


def process(*words: str, input: bytes | None = None, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Run a command as a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "counterfoil", *words],
        input=input,
        capture_output=True,
        timeout=PATIENCE_SECONDS,
        env=own_environment(**environment),
        check=False,
    )


def own_environment(**more: str) -> dict[str, str]:
    """Return the environment of a process that runs the package under test."""
    inherited = {name: value for name, value in os.environ.items() if name != "COLUMNS"}
    return {**inherited, "PYTHONPATH": str(ROOT / "src"), **more}


@cache
def secrets() -> frozenset[str]:
    """Return every product key and activation code of the samples, letters and digits only."""
    found: set[str] = set()
    expected = [json.loads(path.read_text(encoding="utf-8")) for path in (SAMPLES / "mailbox").glob("*.expected.json")]
    expected += json.loads((SAMPLES / "old.expected.json").read_text(encoding="utf-8"))
    expected += json.loads((SAMPLES / "Maildir.expected.json").read_text(encoding="utf-8")).values()
    for value in expected:
        found |= {value["facts"][kind] for kind in ("product_key", "activation_code") if value["facts"].get(kind)}
    assert len(found) > 100
    return frozenset(found)


def shown_secrets(text: str) -> list[str]:
    """Return the codes of the samples that a text shows, whatever its case and grouping."""
    bare = "".join(c for c in text.upper() if c.isascii() and c.isalnum())
    return sorted(code for code in secrets() if code in bare)
