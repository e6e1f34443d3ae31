"""Shared parts of the tests: a clean environment, archives, the samples."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from counterfoil.archive import Archive

sys.path.insert(0, str(Path(__file__).parent))

ROOT = Path(__file__).parent.parent
SAMPLES = ROOT / "samples"
#: The sample mail but photos and scans: each takes a second to read, and most tests are not about that.
TEXT_LETTERS = tuple(
    path for path in sorted((SAMPLES / "mailbox").glob("*.eml")) if not path.name.startswith(("027", "030", "112"))
)


@pytest.fixture(autouse=True)
def clean_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    """Keep a developer's own archive and settings out of every test."""
    monkeypatch.setenv("COUNTERFOIL_ARCHIVE", str(tmp_path / "no-archive-here"))
    monkeypatch.delenv("COUNTERFOIL_TRACEBACK", raising=False)
    yield


def sample_archive(folder: Path) -> Archive:
    """Make an archive set up for the invented shop: its settings, coverage terms and maker files, no mail yet."""
    Archive.create(folder, shop_name="Samples").close()
    for name in ("counterfoil.toml", "coverage.toml"):
        shutil.copy(SAMPLES / name, folder / name)
    for path in (SAMPLES / "patterns").glob("*.toml"):
        shutil.copy(path, folder / "patterns" / path.name)
    return Archive(folder)
