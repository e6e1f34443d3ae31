"""One key at a time, without Enter: the same small class on POSIX (termios) and Windows (msvcrt)."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass

from counterfoil.errors import UsageProblem

#: Read where the input has ended, as when a terminal is closed.
END = ""
#: Read for a key that is no character: arrows, function keys, Escape.
OTHER = "\x1b"
#: How long the rest of a key's bytes may take to arrive over a slow line: the A of an arrow key must answer nothing.
_REST_SECONDS = 1.0
_CTRL_C, _CTRL_D, _CTRL_Z = "\x03", "\x04", "\x1a"


@dataclass(frozen=True, slots=True)
class Keys:
    """What is pressed on a terminal.

    ``read`` waits for one key: the character (Enter as ``\\n``), :data:`OTHER` or :data:`END`. ``discard`` forgets what
    was pressed so far: a key pressed twice must not answer a question that was not yet on the screen.
    """

    read: Callable[[], str]
    discard: Callable[[], None]


def on_terminal() -> bool:
    """Tell whether somebody can be asked: standard input and output are a terminal."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def need_terminal(instead: str) -> None:
    """Refuse to ask where nobody can answer.

    Args:
        instead: the next step: which option or command would have answered.

    Raises:
        UsageProblem: standard input or output is not a terminal.
    """
    if not on_terminal():
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
        with _posix_keys(sys.stdin.fileno()) as pressed:
            yield pressed


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


if sys.platform != "win32":

    @contextmanager
    def _posix_keys(stream: int) -> Iterator[Keys]:
        """Hand out the keys of a terminal set to give them one by one; whatever ends the run, it is set back."""
        import signal
        import termios
        import tty

        def discard() -> None:
            with suppress(termios.error):
                # First what is on its way to the screen: what was pressed before it stood there does not answer it.
                termios.tcdrain(stream)
                termios.tcflush(stream, termios.TCIFLUSH)

        def stop(*_: object) -> None:
            raise KeyboardInterrupt

        def single(*_: object) -> None:
            with suppress(termios.error):
                tty.setcbreak(stream)

        before = termios.tcgetattr(stream)
        # Told to end, or stopped with Ctrl-Z and brought back, when the shell has set the terminal to its own ways.
        signals = {
            signal.SIGTERM: signal.signal(signal.SIGTERM, stop),
            signal.SIGCONT: signal.signal(signal.SIGCONT, single),
        }
        single()
        try:
            yield Keys(lambda: _posix_key(stream), discard)
        finally:
            for number, handler in signals.items():
                signal.signal(number, handler)
            with suppress(termios.error):
                termios.tcsetattr(stream, termios.TCSADRAIN, before)


def _posix_key(stream: int) -> str:
    """Wait for one key of a terminal."""
    try:
        first = os.read(stream, 1)
    except OSError:
        # The window is gone.
        return END
    if first == OTHER.encode():
        _rest_of_special_key(stream)
        return OTHER
    data = first
    # The first byte of a character of UTF-8 says how many follow (RFC 3629, section 3).
    for _ in range(sum(first >= lead for lead in (b"\xc0", b"\xe0", b"\xf0"))):
        data += _next_byte(stream)
    key = data.decode("utf-8", "replace")
    return END if key in ("", _CTRL_D) else "\n" if key == "\r" else key


def _rest_of_special_key(stream: int) -> None:
    """Read what follows Escape: nothing, one character, or a control sequence up to its final byte (ECMA-48, 5.4)."""
    second = _next_byte(stream)
    if second == b"O":
        _next_byte(stream)
    elif second == b"[":
        while (byte := _next_byte(stream)) and not b"@" <= byte <= b"~":
            pass


def _next_byte(stream: int) -> bytes:
    """Return one more byte of the same key, nothing where none comes in time."""
    import select

    return os.read(stream, 1) if select.select([stream], [], [], _REST_SECONDS)[0] else b""
