"""The index beside its records: backups put back, indexes of other archives, and texts read anew."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Sequence
from pathlib import Path

import pytest
from conftest import SAMPLES, sample_archive

from counterfoil import pipeline, upkeep
from counterfoil.answers.search import search
from counterfoil.answers.verify import verify
from counterfoil.archive import RECORDS_FILE, Archive
from counterfoil.faces.cli import run
from counterfoil.index import Index
from counterfoil.model import Standing


def _letters(folder: Path, words: Sequence[str]) -> list[str]:
    """Write a mail for each text."""
    folder.mkdir()
    for number, text in enumerate(words):
        head = (
            f"From: Ada Twill <ada@post.example>\nSubject: {folder.name}\nMessage-ID: <{folder.name}{number}@x.example>"
        )
        (folder / f"{number}.eml").write_text(f"{head}\nDate: Mon, 5 Jan 2026 10:00:00 +0000\n\n{text}\n")
    return [str(folder)]


def _made(folder: Path, mail: list[str]) -> Archive:
    Archive.create(folder, shop_name="Corner Threads").close()
    archive = Archive(folder)
    pipeline.ingest(archive, mail)
    return archive


def _found(archive: Archive, text: str) -> list[str]:
    return [message.snippet for message in search(archive.store, archive.index, text).messages]


def _copy_of_records(archive: Archive, to: Path) -> None:
    with sqlite3.connect(archive.folder / RECORDS_FILE) as source, sqlite3.connect(to) as target:
        source.backup(target)
    source.close()
    target.close()


def _put_back(archive: Archive, backup: Path) -> Archive:
    """Put records back from a backup; all else stays as it is, the index too."""
    archive.close()
    for path in archive.folder.glob(f"{RECORDS_FILE}*"):
        path.unlink()
    shutil.copy(backup, archive.folder / RECORDS_FILE)
    return Archive(archive.folder)


@pytest.mark.parametrize("more", [2, 3])
def test_records_put_back_that_went_on(tmp_path: Path, more: int) -> None:
    """Put back and grown with other messages, up to the mark or past it, only these are found."""
    archive = _made(tmp_path / "archive", _letters(tmp_path / "first", ["hoop library"]))
    _copy_of_records(archive, tmp_path / "backup.db")
    pipeline.ingest(archive, _letters(tmp_path / "lost", ["bobbin winder", "bobbin case"]))
    assert len(_found(archive, "bobbin")) == 2
    archive = _put_back(archive, tmp_path / "backup.db")
    pipeline.ingest(archive, _letters(tmp_path / "new", ["needle threader"] * more))
    assert (len(_found(archive, "threader")), _found(archive, "bobbin")) == (more, [])
    assert len(_found(archive, "hoop")) == 1
    assert (archive.index.count(), archive.index.check()) == (1 + more, [])
    archive.close()


def test_records_put_back_that_were_changed_otherwise(tmp_path: Path) -> None:
    """Where the same message has the same revision in both pasts, the journal still tells one from the other."""
    archive = _made(tmp_path / "archive", _letters(tmp_path / "first", ["hoop library", "bobbin winder"]))
    _copy_of_records(archive, tmp_path / "backup.db")
    pipeline.settle(archive, "E1", aside=True, who="Ada", why="one past")
    shutil.copytree(archive.folder / "index", tmp_path / "index")
    assert Index(tmp_path / "index", archive.store).position() == archive.store.revision()
    archive = _put_back(archive, tmp_path / "backup.db")
    pipeline.settle(archive, "E1", aside=True, who="Ada", why="another")
    assert Index(tmp_path / "index").position() == archive.store.revision()
    assert Index(tmp_path / "index", archive.store).position() == 0
    archive.close()


def test_what_was_lost_with_the_records_is_filed_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Originals newer than the records put back are named by verify, and the next ingest files them, as it says."""
    archive = _made(tmp_path / "archive", _letters(tmp_path / "first", ["hoop library"]))
    _copy_of_records(archive, tmp_path / "backup.db")
    pipeline.ingest(archive, _letters(tmp_path / "lost", ["bobbin winder"]))
    archive = _put_back(archive, tmp_path / "backup.db")
    archive.close()
    at = ["--archive", str(archive.folder)]
    assert run(["verify", *at]) == 6
    assert "put back from a backup" in " ".join(capsys.readouterr().out.split())
    assert run(["ingest", str(tmp_path / "first"), *at]) == 0
    assert run(["verify", *at]) == 0
    archive = Archive(archive.folder)
    assert len(_found(archive, "bobbin")) == 1
    archive.close()


def test_an_index_of_another_archive_is_not_asked(tmp_path: Path) -> None:
    """An index with the same numbers, of other messages, shows nothing as found, is reported, and is built anew."""
    archive = _made(tmp_path / "archive", _letters(tmp_path / "first", ["hoop library"]))
    other = _made(tmp_path / "other", _letters(tmp_path / "second", ["bobbin winder"]))
    other.close()
    shutil.rmtree(archive.folder / "index")
    shutil.copytree(other.folder / "index", archive.folder / "index")
    archive.close()
    archive = Archive(archive.folder)
    assert archive.index.position() == 0
    (finding,) = verify(archive.store, archive.originals, archive.index).findings
    assert "not of these records" in finding.sentence
    assert (_found(archive, "bobbin"), len(_found(archive, "hoop"))) == ([], 1)
    assert verify(archive.store, archive.originals, archive.index).good
    archive.close()


def test_an_index_put_back_only_catches_up(tmp_path: Path) -> None:
    """An older index of the same records is not thrown away: it takes in what came since."""
    archive = _made(tmp_path / "archive", _letters(tmp_path / "first", ["hoop library"]))
    shutil.copytree(archive.folder / "index", tmp_path / "index")
    pipeline.ingest(archive, _letters(tmp_path / "second", ["bobbin winder"]))
    pipeline.settle(archive, "E1", aside=True, who="Ada", why="")
    index = Index(tmp_path / "index", archive.store)
    assert index.position() == 1
    assert index.catch_up(archive.store.index_entries) == 2
    assert index.count() == 2
    archive.close()


def test_what_was_put_aside_is_read_anew_in_the_index_too(tmp_path: Path) -> None:
    """A message put aside by a person whose maker is no longer read is no longer found by the maker."""
    archive = sample_archive(tmp_path / "archive")
    pipeline.ingest(archive, [str(SAMPLES / "mailbox" / "018-maud-forgotten-attachment.eml")])
    pipeline.settle(archive, "E1", aside=True, who="Ada", why="")
    assert [hit.message for hit in archive.index.search("maker:Kestrelle")] == ["E1"]
    for path in (archive.folder / "patterns").glob("*.toml"):
        path.unlink()
    archive.close()
    archive = Archive(archive.folder)
    upkeep.reread(archive, write=True, who="Ada", why="without the file")
    assert archive.store.message("E1").standing is Standing.ASIDE
    assert archive.index.search("maker:Kestrelle") == []
    archive.close()
