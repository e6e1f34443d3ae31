"""Files are handed out once they are left alone: none half, none twice, none forgotten."""

from __future__ import annotations

from pathlib import Path

import pytest

from counterfoil.errors import SourceUnreadable
from counterfoil.settings import Limits
from counterfoil.sources import Received, Unreadable
from counterfoil.sources.settled import SettledFolder

LETTER = b"From: a@post.example\nSubject: one\n\nText.\n"


class Clock:
    """Seconds as a test sets them."""

    now = 100.0

    def __call__(self) -> float:
        """Return them."""
        return self.now


@pytest.fixture
def clock() -> Clock:
    """Give a clock that stands still."""
    return Clock()


def watched(folder: Path, clock: Clock) -> SettledFolder:
    """Return the folder with two seconds of quiet."""
    return SettledFolder(folder, Limits(), quiet_seconds=2.0, clock=clock)


def taken(folder: SettledFolder) -> list[bytes]:
    """Look, read, and take as kept what is ready."""
    ready, _ = folder.look()
    found = list(folder.messages(ready, lambda: False))
    folder.finished()
    assert all(isinstance(item, Received) for item in found), found
    return [item.data for item in found if isinstance(item, Received)]


def test_a_file_still_being_written_waits(tmp_path: Path, clock: Clock) -> None:
    """A file that grows is handed out once it has stayed the same for the time set, whole, and not again."""
    folder, path = watched(tmp_path, clock), tmp_path / "one.eml"
    with path.open("wb") as file:
        for part in (LETTER[:10], LETTER[10:20], LETTER[20:]):
            file.write(part)
            file.flush()
            clock.now += 1.5
            assert taken(folder) == []
    assert folder.look()[1] == pytest.approx(2.0)
    clock.now += 2.1
    assert taken(folder) == [LETTER]
    clock.now += 60
    assert taken(folder) == []
    path.write_bytes(LETTER + b"More.\n")
    assert taken(folder) == []
    clock.now += 2.1
    assert taken(folder) == [LETTER + b"More.\n"]


def test_a_file_that_changes_under_the_reader_is_read_again(tmp_path: Path, clock: Clock) -> None:
    """What is written between the look and the reading is not handed out in that pass."""
    folder, path = watched(tmp_path, clock), tmp_path / "one.eml"
    path.write_bytes(LETTER)
    folder.look()
    clock.now += 3
    ready, _ = folder.look()
    assert ready == [path]
    path.write_bytes(LETTER * 2)
    assert list(folder.messages(ready, lambda: False)) == []
    folder.look()
    clock.now += 3
    assert taken(folder) == [LETTER * 2]


def test_what_was_not_kept_comes_again(tmp_path: Path, clock: Clock) -> None:
    """Files handed out in a pass that failed are handed out in the next."""
    folder = watched(tmp_path, clock)
    (tmp_path / "one.eml").write_bytes(LETTER)
    folder.look()
    clock.now += 3
    assert len(list(folder.messages(folder.look()[0], lambda: False))) == 1
    folder.failed()
    assert taken(folder) == [LETTER]


def test_a_maildir(tmp_path: Path, clock: Clock) -> None:
    """A Maildir's deliveries are handed out whatever their first line is, those under way in tmp are not."""
    for name in ("cur", "new", "tmp", ".Old/cur", ".Old/new", ".Old/tmp"):
        (tmp_path / name).mkdir(parents=True)
    odd = b"Thread-Index: x\n" + LETTER
    (tmp_path / "new" / "1700000000.a1.desk").write_bytes(odd)
    (tmp_path / "tmp" / "1700000000.a2.desk").write_bytes(LETTER[:9])
    (tmp_path / ".Old" / "cur" / "1700000000.a3.desk:2,S").write_bytes(LETTER)
    folder = watched(tmp_path, clock)
    folder.look()
    clock.now += 3
    assert sorted(taken(folder)) == sorted([LETTER, odd])


def test_renamed_between_look_and_reading(tmp_path: Path, clock: Clock) -> None:
    """A delivery that a mail program moves meanwhile is nothing unreadable: it is met under its new name."""
    for name in ("cur", "new", "tmp"):
        (tmp_path / name).mkdir()
    old, new = tmp_path / "new" / "1700000000.a1.desk", tmp_path / "cur" / "1700000000.a1.desk:2,S"
    old.write_bytes(LETTER)
    folder = watched(tmp_path, clock)
    folder.look()
    clock.now += 3
    ready, _ = folder.look()
    old.rename(new)
    assert list(folder.messages(ready, lambda: False)) == []
    folder.look()
    clock.now += 3
    assert taken(folder) == [LETTER]


def test_what_is_no_mail_is_passed_over(tmp_path: Path, clock: Clock) -> None:
    """Hidden files and files that are no mail give nothing; folders inside are looked into."""
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "one.eml").write_bytes(LETTER)
    (tmp_path / ".half.eml").write_bytes(LETTER)
    (tmp_path / "notes.txt").write_bytes(b"Notes.\n")
    folder = watched(tmp_path, clock)
    folder.look()
    clock.now += 3
    assert taken(folder) == [LETTER]


def test_a_file_that_cannot_be_opened_is_tried_again(
    tmp_path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that another program holds, as Windows has it, is named unreadable, and read once it can be."""

    def refused(*_: object, **__: object) -> bytes:
        raise PermissionError(13, "The process cannot access the file")

    (tmp_path / "one.eml").write_bytes(LETTER)
    folder = watched(tmp_path, clock)
    folder.look()
    clock.now += 3
    with monkeypatch.context() as held:
        held.setattr(Path, "read_bytes", refused)
        held.setattr(Path, "open", refused)
        found = list(folder.messages(folder.look()[0], lambda: False))
        folder.finished()
    assert [type(item) for item in found] == [Unreadable]
    assert taken(folder) == [LETTER]


def test_a_folder_that_is_gone(tmp_path: Path, clock: Clock) -> None:
    """A folder that cannot be read is said, not taken for an empty one."""
    with pytest.raises(SourceUnreadable, match="cannot be read"):
        watched(tmp_path / "none", clock).look()
