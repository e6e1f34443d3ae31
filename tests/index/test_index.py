"""The index as a whole: how it grows, what a kill or damage leaves, who may write."""

from __future__ import annotations

import os
import pickle
import random
import stat
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from index_entries import entries, entry, fetch_from

from counterfoil.errors import ArchiveBusy, ArchiveDamaged, StorageFull
from counterfoil.index import Index, files
from counterfoil.index import index as index_module
from counterfoil.index.build import BatchWriter
from counterfoil.model import IndexEntry


def grown(folder: Path, count: int = 60, batch: int = 20) -> Index:
    """Return an index of so many messages."""
    made = Index(folder)
    made.catch_up(fetch_from(entries(count)), batch=batch)
    return made


def test_an_index_that_was_never_made_is_empty(tmp_path: Path) -> None:
    """Before the first catch-up there is nothing, and asking makes no files."""
    index = Index(tmp_path / "index")
    assert (index.position(), index.count(), index.search("needle"), index.check()) == (0, 0, [], [])
    assert not (tmp_path / "index").exists()


def test_catching_up_takes_in_what_is_new(tmp_path: Path) -> None:
    """Each catch-up takes in the entries after the mark, says how many, and reports after each batch."""
    index, done = Index(tmp_path / "index"), list[int]()
    assert index.catch_up(fetch_from(entries(25)), batch=10, progress=done.append) == 25
    assert done == [10, 20, 25]
    assert (index.position(), index.count()) == (25, 25)
    assert index.catch_up(fetch_from(entries(25))) == 0
    assert index.catch_up(fetch_from(entries(30))) == 5
    assert (index.position(), index.count()) == (30, 30)


def test_a_changed_message_replaces_its_former_form(tmp_path: Path) -> None:
    """After an update only the new words find the message, once, also if it says nothing of being there already."""
    index = Index(tmp_path / "index")
    index.catch_up(fetch_from([entry(1, "needle"), entry(2, "hoop"), entry(3, "hoop")]))
    assert [hit.message for hit in index.search("hoop")] == ["E3", "E2"]
    index.catch_up(fetch_from([entry(1, "thread", revision=4, again=True), entry(2, "thread", revision=5)]))
    assert (index.count(), index.position()) == (3, 5)
    assert index.search("needle") == []
    assert [hit.message for hit in index.search("hoop")] == ["E3"]
    assert [hit.message for hit in index.search("thread")] == ["E2", "E1"]
    assert [hit.message for hit in Index(tmp_path / "index").search("thread")] == ["E2", "E1"]


def test_two_forms_in_one_batch_leave_the_later(tmp_path: Path) -> None:
    """A message that comes twice in a batch is taken in once, in its later form."""
    index = Index(tmp_path / "index")
    index.catch_up(fetch_from([entry(1, "needle"), entry(1, "thread", revision=2, again=True)]))
    assert (index.count(), index.position(), index.search("needle")) == (1, 2, [])


def test_an_open_index_sees_what_another_adds(tmp_path: Path) -> None:
    """An index opened before sees the commits of another, without a restart."""
    reader, writer = Index(tmp_path / "index"), Index(tmp_path / "index")
    for count in (5, 9, 40):
        writer.catch_up(fetch_from(entries(count)), batch=4)
        assert (reader.count(), reader.position()) == (count, count)
        assert len(reader.search("date:[2025 TO 2027]", limit=100)) == count


def test_records_that_stand_still_are_noticed(tmp_path: Path) -> None:
    """Records that offer the same revision for ever are an error, not an endless loop."""
    with pytest.raises(ArchiveDamaged, match="revision 3"):
        Index(tmp_path / "index").catch_up(lambda after, limit: [entry(3, "needle")])


