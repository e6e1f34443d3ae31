"""One key at a time, without Enter: the same small class on POSIX (termios) and Windows (msvcrt)."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from counterfoil.errors import UsageProblem

#: Read where the input has ended, as when a terminal is closed.
END = ""
#: Read for a key that is no character: arrows, function keys, Escape.
OTHER = "\x1b"
#: How long the rest of an arrow key's characters may take to arrive over a slow line.
_REST_SECONDS = 0.05
_CTRL_C, _CTRL_D, _CTRL_Z = "\x03", "\x04", "\x1a"


@dataclass(frozen=True, slots=True)
class Keys:
    """What is pressed on a terminal.

    ``read`` waits for one key: the character (Enter as ``\\n``), :data:`OTHER` or :data:`END`. ``discard`` forgets what
    was pressed so far: a key pressed twice must not answer a question that was not yet on the screen.
    """

    read: Callable[[], str]
    discard: Callable[[], None]


def need_terminal(instead: str) -> None:
    """Refuse to ask where nobody can answer.

    Args:
        instead: the next step: which option or command would have answered.

    Raises:
        UsageProblem: standard input or output is not a terminal.
    """
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise UsageProblem("This asks, and there is no terminal to answer on.", instead)


@contextmanager
def keys() -> Iterator[Keys]:
    """Hand out the keys pressed; afterwards the terminal is as it was, whatever happens.

    Reading raises KeyboardInterrupt when Ctrl-C is pressed.
    """
    if sys.platform == "win32":
        import msvcrt

        yield windows_keys(msvcrt.getwch, msvcrt.kbhit)
    else:
        import termios
        import tty

        stream = sys.stdin.fileno()
        before = termios.tcgetattr(stream)
        tty.setcbreak(stream)
        try:
            yield Keys(lambda: _posix_key(stream), lambda: termios.tcflush(stream, termios.TCIFLUSH))
        finally:
            termios.tcsetattr(stream, termios.TCSADRAIN, before)


def windows_keys(getwch: Callable[[], str], kbhit: Callable[[], bool]) -> Keys:
    """Return the keys of a Windows console.

    Args:
        getwch: msvcrt's function of that name: reads one character, unseen; a special key comes as two.
        kbhit: msvcrt's: tells whether one waits.
    """

    def read() -> str:
        key = getwch()
        if key in ("\x00", "\xe0"):
            getwch()
            return OTHER
        if key == _CTRL_C:
            raise KeyboardInterrupt
        return END if key in (_CTRL_D, _CTRL_Z) else "\n" if key == "\r" else key

    def discard() -> None:
        while kbhit():
            read()

    return Keys(read, discard)


def _posix_key(stream: int) -> str:
    import select

    data = os.read(stream, 1)
    if data == OTHER.encode():
        while select.select([stream], [], [], _REST_SECONDS)[0] and os.read(stream, 1):
            pass
        return OTHER
    # The first byte of a character of UTF-8 says how many follow (RFC 3629, section 3).
    for _ in range(sum(data[:1] >= first for first in (b"\xc0", b"\xe0", b"\xf0"))):
        data += os.read(stream, 1)
    key = data.decode("utf-8", "replace")
    return END if key in ("", _CTRL_D) else "\n" if key == "\r" else key
