"""Mail from a real server: everything once, nothing twice, nothing lost, whatever happens to line, server and run."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from imap_world import FOLDER, PASSWORD, Server, line, pymap
from mailbox_world import LETTERS, PLAIN, archive, fetched, kept, letter, running, server

from counterfoil import mailbox
from counterfoil.archive import Archive
from counterfoil.errors import FetchingFailed, SettingsFaulty, SourceUnreadable
from counterfoil.mailbox import fetch
from counterfoil.records.marks import move_mark, read_mark
from counterfoil.settings import Limits, Settings
from counterfoil.sources import imap
from counterfoil.sources.imap_address import ImapAddress

__all__ = ["archive", "running", "server"]


def test_messages_come_as_they_are_and_stay_as_they_were(archive: Archive, server: Server) -> None:
    """Every message is kept byte for byte, says where it came from, and no flag on the server changes."""
    server.deliver(LETTERS)
    before = server.flags()
    assert fetched(archive, server.address()).new == len(LETTERS)
    assert kept(archive) == sorted(LETTERS)
    assert server.flags() == before == [()] * len(LETTERS)
    sources = {m.source for m in archive.store.messages()}
    assert all(s.startswith(f"imap://demouser@127.0.0.1:{server.port}/Desk#") for s in sources), sources


def test_only_what_is_new_is_fetched(archive: Archive, server: Server) -> None:
    """A second run fetches nothing, and a third one what has come since, even when the same bytes come again."""
    server.deliver(LETTERS[:2])
    assert fetched(archive, server.address()).received == 2
    assert fetched(archive, server.address()).received == 0
    server.deliver([LETTERS[1], LETTERS[2]])
    again = fetched(archive, server.address())
    assert (again.received, again.new, again.already_kept) == (2, 1, 1)
    assert kept(archive) == sorted(LETTERS[:3])


def test_another_numbering_is_read_anew(archive: Archive, server: Server) -> None:
    """After a change of UIDVALIDITY (RFC 3501, section 2.3.1.1) all is fetched again and nothing is kept twice."""
    server.deliver(LETTERS[:3])
    fetched(archive, server.address())
    old = read_mark(archive.store, server.address().account, FOLDER)
    server.renumber()
    server.deliver(LETTERS[1:5])
    report = fetched(archive, server.address())
    assert (report.received, report.new, report.already_kept) == (4, 2, 2)
    assert kept(archive) == sorted(LETTERS[:5])
    new = read_mark(archive.store, server.address().account, FOLDER)
    assert old is not None
    assert new is not None
    assert old.uidvalidity != new.uidvalidity


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_line_cut_in_mid_fetch(
    archive: Archive, server: Server, monkeypatch: pytest.MonkeyPatch, share: float
) -> None:
    """What came before the line dropped is kept, the reason is told, and the next run brings the rest: all, once."""
    monkeypatch.setattr(imap, "CHUNK_MESSAGES", 2)
    letters = [letter(n, 3_000) for n in range(12)]
    server.deliver(letters)
    with line(server.port) as between:
        between.drop_after = int(sum(map(len, letters)) * share)
        report, lost = fetch(archive, server.address(between.port), PASSWORD)
        assert between.drops == 1
        assert lost is not None
        assert lost.passing
        assert "ended the connection" in lost.what
        assert kept(archive) == sorted(letters[: report.new])
        assert report.new < len(letters)
        if share > 0.4:
            assert report.new > 0
        rest = fetched(archive, server.address(between.port))
    assert rest.received == len(letters) - report.received
    assert kept(archive) == sorted(letters)


def test_a_run_killed_before_the_mark(archive: Archive, server: Server) -> None:
    """kill -9 after messages are durable and before the mark is: they are fetched again and kept once."""
    server.deliver(LETTERS)
    (archive.folder / "counterfoil.toml").write_text('imap_tls = "none"\n', encoding="utf-8")
    archive.close()
    address = server.address()
    code = (
        "import os, signal\nfrom pathlib import Path\nfrom counterfoil import mailbox\n"
        "from counterfoil.archive import Archive\nfrom counterfoil.sources.imap_address import read_address\n"
        "mailbox.move_mark = lambda *a, **k: os.kill(os.getpid(), signal.SIGKILL)\n"
        f"mailbox.fetch(Archive(Path({str(archive.folder)!r})), read_address({str(address)!r}), {PASSWORD!r})\n"
    )
    done = subprocess.run([sys.executable, "-c", code], check=False, capture_output=True)
    assert done.returncode < 0, done.stderr
    fresh = Archive(archive.folder)
    assert read_mark(fresh.store, address.account, FOLDER) is None
    assert len(list(fresh.originals.hashes())) == len(LETTERS)
    report = fetched(fresh, address)
    assert (report.received, report.new) == (len(LETTERS), 0)
    assert kept(fresh) == sorted(LETTERS)
    assert fetched(fresh, address).received == 0
    fresh.close()


def test_the_mark_waits_for_the_messages(archive: Archive, server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whenever the mark moves, every message up to it has its original and its record."""
    server.deliver(LETTERS)
    monkeypatch.setattr("counterfoil.batches.BATCH_MESSAGES", 2)
    seen: list[int] = []
    move = move_mark

    def moving(store: object, *key: object, kept: list[int], left: list[int]) -> None:
        seen.append(archive.store.message_count())
        assert archive.store.hashes() == set(archive.originals.hashes())
        move(store, *key, kept=kept, left=left)  # type: ignore[arg-type]

    monkeypatch.setattr(mailbox, "move_mark", moving)
    fetched(archive, server.address())
    assert seen == [2, 4, 6]


