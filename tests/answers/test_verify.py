"""Verify: what is wrong is found, each thing once, and a good archive is good."""

from __future__ import annotations

from pathlib import Path

import pytest
import sqlcipher3
from answers_world import MARIT, MARIT_AGAIN, TRADED_IN, Desk
from sqlalchemy import text

from counterfoil.answers.verify import VerifyReport, verify
from counterfoil.records.settling import settle


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """An archive in order: two messages, index caught up."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT)
    desk.confirm(MARIT_AGAIN, day="2024-03-01")
    desk.catch_up()
    return desk


def check(desk: Desk) -> VerifyReport:
    """Verify an archive."""
    return verify(desk.store, desk.originals, desk.index)


def codes(desk: Desk) -> list[tuple[str, str]]:
    """Return code and reference of every finding."""
    return [(finding.code, finding.ref) for finding in check(desk).findings]


def test_an_archive_in_order_has_no_findings(desk: Desk) -> None:
    """All is counted, nothing is found, and progress is told once for each original."""
    told: list[tuple[int, int]] = []
    report = verify(desk.store, desk.originals, desk.index, lambda done, total: told.append((done, total)))
    assert report.good and report.findings == ()
    checked = "2 originals, 2 messages, 0 lines of the journal and the full-text index were checked"
    assert report.summary == f"{checked}: all is in order."
    assert (report.originals, report.messages, report.indexed) == (2, 2, 2)
    assert told == [(1, 2), (2, 2)]
    figures = {"originals": 2, "messages": 2, "indexed": 2, "good": True, "findings": []}
    assert report.to_json() == figures | {"journal": 0, "journal_head": "0" * 64}


def test_every_flipped_byte_of_an_original_is_found(desk: Desk) -> None:
    """One changed bit in any byte of an original gives exactly one finding that names it."""
    sha256 = desk.store.message("E1").sha256
    path = desk.originals.path(sha256)
    data = path.read_bytes()
    for at in range(0, len(data), 17):
        path.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
        assert codes(desk) == [("original_damaged", sha256)]
    path.write_bytes(data)
    assert codes(desk) == []


def test_cut_and_extended_originals_are_found(desk: Desk) -> None:
    """A shorter or longer original is found."""
    sha256 = desk.store.message("E1").sha256
    path = desk.originals.path(sha256)
    data = path.read_bytes()
    for changed in (data[:-1], data + b"\n", b""):
        path.write_bytes(changed)
        assert codes(desk) == [("original_damaged", sha256)]


def test_a_missing_original_and_one_without_record_are_found(desk: Desk) -> None:
    """Originals and records are compared both ways."""
    sha256 = desk.store.message("E1").sha256
    desk.originals.path(sha256).unlink()
    stray, _ = desk.originals.keep(b"From: nobody@post.example\r\n\r\nleft by a run that was stopped")
    assert codes(desk) == [("original_missing", sha256), ("original_unfiled", stray)]


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ("UPDATE message SET standing = 'open' WHERE id = 1", "question_missing"),
        ("UPDATE message SET machine_id = NULL WHERE id = 1", "filed_nowhere"),
        ("UPDATE message SET customer_id = NULL WHERE id = 1", "filed_nowhere"),
        (
            "INSERT INTO question (id, message_id, code, sentence, candidates) "
            "VALUES (9, 1, 'fact_missing', 'Why?', '[]')",
            "question_left",
        ),
    ],
)
def test_standings_that_contradict_themselves_are_found(desk: Desk, change: str, code: str) -> None:
    """An open message has a question, a filed one a customer and a machine and no question."""
    with desk.store.write() as connection:
        connection.execute(text(change))
    assert codes(desk) == [(code, "E1")]


def test_two_holders_at_once_are_found(desk: Desk) -> None:
    """A machine with two present holders is found."""
    second = desk.confirm(TRADED_IN, day="2025-06-12")
    settle(desk.store, desk.settings, second, customer="new", machine="M1", who="anna", why="traded in at the shop")
    desk.catch_up()
    assert codes(desk) == []
    with desk.store.write() as connection:
        connection.execute(text("UPDATE holding SET until = NULL"))
    assert codes(desk) == [("holders_twice", "M1")]


def test_an_index_behind_is_found(desk: Desk) -> None:
    """An index that has not taken in the last message is told, with the way it mends itself."""
    desk.confirm(MARIT_AGAIN, day="2024-04-01", subject="once more")
    (finding,) = check(desk).findings
    assert (finding.code, finding.ref) == ("index_behind", "index")
    assert "catches up" in finding.next_step


def test_a_damaged_index_is_found(desk: Desk) -> None:
    """A changed byte in a file of the index is found."""
    for path in sorted(desk.index.folder.glob("*.seg")):
        data = path.read_bytes()
        path.write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
    assert {code for code, _ in codes(desk)} <= {"index_damaged", "index_behind"}
    assert not check(desk).good


def test_a_broken_reference_in_the_records_is_found(desk: Desk) -> None:
    """A fact that belongs to a machine that is not there is found by the records' own check."""
    raw = sqlcipher3.connect(str(desk.store.path))
    raw.execute("UPDATE fact SET machine_id = 77 WHERE id = 1")
    raw.commit()
    raw.close()
    assert codes(desk) == [("records_damaged", "records.db")]


def test_every_finding_says_what_to_do(desk: Desk) -> None:
    """A finding is a sentence with a next step."""
    desk.originals.path(desk.store.message("E1").sha256).unlink()
    desk.confirm(MARIT_AGAIN, day="2024-04-01", subject="once more")
    for finding in check(desk).findings:
        assert finding.sentence.endswith(".") and finding.next_step.endswith(".")
        assert str(finding) == f"{finding.sentence} {finding.next_step}"
