"""Files of a folder that nobody is writing any more, for a watch that looks again and again.

What is being written changes its size or its times between two looks. Files are only read, as in
:mod:`counterfoil.sources.collect`, and none is told twice as long as it stays as it was.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from counterfoil.errors import SourceUnreadable
from counterfoil.settings import Limits
from counterfoil.sources.collect import read_entry
from counterfoil.sources.found import Found, Unreadable, read_file
from counterfoil.sources.maildir import is_maildir

_Signature = tuple[int, int, int, int]


class SettledFolder:
    """A folder, or a Maildir, whose files are handed out once they have been left alone for a while.

    Args:
        path: the folder; folders inside are looked into, as ``ingest`` does.
        limits: sizes and numbers that bound the reading.
        quiet_seconds: how long a file must stay as it is before it is read.
        clock: seconds that never go back; another one in tests.
    """

    def __init__(
        self, path: Path, limits: Limits, *, quiet_seconds: float, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.path = path
        self._limits, self._quiet, self._clock = limits, quiet_seconds, clock
        self._seen: dict[Path, tuple[_Signature, float]] = {}
        self._done: dict[Path, _Signature] = {}
        self._handed: dict[Path, _Signature] = {}

    def look(self) -> tuple[list[Path], float | None]:
        """Look into the folder.

        Returns:
            The files to be read now, by name; and in how many seconds the next of the others may be, None where
            there are no others.

        Raises:
            SourceUnreadable: the folder is not there, or cannot be read.
        """
        now, ready, wait = self._clock(), [], None
        seen: dict[Path, tuple[_Signature, float]] = {}
        for path in _files(self.path):
            signature = _signature(path)
            if signature is None or self._done.get(path) == signature:
                continue
            before = self._seen.get(path)
            since = before[1] if before is not None and before[0] == signature else now
            seen[path] = signature, since
            left = self._quiet - (now - since)
            if left <= 0:
                ready.append(path)
            else:
                wait = left if wait is None else min(wait, left)
        self._seen = seen
        return ready, wait

    def messages(self, paths: list[Path], stop: Callable[[], bool]) -> Iterator[Found]:
        """Read files; one that changed or went away meanwhile is left for a later look.

        Args:
            paths: the files, from :meth:`look`.
            stop: asked before each file; True ends the reading.
        """
        for path in paths:
            if stop():
                return
            signature = self._seen[path][0]
            if _signature(path) != signature:
                continue
            if _is_delivered(path):
                items: Iterator[Found] = iter((read_file(path, self._limits),))
            else:
                items = read_entry(path, self._limits)
            opens = True
            for item in items:
                if isinstance(item, Unreadable) and not path.exists():
                    opens = False
                    break  # a mail program gave it another name: it is met again under that
                opens = opens and (not isinstance(item, Unreadable) or _opens(path))
                yield item
            # One that cannot be opened may be held by the program that writes it: it is tried again at each look.
            if opens and _signature(path) == signature:
                self._handed[path] = signature

    def finished(self) -> None:
        """Take what was handed out since the last call as kept: it is not handed out again unless it changes."""
        self._done.update(self._handed)
        self._handed.clear()
        self._done = {path: signature for path, signature in self._done.items() if path.exists()}

    def failed(self) -> None:
        """Take what was handed out since the last call as not kept: it is handed out again."""
        self._handed.clear()


def _is_delivered(path: Path) -> bool:
    """Tell whether a file is a message of a Maildir, whatever its name and first line look like."""
    return path.parent.name in ("cur", "new") and is_maildir(path.parent.parent)


def _opens(path: Path) -> bool:
    try:
        with path.open("rb"):
            return True
    except OSError:
        return False


def _signature(path: Path) -> _Signature | None:
    """Return what changes when a file is written or replaced; None where there is no such file any more."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino


def _files(folder: Path) -> Iterator[Path]:
    """Yield the files in a folder and the folders inside it, by name; hidden ones and deliveries under way left out."""
    try:
        with os.scandir(folder) as entries:
            listed = sorted(entries, key=lambda entry: entry.name)
    except OSError as error:
        raise SourceUnreadable(f"The folder {folder} cannot be read: {error.strerror or error}.") from error
    maildir = is_maildir(folder)
    for entry in listed:
        if entry.is_dir(follow_symlinks=False):
            inner = folder / entry.name
            if entry.name == "tmp" if maildir else entry.name.startswith("."):
                continue
            if maildir and entry.name not in ("cur", "new") and not is_maildir(inner):
                continue
            yield from _inside(inner)
        elif not entry.name.startswith(".") and entry.is_file() and not maildir:
            yield folder / entry.name


def _inside(folder: Path) -> Iterator[Path]:
    """Yield the files of a folder inside; one that cannot be read is passed over until it can."""
    try:
        yield from _files(folder)
    except SourceUnreadable:
        return
