"""The layer contracts hold, and the test that watches them can fail."""

from __future__ import annotations

from pathlib import Path

import layers
import pytest


def test_every_import_is_allowed() -> None:
    """No file of the package imports a part or a library that it may not."""
    assert layers.violations() == []


def test_every_part_has_rules() -> None:
    """A new folder or module at the top of the package must be given its place in the layers."""
    parts = {layers.part_of(path, layers.SOURCE) for path in layers.SOURCE.rglob("*.py")}
    assert parts <= set(layers.MAY_IMPORT)


@pytest.mark.parametrize(
    ("file", "text", "complaint"),
    [
        ("patterns/planted.py", "from counterfoil.records.store import Store\n", "patterns may not import records"),
        ("patterns/planted.py", "def f():\n    from ..records import store\n", "patterns may not import records"),
        ("records/planted.py", "import whoosh.index\n", "whoosh may be imported in index only"),
        (
            "records/planted.py",
            "from counterfoil.patterns.reading import Patterns\n",
            "records may not import patterns",
        ),
        ("answers/planted.py", "import click\n", "click may be imported in faces only"),
        ("model.py", "from counterfoil import pipeline\n", "model may not import pipeline"),
        ("stray/planted.py", "import counterfoil.model\n", "stray has no place in the layers"),
    ],
)
def test_a_planted_violation_is_found(tmp_path: Path, file: str, text: str, complaint: str) -> None:
    """Each kind of forbidden import is named with its file when it is planted in an empty package."""
    planted = tmp_path / file
    planted.parent.mkdir(parents=True, exist_ok=True)
    planted.write_text(text, encoding="utf-8")
    found = layers.violations(tmp_path)
    assert len(found) == 1
    assert found[0].startswith(file)
    assert complaint in found[0]


def test_records_may_use_normal_forms(tmp_path: Path) -> None:
    """The one opening between parts, normal forms for the records, is open."""
    planted = tmp_path / "records" / "planted.py"
    planted.parent.mkdir()
    planted.write_text("from counterfoil.patterns.normal import normal_code\n", encoding="utf-8")
    assert layers.violations(tmp_path) == []
