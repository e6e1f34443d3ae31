"""The index against what stands in its place, what is done to it while it works, and queries nobody would type."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from index_entries import entries, entry, fetch_from
from whoosh import query

from counterfoil.errors import ArchiveDamaged, StorageFull
from counterfoil.index import Index, files
from counterfoil.index.build import BatchWriter
from counterfoil.index.query import plain, understand
from counterfoil.model import IndexEntry


def grown(folder: Path, count: int = 30) -> Index:
    """Return an index of so many messages."""
    made = Index(folder)
    made.catch_up(fetch_from(entries(count)))
    return made


class Past:
    """Records that bear out what one of some pasts said."""

    def __init__(self, *said: str) -> None:
        self.said = said

    def testimony(self) -> str:
        """Return what the last of them says."""
        return self.said[-1]

    def bears_out(self, said: str) -> bool:
        """Tell whether one of them said it."""
        return said in self.said


def test_an_index_of_other_records_counts_as_damaged(tmp_path: Path) -> None:
    """What other records vouched for is not shown, and the next catch-up builds the index anew."""
    Index(tmp_path / "index", Past("a")).catch_up(fetch_from([entry(1, "needle")]))
    assert Index(tmp_path / "index", Past("a", "b")).search("needle")
    other = Index(tmp_path / "index", Past("b", "c"))
    assert other.position() == 0
    assert any("not of these records" in sentence for sentence in other.check())
    with pytest.raises(ArchiveDamaged, match="not of these records"):
        other.search("needle")
    with pytest.raises(ArchiveDamaged, match="not of these records"):
        other.similar_words("needel")
    assert other.catch_up(fetch_from([entry(1, "hoop")])) == 1
    assert (other.search("needle"), len(other.search("hoop")), other.check()) == ([], 1, [])


def test_a_merge_keeps_what_the_records_said(tmp_path: Path) -> None:
    """Segments merged with nothing new taken in leave an index that is still known to be of its records."""
    index = Index(tmp_path / "index", Past("a"))
    index.catch_up(fetch_from(entries(60)), batch=20)
    assert len(list(tmp_path.glob("index/*.seg"))) == 1
    assert Index(tmp_path / "index", Past("a")).position() == 60


def _folder(path: Path) -> None:
    path.mkdir()
    (path / "x").write_text("x")


def _loop(path: Path) -> None:
    path.symlink_to(path.name)


def _astray(path: Path) -> None:
    path.symlink_to(path.with_name("nowhere"))


if sys.platform != "win32":  # links need no leave on POSIX
    import os

    @pytest.mark.parametrize("made", [_folder, _loop, os.mkfifo])
    def test_what_is_no_lock_is_cleared_away(tmp_path: Path, made: Callable[[Path], None]) -> None:
        """A folder, a link or a pipe in the place of the lock neither stops nor holds up the writer."""
        grown(tmp_path / "index")
        (tmp_path / "index" / "MAIN_WRITELOCK").unlink()
        made(tmp_path / "index" / "MAIN_WRITELOCK")
        assert Index(tmp_path / "index").catch_up(fetch_from(entries(31))) == 1

    def test_a_folder_elsewhere_is_followed(tmp_path: Path) -> None:
        """A link in the place of the folder leads to the index, which is asked and grows there."""
        (tmp_path / "index").symlink_to(tmp_path / "elsewhere")
        (tmp_path / "elsewhere").mkdir()
        grown(tmp_path / "index")
        index = Index(tmp_path / "index")
        assert (index.position(), index.count(), index.check()) == (30, 30, [])
        assert len(index.search("date:[2025 TO 2027]", limit=100)) == 30
        assert list((tmp_path / "elsewhere").glob("*.seg"))

    @pytest.mark.parametrize("made", [_loop, _astray])
    def test_a_link_to_nothing_is_told(tmp_path: Path, made: Callable[[Path], None]) -> None:
        """A link that leads nowhere is named, with what to do."""
        made(tmp_path / "index")
        with pytest.raises(StorageFull, match="leads nowhere") as caught:
            grown(tmp_path / "index")
        assert "delete the link" in caught.value.next_step


def test_a_file_in_the_place_of_the_folder_is_told(tmp_path: Path) -> None:
    """A file where the folder should be is named, and left alone."""
    (tmp_path / "index").write_text("mine")
    with pytest.raises(StorageFull, match="stands a file") as caught:
        grown(tmp_path / "index")
    assert "Move it away" in caught.value.next_step
    assert (tmp_path / "index").read_text() == "mine"


def test_a_manifest_nested_without_end_is_damage(tmp_path: Path) -> None:
    """A manifest that no reader of JSON gets to the end of is damage like any other."""
    grown(tmp_path / "index")
    next((tmp_path / "index").glob("*.json")).write_text("[" * 200_000)
    index = Index(tmp_path / "index")
    assert (index.position(), len(index.check())) == (0, 1)
    assert index.catch_up(fetch_from(entries(30))) == 30


def test_an_index_of_an_older_version_is_no_damage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After an update of the program the check reports no damage: the index counts as empty and is built anew."""
    with monkeypatch.context() as patch:
        patch.setattr(files, "VERSION", "3 of others")
        grown(tmp_path / "index")
    index = Index(tmp_path / "index")
    assert (index.position(), index.check()) == (0, [])
    assert index.catch_up(fetch_from(entries(30))) == 30


