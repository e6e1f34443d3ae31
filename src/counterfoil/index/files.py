"""The files of the index: whose they are, what they must look like, how they are made durable.

Beside each table of contents of whoosh stands a manifest of the same generation: the mark (the last revision of the
records taken in), and size and SHA-256 of every file. It is durable before the table of contents gets its name, so
the renaming is the one moment at which files, mark and contents change together.

    MAIN_<segment>.seg     one per batch, until merged      _MAIN_<generation>.toc    whoosh's table of contents
    _MAIN_<generation>.manifest.json                        MAIN_WRITELOCK            held while writing
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import shutil
import stat
import sys
from dataclasses import dataclass, field
from pathlib import Path

from counterfoil.durable import sync_folder as sync_folder
from counterfoil.errors import ArchiveDamaged, StorageFull
from counterfoil.index.stems import STEMS_VERSION

#: Its number goes up with every change of fields, words or files; an index of another version is built anew.
VERSION = f"4 {STEMS_VERSION}"
#: Up to this size every file is hashed on opening (about 0.1 s); above, only what was touched since it was written.
HASH_ALL_BYTES = 64_000_000

_TOC = re.compile(r"_MAIN_([0-9]+)\.toc")
_OURS = re.compile(r"_?MAIN_[0-9a-z]+\..*|MAIN\.tmp|_MAIN_.*")
_LOCK = "MAIN_WRITELOCK"


class Doubtful(Exception):
    """The files are not what the last commit left, or may have been changed by others; never leaves this folder."""


class Outdated(Doubtful):
    """The files are whole, but another version of this program made them."""


@dataclass(frozen=True, slots=True)
class Manifest:
    """What one commit left. ``files`` gives size in bytes, SHA-256 and time of change in ns by name.

    ``mark`` is the last revision taken in, ``marked`` the number of the message that had it, ``count`` the number of
    messages, ``highest`` the highest number of one, ``testimony`` what the records said of themselves then.
    """

    generation: int
    mark: int = 0
    marked: int = 0
    count: int = 0
    highest: int = 0
    files: dict[str, tuple[int, str, int]] = field(default_factory=dict)
    testimony: str = ""


def manifest_name(generation: int) -> str:
    """Return the name of the manifest of a generation."""
    return f"_MAIN_{generation}.manifest.json"


def toc_name(generation: int) -> str:
    """Return the name of whoosh's table of contents of a generation."""
    return f"_MAIN_{generation}.toc"


def latest_generation(folder: Path) -> int:
    """Return the number of the last commit, -1 where there is none."""
    try:
        names = [path.name for path in folder.iterdir()]
    except OSError:
        return -1
    return max((int(m.group(1)) for m in map(_TOC.fullmatch, names) if m), default=-1)


def changed_ns(folder: Path) -> int:
    """Return when a name in the folder was last added, replaced or taken away, in ns since 1970; 0 for no folder."""
    try:
        return folder.stat().st_mtime_ns
    except OSError:
        return 0


def prepare(folder: Path) -> None:
    """Make the folder, for its owner alone.

    Raises:
        ArchiveDamaged: it belongs to somebody else.
        StorageFull: it cannot be made.
    """
    try:
        if not folder.is_dir():
            _refuse_what_stands_there(folder)
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if sys.platform != "win32":
            if folder.stat().st_uid != os.geteuid():
                raise ArchiveDamaged(
                    f"The index folder {folder} belongs to another user.",
                    "Give the archive to the user who runs this command, or delete the index folder: it is built anew.",
                )
            if stat.S_IMODE(folder.stat().st_mode) != 0o700:
                folder.chmod(0o700)
        _clear_lock(folder / _LOCK)
    except OSError as error:
        raise StorageFull(f"The index folder {folder} cannot be made: {error.strerror or error}.") from error


def _refuse_what_stands_there(folder: Path) -> None:
    """Refuse a file where the folder should be, or a link to nothing: neither is the index's to delete."""
    if folder.is_symlink() and not folder.exists():
        raise StorageFull(
            f"The index folder {folder} is a link that leads nowhere.",
            "Connect the disk it leads to, or delete the link: the index is then built anew here.",
        )
    if folder.exists():
        raise StorageFull(
            f"Where the index folder {folder} should be stands a file.",
            "Move it away, then run the command again: the index is built anew.",
        )


def refuse_if_deleted(folder: Path) -> None:
    """Refuse to go on where the folder was deleted by others, and with it the lock: another run may hold a new one.

    Raises:
        ArchiveDamaged: it was.
    """
    if not (folder / _LOCK).exists():
        raise ArchiveDamaged(
            f"The index folder {folder} was deleted while it was being written.",
            "Nothing is lost: the next `counterfoil ingest` or search builds it anew from the records.",
        )


def _clear_lock(lock: Path) -> None:
    """Delete what stands in the place of the lock and is none: nobody holds it, and opening a pipe waits for ever."""
    if lock.is_symlink() or (lock.exists() and not (lock.is_file() or lock.is_dir())):
        lock.unlink(missing_ok=True)
    elif lock.is_dir():
        shutil.rmtree(lock)


