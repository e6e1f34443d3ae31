"""The one way into the full-text index.

It never says something false about what it holds: files that are not exactly what the last commit left are not read,
and the next catch-up starts from the records again.
"""

from __future__ import annotations

import errno
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path
from typing import NamedTuple

from whoosh.index import LockError
from whoosh.util.filelock import try_for

from counterfoil.errors import ArchiveBusy, ArchiveDamaged, CounterfoilError, StorageFull
from counterfoil.index import files, opening, query, scoring, similar, snippets
from counterfoil.index.build import BatchWriter, DurableStorage
from counterfoil.index.files import Doubtful, Manifest, Outdated
from counterfoil.index.merging import MOST_SEGMENTS, merged_after, taken_along
from counterfoil.index.opening import View
from counterfoil.index.same import Fetch as Fetch
from counterfoil.index.same import Records, check_same_mark, check_same_records, message_number
from counterfoil.model import IndexEntry

#: Messages between two commits unless told otherwise: one segment of about 4 MB.
BATCH = 2_000
LOCK_WAIT_SECONDS = 10.0
#: Opening may meet a file that a writer has just replaced.
OPEN_TRIES = 5
OPEN_WAIT_SECONDS = 0.05
#: A folder unchanged for so long shows every later change in its time of change, however coarse that is kept.
QUIET_NS = 3_000_000_000

_NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES, errno.EPERM, errno.EIO, errno.EFBIG}


class Hit(NamedTuple):
    """A message that answers a query, and how well: the higher the score the better."""

    message: str
    score: float