def test_a_message_beyond_the_limit_is_told_until_it_fits(archive: Archive, server: Server) -> None:
    """A message too large to be read is named at every run, its neighbours are taken in, and it comes once it fits."""
    server.deliver([LETTERS[0], letter(7, 5_000), LETTERS[1]])
    archive.settings = replace(PLAIN, limits=Limits(message_bytes=2_000))
    first = fetched(archive, server.address())
    assert (first.new, first.unreadable) == (2, 1)
    assert "2,000" in first.problems[0]
    second = fetched(archive, server.address())
    assert (second.received, second.unreadable) == (1, 1)
    archive.settings = PLAIN
    assert fetched(archive, server.address()).new == 1
    assert fetched(archive, server.address()).received == 0
    assert len(kept(archive)) == 3


def test_one_that_is_gone_is_forgotten(archive: Archive, server: Server) -> None:
    """A message that could not be taken in and was removed from the server is not asked for any more."""
    server.deliver([letter(7, 5_000), LETTERS[1]])
    archive.settings = replace(PLAIN, limits=Limits(message_bytes=2_000))
    fetched(archive, server.address())
    mark = read_mark(archive.store, server.address().account, FOLDER)
    assert mark is not None
    assert len(mark.left) == 1
    with server.client() as client:
        client.select_folder(FOLDER)
        client.delete_messages(list(mark.left))
        client.uid_expunge(list(mark.left))
    assert fetched(archive, server.address()).problems == []
    mark = read_mark(archive.store, server.address().account, FOLDER)
    assert mark is not None
    assert mark.left == ()


def test_finished_mail_is_moved_where_the_settings_say_so(archive: Archive, server: Server) -> None:
    """With a folder named, what is kept is moved there, the rest stays, and an ended run is made up."""
    with server.client() as client:
        if not client.folder_exists("Done"):
            client.create_folder("Done")
    server.deliver([LETTERS[0], letter(7, 5_000)])
    fetched(archive, server.address())
    server.deliver([letter(8, 5_000), LETTERS[1]])
    archive.settings = replace(PLAIN, imap_done_folder="Done", limits=Limits(message_bytes=2_000))
    fetched(archive, server.address())
    with server.client() as client:
        assert client.select_folder("Done", readonly=True)[b"EXISTS"] == 3
        assert client.select_folder(FOLDER, readonly=True)[b"EXISTS"] == 1
    assert not any(b"\\Seen" in flags for folder in ("Done", FOLDER) for flags in server.flags(folder))
    assert len(kept(archive)) == 3