@pytest.mark.parametrize("kept", [0, 40, 59])
def test_records_put_back_from_a_backup_are_noticed(tmp_path: Path, kept: int) -> None:
    """An index ahead of the records, even if these went on with other messages since, is built anew from them."""
    index = grown(tmp_path / "index")
    older = entries(kept)
    index.catch_up(fetch_from(older))
    assert (index.count(), index.position()) == (kept, kept)
    grown(tmp_path / "other")
    other = Index(tmp_path / "other")
    went_on = [*older, *(entry(n + 100, "thread", revision=n) for n in range(kept + 1, 71))]
    other.catch_up(fetch_from(went_on))
    assert (other.count(), other.position()) == (70, 70)
    assert {hit.message for hit in other.search("thread", limit=100)} == {e.message for e in went_on[kept:]}


def test_a_message_changed_since_is_no_backup(tmp_path: Path) -> None:
    """When the very message of the mark changes, the index goes on from where it was."""
    index = grown(tmp_path / "index")
    changed = [*entries(59), entry(60, "thread", revision=61, again=True)]
    assert index.catch_up(fetch_from(changed)) == 1
    assert (index.count(), index.position()) == (60, 61)


def test_an_error_of_the_records_leaves_the_last_commit(tmp_path: Path) -> None:
    """When the records fail in the middle, the batches before stay, and the next catch-up goes on from there."""

    def failing(after: int, limit: int) -> list[IndexEntry]:
        if after >= 20:
            raise ArchiveDamaged("The records are broken.")
        return fetch_from(entries(60))(after, limit)

    index = Index(tmp_path / "index")
    with pytest.raises(ArchiveDamaged, match="records are broken"):
        index.catch_up(failing, batch=10)
    assert (index.position(), index.count()) == (20, 20)
    assert index.catch_up(fetch_from(entries(60))) == 40
    assert index.check() == []


@pytest.mark.parametrize("moment", ["describe", "write_manifest", "sync_folder", "sweep"])
def test_an_error_at_any_moment_leaves_one_commit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, moment: str) -> None:
    """A full disk anywhere in a commit leaves the one before or the one after, whole, and our own error."""
    index = grown(tmp_path / "index")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(files, moment, full)
        with pytest.raises((StorageFull, OSError)):
            index.catch_up(fetch_from(entries(70)))
    fresh = Index(tmp_path / "index")
    assert fresh.position() in (60, 70)
    assert fresh.check() == []
    fresh.catch_up(fetch_from(entries(70)))
    assert (fresh.position(), fresh.count()) == (70, 70)


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-7])


def _extend(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b"\0")


