"""Documents for what was not read, and whether the second side of a text tells more than the first."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from counterfoil.documents.parts import File
from counterfoil.documents.text import Row, clean
from counterfoil.model import Document, Problem

#: A part left unread: name, problem, reason, bytes.
Unread = tuple[str, Problem, str, int]
_WORDS = re.compile(r"\w+")


def left_out(name: str, layer: int, file: File, media_type: str, reason: str) -> Document:
    """Return the document of a file that is not opened, because opening it ended the process that tried."""
    return Document(
        name, layer, "", (), media_type=media_type, problem=Problem.DAMAGED, reason=reason, size=len(file.data)
    )


def empty(made: Document) -> Document:
    """Return a document that holds no text, with the problem it is."""
    return replace(made, problem=Problem.EMPTY, reason="There is no text in it.")


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
