"""The flow: original first, then one record, then the index; what breaks on the way is made good later."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from confirmations import confirmations
from conftest import SAMPLES, sample_archive

from counterfoil import batches, pipeline
from counterfoil.answers.verify import verify
from counterfoil.archive import Archive
from counterfoil.errors import RecordUnknown, SettlementRefused, SourceUnreadable
from counterfoil.model import Kind, Standing
from counterfoil.records.originals import Originals
from counterfoil.sources import Received

LETTERS = sorted((SAMPLES / "mailbox").glob("*.eml"))


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    """Give a new archive of the invented shop."""
    made = sample_archive(tmp_path / "archive")
    yield made
    made.close()


def whole(archive: Archive) -> bool:
    """Tell whether originals, records and index agree."""
    return verify(archive.store, archive.originals, archive.index).findings == ()


def test_an_ingest_counts_what_it_did(archive: Archive) -> None:
    """The figures add up, ids are given in order, progress ends at the number received, no mark is left."""
    seen: list[int] = []
    report = pipeline.ingest(archive, [str(path) for path in LETTERS[:20]], progress=seen.append)
    assert report.received == 20 == seen[-1]
    assert report.new == report.filed + report.open + report.aside == archive.store.message_count()
    assert report.messages == [f"E{n}" for n in range(1, report.new + 1)]
    assert not archive.unfinished.exists()
    assert whole(archive)


def test_the_bytes_are_kept_as_they_came(archive: Archive) -> None:
    """Each original is the file, byte for byte, under its hash."""
    pipeline.ingest(archive, [str(path) for path in LETTERS[:20]])
    kept = {archive.originals.read(sha256) for sha256 in archive.originals.hashes()}
    assert kept == {path.read_bytes() for path in LETTERS[:20]}


def test_the_same_bytes_twice_in_one_batch(archive: Archive) -> None:
    """The same message twice in one batch is one record."""
    data = LETTERS[0].read_bytes()
    report = pipeline.IngestReport()
    pipeline.take_in(archive, [Received(data, "a"), Received(data, "b")], report)
    assert (report.new, report.already_kept) == (1, 1)
    assert [message.source for message in archive.store.messages()] == ["a"]


def test_a_file_name_that_is_no_text(archive: Archive) -> None:
    """A message from a file whose name is no UTF-8 is taken in like any other, its name written out."""
    report = pipeline.IngestReport()
    pipeline.take_in(archive, [Received(LETTERS[0].read_bytes(), "box/\udcff\udcfe.eml")], report)
    assert report.new == 1
    assert [message.source for message in archive.store.messages()] == ["box/\\udcff\\udcfe.eml"]


def test_batches_are_bounded_by_number_and_bytes(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    """More messages than a batch holds, or more bytes, are taken in all the same, batch by batch."""
    monkeypatch.setattr(batches, "BATCH_MESSAGES", 3)
    seen: list[int] = []
    pipeline.ingest(archive, [str(path) for path in LETTERS[:8]], progress=seen.append)
    assert seen == [3, 6, 8]
    monkeypatch.setattr(batches, "BATCH_BYTES", 1)
    pipeline.ingest(archive, [str(path) for path in LETTERS[8:10]], progress=seen.append)
    assert seen == [3, 6, 8, 1, 2]


def test_a_missing_path_stops_before_anything_is_kept(archive: Archive) -> None:
    """When one of the paths does not exist nothing is taken in, and the next run is none the worse."""
    with pytest.raises(SourceUnreadable):
        pipeline.ingest(archive, [str(LETTERS[0]), "/no/such/path"])
    assert archive.store.message_count() == 0
    assert pipeline.ingest(archive, [str(LETTERS[0])]).new == 1


class Killed(BaseException):
    """Stands for a kill: nothing in the package catches it."""


def test_killed_between_original_and_record(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    """Killed after the originals are durable, the next run files them, whatever it was asked to take in."""

    def killed(*_: object, **__: object) -> None:
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr(pipeline, "file_message", killed)
        with pytest.raises(Killed):
            pipeline.ingest(archive, [str(path) for path in LETTERS[:5]])
    assert archive.store.message_count() == 0
    assert archive.unfinished.exists()
    report = pipeline.ingest(archive, [str(LETTERS[6])])
    assert (report.received, report.new, report.recovered) == (1, 1, 5)
    assert archive.store.message_count() == 6
    assert not archive.unfinished.exists()
    assert whole(archive)


def test_killed_between_record_and_index(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    """Killed before the index caught up, the records are all there and the next run brings the index up to them."""

    def killed(*_: object, **__: object) -> None:
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr(pipeline, "catch_up", killed)
        with pytest.raises(Killed):
            pipeline.ingest(archive, [str(path) for path in LETTERS[:5]])
    assert archive.store.message_count() == 5
    assert archive.index.count() == 0
    assert pipeline.ingest(archive, [str(LETTERS[0])]).already_kept == 1
    assert archive.index.count() == 5
    assert whole(archive)


def test_recovering_looks_only_after_a_run_that_did_not_end(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    """After a run that ended in order the originals are not compared with the records again."""
    pipeline.ingest(archive, [str(LETTERS[0])])

    def never(_: Originals) -> Iterator[str]:
        raise AssertionError("compared without need")

    monkeypatch.setattr(Originals, "hashes", never)
    assert pipeline.recover(archive) == 0


def test_a_damaged_original_does_not_stop_recovering(archive: Archive) -> None:
    """An original that was damaged before its record was made is named, and the others are filed."""
    for path in LETTERS[:3]:
        archive.originals.keep(path.read_bytes())
    first = min(archive.originals.hashes())
    broken = next(p for p in (archive.folder / "originals").rglob("*") if p.is_file() and p.name.startswith(first[:12]))
    broken.chmod(0o600)
    broken.write_bytes(b"something else")
    archive.unfinished.touch()
    report = pipeline.ingest(archive, [str(LETTERS[4])])
    assert (report.recovered, report.new) == (2, 1)
    assert len(report.problems) == 1
    assert first[:12] in report.problems[0]


def test_settling_checks_values_against_the_maker_of_the_mail(archive: Archive) -> None:
    """A value typed for a message is held against the shapes of the maker the message names."""
    pipeline.ingest(archive, [str(next(path for path in LETTERS if "gwen-no-product-key" in path.name))])
    (message,) = archive.store.messages(Standing.OPEN)
    wrong = [(Kind.PRODUCT_KEY, "no key at all")]
    with pytest.raises(SettlementRefused):
        pipeline.settle(archive, message.id, values=wrong, who="Ada", why="")
    assert archive.store.message(message.id).standing is Standing.OPEN
    assert archive.store.journal() == []
    settled = pipeline.settle(archive, message.id, values=wrong, sure=True, who="Ada", why="the card says so")
    assert settled.message.standing is Standing.FILED
    assert pipeline.undo(archive, settled.journal, who="Ada", why="").action == "undo"
    assert archive.store.message(message.id).standing is Standing.OPEN


def test_settling_what_is_not_there(archive: Archive) -> None:
    """A message that does not exist cannot be settled."""
    with pytest.raises(RecordUnknown):
        pipeline.settle(archive, "E1", aside=True, who="Ada", why="")


def test_a_filed_message_is_moved_only_by_somebody_sure(archive: Archive) -> None:
    """Settling what is filed to another customer or machine is refused unless ``sure``; its own is no move."""
    for number, confirmation in enumerate(confirmations(4)):
        pipeline.take_in(archive, [Received(confirmation.data, str(number))], pipeline.IngestReport())
    first, second, *_ = (m for m in archive.store.messages() if m.standing is Standing.FILED)
    for more in ({"customer": second.customer}, {"machine": second.machine}, {"customer": "new"}):
        with pytest.raises(SettlementRefused, match="already"):
            pipeline.settle(archive, first.id, who="Ada", why="", **more)
    assert first.customer is not None
    pipeline.settle(archive, first.id, customer=first.customer.lower(), who="Ada", why="")
    moved = pipeline.settle(archive, first.id, customer=second.customer, sure=True, who="Ada", why="gift")
    assert moved.message.customer == second.customer


POISON = """
import os, sys
from pathlib import Path
from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.sandbox import reader

