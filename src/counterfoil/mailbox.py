"""Mail from a folder on a mail server: fetched once, or watched until told to stop.

A mark in the records says how far the folder was read. It is moved only when the messages below it are durably kept, so
a run that is killed or cut off fetches some messages again and loses none; what comes twice is known by its hash.
"""

from __future__ import annotations

import random
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.errors import ArchiveBusy, FetchingFailed
from counterfoil.records.marks import Mark, move_mark, read_mark
from counterfoil.sources import Found, Received
from counterfoil.sources.imap_address import ImapAddress

if TYPE_CHECKING:
    from counterfoil.sources.imap import ImapFolder

#: An IDLE is renewed well before servers and routers take the line for dead (RFC 2177 says 29 minutes).
IDLE_SECONDS = 600.0


@dataclass(slots=True)
class Waits:
    """How long to wait after failures in a row: twice as long each time, up to a bound, less up to half by chance.

    The chance keeps several archives that lost the same server from coming back all at once.
    """

    first_seconds: float = 2.0
    most_seconds: float = 300.0
    chance: random.Random = field(default_factory=random.Random)

    def after(self, failures: int) -> float:
        """Return seconds to wait after so many failures in a row, from 1."""
        full = min(self.most_seconds, self.first_seconds * 2.0 ** min(failures - 1, 30))
        return full * (1.0 - self.chance.random() / 2)


def fetch(
    archive: Archive, address: ImapAddress, password: str, *, progress: pipeline.Progress | None = None
) -> tuple[pipeline.IngestReport, FetchingFailed | None]:
    """Take in what is new in a folder on a mail server.

    Args:
        archive: the archive.
        address: the folder.
        password: of the account.
        progress: called with the number of messages done so far.

    Returns:
        What was taken in, and why that is not all, where the line dropped on the way.

    Raises:
        FetchingFailed: the server cannot be reached, is not trusted, or does not let the account in.
        SourceUnreadable: there is no such folder.
        SettingsFaulty: the settings cannot work with this server.
        ArchiveBusy, StorageFull: as :func:`counterfoil.pipeline.ingest`; what was kept is kept.
    """
    with opened(archive, address, password) as folder:
        return take(archive, folder, progress=progress)


def opened(archive: Archive, address: ImapAddress, password: str) -> ImapFolder:
    """Open a folder on a mail server; see :class:`counterfoil.sources.imap.ImapFolder`."""
    from counterfoil.sources.imap import ImapFolder, rules_of

    return ImapFolder(address, password, rules_of(archive.settings, archive.folder), archive.settings.limits)


def take(
    archive: Archive,
    folder: ImapFolder,
    *,
    stop: Callable[[], bool] = lambda: False,
    progress: pipeline.Progress | None = None,
) -> tuple[pipeline.IngestReport, FetchingFailed | None]:
    """Take in what is new in an opened folder; see :func:`fetch`."""
    taking = _Taking(archive, folder, stop)
    report = pipeline.ingest(archive, mail=taking.messages(), kept=taking.kept, progress=progress)
    taking.finish()
    return report, taking.lost


class _Taking:
    """One pass over a folder."""

    def __init__(self, archive: Archive, folder: ImapFolder, stop: Callable[[], bool]) -> None:
        self._archive, self._folder, self._stop = archive, folder, stop
        self._key = folder.address.account, folder.address.folder
        mark = read_mark(archive.store, *self._key)
        # Another numbering means that no UID tells anything: all is read anew, and known by its hash.
        self._mark = mark if mark is not None and mark.uidvalidity == folder.uidvalidity else Mark(folder.uidvalidity)
        self._gone = set(self._mark.left)
        self._to_move: list[int] = []
        self.lost: FetchingFailed | None = None

    def messages(self) -> Iterator[Found]:
        """Hand out what is new, and try again what could not be taken in before."""
        folder, mark = self._folder, self._mark
        try:
            if self._moves:
                # A run that ended between keeping and moving left these.
                self._to_move = folder.finished(mark.last, mark.left)
            for item in folder.messages(mark.last, mark.left, self._stop):
                self._gone.discard(item.uid)
                # Moved between two messages, not while the archive is locked: a server may take its time.
                self._move()
                yield item
        except FetchingFailed as error:
            self.lost = error

    def kept(self, batch: Sequence[Found]) -> None:
        """Move the mark: these messages are durable, or cannot be taken in."""
        good = [item.uid for item in batch if isinstance(item, Received)]
        bad = [item.uid for item in batch if not isinstance(item, Received)]
        move_mark(self._archive.store, *self._key, self._folder.uidvalidity, kept=good, left=bad)
        if self._moves:
            self._to_move += good

    def finish(self) -> None:
        """Move the last messages, and forget those that are gone from the server."""
        self.lost = self.lost or self._folder.lost
        if self.lost is None and not self._stop():
            if self._gone:
                with self._archive.lock():
                    move_mark(self._archive.store, *self._key, self._folder.uidvalidity, kept=self._gone, left=())
            try:
                self._move()
            except FetchingFailed as error:
                self.lost = error

    @property
    def _moves(self) -> bool:
        return bool(self._archive.settings.imap_done_folder)

    def _move(self) -> None:
        uids, self._to_move = self._to_move, []
        self._folder.move(uids)


def watch(
    archive: Archive,
    address: ImapAddress,
    password: str,
    *,
    stop: threading.Event,
    tell: Callable[[pipeline.IngestReport], None],
    warn: Callable[[str], None],
    every_seconds: float = IDLE_SECONDS,
    waits: Waits | None = None,
) -> None:
    """Take in what comes to a folder on a mail server until told to stop; a line that drops is opened again.

    Args:
        archive: the archive.
        address: the folder.
        password: of the account.
        stop: set to end: at once while waiting, after the batch at hand while mail is taken in.
        tell: called after each pass that took something in, or could not.
        warn: called with a sentence when the line dropped.
        every_seconds: how often to look where the server does not tell, and how long to believe one that does.
        waits: how long to wait after failures.

    Raises:
        FetchingFailed: the server is not trusted or does not let the account in; waiting would not help.
        SourceUnreadable: there is no such folder.
        StorageFull, ReadingImpossible: this machine cannot take anything in.
    """
    waits = waits or Waits()
    failures, told = 0, frozenset[str]()

    def worked(report: pipeline.IngestReport) -> None:
        nonlocal failures, told
        failures = 0
        # What cannot be taken in is tried at each pass and told once.
        problems = frozenset(report.problems)
        if report.new or problems - told:
            tell(report)
        told = problems

    while not stop.is_set():
        try:
            _watch_line(archive, address, password, stop, worked, every_seconds)
        except (FetchingFailed, ArchiveBusy) as error:
            if isinstance(error, FetchingFailed) and not error.passing:
                raise
            failures += 1
            seconds = waits.after(failures)
            warn(f"{error.what} Trying again in {seconds:.0f} s.")
            stop.wait(seconds)


def _watch_line(
    archive: Archive,
    address: ImapAddress,
    password: str,
    stop: threading.Event,
    worked: Callable[[pipeline.IngestReport], None],
    every_seconds: float,
) -> None:
    """Watch over one connection, until it drops (raises FetchingFailed) or the watch is to end."""
    with opened(archive, address, password) as folder:
        while not stop.is_set():
            report, lost = take(archive, folder, stop=stop.is_set)
            if lost is not None:
                if report.received:
                    worked(report)
                raise lost
            worked(report)
            folder.wait(every_seconds, stop.is_set)
