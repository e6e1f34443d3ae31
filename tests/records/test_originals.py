"""The store of originals."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
import sys
from pathlib import Path

import pytest

from counterfoil.errors import ArchiveDamaged, RecordUnknown, StorageFull
from counterfoil.records.originals import Originals

DATA = b"From: a@post.example\r\n\r\nHello.\r\n"


def test_keeps_and_gives_back(tmp_path: Path) -> None:
    """What is kept comes back byte for byte under its SHA-256."""
    store = Originals(tmp_path / "originals")
    sha256, new = store.keep(DATA)
    assert (sha256, new) == (hashlib.sha256(DATA).hexdigest(), True)
    assert store.read(sha256) == DATA
    assert list(store.hashes()) == [sha256]


def test_twice_is_once(tmp_path: Path) -> None:
    """Keeping the same bytes again says so and adds no file."""
    store = Originals(tmp_path)
    store.keep(DATA)
    assert store.keep(DATA) == (hashlib.sha256(DATA).hexdigest(), False)
    assert len([p for p in tmp_path.rglob("*") if p.is_file()]) == 1


def test_empty_message(tmp_path: Path) -> None:
    """A message without a byte is an original too."""
    store = Originals(tmp_path)
    sha256, new = store.keep(b"")
    assert new
    assert store.read(sha256) == b""


def test_every_flip_is_found(tmp_path: Path) -> None:
    """Whatever single bit of an original is flipped, reading it says that it is damaged."""
    store = Originals(tmp_path)
    sha256, _ = store.keep(DATA)
    path = store.path(sha256)
    for at in range(len(DATA) * 8):
        flipped = bytearray(DATA)
        flipped[at // 8] ^= 1 << at % 8
        path.write_bytes(flipped)
        with pytest.raises(ArchiveDamaged, match=sha256):
            store.read(sha256)


def test_missing_original(tmp_path: Path) -> None:
    """An original that is gone is damage, not silence."""
    with pytest.raises(ArchiveDamaged, match="cannot be read"):
        Originals(tmp_path).read("a" * 64)


@pytest.mark.parametrize("name", ["", "../../etc", "A" * 64, "a" * 63, "a" * 64 + "\n"])
def test_only_hashes_are_names(tmp_path: Path, name: str) -> None:
    """No text but a hash leads to a path, so none leads out of the folder."""
    with pytest.raises(RecordUnknown):
        Originals(tmp_path).path(name)


def test_damaged_original_is_mended_by_the_right_bytes(tmp_path: Path) -> None:
    """When the right bytes arrive again, they take the place of damaged ones."""
    store = Originals(tmp_path)
    sha256, _ = store.keep(DATA)
    store.path(sha256).write_bytes(DATA[:-1])
    assert store.keep(DATA) == (sha256, False)
    assert store.read(sha256) == DATA


def test_sweep_removes_what_a_kill_left(tmp_path: Path) -> None:
    """Half-written files are swept away, originals stay; half-written files never count as originals."""
    store = Originals(tmp_path)
    sha256, _ = store.keep(DATA)
    (store.path(sha256).parent / ".unfinished-0011").write_bytes(b"half")
    assert list(store.hashes()) == [sha256]
    assert store.sweep() == 1
    assert store.sweep() == 0
    assert store.read(sha256) == DATA


def test_failed_write_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk is reported as such, and neither a temporary file nor a half original stays."""

    def full(handle: int, data: bytes) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    store = Originals(tmp_path)
    monkeypatch.setattr(os, "write", full)
    with pytest.raises(StorageFull, match="No space left"):
        store.keep(DATA)
    monkeypatch.undo()
    assert [p for p in tmp_path.rglob("*") if p.is_file()] == []


def test_order_of_durability(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The bytes are synced before the name appears, the folder after it: no power cut leaves a name without bytes."""
    steps: list[str] = []
    real_fsync, real_replace = os.fsync, Path.replace

    def fsync(handle: int) -> None:
        steps.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file")
        real_fsync(handle)

    def replace(path: Path, target: Path) -> Path:
        steps.append("rename")
        return real_replace(path, target)

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(Path, "replace", replace)
    (tmp_path / "originals").mkdir()
    Originals(tmp_path / "originals").keep(DATA)
    assert [s for s in steps if s != "folder"] == ["file", "rename"]
    if sys.platform != "win32":
        assert steps == ["folder", "file", "rename", "folder"]


def test_partial_writes_are_completed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A system that takes a few bytes at a time still gets all of them."""
    real = os.write
    monkeypatch.setattr(os, "write", lambda handle, data: real(handle, bytes(data[:5])))
    store = Originals(tmp_path)
    sha256, _ = store.keep(DATA)
    monkeypatch.undo()
    assert store.read(sha256) == DATA
