"""One message in one file of Outlook's (.msg). The file is kept as it is; reading processes open it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from counterfoil.settings import Limits
from counterfoil.sources.found import Found, Received, SourceKind, Unreadable, read_file

#: How compound files begin, [MS-CFB] section 2.2.
_SIGNATURE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def is_msg(data: bytes) -> bool:
    """Say whether bytes may be one of Outlook's message files."""
    return data.startswith(_SIGNATURE)


def _read(path: Path, limits: Limits) -> Iterator[Found]:
    found = read_file(path, limits)
    if isinstance(found, Received) and not is_msg(found.data):
        found = Unreadable(found.source, "The file has the name of an Outlook message and is none.")
    yield found


KIND = SourceKind("msg", lambda path: path.suffix.lower() == ".msg", _read, lambda path: 1)
