"""Originals: the exact bytes of every message as received, kept for ever, named by their SHA-256 hash.

A file is written under a temporary name, synced, renamed, and its folder synced: after :meth:`Originals.keep` has
returned, the bytes survive a crash and a power cut. The name being the hash, every later change is found.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import secrets
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from counterfoil.durable import sync_folder
from counterfoil.errors import ArchiveDamaged, RecordUnknown, StorageFull

#: Syncs under way at once; more threads than these gained nothing.
SYNC_THREADS = 8

_TEMPORARY = ".unfinished-"
_HASH = re.compile(r"[0-9a-f]{64}\Z")
#: Binary mode must be asked for on Windows, the flag does not exist elsewhere.
_CREATE = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)


class Originals:
    """The folder of originals: ``ab/ab12…`` by the first two digits of the hash, so that no folder grows too long.

    Args:
        folder: made when the first original is kept.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """Return where the original with this hash is, or would be.

        Raises:
            RecordUnknown: ``sha256`` is not 64 lower-case hexadecimal digits.
        """
        if not _HASH.match(sha256):
            raise RecordUnknown(f"{sha256!r} is not the hash of an original.")
        return self.folder / sha256[:2] / sha256

    def keep(self, data: bytes) -> tuple[str, bool]:
        """Keep the bytes of a message, durably.

        Args:
            data: the bytes as received.

        Returns:
            The hash as 64 hexadecimal digits, and whether the original is new.

        Raises:
            StorageFull: the disk is full or refuses to be written; nothing half written stays under the hash.
        """
        sha256 = hashlib.sha256(data).hexdigest()
        path = self.path(sha256)
        try:
            with contextlib.suppress(FileNotFoundError):
                if path.read_bytes() == data:
                    return sha256, False
                # What stands under the name is damaged: the right bytes are at hand, so they take its place.
                self._write(path, data)
                return sha256, False
            self._write(path, data)
        except OSError as error:
            raise StorageFull(f"The original {path} cannot be written: {error.strerror or error}.") from error
        return sha256, True

    def keep_many(self, messages: Sequence[bytes]) -> list[tuple[str, bool]]:
        """Keep several messages, durably; see :meth:`keep`.

        Several syncs under way at once share the disk's work: sixteen times as many originals a second were kept
        with eight threads as one after the other (ext4 on a virtual disk).

        Args:
            messages: the bytes of each; the same bytes may come twice.

        Returns:
            Hash and newness of each, in the same order; of the same bytes the first counts as new.

        Raises:
            StorageFull: one of them could not be written; the others may have been.
        """
        if len(messages) < 2:
            return [self.keep(data) for data in messages]
        different = dict.fromkeys(messages)
        with ThreadPoolExecutor(min(SYNC_THREADS, len(different))) as pool:
            kept = dict(zip(different, pool.map(self.keep, different), strict=True))
        out: list[tuple[str, bool]] = []
        for data in messages:
            out.append(kept[data])
            kept[data] = (kept[data][0], False)
        return out

    def read(self, sha256: str) -> bytes:
        """Return an original's bytes after hashing them anew.

        Raises:
            ArchiveDamaged: the file is missing, cannot be read, or no longer has its hash.
        """
        path = self.path(sha256)
        try:
            data = path.read_bytes()
        except OSError as error:
            raise ArchiveDamaged(f"The original {path} cannot be read: {error.strerror or error}.") from error
        if hashlib.sha256(data).hexdigest() != sha256:
            raise ArchiveDamaged(f"The original {path} was changed: its bytes no longer have the hash in its name.")
        return data

    def hashes(self) -> Iterator[str]:
        """Yield the hash of every original, in order."""
        for shard in sorted(self._shards()):
            yield from sorted(p.name for p in shard.iterdir() if _HASH.match(p.name))

    def sweep(self) -> int:
        """Remove what a killed run left half written; return how many files. Only for the holder of the write lock."""
        removed = 0
        for shard in self._shards():
            for path in shard.iterdir():
                if path.name.startswith(_TEMPORARY):
                    path.unlink(missing_ok=True)
                    removed += 1
        return removed

    def _shards(self) -> list[Path]:
        """Return the sub-folders that hold originals."""
        if not self.folder.is_dir():
            return []
        return [p for p in self.folder.iterdir() if p.is_dir() and len(p.name) == 2]

    def _write(self, path: Path, data: bytes) -> None:
        """Write under a temporary name, sync, rename, sync the folder."""
        shard = path.parent
        if not shard.is_dir():
            shard.mkdir(mode=0o700, parents=True, exist_ok=True)
            sync_folder(self.folder)
        temporary = shard / f"{_TEMPORARY}{secrets.token_hex(8)}"
        try:
            handle = os.open(temporary, _CREATE, 0o600)
            try:
                _write_all(handle, data)
                os.fsync(handle)
            finally:
                os.close(handle)
            temporary.replace(path)
        except OSError:
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)
            raise
        sync_folder(shard)


def _write_all(handle: int, data: bytes) -> None:
    """Write every byte; the system may take less than it is given in one call."""
    view = memoryview(data)
    while view:
        view = view[os.write(handle, view) :]
