"""Against dovecot, which starts as root only: everything once, nothing twice, nothing changed on the server."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from imap_world import PASSWORD, Line, Server, dovecot, has_dovecot, line, until
from mailbox_world import LETTERS, Watching, archive, fetched, kept, letter

from counterfoil.archive import Archive
from counterfoil.errors import FetchingFailed, SourceUnreadable
from counterfoil.mailbox import fetch
from counterfoil.settings import Settings

__all__ = ["archive"]


@pytest.mark.long
def test_dovecot_three_cuts(archive: Archive, tmp_path: Path) -> None:
    """From dovecot over STARTTLS, cut three times on the way: every message is kept once, and no flag changes."""
    assert has_dovecot(), "dovecot-imapd is not installed, or this is not root"
    letters = [letter(n, 2_000) for n in range(400)]
    (tmp_path / "dovecot").mkdir()
    with dovecot(tmp_path / "dovecot") as server, line(server.port) as between:
        server.deliver(letters)
        before = server.flags()
        archive.settings = Settings(imap_ca_file=str(server.authority))
        assert _cut_three_times(archive, server, between, sum(map(len, letters)) // 4) == 3
        assert server.flags() == before
        assert fetched(archive, server.address(between.port)).received == 0
    assert kept(archive) == sorted(letters)


@pytest.mark.long
def test_dovecot_renumbers_moves_and_tells(archive: Archive, tmp_path: Path) -> None:
    """dovecot: a new numbering is read anew, mail is told of through IDLE, and kept mail is moved where asked."""
    assert has_dovecot(), "dovecot-imapd is not installed, or this is not root"
    (tmp_path / "dovecot").mkdir()
    with dovecot(tmp_path / "dovecot") as server:
        archive.settings = Settings(imap_ca_file=str(server.authority))
        server.deliver(LETTERS[:3])
        assert fetched(archive, server.address()).new == 3
        server.renumber()
        server.deliver(LETTERS[:4])
        report = fetched(archive, server.address())
        assert (report.received, report.new) == (4, 1)
        server.deliver([], "Done")
        archive.settings = replace(archive.settings, imap_done_folder="Done")
        watching = Watching(archive, server.address(), every=3_600.0)
        until(lambda: len(server.flags("Done")) == 4, "old mail to be moved")
        server.deliver(LETTERS[4:])
        until(lambda: watching.new() == 2, "mail that was told of")
        until(lambda: len(server.flags("Done")) == 6, "it to be moved")
        watching.end()
        with pytest.raises(FetchingFailed, match="does not let"):
            fetch(archive, server.address(), "guess")
        with pytest.raises(SourceUnreadable, match="Attic"):
            fetch(archive, server.address(folder="Attic"), PASSWORD)
    assert kept(archive) == sorted(LETTERS)


def _cut_three_times(archive: Archive, server: Server, between: Line, after: int) -> int:
    """Fetch until nothing is left, over a line that drops three times; return how often it did."""
    for _ in range(3):
        between.drop_after = after
        _, lost = fetch(archive, server.address(between.port), PASSWORD)
        assert lost is not None
    fetched(archive, server.address(between.port))
    return between.drops
