"""A reading process: takes messages from its standard input, reads them, and answers; writes no file, keeps nothing.

It is started anew, not forked, so it works the same on all platforms and shares no memory with the run.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import IO, TYPE_CHECKING

from counterfoil.sandbox import bounds
from counterfoil.sandbox.locks import Locks
from counterfoil.sandbox.wire import Json, fact_of, message_json, read_frame, settings_of, write_frame
from counterfoil.settings import Settings

if TYPE_CHECKING:
    from counterfoil.patterns import Patterns

#: A frame of the run is its own; it is bounded by the limits on messages there.
_MOST = 1 << 32
#: Room that is let go when memory runs out, so that there is enough left to say so.
_SPARE_BYTES = 1_000_000


def main() -> None:
    """Answer until the standard input ends."""
    # Ctrl-C is for the run: it ends its readers by closing their input.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    incoming = sys.stdin.buffer
    # What a library prints must not get between the frames.
    outgoing = os.fdopen(os.dup(1), "wb")
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.close(quiet)
    serve(incoming, outgoing)


def serve(incoming: IO[bytes], outgoing: IO[bytes]) -> None:
    """Answer tasks.

    Args:
        incoming: frames: first the settings, the folder with the shop's maker files and where customers' passwords
            stand, then tasks; the first may come again, for another archive.
        outgoing: where the answers go.
    """
    from counterfoil.patterns import Patterns

    settings, patterns = Settings(), Patterns.load(None)
    locks = Locks()
    bound = False
    spare = bytearray(_SPARE_BYTES)
    while (frame := read_frame(incoming, _MOST)) is not None:
        task, data = frame
        if "settings" in task:
            settings = settings_of(task["settings"])
            patterns = Patterns.load(Path(task["patterns"]))
            locks = Locks.load(settings, task["passwords"])
            if not bound:
                bounds.bind(settings.limits)
                bound = True
            write_frame(outgoing, {"ready": True})
            continue
        bounds.renew(settings.limits)
        try:
            if "draw" in task:
                answer = _draw(task, data, settings, locks)
            elif "crop" in task:
                answer = _crop(task, data, settings, locks, outgoing)
            else:
                answer = _read(task, data, settings, patterns, locks, outgoing)
        except MemoryError:
            del spare
            write_frame(outgoing, {"failed": "memory"})
            # What is left of it in memory is of no use to the next message.
            return
        except Exception as error:  # noqa: BLE001 - named to the run, which puts the message to a person
            answer = {"failed": type(error).__name__}
        write_frame(outgoing, answer)


def _passwords(task: Json, data: bytes, settings: Settings, locks: Locks) -> tuple[str, ...]:
    """Return what locked PDFs of a message are tried with; whom it concerns is told without opening its files."""
    if not locks.own:
        return locks.shop
    from counterfoil.documents.message import read_message
    from counterfoil.documents.opening import Opening

    shut = Opening(frozenset(), strict=True, pictures=False)
    return locks.of(read_message(data, settings.limits, opening=shut), task["customers"])


def _read(
    task: Json,
    data: bytes,
    settings: Settings,
    patterns: Patterns,
    locks: Locks,
    outgoing: IO[bytes],
) -> Json:
    from counterfoil.documents.message import read_message
    from counterfoil.documents.opening import Opening

    chosen = None if task["open"] is None else frozenset(task["open"])
    room = _room(settings, outgoing)
    passwords = _passwords(task, data, settings, locks)
    opening = Opening(chosen, task["left_out"], strict=True, passwords=passwords, room=room)
    message = read_message(data, settings.limits, sha256=task["sha256"], opening=opening)
    return message_json(message, patterns.read(message, settings), whole=task["whole"], boxes=task["boxes"])


def _room(settings: Settings, outgoing: IO[bytes]) -> Callable[[], AbstractContextManager[None]]:
    @contextmanager
    def room() -> Iterator[None]:
        """Ask the run for the time that a picture takes, and take the room it needs."""
        write_frame(outgoing, {"picture": True})
        with bounds.room(settings.limits):
            yield

    return room


def _crop(task: Json, data: bytes, settings: Settings, locks: Locks, outgoing: IO[bytes]) -> Json:
    from counterfoil.documents.crops import crops
    from counterfoil.sandbox.drawing import crops_json

    facts = [fact_of(value) for value in task["crop"]]
    passwords = _passwords(task, data, settings, locks)
    return crops_json(crops(data, facts, settings.limits, _room(settings, outgoing), passwords))


def _draw(task: Json, data: bytes, settings: Settings, locks: Locks) -> Json:
    from counterfoil.documents.message import read_message
    from counterfoil.documents.opening import Opening
    from counterfoil.documents.render import page_picture
    from counterfoil.sandbox.drawing import drawing_of, picture_json

    asked = drawing_of(task["draw"])
    passwords = _passwords(task, data, settings, locks)
    message = read_message(data, settings.limits, opening=Opening(strict=True, passwords=passwords, pictures=False))
    document = next((document for document in message.documents if document.name == asked.document), None)
    if document is None:
        return {"drawn": None}
    picture = page_picture(
        data,
        document,
        asked.page,
        asked.frames,
        asked.hidden,
        settings.limits,
        hide_pictures=asked.hide_pictures,
        passwords=passwords,
    )
    return {"drawn": None if picture is None else picture_json(picture)}


if __name__ == "__main__":
    main()
