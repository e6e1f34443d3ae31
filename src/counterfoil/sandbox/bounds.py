"""Bounds that a reading process sets itself, where the operating system has them."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from counterfoil.settings import Limits

#: Above the soft limit, so that the signal that names the cause comes first.
_GRACE_SECONDS = 1

if sys.platform == "win32":

    def bind(limits: Limits) -> None:
        """Set the bounds that hold for the life of the process. Windows: none; the run watches the clock."""

    def renew(limits: Limits) -> None:
        """Allow the process another task's worth of processor time."""

    @contextmanager
    def room(limits: Limits) -> Iterator[None]:
        """Give the memory and the processor time that reading one picture takes."""
        yield

else:
    import resource

    def bind(limits: Limits) -> None:
        """Set the bounds that hold for the life of the process: memory, no written files, no core dump."""
        if sys.platform == "linux":
            # macOS takes the call and does not keep to it.
            most = _lower(resource.RLIMIT_AS, max(limits.reader_bytes, limits.picture_memory_bytes))
            resource.setrlimit(resource.RLIMIT_AS, (min(limits.reader_bytes, most), most))
        _lower(resource.RLIMIT_FSIZE, 0)
        _lower(resource.RLIMIT_CORE, 0)

    def renew(limits: Limits) -> None:
        """Allow the process another task's worth of processor time."""
        _allow(limits.reader_cpu_seconds)

    @contextmanager
    def room(limits: Limits) -> Iterator[None]:
        """Give the memory and the processor time that reading one picture takes.

        What the models take stays taken: afterwards the process has that much more than the usual bound.
        """
        _allow(limits.reader_cpu_seconds + limits.picture_cpu_seconds)
        if sys.platform != "linux":
            yield
            return
        hard = resource.getrlimit(resource.RLIMIT_AS)[1]
        resource.setrlimit(resource.RLIMIT_AS, (hard, hard))
        try:
            yield
        finally:
            usual = limits.reader_bytes + _taken_bytes()
            resource.setrlimit(resource.RLIMIT_AS, (min(usual, hard), hard))

    def _taken_bytes() -> int:
        """Return the address space of the process (proc(5), statm: the first number, in pages)."""
        with Path("/proc/self/statm").open(encoding="ascii") as file:
            return int(file.read().split()[0]) * resource.getpagesize()

    def _allow(seconds: int) -> None:
        """Allow processor time from now on."""
        used = resource.getrusage(resource.RUSAGE_SELF)
        most = int(used.ru_utime + used.ru_stime) + 1 + seconds
        hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
        if hard == resource.RLIM_INFINITY or hard > most:
            resource.setrlimit(resource.RLIMIT_CPU, (most, hard))

    def _lower(what: int, most: int) -> int:
        """Lower a bound; one that is lower already stays. Returns the bound."""
        hard = resource.getrlimit(what)[1]
        value = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(what, (value, value))
        return value
