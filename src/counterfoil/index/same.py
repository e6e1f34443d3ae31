"""Whether the index is of the records beside it, and not of others, or of what these were before a backup came back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from counterfoil.errors import ArchiveDamaged
from counterfoil.index.files import Doubtful, Manifest
from counterfoil.model import IndexEntry

#: Gives the entries after a revision, in the order of revisions, at most so many: ``store.index_entries``.
Fetch = Callable[[int, int], Sequence[IndexEntry]]


class Records(Protocol):
    """What is asked of the records to tell them from others."""

    def testimony(self) -> str:
        """Return a text that later tells these records, as they are now, from others."""

    def bears_out(self, said: str) -> bool:
        """Tell whether a text of :meth:`testimony` is of these records, now or at an earlier time."""


def check_same_records(last: Manifest, records: Records) -> None:
    """Notice an index of other records: of another archive, or of messages that a backup put back does not have.

    Numbers tell nothing: records that are put back and then go on give the same ones to other messages.

    Raises:
        Doubtful: the index may hold what these records do not.
    """
    if last.generation >= 0 and not records.bears_out(last.testimony):
        raise Doubtful("it is not of these records, or of what they were before a backup was put back")


def check_same_mark(last: Manifest, fetch: Fetch) -> None:
    """Notice records that no longer have, or gave to another message, the revision of the mark.

    Raises:
        Doubtful: the index holds what these records do not.
    """
    if last.mark == 0:
        return
    at_mark = fetch(last.mark - 1, 1)
    if not at_mark or (at_mark[0].revision == last.mark and message_number(at_mark[0].message) != last.marked):
        raise Doubtful("the records are older than the index")


def message_number(ref: str) -> int:
    """Return the number in the id of a message: 5 for E5.

    Raises:
        ArchiveDamaged: the id is none.
    """
    if ref[:1] != "E" or not ref[1:].isdecimal():
        raise ArchiveDamaged(f"The records gave {ref!r} to the index, which is no id of a message.")
    return int(ref[1:])
