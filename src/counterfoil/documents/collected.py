"""The documents of a message while it is read, each under a name of its own."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from counterfoil.documents.leftovers import Unread, text_file
from counterfoil.documents.parts import File
from counterfoil.documents.text import Row
from counterfoil.model import Document, Problem
from counterfoil.settings import Limits


class Collected:
    """Documents in the order they were read.

    Args:
        limits: how long a text may be.
    """

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._names: set[str] = set()
        self.documents: list[Document] = []

    def add(self, documents: Iterable[Document]) -> None:
        """Add documents; a name that is taken gets a number."""
        self.documents.extend(replace(made, name=self.unique(made.name)) for made in documents)

    def add_text(self, file: File, layer: int, label: str, rows: Sequence[Row]) -> None:
        """Add the text of a file."""
        self.documents.append(text_file(file, self.unique(f"file:{label}"), layer, rows, self._limits))

    def add_unread(self, layer: int, unread: Iterable[Unread], media_type: str = "application/octet-stream") -> None:
        """Add what was not read."""
        for name, problem, reason, size in unread:
            about = Document(self.unique(name), layer, "", (), media_type, problem=problem, reason=reason, size=size)
            self.documents.append(about)

    def unique(self, name: str) -> str:
        """Return a name that no document has yet, and take it."""
        number, unique = 2, name
        while unique in self._names:
            unique, number = f"{name}~{number}", number + 1
        self._names.add(unique)
        return unique

    @property
    def says_nothing(self) -> bool:
        """True where there is neither a text nor anything left unread."""
        return not any(made.text or made.problem is not Problem.EMPTY for made in self.documents)