def _flip(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 0x40
    path.write_bytes(data)


def _remove(path: Path) -> None:
    path.unlink()


def _empty(path: Path) -> None:
    path.write_bytes(b"")


@pytest.mark.parametrize("damage", [_cut, _extend, _flip, _remove, _empty])
@pytest.mark.parametrize("which", ["*.seg", "*.toc", "*.manifest.json"])
def test_damage_is_found_and_mended(tmp_path: Path, damage: Callable[[Path], None], which: str) -> None:
    """A file cut, extended, flipped, emptied or removed is noticed on opening, and the next catch-up builds anew."""
    grown(tmp_path / "index")
    damage(next((tmp_path / "index").glob(which)))
    index = Index(tmp_path / "index")
    assert index.position() == 0
    if list((tmp_path / "index").glob("*.toc")):
        assert index.check()
        with pytest.raises(ArchiveDamaged):
            index.search("date:2025")
    assert index.catch_up(fetch_from(entries(60))) == 60
    assert (index.position(), index.count(), index.check()) == (60, 60, [])
    assert len(index.search("date:[2025 TO 2027]", limit=100)) == 60


def test_a_flip_without_a_trace_is_found_by_the_check(tmp_path: Path) -> None:
    """A byte changed with size and time as before, in an index that is open already, is found by the thorough check."""
    index = grown(tmp_path / "index")
    path = next((tmp_path / "index").glob("*.seg"))
    status = path.stat()
    _flip(path)
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert any("is not as it was written" in sentence for sentence in index.check())


def test_a_foreign_table_of_contents_is_never_unpickled(tmp_path: Path) -> None:
    """A pickle put in place of the table of contents is refused before it can run anything."""
    grown(tmp_path / "index")
    toc = next((tmp_path / "index").glob("*.toc"))

    class Trap:
        def __reduce__(self) -> tuple[object, tuple[str]]:
            return (os.mkdir, (str(tmp_path / "sprung"),))

    toc.write_bytes(toc.read_bytes() + pickle.dumps(Trap()))
    assert Index(tmp_path / "index").position() == 0
    assert not (tmp_path / "sprung").exists()


if sys.platform != "win32":  # owners and modes of files are POSIX

    def test_the_folder_is_for_its_owner_alone(tmp_path: Path) -> None:
        """Folder 0700, files 0600, whatever the umask."""
        before = os.umask(0)
        try:
            grown(tmp_path / "index")
        finally:
            os.umask(before)
        assert stat.S_IMODE((tmp_path / "index").stat().st_mode) == 0o700
        kept = [p for p in (tmp_path / "index").iterdir() if not p.name.endswith("LOCK")]
        assert {stat.S_IMODE(p.stat().st_mode) for p in kept} == {0o600}

    @pytest.mark.parametrize("which", ["", "*.seg", "*.toc", "*.manifest.json"])
    def test_files_that_others_may_write_are_not_read(tmp_path: Path, which: str) -> None:
        """A folder or file that others may write is not trusted; a catch-up takes the rights away and builds anew."""
        grown(tmp_path / "index")
        path = next((tmp_path / "index").glob(which)) if which else tmp_path / "index"
        path.chmod(0o777)
        index = Index(tmp_path / "index")
        assert index.position() == 0
        index.catch_up(fetch_from(entries(60)))
        assert (index.position(), index.count(), index.check()) == (60, 60, [])
        assert stat.S_IMODE((tmp_path / "index").stat().st_mode) == 0o700


def test_what_a_kill_leaves_is_swept(tmp_path: Path) -> None:
    """Temporary files and segments no commit refers to are deleted by the next catch-up; foreign files stay."""
    grown(tmp_path / "index")
    folder = tmp_path / "index"
    for name in ("_MAIN_9.toc.123.4", "MAIN_abcdef.seg", "MAIN_abcdef.trm", "_MAIN_3.manifest.json.new", "notes.txt"):
        (folder / name).write_text("left")
    (folder / "MAIN.tmp").mkdir()
    (folder / "MAIN.tmp" / "x").write_text("left")
    index = Index(folder)
    index.catch_up(fetch_from(entries(61)))
    left = {p.name for p in folder.iterdir()}
    assert "notes.txt" in left
    assert not {n for n in left if "abcdef" in n or n in ("MAIN.tmp", "_MAIN_9.toc.123.4", "_MAIN_3.manifest.json.new")}
    assert index.count() == 61


def test_a_second_writer_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While one writes, another gets ArchiveBusy, and may still search."""
    monkeypatch.setattr(index_module, "LOCK_WAIT_SECONDS", 0.05)
    grown(tmp_path / "index")
    other = Index(tmp_path / "index")

    def fetch(after: int, limit: int) -> list[IndexEntry]:
        with pytest.raises(ArchiveBusy):
            other.catch_up(fetch_from(entries(70)))
        assert other.count() == 60
        return fetch_from(entries(60))(after, limit)

    assert Index(tmp_path / "index").catch_up(fetch) == 0


_KILLED = textwrap.dedent(
    """
    import sys
    from pathlib import Path
    sys.path[:0] = sys.argv[2:]
    from index_entries import entries, fetch_from
    from counterfoil.index import Index
    index, made = Index(Path(sys.argv[1])), entries(600)
    # In many small steps, so that segments are merged again and again.
    for count in range(12, 601, 12):
        index.catch_up(fetch_from(made[:count]), progress=lambda done: print(index.position(), flush=True))
    """
)


def test_kills_lose_and_double_nothing(tmp_path: Path) -> None:
    """Killed at 6 random moments, the index opens, has every commit that was reported, and catches up to all."""
    source = random.Random(5)
    paths = [str(Path(__file__).parent), str(Path(__file__).parents[2] / "src")]
    folder = tmp_path / "index"
    for _ in range(6):
        command = [sys.executable, "-W", "ignore", "-c", _KILLED, str(folder), *paths]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            reported = 0
            for _ in range(source.randint(1, 4)):
                reported = int(process.stdout.readline() or reported)
            process.kill()
            reported = max([reported, *(int(line) for line in process.stdout.read().split())])
        index = Index(folder)
        assert index.position() >= reported > 0
        assert index.count() == index.position()
        assert index.check() == []
    index = Index(folder)
    index.catch_up(fetch_from(entries(600)))
    assert (index.position(), index.count(), index.check()) == (600, 600, [])
    assert len({hit.message for hit in index.search("date:[2025 TO 2027]", limit=1000)}) == 600


def test_no_room_to_merge_is_no_failure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk full while segments are merged leaves all messages in, and the next catch-up merges."""
    index = Index(tmp_path / "index")
    taken = BatchWriter.take_along

    def full(writer: BatchWriter, segments: Sequence[Any]) -> None:
        taken(writer, segments)
        if len(segments) > 3:
            raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(BatchWriter, "take_along", full)
        assert index.catch_up(fetch_from(entries(100)), batch=20) == 100
    assert (index.count(), index.check(), len(list(tmp_path.glob("index/*.seg")))) == (100, [], 5)
    assert index.catch_up(fetch_from(entries(130))) == 30
    assert (index.count(), index.check(), len(list(tmp_path.glob("index/*.seg")))) == (130, [], 1)


def test_an_index_of_other_stems_is_built_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An index made by another version of words and stems is not asked with the new ones."""
    with monkeypatch.context() as patch:
        patch.setattr(files, "VERSION", "2 of others")
        grown(tmp_path / "index")
    index = Index(tmp_path / "index")
    assert index.position() == 0
    assert index.catch_up(fetch_from(entries(60))) == 60


def test_a_quiet_folder_is_believed_until_it_changes(tmp_path: Path) -> None:
    """A reader that has seen the folder at rest for long sees what another commits afterwards at once."""
    folder = tmp_path / "index"
    grown(folder)
    at = time.time() - 100
    os.utime(folder, (at, at))
    reader = Index(folder)
    assert (reader.position(), reader.position()) == (60, 60)
    Index(folder).catch_up(fetch_from(entries(61)))
    assert reader.position() == 61
    assert len(reader.search("date:[2025 TO 2027]", limit=100)) == 61


_TWO = textwrap.dedent(
    """
    import sys
    from pathlib import Path
    sys.path[:0] = sys.argv[3:]
    from index_entries import entries, fetch_from
    from counterfoil.index import Index
    index, records, made = Index(Path(sys.argv[1])), Path(sys.argv[2]), entries(40)
    for _ in range(20):
        with records.open("ab") as stream:
            stream.write(b"+")
        there = records.stat().st_size
        index.catch_up(lambda after, limit: fetch_from(made[:records.stat().st_size])(after, limit), wait_seconds=60)
        assert index.position() >= there
        assert len(index.search("date:[2025 TO 2027]", limit=100)) >= there
    """
)


def test_two_at_once_lose_nothing(tmp_path: Path) -> None:
    """Two processes that file messages one by one and catch up each time leave each message once, found at once."""
    paths = [str(Path(__file__).parent), str(Path(__file__).parents[2] / "src")]
    command = [sys.executable, "-W", "ignore", "-c", _TWO, str(tmp_path / "index"), str(tmp_path / "records"), *paths]
    running = [subprocess.Popen(command, stderr=subprocess.PIPE, text=True) for _ in range(2)]
    ended = [(process.communicate(timeout=120)[1], process.returncode) for process in running]
    assert ended == [("", 0), ("", 0)]
    index = Index(tmp_path / "index")
    assert (index.count(), index.position(), index.check()) == (40, 40, [])


def test_a_rebuild_starts_from_nothing(tmp_path: Path) -> None:
    """A rebuild forgets what was there and takes in what the records have now."""
    index = grown(tmp_path / "index")
    assert index.rebuild(fetch_from(entries(10))) == 10
    assert (index.position(), index.count()) == (10, 10)
