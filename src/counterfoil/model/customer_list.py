"""What a shop's own list of customers says, row by row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ListRow:
    """One customer as the list has them: every value as written, none of them checked yet.

    ``line`` is where the row begins in the file, from 1. ``region`` is the ISO 3166-1 code of the row's country, None
    where it names none; ``country`` is the country as written where its code is not known, else empty.
    """

    line: int
    names: tuple[str, ...]
    emails: tuple[str, ...] = ()
    phones: tuple[str, ...] = ()
    addresses: tuple[str, ...] = ()
    region: str | None = None
    country: str = ""


@dataclass(frozen=True, slots=True)
class BadRow:
    """A row that cannot be taken, and why, in a sentence."""

    line: int
    reason: str


@dataclass(frozen=True, slots=True)
class CustomerList:
    """A list of customers as read: how it was understood, its rows, and those that are none.

    ``columns`` maps what a column was taken for (name, email ...) to the headings that were; ``left_out`` are the
    headings of the columns not taken.
    """

    name: str
    encoding: str
    delimiter: str
    columns: Mapping[str, tuple[str, ...]]
    left_out: tuple[str, ...]
    rows: tuple[ListRow, ...]
    bad: tuple[BadRow, ...]
