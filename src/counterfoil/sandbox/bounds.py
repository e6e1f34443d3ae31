"""Bounds that a reading process sets itself, where the operating system has them."""

from __future__ import annotations

import sys

from counterfoil.settings import Limits

#: Above the soft limit, so that the signal that names the cause comes first.
_GRACE_SECONDS = 1

if sys.platform == "win32":

    def bind(limits: Limits) -> None:
        """Set the bounds that hold for the life of the process. Windows: none; the run watches the clock."""

    def renew(limits: Limits) -> None:
        """Allow the process another task's worth of processor time."""

else:
    import resource

    def bind(limits: Limits) -> None:
        """Set the bounds that hold for the life of the process: memory, no written files, no core dump."""
        if sys.platform == "linux":
            # macOS takes the call and does not keep to it.
            _lower(resource.RLIMIT_AS, limits.reader_bytes)
        _lower(resource.RLIMIT_FSIZE, 0)
        _lower(resource.RLIMIT_CORE, 0)

    def renew(limits: Limits) -> None:
        """Allow the process another task's worth of processor time."""
        used = resource.getrusage(resource.RUSAGE_SELF)
        most = int(used.ru_utime + used.ru_stime) + 1 + limits.reader_cpu_seconds
        hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
        if hard == resource.RLIM_INFINITY or hard > most:
            resource.setrlimit(resource.RLIMIT_CPU, (most, hard))

    def _lower(what: int, most: int) -> None:
        """Lower a bound; one that is lower already stays."""
        hard = resource.getrlimit(what)[1]
        value = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(what, (value, value))
