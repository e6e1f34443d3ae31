"""A command on a real pseudo terminal: what it prints is waited for, keys are pressed, all of it is kept."""

from __future__ import annotations

import contextlib
import os
import select
import subprocess
import sys
import time
from collections.abc import Iterator

from cli_world import PATIENCE_SECONDS, own_environment

#: Makes the terminal on standard input the controlling one, as in a window, so that Ctrl-C is a signal.
_LAUNCH = (
    "import fcntl,os,signal,sys,termios\nfcntl.ioctl(0, termios.TIOCSCTTY, 0)\n"
    # A suite started in the background hands on that it ignores these.
    "for name in ('SIGINT', 'SIGHUP'): signal.signal(getattr(signal, name), signal.SIG_DFL)\n"
    "os.execv(sys.executable, [sys.executable, '-m', 'counterfoil', *sys.argv[1:]])\n"
)


class Terminal:
    """A running command and the terminal it runs on."""

    def __init__(self, process: subprocess.Popen[bytes], master: int) -> None:
        self.process, self.master = process, master
        self.text = ""
        self.pressed = 0
        self._seen = 0

    def wait_for(self, *words: str) -> str:
        """Wait until one of the words was printed after the last wait; return what was printed up to it."""
        end = time.monotonic() + PATIENCE_SECONDS
        while time.monotonic() < end:
            fresh = self.text[self._seen :]
            found = [fresh.index(word) + len(word) for word in words if word in fresh]
            if found:
                self._seen += min(found)
                return fresh[: min(found)]
            if not self._more():
                break
        raise AssertionError(f"{words} was not printed: {self.text[-2000:]}")

    def press(self, key: str) -> None:
        """Press one key."""
        self.pressed += 1
        os.write(self.master, key.encode())

    def stop(self, key: str) -> int:
        """Press Ctrl-C or Ctrl-D until the command leaves, as people do; return the exit code.

        Once is not always enough: a signal that comes in the instant between the prompt and the reading of its answer
        is noted by Python and does not wake the reading.
        """
        for _ in range(int(PATIENCE_SECONDS)):
            self.press(key)
            end = time.monotonic() + 1.0
            while time.monotonic() < end:
                if self.process.poll() is not None:
                    return self.process.returncode
                if select.select([self.master], [], [], 0.05)[0] and not self._more():
                    return self.process.wait(PATIENCE_SECONDS)
        raise AssertionError(f"{key!r} did not stop it: {self.text[-2000:]}")

    def close(self) -> None:
        """Close the window."""
        os.close(self.master)
        self.master = -1

    def leave(self) -> int:
        """Wait for the end; return the exit code."""
        while self._more():
            pass
        return self.process.wait(PATIENCE_SECONDS)

    def _more(self) -> bool:
        """Read what was printed meanwhile; False once the command has left the terminal."""
        if not select.select([self.master], [], [], PATIENCE_SECONDS)[0]:
            return False
        try:
            data = os.read(self.master, 65536)
        except OSError:
            return False
        self.text += data.decode("utf-8", "replace").replace("\r\n", "\n")
        return bool(data)


@contextlib.contextmanager
def terminal(*words: str, **environment: str) -> Iterator[Terminal]:
    """Run a command on a terminal of 80 columns without colours."""
    import pty

    master, slave = pty.openpty()
    env = own_environment(TERM="dumb", COLUMNS="80", **environment)
    process = subprocess.Popen(
        [sys.executable, "-c", _LAUNCH, *words],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        env=env,
        start_new_session=True,
    )
    os.close(slave)
    window = Terminal(process, master)
    try:
        yield window
    finally:
        process.kill()
        process.wait()
        if window.master >= 0:
            os.close(master)