def test_a_failed_commit_leaves_no_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a commit had written when the disk was full is gone at once, not only with the next commit."""
    grown(tmp_path / "index")
    before = sorted(p.name for p in (tmp_path / "index").iterdir())

    def full(writer: BatchWriter, *_: Any, **__: Any) -> None:
        (tmp_path / "index" / f"{writer.newsegment.segment_id()}.trm").write_bytes(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(BatchWriter, "commit", full)
    with pytest.raises(StorageFull):
        Index(tmp_path / "index").catch_up(fetch_from(entries(40)))
    assert sorted(p.name for p in (tmp_path / "index").iterdir()) == before
    assert Index(tmp_path / "index").count() == 30


@pytest.mark.parametrize("task", ["catch_up", "rebuild"])
def test_a_folder_deleted_while_written_is_told(tmp_path: Path, task: str) -> None:
    """Whoever deletes the folder under a writer gets a sentence that says so, and the next run builds it anew."""
    asked: list[int] = []

    def fetch(after: int, limit: int) -> list[IndexEntry]:
        asked.append(after)
        if len(asked) == 2:
            shutil.rmtree(tmp_path / "index")
        return fetch_from(entries(30))(after, limit)

    with pytest.raises(ArchiveDamaged, match="was deleted while it was being written") as caught:
        getattr(Index(tmp_path / "index"), task)(fetch, batch=10)
    assert "builds it anew" in caught.value.next_step
    index = Index(tmp_path / "index")
    assert index.catch_up(fetch_from(entries(30))) == 30
    assert (index.count(), index.check()) == (30, [])


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Index:
    """An index of three messages of two years."""
    index = Index(tmp_path_factory.mktemp("asked") / "index")
    days = (date(2025, 3, 1), date(2026, 1, 5), date(2026, 4, 9))
    words = ("needle 2026 01", "maker needle to hoop", "hoop")
    made = [entry(n, text, received=day) for n, (text, day) in enumerate(zip(words, days, strict=True), 1)]
    index.catch_up(fetch_from(made))
    return index


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("date:2026*", ["E3", "E2"]),
        ('date:"2026-01"', ["E2"]),
        ('needle date:"2026"', ["E2"]),
        ("date:hoop*", []),
        ("needle date:(a* b)", []),
        ("maker:[needle TO hoop]", ["E2"]),
    ],
)
def test_days_and_ranges_written_otherwise(asked: Index, text: str, expected: list[str]) -> None:
    """A star or quotes behind ``date:`` are a day, ranges of words are plain words, no query is taken for damage."""
    assert [hit.message for hit in asked.search(text)] == expected


def test_only_what_can_be_answered_comes_out(asked: Index) -> None:
    """A part of a query that nothing answers makes all of it plain words, instead of finding nothing for ever."""
    text = "subject:[a TO b] hoop"
    assert understand(text) == plain(text)
    assert not any(type(leaf) is query.TermRange for leaf in understand(text).leaves())


def test_a_word_too_long_for_the_index_is_like_no_other(tmp_path: Path) -> None:
    """Nothing is looked up that is like a run of letters longer than any word of the index."""
    index = Index(tmp_path / "index")
    index.catch_up(fetch_from([entry(1, "a" * 64)]))
    assert index.similar_words("a" * 63) == ["a" * 64]
    assert index.similar_words("a" * 65) == []
