"""Pictures in reading processes: room for them, and what ends a process over one."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from cards import draw, mail, saved

from counterfoil.model import Problem
from counterfoil.patterns import Patterns
from counterfoil.sandbox.reader import Reader, Task
from counterfoil.settings import Limits, Settings

CARD = saved(draw({"machine_id": "KT4-7729-31"}, "Marit Solvang"), "PNG")


@pytest.mark.parametrize(
    "limits",
    [
        pytest.param(Limits(picture_memory_bytes=600_000_000, reader_bytes=600_000_000), id="memory"),
        pytest.param(Limits(picture_seconds=0, reader_seconds=1), id="seconds", marks=pytest.mark.long),
    ],
)
def test_a_picture_that_takes_too_much_is_left_out(limits: Limits) -> None:
    """Where a picture takes more memory or time than it is given, it becomes a question; the text is read."""
    data = mail(("card.png", CARD), text="Machine ID: KT4-7729-31")
    reader = Reader(Settings(readers=1, limits=limits), Path("none"), lambda: Patterns.load(None))
    try:
        ((message, found),) = reader.read([Task(hashlib.sha256(data).hexdigest(), data)])
    finally:
        reader.close()
    problems = {d.name: d.problem for d in message.documents}
    assert problems == {"body": None, "picture:card.png": Problem.DAMAGED}
    assert [fact.value for fact in found.facts if fact.kind == "machine_id"] == ["KT4-7729-31"]
