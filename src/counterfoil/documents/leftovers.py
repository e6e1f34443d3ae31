"""Documents for what was not read, and whether the second side of a text tells more than the first."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from counterfoil.documents.parts import File
from counterfoil.documents.text import Row, clean, document, plain_rows
from counterfoil.model import Document, Problem
from counterfoil.settings import Limits

#: A part left unread: name, problem, reason, bytes.
Unread = tuple[str, Problem, str, int]
#: Of a calendar entry: folds (RFC 5545, section 3.1), what is written for people (3.8.1), signs for others (3.3.11).
_FOLDED = re.compile(r"\r?\n[ \t]")
_WRITTEN = re.compile(r"(?:SUMMARY|DESCRIPTION|COMMENT|LOCATION)(?:;[^:\r\n]*)?:([^\r\n]*)", re.IGNORECASE)
_ESCAPED = re.compile(r"\\([\\;,nN])")
_WORDS = re.compile(r"\w+")


def left_out(name: str, layer: int, file: File, media_type: str, reason: str) -> Document:
    """Return the document of a file that is not opened, because opening it ended the process that tried."""
    return Document(
        name, layer, "", (), media_type=media_type, problem=Problem.DAMAGED, reason=reason, size=len(file.data)
    )


def empty(made: Document) -> Document:
    """Return a document that holds no text, with the problem it is."""
    return replace(made, problem=Problem.EMPTY, reason="There is no text in it.")


def too_large(file: File) -> Unread:
    """Return what is said of a file that is larger than is read."""
    reason = f"The part has {len(file.data):,} bytes, more than are read."
    return f"file:{file.name or 'unnamed'}", Problem.TOO_LARGE, reason, len(file.data)


def text_file(file: File, name: str, layer: int, rows: Sequence[Row], limits: Limits) -> Document:
    """Return the document of a text that was attached as a file."""
    media_type = "text/html" if file.is_html else file.media_type
    made = document(name, layer, rows, limit=limits.text_chars, media_type=media_type, size=len(file.data))
    return made if made.text else empty(made)


def is_calendar(file: File) -> bool:
    """Say whether a file is a calendar entry. One beside other texts repeats them; one alone is all there is."""
    return file.media_type in ("text/calendar", "application/ics") and bool(file.data.strip())


def calendar_rows(text: str) -> list[Row]:
    """Return what is written for people in calendar entries."""
    found = (
        _ESCAPED.sub(lambda sign: "\n" if sign[1] in "nN" else sign[1], match[1])
        for line in _FOLDED.sub("", text).splitlines()
        if (match := _WRITTEN.match(line))
    )
    return [row for value in found for row in plain_rows(value)]


def _words(rows: list[Row]) -> Iterator[str]:
    for row in rows:
        if row.text:
            yield from _WORDS.findall(clean(row.text).casefold())


def adds(other: list[Row], main: list[Row]) -> bool:
    """Say whether the HTML side of an alternative tells more than the plain one: words, or cells on one line."""
    if not set(_words(other)) <= set(_words(main)):
        return True
    lines = {"".join(_WORDS.findall(row.text.casefold())) for row in main}
    return any(
        row.columns is not None
        and "\t" in row.text.strip("\t")
        and not any("".join(_WORDS.findall(row.text.casefold())) in line for line in lines)
        for row in other
    )
