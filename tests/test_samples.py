"""The invented mailbox comes out as a careful clerk would say: standing, questions, customer, machine, facts."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from conftest import SAMPLES, sample_archive

from counterfoil import pipeline
from counterfoil.model import MessageRecord, Standing
from counterfoil.pipeline import IngestReport


@dataclass(frozen=True, slots=True)
class Outcome:
    """The records after the samples went in, and what was expected of each message by its source."""

    messages: dict[str, MessageRecord]
    expected: dict[str, dict[str, object]]
    report: IngestReport


def expectations() -> Iterator[tuple[str, dict[str, object]]]:
    """Yield the source as ingest names it and the expected values, for mailbox, mbox and Maildir."""
    for path in sorted((SAMPLES / "mailbox").glob("*.expected.json")):
        yield f"mailbox/{path.name.removesuffix('.expected.json')}.eml", json.loads(path.read_text(encoding="utf-8"))
    for number, value in enumerate(json.loads((SAMPLES / "old.expected.json").read_text(encoding="utf-8")), 1):
        yield f"old.mbox#{number}", value
    for name, value in json.loads((SAMPLES / "Maildir.expected.json").read_text(encoding="utf-8")).items():
        folder = "cur" if (SAMPLES / "Maildir" / "cur" / name).exists() else "new"
        yield f"Maildir/{folder}/{name}", value


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """Ingest all samples once."""
    archive = sample_archive(tmp_path_factory.mktemp("samples") / "archive")
    report = pipeline.ingest(archive, [str(SAMPLES / name) for name in ("mailbox", "old.mbox", "Maildir")])
    messages = {Path(m.source).relative_to(SAMPLES).as_posix(): m for m in archive.store.messages()}
    archive.close()
    return Outcome(messages, dict(expectations()), report)


def test_every_message_is_kept(outcome: Outcome) -> None:
    """Each sample is a record, or the same bytes as one before it; none is unreadable."""
    missing = [source for source in outcome.expected if source not in outcome.messages]
    assert len(missing) == outcome.report.already_kept == 1
    assert outcome.report.unreadable == 0
    assert set(outcome.messages) <= set(outcome.expected)


def test_standings_and_questions(outcome: Outcome) -> None:
    """Every message has the expected standing and exactly the expected questions."""
    wrong = {}
    for source, message in outcome.messages.items():
        expected = outcome.expected[source]
        got = (message.standing.value, sorted({q.code for q in message.questions}))
        if got != (expected["standing"], sorted(expected["questions"])):  # type: ignore[call-overload]
            wrong[source] = (got, expected["standing"], expected["questions"])
    assert wrong == {}


def test_no_message_is_filed_to_a_wrong_customer_or_machine(outcome: Outcome) -> None:
    """Expected people and machines, and profiles, correspond one to one over all filed messages."""
    for kind in ("customer", "machine"):
        to_profile: dict[object, set[str | None]] = {}
        to_person: dict[str | None, set[object]] = {}
        for source, message in outcome.messages.items():
            if message.standing is not Standing.FILED:
                continue
            person, profile = outcome.expected[source][kind], getattr(message, kind)
            to_profile.setdefault(person, set()).add(profile)
            to_person.setdefault(profile, set()).add(person)
        assert {p: found for p, found in to_profile.items() if len(found) > 1} == {}
        assert {p: found for p, found in to_person.items() if len(found) > 1} == {}


def test_every_fact(outcome: Outcome) -> None:
    """In a filed message exactly the expected values were chosen; in an open one at least these."""
    wrong = {}
    for source, message in outcome.messages.items():
        expected = outcome.expected[source]
        if expected["standing"] == "aside":
            continue
        facts: dict[str, str] = expected["facts"]  # type: ignore[assignment]
        chosen = {n.fact.kind.value: n.fact.normal for n in message.facts if n.chosen}
        if expected["standing"] == "filed":
            bad = {
                k: (chosen.get(k), facts.get(k)) for k in chosen.keys() | facts.keys() if chosen.get(k) != facts.get(k)
            }
        else:
            bad = {k: (chosen.get(k), v) for k, v in facts.items() if chosen.get(k) != v}
        if bad:
            wrong[source] = bad
    assert wrong == {}


def test_no_code_reaches_the_stored_text(outcome: Outcome) -> None:
    """The text kept for snippets and the index holds no product key and no activation code of its message."""
    for source, message in outcome.messages.items():
        facts: dict[str, str] = outcome.expected[source]["facts"]  # type: ignore[assignment]
        for kind in ("product_key", "activation_code"):
            for document in message.documents:
                plain = "".join(c for c in document.text.upper() if c.isalnum())
                assert not facts.get(kind) or facts[kind] not in plain, (source, document.name, kind)


def test_the_samples_are_what_the_script_writes(tmp_path: Path) -> None:
    """Running samples/build.py anew gives the committed files byte for byte, PDFs aside."""
    import subprocess
    import sys

    done = subprocess.run(
        [sys.executable, str(SAMPLES / "build.py"), str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    made = {p.relative_to(tmp_path): p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    assert len(made) > 200
    # The bytes of a PDF follow the release of reportlab; everything else is the scripts' own.
    papers = (b"JVBERi0", b"%PDF", b"UEsDB")
    own = {name: data for name, data in made.items() if not any(mark in data for mark in papers)}
    assert len(own) > 150
    assert [str(name) for name, data in own.items() if (SAMPLES / name).read_bytes() != data] == []