class Index:
    """The full-text index in one folder, made on the first catch-up.

    Args:
        folder: the folder; it belongs to the index alone.
        records: what it is an index of; an index of others counts as damaged. None: only the mark is compared.
    """

    def __init__(self, folder: Path, records: Records | None = None) -> None:
        self.folder, self._records = folder, records
        self._view: View | None = None
        self._vouched: View | None = None
        self._quiet: int | None = None
        self._checked: dict[str, tuple[int, str, int]] = {}

    # --- what is in it ---------------------------------------------------------------------------

    def position(self) -> int:
        """Return the last revision of the records that is in the index; 0 where there is no index or it is damaged."""
        try:
            view = self._same()
        except Doubtful:
            return 0
        return view.manifest.mark if view else 0

    def count(self) -> int:
        """Return the number of messages in the index; 0 where there is no index or it is damaged."""
        try:
            view = self._open()
        except Doubtful:
            return 0
        return view.manifest.count if view else 0

    def check(self) -> list[str]:
        """Return what is wrong with the files of the index, each as a sentence; every file is hashed.

        Nothing is wrong with an index of another version: it counts as empty, and is built anew.
        """
        try:
            self._close()
            view = self._same()
            if view is None:
                return []
            found = files.doubts(self.folder, view.manifest, thorough=True)
            held = sum(leaf.size - len(leaf.deleted) for leaf in view.leaves.values())
            if held != view.manifest.count:
                found.append(f"The index holds {held} messages where its manifest says {view.manifest.count}.")
        except Outdated:
            return []
        except Doubtful as error:
            return [f"{error}."]
        return found

    def search(
        self,
        query_text: str,
        limit: int = 20,
        since: date | None = None,
        until: date | None = None,
        *,
        any_word: bool = False,
    ) -> list[Hit]:
        """Return the messages that answer a query, best first, the newest first among equals.

        Args:
            query_text: as typed, in the query language of :mod:`counterfoil.index.query`.
            limit: the most hits returned.
            since: received on this day or later.
            until: received on this day or earlier.
            any_word: messages that have any of the words, not all.

        Raises:
            ArchiveDamaged: the files of the index are damaged; :meth:`catch_up` builds it anew.
        """
        try:
            view = self._same()
            if view is None:
                return []
            found = query.understand(query_text, any_word=any_word)
            low, high = since.toordinal() if since else None, until.toordinal() if until else None
            return [Hit(f"E{n}", score) for n, score in scoring.best(view.segments, found, limit, low, high)]
        except CounterfoilError:
            raise
        # Reading damaged postings may raise anything; the index is made anew from the records.
        except Exception as error:
            raise self._damaged(error) from error

    def similar_words(self, word: str, limit: int = 3) -> list[str]:
        """Return words of the messages that differ from one in up to two letters, the nearest and commonest first.

        Raises:
            ArchiveDamaged: the files of the index are damaged.
        """
        try:
            view = self._same()
            readers = [leaf.reader for leaf in view.leaves.values()] if view is not None else []
            return similar.similar_words(readers, word, limit)
        except CounterfoilError:
            raise
        # As for a search: reading damaged lists of words may raise anything.
        except Exception as error:
            raise self._damaged(error) from error

    def snippets(self, text: str, query_text: str) -> str:
        """Return the pieces of a text that answer a query; see :func:`counterfoil.index.snippets.snippets`."""
        return snippets.snippets(text, query_text)

    # --- how it grows ----------------------------------------------------------------------------

    def catch_up(
        self,
        fetch: Fetch,
        batch: int = BATCH,
        progress: Callable[[int], None] | None = None,
        *,
        wait_seconds: float | None = None,
    ) -> int:
        """Take in what the records have and the index has not.

        A damaged index is built anew, and so is one that is ahead of records put back from a backup.

        Args:
            fetch: gives the entries after a revision.
            batch: messages between two commits.
            progress: called after each commit with the number of messages taken in so far.
            wait_seconds: how long to wait for another writer; :data:`LOCK_WAIT_SECONDS` when left out.

        Returns:
            The number of messages taken in.

        Raises:
            ArchiveBusy: another process is writing to the index.
            ArchiveDamaged: the folder belongs to somebody else.
            StorageFull: the disk is full or refuses to be written.
        """
        with self._lock(wait_seconds) as storage:
            try:
                return self._add_all(storage, self._last(), fetch, batch, progress)
            except Doubtful:
                return self._anew(storage, fetch, batch, progress)

    def rebuild(self, fetch: Fetch, batch: int = BATCH, progress: Callable[[int], None] | None = None) -> int:
        """Build the index anew from the records; arguments, result and errors as for :meth:`catch_up`."""
        with self._lock() as storage:
            return self._anew(storage, fetch, batch, progress)

    def _anew(self, storage: DurableStorage, fetch: Fetch, batch: int, progress: Callable[[int], None] | None) -> int:
        self._close()
        files.refuse_if_deleted(self.folder)
        try:
            files.sweep(self.folder, None)
            # The numbers of commits go on where a file of a former one could not be deleted.
            empty = Manifest(files.latest_generation(self.folder))
            if empty.generation >= 0:
                raise StorageFull(
                    f"The damaged index in {self.folder} cannot be deleted.", "Delete the folder by hand."
                )
            return self._add_all(storage, empty, fetch, batch, progress)
        except Doubtful as error:
            files.refuse_if_deleted(self.folder)
            raise self._damaged(error) from error

    def _last(self) -> Manifest:
        """Return the manifest of the last commit, an empty one where there is none."""
        view = self._same()
        return view.manifest if view else Manifest(-1)

    def _add_all(
        self,
        storage: DurableStorage,
        last: Manifest,
        fetch: Fetch,
        batch: int,
        progress: Callable[[int], None] | None,
    ) -> int:
        check_same_mark(last, fetch)
        files.sweep(self.folder, last if last.generation >= 0 else None)
        done = 0
        while entries := fetch(last.mark, batch):
            if max(entry.revision for entry in entries) <= last.mark:
                raise ArchiveDamaged(f"The records gave revision {last.mark} to the index a second time.")
            last = self._add(storage, last, entries)
            done += len(entries)
            if progress is not None:
                progress(done)
            if len(last.files) > MOST_SEGMENTS:
                last = self._merge(storage, last, done)
        # All is in: that there is no room to merge segments is no failure, only slower to ask.
        with suppress(StorageFull):
            self._merge(storage, last, done)
        return done

    def _add(self, storage: DurableStorage, last: Manifest, entries: Sequence[IndexEntry]) -> Manifest:
        """Commit one batch; return what the commit left."""
        # The newest form of each message, in the order of the messages.
        newest = {message_number(entry.message): entry for entry in sorted(entries, key=lambda e: e.revision)}
        with self._writing(storage, last) as writer:
            self._delete_former(writer, last, newest)
            writer.take_along(taken_along(writer.segments))
            for number in sorted(newest):
                writer.add_entry(number, newest[number])
            if self._records is not None:
                # Of after the entries were read: what it vouches for is never less than what is in the index.
                writer.testimony = self._records.testimony()
        return storage.committed()

    def _merge(self, storage: DurableStorage, last: Manifest, new: int) -> Manifest:
        """Merge what is to be merged after so many new messages; return what that left."""
        chosen = merged_after(opening.contents(self.folder, last).segments, new)
        if not chosen:
            return last
        with self._writing(storage, last) as writer:
            writer.take_along(chosen)
        return storage.committed()

    @contextmanager
    def _writing(self, storage: DurableStorage, last: Manifest) -> Iterator[BatchWriter]:
        """Give whoosh's writer; commit what was done with it, or nothing."""
        try:
            writer = BatchWriter(opening.Commit(storage, last), last)
        except OSError as error:
            raise _storage(self.folder, error) from error
        try:
            yield writer
            writer.commit(merge=False)
        except BaseException as error:
            _cancel(writer)
            self._sweep_after(last)
            if isinstance(error, CounterfoilError | Doubtful) or not isinstance(error, Exception):
                raise
            if isinstance(error, OSError) and error.errno in _NO_ROOM:
                raise _storage(self.folder, error) from error
            # Reading a damaged segment while merging may raise anything.
            raise Doubtful(f"adding stopped with {type(error).__name__}: {error}") from error
        self._checked.update(storage.committed().files)

    def _sweep_after(self, last: Manifest) -> None:
        """Delete what a commit that failed has left: where the disk is full, others need the room."""
        if files.latest_generation(self.folder) == last.generation:
            with suppress(Doubtful):
                files.sweep(self.folder, last if last.generation >= 0 else None)

    def _delete_former(self, writer: BatchWriter, last: Manifest, newest: dict[int, IndexEntry]) -> None:
        """Mark the former forms of messages as deleted; new messages, with numbers above all others, cost nothing."""
        doubtful = {n for n, entry in newest.items() if entry.again or n <= last.highest}
        if not doubtful or last.generation < 0:
            return
        view = self._open()
        known = {name: leaf for (name, _), leaf in view.leaves.items()} if view else {}
        for segment in writer.segments:
            for document, number in enumerate(known[segment.segment_id()].column("number")):
                if number in doubtful and not segment.is_deleted(document):
                    segment.delete_document(document)

    @contextmanager
    def _lock(self, wait_seconds: float | None = None) -> Iterator[DurableStorage]:
        files.prepare(self.folder)
        storage = DurableStorage(self.folder)
        lock = storage.lock(f"{opening.NAME}_WRITELOCK")
        wait = LOCK_WAIT_SECONDS if wait_seconds is None else wait_seconds
        try:
            if not try_for(lock.acquire, timeout=wait, delay=0.05):
                raise LockError
        except LockError as error:
            raise ArchiveBusy(f"Another run is writing to the index in {self.folder}.") from error
        except OSError as error:
            raise _storage(self.folder, error) from error
        try:
            yield storage
        finally:
            lock.release()

    # --- how it is opened ------------------------------------------------------------------------

    def _same(self) -> View | None:
        """Return the last commit, opened, once it was found to be of these records; None where there is none.

        Raises:
            Doubtful: its files are not what it left, or it is of other records.
        """
        view = self._open()
        if view is not None and self._records is not None and view is not self._vouched:
            check_same_records(view.manifest, self._records)
            self._vouched = view
        return view

    def _open(self) -> View | None:
        """Return the last commit, opened; None where there is none.

        Raises:
            Doubtful: its files are not what it left.
        """
        changed = files.changed_ns(self.folder)
        if self._view is not None and changed == self._quiet:
            return self._view
        # While the folder may change again without its time of change showing it, the names in it are looked at.
        self._quiet = changed if time.time_ns() - changed > QUIET_NS else None
        for attempt in range(OPEN_TRIES):
            generation = files.latest_generation(self.folder)
            if self._view is not None and self._view.manifest.generation == generation:
                return self._view
            if generation < 0:
                self._close()
                return None
            try:
                self._view = opening.load(self.folder, generation, self._view, self._checked)
                self._checked = dict(self._view.manifest.files)
            except Doubtful:
                if attempt == OPEN_TRIES - 1 or files.latest_generation(self.folder) == generation:
                    self._close()
                    raise
                time.sleep(OPEN_WAIT_SECONDS)
        return self._view

    def _close(self) -> None:
        """Close what is open."""
        view, self._view, self._vouched, self._checked = self._view, None, None, {}
        for leaf in view.leaves.values() if view else ():
            leaf.reader.close()

    def _damaged(self, error: Exception) -> ArchiveDamaged:
        return ArchiveDamaged(
            f"The full-text index in {self.folder} is damaged ({error}).",
            "Nothing is lost: delete the folder, the next `counterfoil ingest` builds it anew from the records.",
        )


def _cancel(writer: BatchWriter) -> None:
    try:
        if not writer.is_closed:
            writer.cancel()
    except Exception:  # noqa: BLE001, S110 - on the way out with another error; the next sweep deletes what is left
        pass


def _storage(folder: Path, error: OSError) -> StorageFull:
    return StorageFull(f"The index in {folder} cannot be written: {error.strerror or error}.")
