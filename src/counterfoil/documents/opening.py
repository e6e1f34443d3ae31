"""Which files of a message are opened, said by the caller of the reader."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field


class FilesInside(Exception):
    """The message has files that libraries in C would open, and that was not wanted here."""


@dataclass(frozen=True, slots=True)
class Opening:
    """Which files of a message (PDFs, Outlook messages) are opened; they are counted from 0 in the order they are met.

    ``files``: their numbers, None for all. ``left_out``: why the others are not, a sentence. ``stop``: raise
    :class:`FilesInside` at the first one instead. ``strict``: let a lack of memory through to the caller. ``room``:
    gives the room in memory and time that reading one picture takes. ``pictures``: read pictures and scans; without,
    they are left as where nothing can read them. ``passwords``: tried on locked PDFs, in this order.
    """

    files: frozenset[int] | None = None
    left_out: str = ""
    stop: bool = False
    strict: bool = False
    passwords: tuple[str, ...] = field(default=(), repr=False)
    pictures: bool = True
    room: Callable[[], AbstractContextManager[None]] = nullcontext


#: Every file is opened.
ALL_FILES = Opening()
