"""Reads messages: small plain ones here, all others in processes of their own.

A process that ends over a message is replaced, and the message is tried again in parts: without its files, then each
file by itself. What ends its reader again is left out and becomes a question; the rest is read and filed.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from counterfoil.documents.envelope import read_envelope
from counterfoil.documents.message import read_message
from counterfoil.documents.opening import FilesInside, Opening
from counterfoil.model import Document, Fact, Message, PagePicture, Problem, Reading
from counterfoil.patterns import Patterns
from counterfoil.sandbox.locks import CustomerPasswords
from counterfoil.sandbox.pool import Pool, ReaderEnded, Worker
from counterfoil.sandbox.wire import FrameBroken, Json, fact_json, message_of
from counterfoil.settings import Limits, Settings

if TYPE_CHECKING:
    from counterfoil.sandbox.drawing import Drawing

#: A message up to this size, bytes, that has no files is read in this process while no other is at work ...
LIGHT_BYTES = 64_000
#: ... as long as no more than these come at once: above, starting processes pays.
LIGHT_MESSAGES = 32

Read = tuple[Message, Reading]
#: A message that could not be read at all: a person has to look at it.
UNREAD = Reading(facts=(), chosen={}, confirmation=1.0, signs=("it could not be read at all",))


@dataclass(frozen=True, slots=True)
class Task:
    """A message to be read: its hash and bytes.

    ``whole``: its documents keep their lines and codes; ``boxes``: and the boxes of their characters. ``customers``:
    ids of customers it is known to concern, whose passwords are tried on its PDFs.
    """

    sha256: str
    data: bytes
    whole: bool = False
    boxes: bool = False
    customers: tuple[str, ...] = ()


class Reader:
    """Reads messages with one archive's patterns.

    Args:
        settings: the shop's.
        folder: the folder with the shop's maker files.
        patterns: hands out the patterns for reading in this process; asked only when that happens.
        passwords: where passwords of customers' PDFs stand.
    """

    def __init__(
        self,
        settings: Settings,
        folder: Path,
        patterns: Callable[[], Patterns],
        passwords: CustomerPasswords | None = None,
    ) -> None:
        self._settings, self._folder, self._patterns, self._passwords = settings, folder, patterns, passwords
        self._pool: Pool | None = None
        self._ahead: dict[str, Future[Read]] = {}

    def ahead(self, tasks: Sequence[Task]) -> None:
        """Begin to read messages that will be asked for soon; whoever asks for them waits for the rest only.

        Args:
            tasks: the messages, none of them to be whole.

        Raises:
            PatternFaulty: a maker file is wrong.
        """
        pool = self._started()
        for task in tasks:
            if task.sha256 not in self._ahead:
                self._ahead[task.sha256] = pool.submit(self._read_apart, task)

    def forget(self) -> None:
        """Give up what was begun ahead and not asked for."""
        for future in self._ahead.values():
            future.cancel()
        self._ahead.clear()

    def read(self, tasks: Sequence[Task], *, apart: bool = False) -> Iterator[Read]:
        """Read messages; yields each message and its reading, in order. Reading never fails: what is unread says so.

        Args:
            tasks: the messages.
            apart: read even small plain ones in processes of their own, because one of them may have ended a run.

        Raises:
            ReadingImpossible: no reading process can be started.
            PatternFaulty: a maker file is wrong.
        """
        done = 0
        if self._pool is None and not apart and len(tasks) <= LIGHT_MESSAGES:
            for task in tasks:
                light = self._read_light(task)
                if light is None:
                    break
                done += 1
                yield light
        if done < len(tasks):
            pool = self._started()
            waiting = [self._begun(task) or pool.submit(self._read_apart, task) for task in tasks[done:]]
            try:
                for future in waiting:
                    yield future.result()
            finally:
                for future in waiting:
                    future.cancel()

    def _begun(self, task: Task) -> Future[Read] | None:
        return None if task.whole else self._ahead.pop(task.sha256, None)

    def draw(self, data: bytes, drawing: Drawing, customers: tuple[str, ...] = ()) -> PagePicture | None:
        """Draw a page of a PDF, in a process of its own.

        Args:
            data: the message it came with.
            drawing: which page, and how.
            customers: ids of customers it is known to concern, see :class:`Task`.

        Returns:
            The picture; None where there is no such page, it cannot be drawn, or drawing it ended the process.

        Raises:
            ReadingImpossible: no reading process can be started.
        """
        return self._started().submit(lambda worker, asked: _drawn(worker, data, asked, customers), drawing).result()

    def crops(self, data: bytes, facts: Sequence[Fact], customers: tuple[str, ...] = ()) -> list[bytes | None]:
        """Cut out where values were read by eye in a process of its own; see :mod:`counterfoil.documents.crops`.

        Args:
            data: the message.
            facts: values with their places.
            customers: ids of customers it is known to concern, see :class:`Task`.

        Returns:
            A picture (PNG) for each value; None where there is none, for all where drawing them ended the process.

        Raises:
            ReadingImpossible: no reading process can be started.
        """
        asked: Json = {"crop": [fact_json(fact) for fact in facts], "customers": customers}
        return self._started().submit(lambda worker, wanted: _cropped(worker, data, wanted), asked).result()

    def _started(self) -> Pool:
        if self._pool is None:
            # Faulty maker files are found here, where that can be said.
            self._patterns()
            self._pool = Pool(self._settings, self._folder, self._passwords)
        return self._pool

    def close(self) -> None:
        """End the reading processes."""
        self.forget()
        if self._pool is not None:
            self._pool.close()
            self._pool = None

    def _read_light(self, task: Task) -> Read | None:
        """Read a small message without files here; None for one that needs a process of its own."""
        if len(task.data) > LIGHT_BYTES:
            return None
        try:
            message = read_message(task.data, self._settings.limits, sha256=task.sha256, opening=Opening(stop=True))
        except FilesInside:
            return None
        try:
            return message, self._patterns().read(message, self._settings)
        except Exception as error:  # noqa: BLE001 - one message that no reader foresaw must not stop the batch or be lost
            return self._unread(task, f"Reading stopped with {type(error).__name__}.")

    # --- in a process of its own ----------------------------------------------------------------------

    def _read_apart(self, worker: Worker, task: Task) -> Read:
        try:
            return self._ask(worker, task, None, "")
        except ReaderEnded as error:
            return self._in_parts(worker, task, error)

    def _in_parts(self, worker: Worker, task: Task, first: ReaderEnded) -> Read:
        """Read a message that ended its reader: find which of its files do so, and leave them out."""
        deadline = time.monotonic() + self._settings.limits.message_seconds
        reason = f"Opening it {first}; it was left out."
        try:
            bare = self._ask(worker, task, (), reason)
        except ReaderEnded as error:
            return self._unread(task, f"Reading it {error}.")
        good: list[int] = []
        for number in range(sum(d.reason == reason for d in bare[0].documents)):
            if time.monotonic() > deadline:
                break
            try:
                self._ask(worker, task, (number,), reason)
            except ReaderEnded:
                continue
            good.append(number)
        try:
            return self._ask(worker, task, tuple(good), reason) if good else bare
        except ReaderEnded:
            # Each by itself, but not all together.
            return bare

    def _ask(self, worker: Worker, task: Task, files: tuple[int, ...] | None, left_out: str) -> Read:
        wanted: Json = {"sha256": task.sha256, "open": files, "left_out": left_out, "whole": task.whole}
        wanted["boxes"], wanted["customers"] = task.boxes, task.customers
        answer = worker.ask(wanted, task.data)
        if "failed" in answer:
            return self._unread(task, f"Reading stopped with {answer['failed']}.")
        try:
            return message_of(answer)
        except FrameBroken as error:
            worker.stop()
            raise ReaderEnded("made its reader answer nonsense") from error

    def _unread(self, task: Task, reason: str) -> Read:
        return unread(task, reason, self._settings.limits), UNREAD


def _drawn(worker: Worker, data: bytes, drawing: Drawing, customers: tuple[str, ...]) -> PagePicture | None:
    from counterfoil.sandbox.drawing import drawing_json, picture_of

    try:
        answer = worker.ask({"draw": drawing_json(drawing), "customers": customers}, data).get("drawn")
        return None if answer is None else picture_of(answer)
    except ReaderEnded:
        return None
    except FrameBroken:
        worker.stop()
        return None


def _cropped(worker: Worker, data: bytes, asked: Json) -> list[bytes | None]:
    from counterfoil.sandbox.drawing import crops_of

    count = len(asked["crop"])
    try:
        return crops_of(worker.ask(asked, data).get("crops"), count)
    except ReaderEnded:
        return [None] * count
    except FrameBroken:
        worker.stop()
        return [None] * count


def unread(task: Task, reason: str, limits: Limits) -> Message:
    """Return a message of which only the bytes and its first header section are known.

    Args:
        task: the message.
        reason: why it is unread, a sentence.
        limits: how much of a header is read.
    """
    layers, defects = read_envelope(task.data, limits)
    size = len(task.data)
    whole = Document("body", 0, "", (), problem=Problem.DAMAGED, reason=reason, size=size)
    return Message(task.sha256, size, layers, (whole,), (*defects, reason))