def check_owner(path: Path) -> os.stat_result:
    """Return the status of a file; the table of contents is unpickled, so nobody else may have written it.

    A link is followed to a folder only (an index kept on another disk), whose owner then counts.

    Raises:
        Doubtful: it belongs to another user, others may write it, or it is no plain file or folder.
    """
    status = path.lstat()
    if stat.S_ISLNK(status.st_mode) and path.is_dir():
        status = path.stat()
    if not (stat.S_ISREG(status.st_mode) or stat.S_ISDIR(status.st_mode)):
        raise Doubtful(f"{path.name} is neither a file nor a folder")
    if sys.platform != "win32" and (status.st_uid != os.geteuid() or status.st_mode & 0o022):
        raise Doubtful(f"{path.name} may have been changed by others")
    return status


def read_manifest(folder: Path, generation: int) -> Manifest:
    """Read the manifest of a generation.

    Raises:
        Doubtful: it is missing, damaged, or may have been changed by others.
        Outdated: it is of another version.
    """
    path = folder / manifest_name(generation)
    try:
        check_owner(path)
        raw = json.loads(path.read_bytes())
        body = raw["manifest"]
        if raw["sha256"] != _seal(body) or body["generation"] != generation:
            raise Doubtful(f"{path.name} is damaged")
        if body["version"] != VERSION:
            raise Outdated(f"{path.name} is of another version")
        files = {str(name): (int(size), str(sha), int(at)) for name, (size, sha, at) in body["files"].items()}
        mark, marked, count, highest = (int(body[name]) for name in ("mark", "marked", "count", "highest"))
        return Manifest(generation, mark, marked, count, highest, files, str(body["testimony"]))
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise Doubtful(f"{path.name} cannot be read: {error}") from error


def _seal(body: object) -> str:
    return hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()


def write_manifest(folder: Path, manifest: Manifest) -> None:
    """Write a manifest durably under its name."""
    body = {
        "version": VERSION,
        "generation": manifest.generation,
        "mark": manifest.mark,
        "marked": manifest.marked,
        "count": manifest.count,
        "highest": manifest.highest,
        "testimony": manifest.testimony,
        "files": {name: list(entry) for name, entry in manifest.files.items()},
    }
    path = folder / manifest_name(manifest.generation)
    temporary = path.with_name(path.name + ".new")
    temporary.write_text(json.dumps({"sha256": _seal(body), "manifest": body}), encoding="utf-8")
    make_durable(temporary)
    temporary.replace(path)


def make_durable(path: Path) -> None:
    """Close a file to others and have the disk keep it."""
    if sys.platform != "win32":
        path.chmod(0o600)
    # Windows wants a handle open for writing; O_BINARY does not matter as nothing is written.
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def digest(data: bytes) -> str:
    """Return the SHA-256 of bytes in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def describe(path: Path) -> tuple[int, str, int]:
    """Return size in bytes, SHA-256 and time of change in ns of a file."""
    with path.open("rb") as stream:
        hashed = hashlib.file_digest(stream, "sha256").hexdigest()
        status = os.fstat(stream.fileno())
    return status.st_size, hashed, status.st_mtime_ns


def doubts(folder: Path, manifest: Manifest, *, thorough: bool = False) -> list[str]:
    """Return what is wrong with the files of a commit, as sentences; empty where all is well.

    Args:
        folder: the index folder.
        manifest: what the commit left.
        thorough: hash every file, whatever its size and time of change.
    """
    found: list[str] = []
    thorough = thorough or sum(size for size, _, _ in manifest.files.values()) <= HASH_ALL_BYTES
    for name, (size, expected, at) in manifest.files.items():
        try:
            status = check_owner(folder / name)
            if status.st_size != size:
                found.append(f"{name} has {status.st_size} bytes instead of {size}.")
            elif (thorough or status.st_mtime_ns != at) and describe(folder / name)[1] != expected:
                found.append(f"{name} is not as it was written.")
        except Doubtful as error:
            found.append(f"{error}.")
        except OSError as error:
            found.append(f"{name} cannot be read: {error.strerror or error}.")
    return found


def sweep(folder: Path, manifest: Manifest | None) -> None:
    """Delete what no commit refers to: what a killed run left, former generations; with None, all of the index.

    Only under the write lock. Files still open elsewhere stay on Windows; a later sweep takes them.

    Raises:
        Doubtful: the folder cannot be listed.
    """
    keep = {_LOCK}
    if manifest is not None:
        keep |= {*manifest.files, manifest_name(manifest.generation)}
    try:
        there = list(folder.iterdir())
    except OSError as error:
        raise Doubtful(f"the folder cannot be listed: {error.strerror or error}") from error
    for path in there:
        if path.name in keep or not _OURS.fullmatch(path.name):
            continue
        with contextlib.suppress(OSError):
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path)
            else:
                path.unlink()
