"""Maildir: a folder with cur/, new/ and tmp/, one message a file.

Files are only read: nothing moves from new/ to cur/ and no flag is set, so a mail program that uses the same
folder sees no difference. Deliveries still under way (tmp/) are left alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from counterfoil.settings import Limits
from counterfoil.sources.found import Found, SourceKind, read_file

_DELIVERED = re.compile(r"[0-9]+\.[^.]+\..+|[0-9]{9,}\..+")


def is_maildir(path: Path) -> bool:
    """Say whether a folder is a Maildir.

    Copies and version control lose empty folders, so one of cur/ and new/ is enough where the files in it
    have the names of Maildir deliveries (seconds, unique part, host).
    """
    if not path.is_dir():
        return False
    if all((path / name).is_dir() for name in ("cur", "new", "tmp")):
        return True
    return any(_DELIVERED.fullmatch(file.name) and file.suffix.lower() != ".eml" for file in _files(path))


def _files(path: Path) -> list[Path]:
    found: list[Path] = []
    for name in ("cur", "new"):
        folder = path / name
        if folder.is_dir():
            found.extend(sorted(f for f in folder.iterdir() if not f.name.startswith(".") and f.is_file()))
    return found


def _read(path: Path, limits: Limits) -> Iterator[Found]:
    for file in _files(path):
        yield read_file(file, limits)


KIND = SourceKind("maildir", is_maildir, _read, lambda path: len(_files(path)))
