"""One message in one file (.eml), as mail programs save it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from counterfoil.settings import Limits
from counterfoil.sources.found import Found, SourceKind, first_bytes, read_file

#: A field that messages begin with, RFC 5322 section 3.6 and RFC 5321 section 4.4; a file without the .eml
#: suffix must begin with one of these to be taken for a message.
_FIRST_FIELD = re.compile(
    rb"(?:\xef\xbb\xbf)?\s*(?:Return-Path|Received|Delivered-To|X-[A-Za-z0-9-]+|From|To|Cc|Date|Subject|Message-ID"
    rb"|MIME-Version|Reply-To|Sender|DKIM-Signature|ARC-Seal|Envelope-To|Content-Type)[ \t]*:",
    re.IGNORECASE,
)


def looks_like_message(start: bytes) -> bool:
    """Say whether bytes begin with a header field of a message."""
    return _FIRST_FIELD.match(start) is not None


def _recognises(path: Path) -> bool:
    if path.suffix.lower() == ".eml":
        return True
    return path.suffix == "" and looks_like_message(first_bytes(path))


def _read(path: Path, limits: Limits) -> Iterator[Found]:
    yield read_file(path, limits)


KIND = SourceKind("eml", _recognises, _read, lambda path: 1)
