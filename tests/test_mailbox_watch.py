"""A watch on a mail server: what comes is taken in, a dropped line is opened again, a refusal ends it."""

from __future__ import annotations

import random
import threading

import pytest
from imap_world import Server, line, until
from mailbox_world import LETTERS, Watching, archive, kept, running, server

from counterfoil.archive import Archive
from counterfoil.errors import FetchingFailed
from counterfoil.mailbox import Waits, watch

__all__ = ["archive", "running", "server"]


def test_a_watch_takes_in_what_comes_and_survives_the_line(archive: Archive, server: Server) -> None:
    """A watch takes in what is there and what comes, opens a dropped line again, and ends when told to."""
    server.deliver(LETTERS[:2])
    with line(server.port) as between:
        watching = Watching(archive, server.address(between.port))
        until(lambda: watching.new() == 2, "the first messages")
        server.deliver(LETTERS[2:3])
        until(lambda: watching.new() == 3, "a message that came")
        between.refuse = True
        between.cut()
        until(lambda: len(watching.warned) >= 3, "three failures")
        server.deliver(LETTERS[3:])
        between.refuse = False
        until(lambda: watching.new() == 6, "the messages that came meanwhile")
        watching.end()
    assert kept(archive) == sorted(LETTERS)
    assert all("Trying again in" in sentence for sentence in watching.warned)


def test_a_server_that_tells_is_not_asked(archive: Archive, server: Server) -> None:
    """Where the server can tell (IDLE, RFC 2177), mail comes at once, not when it is next looked for."""
    watching = Watching(archive, server.address(), every=3_600.0)
    server.deliver(LETTERS[:1])
    until(lambda: watching.new() == 1, "the first message")
    # Some of these come while the first of them is fetched.
    server.deliver(LETTERS[1:])
    until(lambda: watching.new() == len(LETTERS), "messages that were told of")
    watching.end()


def test_a_watch_does_not_insist_on_a_wrong_password(archive: Archive, server: Server) -> None:
    """A refused password ends the watch: trying it again and again would lock the account."""
    with pytest.raises(FetchingFailed, match="does not let"):
        watch(archive, server.address(), "guess", stop=threading.Event(), tell=print, warn=print)


def test_waits_grow_to_a_bound() -> None:
    """Waits double up to their bound, less at most half, and the same chance gives the same waits."""
    waits = [Waits(2.0, 300.0, random.Random(5)).after(n) for n in range(1, 40)]
    assert waits == [Waits(2.0, 300.0, random.Random(5)).after(n) for n in range(1, 40)]
    for number, seconds in enumerate(waits):
        full = min(300.0, 2.0 * 2**number)
        assert full / 2 <= seconds <= full
