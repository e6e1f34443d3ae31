"""Letters, an archive and a server for tests of mail from a mail server, and a watch in a thread of its own."""

from __future__ import annotations

import random
import threading
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from imap_world import FOLDER, PASSWORD, Server, pymap

from counterfoil.archive import Archive
from counterfoil.mailbox import Waits, fetch, watch
from counterfoil.patterns import Patterns
from counterfoil.pipeline import IngestReport
from counterfoil.settings import Settings
from counterfoil.sources.imap_address import ImapAddress

PLAIN = Settings(imap_tls="none")


def letter(number: int, size: int = 200) -> bytes:
    """Return a message, different for each number."""
    head = f"From: a{number}@one.example\r\nTo: desk@shop.example\r\nSubject: Letter {number}\r\n"
    return f"{head}Message-ID: <{number}@one.example>\r\n\r\n{'thread ' * (size // 7)}{number}\r\n".encode()


LETTERS = [letter(n) for n in range(6)]


@cache
def _patterns() -> Patterns:
    return Patterns.load(None)


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    """Give a new archive that takes plain lines to this machine."""
    made = Archive.create(tmp_path / "archive", shop_name="Mail")
    made.settings = PLAIN
    # Read once for all tests here: it takes longer than they do.
    made.patterns = _patterns()
    yield made
    made.close()


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """Give a running server; each test has its own folder on it."""
    with pymap(tmp_path_factory.mktemp("pymap")) as server:
        yield server


@pytest.fixture
def server(running: Server, request: pytest.FixtureRequest) -> Iterator[Server]:
    """Give the server with an empty folder."""
    with running.client() as client:
        if client.folder_exists(FOLDER):
            client.delete_folder(FOLDER)
        client.create_folder(FOLDER)
    yield running


def fetched(archive: Archive, address: ImapAddress, password: str = PASSWORD) -> IngestReport:
    """Fetch all that is new; the line must hold."""
    report, lost = fetch(archive, address, password)
    assert lost is None
    return report


def kept(archive: Archive) -> list[bytes]:
    """Return the bytes of all originals, sorted, each of which must have exactly one record."""
    hashes = list(archive.originals.hashes())
    assert archive.store.hashes() == set(hashes)
    assert archive.store.message_count() == len(hashes)
    return sorted(archive.originals.read(sha256) for sha256 in hashes)


class Watching:
    """A watch in a thread of its own."""

    def __init__(self, archive: Archive, address: ImapAddress, every: float = 0.2) -> None:
        self.stop, self.warned = threading.Event(), []
        self.reports: list[IngestReport] = []
        waits = Waits(0.05, 0.4, random.Random(1))

        def run() -> None:
            watch(
                archive, address, PASSWORD, stop=self.stop, tell=self.reports.append, warn=self.warned.append,
                every_seconds=every, waits=waits,
            )  # fmt: skip

        self.thread = threading.Thread(target=run, daemon=True)
        self.thread.start()

    warned: list[str]

    def new(self) -> int:
        """Return how many messages were taken in so far."""
        return sum(report.new for report in self.reports)

    def end(self) -> None:
        """Stop it; it must end."""
        self.stop.set()
        self.thread.join(10)
        assert not self.thread.is_alive()