def test_a_done_folder_that_cannot_serve(archive: Archive, server: Server) -> None:
    """A folder for finished mail that is missing, or the source itself, is refused before anything is fetched."""
    server.deliver(LETTERS[:1])
    for done, error in (("Nowhere", SourceUnreadable), (FOLDER, SettingsFaulty)):
        archive.settings = replace(PLAIN, imap_done_folder=done)
        with pytest.raises(error):
            fetch(archive, server.address(), PASSWORD)
    assert kept(archive) == []


def test_what_cannot_be_opened_is_said(archive: Archive, server: Server) -> None:
    """Wrong password, no such folder and no server each have a sentence of their own and the right exit code."""
    with pytest.raises(FetchingFailed, match="does not let demouser in") as wrong:
        fetch(archive, server.address(), "guess")
    assert (wrong.value.exit_code, wrong.value.passing) == (17, False)
    assert "guess" not in str(wrong.value)
    with pytest.raises(SourceUnreadable, match="Attic") as missing:
        fetch(archive, server.address(folder="Attic"), PASSWORD)
    assert missing.value.exit_code == 8
    with line(server.port) as between:
        closed = between.port
    with pytest.raises(FetchingFailed, match="cannot be reached") as gone:
        fetch(archive, server.address(closed), PASSWORD)
    assert gone.value.passing


def test_no_encryption_to_another_machine(archive: Archive) -> None:
    """Where the settings do without encryption, an address on another machine is refused before anything is sent."""
    with pytest.raises(SettingsFaulty, match="another machine"):
        fetch(archive, ImapAddress(False, "desk", "mail.shop.example", 143, "INBOX"), PASSWORD)


def test_starttls_is_not_done_without(archive: Archive, server: Server) -> None:
    """A server that offers no STARTTLS gets no password."""
    archive.settings = Settings()
    with pytest.raises(FetchingFailed, match="STARTTLS"):
        fetch(archive, server.address(), PASSWORD)


def test_starttls_with_an_own_authority(archive: Archive, tmp_path: Path) -> None:
    """A certificate is refused until the settings name the authority that vouches for it."""
    with pymap(tmp_path, tls=True) as server:
        server.deliver(LETTERS[:1])
        archive.settings = Settings()
        with pytest.raises(FetchingFailed, match="certificate") as untrusted:
            fetch(archive, server.address(), PASSWORD)
        assert (untrusted.value.exit_code, untrusted.value.passing) == (17, False)
        archive.settings = Settings(imap_ca_file=str(server.authority))
        assert fetched(archive, server.address()).new == 1
        archive.settings = Settings(imap_ca_file="nothing.pem")
        with pytest.raises(SettingsFaulty, match=r"nothing\.pem"):
            fetch(archive, server.address(), PASSWORD)


def test_imaps_checks_authority_and_name(archive: Archive, server: Server, tmp_path: Path) -> None:
    """Over implicit TLS mail comes from a vouched server; an unknown authority or another name is refused."""
    from imap_world import certificate

    server.deliver(LETTERS[:2])
    good, other = tmp_path / "good", tmp_path / "other"
    for folder in (good, other):
        folder.mkdir()
    authority, files = certificate(good)
    elsewhere, wrong = certificate(other, "mail.elsewhere.example")
    with line(server.port, tls=files) as between, line(server.port, tls=wrong) as misnamed:
        with pytest.raises(FetchingFailed, match="certificate"):
            fetch(archive, server.address(between.port, implicit=True), PASSWORD)
        archive.settings = Settings(imap_ca_file=str(elsewhere))
        with pytest.raises(FetchingFailed, match="certificate"):
            fetch(archive, server.address(misnamed.port, implicit=True), PASSWORD)
        archive.settings = Settings(imap_ca_file=str(authority))
        assert fetched(archive, server.address(between.port, implicit=True)).new == 2