def read_message(data, limits, **more):
    if b"POISON" in data:
        os.abort()
    return honest(data, limits, **more)

honest, reader.read_message = reader.read_message, read_message
pipeline.ingest(Archive(Path(sys.argv[1])), [sys.argv[2]])
"""


def test_a_message_that_ends_the_program_ends_it_once(archive: Archive, tmp_path: Path) -> None:
    """A message whose reading aborts the run is read in a process of its own by the next run, with all the others."""
    box = tmp_path / "box"
    box.mkdir()
    for path in LETTERS[:6]:
        (box / path.name).write_bytes(path.read_bytes())
    (box / "000-poison.eml").write_bytes(b"From: a@letterbox.example\nSubject: POISON\n\nPOISON\n")
    script = tmp_path / "poison.py"
    script.write_text(POISON, encoding="utf-8")
    codes = [
        subprocess.run([sys.executable, str(script), str(archive.folder), str(box)], capture_output=True).returncode
        for _ in range(2)
    ]
    assert codes[0] != 0
    assert codes[1] == 0
    assert archive.store.message_count() == 7
    assert whole(archive)


def test_what_a_killed_run_left_is_filed_in_the_order_it_was_sent(archive: Archive) -> None:
    """Originals without a record are filed by the day of the mail, not by hash: who came first is there first."""
    archive.originals.keep_many([path.read_bytes() for path in LETTERS[:30]])
    archive.unfinished.touch()
    assert pipeline.recover(archive) == archive.store.message_count() > 25
    days = [message.received for message in sorted(archive.store.messages(), key=lambda m: int(m.id[1:]))]
    said = [day for day in days if day]
    assert len(said) > 20
    assert said == sorted(said)
    assert days[: len(said)] == said
