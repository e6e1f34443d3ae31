"""Reading processes as such: started, kept for the next archive, ended. Nothing here knows what they do."""

from __future__ import annotations

import atexit
import contextlib
import os
import subprocess
import sys
import threading
from pathlib import Path

import counterfoil
from counterfoil.errors import ReadingImpossible
from counterfoil.settings import Limits

Process = subprocess.Popen[bytes]
_CODE = "import sys; sys.path.insert(0, sys.argv[1]); from counterfoil.sandbox.worker import main; main()"
#: Idle processes by the limits they are bound by: starting one takes a third of a second, handing one on does not.
_stock: dict[Limits, list[Process]] = {}
_lock = threading.Lock()


def borrow(limits: Limits) -> Process:
    """Return an idle process that is bound by these limits, or a new one.

    Raises:
        ReadingImpossible: none can be started.
    """
    with _lock:
        waiting = _stock.get(limits, [])
        while waiting:
            process = waiting.pop()
            if process.poll() is None:
                return process
            end(process)
    try:
        return subprocess.Popen(
            [sys.executable, "-P", "-c", _CODE, str(Path(counterfoil.__file__).parent.parent)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            # CREATE_NO_WINDOW: no black window for each of them.
            creationflags=0x08000000 if sys.platform == "win32" else 0,
        )
    except OSError as error:
        raise ReadingImpossible(f"No reading process can be started: {error.strerror or error}.") from error


def give_back(process: Process, limits: Limits) -> None:
    """Take back an idle process; as many are kept as the machine has cores."""
    with _lock:
        waiting = _stock.setdefault(limits, [])
        if process.poll() is None and sum(map(len, _stock.values())) < (os.cpu_count() or 1):
            waiting.append(process)
            return
    end(process)


def end(process: Process) -> None:
    """End a process at once, and wait until it is gone. It keeps nothing, so nothing is lost."""
    process.kill()
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            with contextlib.suppress(OSError):
                pipe.close()
    process.wait()


@atexit.register
def _end_all() -> None:
    with _lock:
        for waiting in _stock.values():
            while waiting:
                end(waiting.pop())
