"""Reading processes: started when needed, watched by the clock, replaced when they end."""

from __future__ import annotations

import contextlib
import os
import threading
import time
import weakref
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from types import TracebackType
from typing import Self, TypeVar

from counterfoil.errors import ReadingImpossible
from counterfoil.sandbox.locks import CustomerPasswords, passwords_json
from counterfoil.sandbox.processes import Process, borrow, end, give_back
from counterfoil.sandbox.wire import FrameBroken, Json, read_frame, settings_json, write_frame
from counterfoil.settings import Limits, Settings

T = TypeVar("T")
R = TypeVar("R")
#: How often the clock is looked at, seconds.
_TICK = 0.05
#: Starting takes a third of a second on a fast machine; on a slow and busy one it may take many times as long.
_START_SECONDS = 60.0
#: A process may be ended by others, for want of memory in the machine, while it starts.
_START_TRIES = 3
#: An answer that says no more than that a process is ready, in bytes.
_READY_BYTES = 1_000


class ReaderEnded(Exception):
    """A reading process ended, or was ended, in the middle of a task. Its text goes on with "Opening it"."""


@dataclass(slots=True)
class _Held:
    """The process of a worker, and whether it is in the middle of a task."""

    limits: Limits
    process: Process | None = None
    busy: bool = False

    def let_go(self) -> None:
        """Give an idle process back, end one that is at work."""
        process, self.process = self.process, None
        if process is not None and self.busy:
            end(process)
        elif process is not None:
            give_back(process, self.limits)


class Worker:
    """One reading process. Used by one thread at a time.

    Args:
        settings: the shop's.
        patterns: the folder with the shop's maker files.
        watch: ends it when its time is up.
        passwords: where passwords of customers stand.
    """

    def __init__(
        self, settings: Settings, patterns: Path, watch: Watch, passwords: CustomerPasswords | None = None
    ) -> None:
        self._settings, self._patterns, self._watch, self._passwords = settings, patterns, watch, passwords
        self._held = _Held(settings.limits)
        # An archive that is never closed must not keep its processes.
        self.close = weakref.finalize(self, self._held.let_go)
        """End the process, or give it back where it is idle."""

    def ask(self, task: Json, data: bytes) -> Json:
        """Have a task done; a process that ended before is replaced first.

        Raises:
            ReaderEnded: it took too long, too much memory, or crashed.
            ReadingImpossible: no process can be started.
        """
        if not self.close.alive:
            raise ReaderEnded("was stopped")
        if self._held.process is None:
            self._start()
        limits = self._settings.limits
        answer = self._exchange(task, data, limits.reader_seconds, limits.reader_answer_bytes)
        if answer.get("failed") == "memory":
            self.stop()
            raise ReaderEnded("takes more memory than is given to it")
        return answer

    def _exchange(self, task: Json, data: bytes, seconds: float, most: int) -> Json:
        """Send a frame and wait for its answer; a process that gives none is ended."""
        held, frame = self._held, None
        process = held.process
        assert process is not None and process.stdin is not None and process.stdout is not None
        held.busy, how = True, "ended the reader"
        with self._watch.over(process, seconds) as clock:
            try:
                write_frame(process.stdin, task, data)
                frame = read_frame(process.stdout, most)
                for _ in range(self._settings.limits.pictures):
                    if frame is None or "picture" not in frame[0]:
                        break
                    clock.more(self._settings.limits.picture_seconds)
                    frame = read_frame(process.stdout, most)
            except FrameBroken:
                how = "gives more than can be taken"
            except OSError:
                pass
            except BaseException:
                # Its answer would be taken for that of the next task.
                self.stop()
                raise
        if frame is None:
            self.stop()
            raise ReaderEnded(f"took more than {clock.seconds:g} s" if clock.is_up else how)
        held.busy = False
        return frame[0]

    def _start(self) -> None:
        start: Json = {"settings": settings_json(self._settings), "patterns": str(self._patterns)}
        start["passwords"] = passwords_json(self._passwords)
        for left in reversed(range(_START_TRIES)):
            self._held.process = process = borrow(self._settings.limits)
            try:
                self._exchange(start, b"", _START_SECONDS, _READY_BYTES)
                return
            except ReaderEnded as error:
                code = process.returncode
                if not left:
                    what = f"A reading process ended while it started (exit code {code})."
                    raise ReadingImpossible(what) from error

    def stop(self) -> None:
        """End the process; the next task starts another."""
        process, self._held.process = self._held.process, None
        self._held.busy = False
        if process is not None:
            end(process)


class Clock:
    """The time that one task may take."""

    __slots__ = ("deadline", "is_up", "process", "seconds")

    def __init__(self, process: Process, seconds: float) -> None:
        self.process, self.seconds = process, seconds
        self.deadline = time.monotonic() + seconds
        self.is_up = False

    def more(self, seconds: float) -> None:
        """Give the task more time."""
        self.seconds += seconds
        self.deadline += seconds


class Watch:
    """One thread that ends the processes whose time is up."""

    def __init__(self) -> None:
        self._clocks: set[Clock] = set()
        self._change = threading.Condition()
        self._thread: threading.Thread | None = None

    @contextlib.contextmanager
    def over(self, process: Process, seconds: float) -> Iterator[Clock]:
        """Watch a process while it does a task."""
        clock = Clock(process, seconds)
        with self._change:
            self._clocks.add(clock)
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="reading clock", daemon=True)
                self._thread.start()
            elif len(self._clocks) == 1:
                self._change.notify()
        try:
            yield clock
        finally:
            with self._change:
                self._clocks.discard(clock)

    def _run(self) -> None:
        while True:
            with self._change:
                while not self._clocks:
                    self._change.wait()
                now = time.monotonic()
                for clock in self._clocks:
                    if clock.deadline < now and not clock.is_up:
                        clock.is_up = True
                        clock.process.kill()
            time.sleep(_TICK)


class Pool:
    """Some reading processes.

    Args:
        settings: the shop's; :attr:`Settings.readers` says how many.
        patterns: the folder with the shop's maker files.
        passwords: where passwords of customers stand.
    """

    def __init__(self, settings: Settings, patterns: Path, passwords: CustomerPasswords | None = None) -> None:
        self.size = settings.readers or os.cpu_count() or 1
        watch = Watch()
        self._workers = [Worker(settings, patterns, watch, passwords) for _ in range(self.size)]
        self._idle: SimpleQueue[Worker] = SimpleQueue()
        for worker in self._workers:
            self._idle.put(worker)
        self._threads = ThreadPoolExecutor(self.size, thread_name_prefix="reading")

    def submit(self, do: Callable[[Worker, T], R], item: T) -> Future[R]:
        """Do something with an item in the first process that is free; items are begun in the order they came."""
        return self._threads.submit(self._with_worker, do, item)

    def _with_worker(self, do: Callable[[Worker, T], R], item: T) -> R:
        worker = self._idle.get()
        try:
            return do(worker, item)
        finally:
            self._idle.put(worker)

    def close(self) -> None:
        """End all processes."""
        self._threads.shutdown(wait=False, cancel_futures=True)
        for worker in self._workers:
            worker.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
