"""Sources: files, folders, Maildir, mbox, zip, standard input; what cannot be read is named and the rest goes on."""

from __future__ import annotations

import mailbox
import os
import zipfile
from io import BytesIO
from pathlib import Path

import pytest

from counterfoil.errors import SourceUnreadable
from counterfoil.settings import Limits
from counterfoil.sources.collect import Received, Unreadable, collect, count

LIMITS = Limits()
#: What a Maildir puts before its flags; Windows allows no colon in names.
INFO = "!2," if os.name == "nt" else ":2,"
MAIL = b"From: a@one.example\r\nSubject: S\r\n\r\nText %d\r\n"
MBOX = (
    b"From a@one.example Tue Mar  4 10:12:00 2025\n"
    b"From: a@one.example\nSubject: one\n\nFirst\n\nFrom the shop I got a card.\n"
    b">From here on\n>>From there\n> From me\n\n"
    b"From b@two.example Tue Mar  4 10:13:00 2025\n"
    b"From: b@two.example\nSubject: two\n\nSecond\n"
)


def found(*paths: Path | str, limits: Limits = LIMITS, stdin: bytes | None = None) -> list[Received | Unreadable]:
    """Collect everything at the paths."""
    return list(collect([str(p) for p in paths], limits, BytesIO(stdin) if stdin is not None else None))


def received(*paths: Path | str) -> list[bytes]:
    """Return the messages at the paths; nothing may be unreadable."""
    items = found(*paths)
    assert all(isinstance(item, Received) for item in items)
    return [item.data for item in items if isinstance(item, Received)]


def packed(path: Path, entries: dict[str, bytes]) -> Path:
    """Write a zip file."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries.items():
            archive.writestr(name, data)
    return path


def test_one_file(tmp_path: Path) -> None:
    """A file is handed out byte for byte, under the path it was named by."""
    path = tmp_path / "a.eml"
    path.write_bytes(MAIL)
    assert found(path) == [Received(MAIL, path.as_posix())]


def test_folder_is_sorted_and_passes_over_other_files(tmp_path: Path) -> None:
    """A folder is read with its folders, sorted by name; files that are no mail are passed over in silence."""
    for name in ("b.eml", "a.eml", "in/c.eml", ".hidden/d.eml", "a.expected.json", "notes.txt", "list.csv"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(name.encode())
    assert received(tmp_path) == [b"a.eml", b"b.eml", b"in/c.eml"]
    assert count([str(tmp_path)]) == 3


def test_file_without_a_suffix(tmp_path: Path) -> None:
    """Files without a suffix that begin like a message are messages, others are not."""
    (tmp_path / "1").write_bytes(MAIL)
    (tmp_path / "README").write_bytes(b"Read me: first\n")
    assert received(tmp_path) == [MAIL]


def test_named_file_under_another_suffix(tmp_path: Path) -> None:
    """A file somebody names is read when it begins like a message, and refused with a reason when not."""
    (tmp_path / "mail.txt").write_bytes(MAIL)
    (tmp_path / "notes.txt").write_bytes(b"Dear diary")
    assert received(tmp_path / "mail.txt") == [MAIL]
    refused = found(tmp_path / "notes.txt")[0]
    assert isinstance(refused, Unreadable)
    assert refused.reason.endswith(".")


def test_mail_of_other_programs_is_named(tmp_path: Path) -> None:
    """Mail that cannot be read is named, in folders too: it is never passed over in silence."""
    (tmp_path / "a.pst").write_bytes(b"!BDN")
    for path in (tmp_path, tmp_path / "a.pst"):
        item = found(path)[0]
        assert isinstance(item, Unreadable)
        assert ".eml" in item.reason


def test_outlook_message_files(tmp_path: Path) -> None:
    """Outlook's message files are handed out as they are, by name, in folders and zips; one that is none is named."""
    data = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 and so on"
    (tmp_path / "A.MSG").write_bytes(data)
    assert received(tmp_path) == received(tmp_path / "A.MSG") == [data]
    assert count([str(tmp_path)]) == 1
    assert received(packed(tmp_path / "mail.zip", {"in/b.msg": data})) == [data]
    (tmp_path / "A.MSG").write_bytes(b"not so")
    item = found(tmp_path / "A.MSG")[0]
    assert isinstance(item, Unreadable)
    assert "Outlook" in item.reason


def test_missing_path_is_an_error_before_anything_is_read(tmp_path: Path) -> None:
    """A path that does not exist stops the run at once, naming it."""
    (tmp_path / "a.eml").write_bytes(MAIL)
    with pytest.raises(SourceUnreadable, match="gone"):
        collect([str(tmp_path), str(tmp_path / "gone")], LIMITS)
    with pytest.raises(SourceUnreadable, match="standard input"):
        collect(["-"], LIMITS)


def test_empty_and_large_files_are_named(tmp_path: Path) -> None:
    """An empty file and one beyond the size limit are named with a reason; the batch goes on."""
    (tmp_path / "a.eml").write_bytes(b"")
    (tmp_path / "b.eml").write_bytes(MAIL * 10)
    (tmp_path / "c.eml").write_bytes(MAIL)
    items = found(tmp_path, limits=Limits(message_bytes=100))
    assert [type(item) for item in items] == [Unreadable, Unreadable, Received]
    assert "100" in items[1].reason if isinstance(items[1], Unreadable) else False


def test_maildir(tmp_path: Path) -> None:
    """A Maildir gives the messages in cur/ and new/, not in tmp/; nothing in it moves and no flag changes."""
    box = tmp_path / "box"
    for name in (f"cur/1741079520.M1P1.desk{INFO}S", "new/1741079530.M2P1.desk", "tmp/1741079540.M3P1.desk"):
        path = box / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(name.encode())
    before = sorted(p.relative_to(box).as_posix() for p in box.rglob("*"))
    flagged = f"cur/1741079520.M1P1.desk{INFO}S".encode()
    assert received(box) == received(tmp_path) == [flagged, b"new/1741079530.M2P1.desk"]
    assert sorted(p.relative_to(box).as_posix() for p in box.rglob("*")) == before
    assert count([str(box)]) == count([str(tmp_path)]) == 2


def test_maildir_without_its_empty_folders(tmp_path: Path) -> None:
    """A Maildir that lost its empty folders on the way is still one."""
    path = tmp_path / "new" / "1741079530.M2P1.desk"
    path.parent.mkdir()
    path.write_bytes(MAIL)
    assert received(tmp_path) == [MAIL]


def test_folders_inside_a_maildir(tmp_path: Path) -> None:
    """The folders of a Maildir, whose names begin with a dot, are read too."""
    for box in (tmp_path, tmp_path / ".Forwards"):
        for name in ("cur", "new", "tmp"):
            (box / name).mkdir(parents=True)
        (box / "cur" / f"1741079530.M2P1.desk{INFO}").write_bytes(box.name.encode())
    assert received(tmp_path) == [tmp_path.name.encode(), b".Forwards"]
    assert count([str(tmp_path)]) == 2


def test_ordinary_folders_called_new_and_cur(tmp_path: Path) -> None:
    """Folders of .eml files that happen to be called new and cur are ordinary folders."""
    for name in ("new", "cur"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "1.eml").write_bytes(name.encode())
    assert received(tmp_path) == [b"cur", b"new"]


def test_mbox(tmp_path: Path) -> None:
    """An mbox is split at its separators only; ">From " is unquoted once, all other bytes stay."""
    path = tmp_path / "old.mbox"
    path.write_bytes(MBOX)
    items = found(tmp_path)
    assert [item.source for item in items] == [f"{path.as_posix()}#1", f"{path.as_posix()}#2"]
    assert [item.data for item in items if isinstance(item, Received)] == [
        b"From: a@one.example\nSubject: one\n\nFirst\n\nFrom the shop I got a card.\n"
        b"From here on\n>From there\n> From me\n",
        b"From: b@two.example\nSubject: two\n\nSecond\n",
    ]
    assert count([str(path)]) is None


#: A body that an mbox without a length would be split in.
TRAP = b"One.\n\nFrom b@two.example Tue Mar  4 10:13:00 2025\n>From me.\n"


def with_length(body: bytes, length: int | None = None) -> bytes:
    """Return a message of an mbox that says how long its body is."""
    head = b"From a@one.example Tue Mar  4 10:12:00 2025\nFrom: a@one.example\nContent-Length: %d\n\n"
    return head % (len(body) if length is None else length) + body + b"\n"


@pytest.mark.parametrize("ends", [b"\n", b"\r\n"])
def test_mbox_with_lengths(tmp_path: Path, ends: bytes) -> None:
    """A body whose Content-Length ends at a separator or the end is taken whole, separators in it too (mboxcl2)."""
    body = TRAP.replace(b"\n", ends)
    data = b"".join(with_length(body).replace(b"\n", ends).replace(b"\r\r", b"\r") for _ in range(3))
    (tmp_path / "a.mbox").write_bytes(data)
    messages = received(tmp_path)
    assert len(messages) == 3
    assert all(message.endswith(body) for message in messages)


def test_mbox_with_lengths_and_quotes(tmp_path: Path) -> None:
    """A body with a length and quoted lines is unquoted (mboxcl); one that ends without a line end is whole too."""
    (tmp_path / "a.mbox").write_bytes(with_length(b"One.\n>From me\n>>From you\n") + with_length(b"no end"))
    first, second = received(tmp_path)
    assert first.endswith(b"One.\nFrom me\n>From you\n")
    assert second.endswith(b"\n\nno end\n")


@pytest.mark.parametrize("wrong", [1, 10, 1_000, 10**11])
def test_mbox_with_wrong_lengths(tmp_path: Path, wrong: int) -> None:
    """A Content-Length that ends nowhere in particular is not believed: no message swallows its neighbours."""
    (tmp_path / "a.mbox").write_bytes(b"".join(with_length(b"Text %d.\n" % n, wrong) for n in range(9)))
    messages = received(tmp_path)
    assert [message.rpartition(b"\n\n")[2] for message in messages] == [b"Text %d.\n" % n for n in range(9)]


def test_mbox_as_the_standard_library_writes_it(tmp_path: Path) -> None:
    """What Python's mailbox module writes (mboxo: it quotes "From " alone) comes back byte for byte."""
    letters = [b"Subject: %d\n\nFrom here to there.\nand on.\n" % n for n in range(3)]
    box = mailbox.mbox(tmp_path / "a.mbox")
    for letter in letters:
        box.add(letter)
    box.close()
    assert b"\n>From here" in (tmp_path / "a.mbox").read_bytes()
    assert received(tmp_path) == letters


def test_mbox_with_other_line_ends(tmp_path: Path) -> None:
    """An mbox with CR LF keeps them."""
    (tmp_path / "a.mbox").write_bytes(MBOX.replace(b"\n", b"\r\n"))
    messages = received(tmp_path)
    assert len(messages) == 2
    assert messages[1] == b"From: b@two.example\r\nSubject: two\r\n\r\nSecond\r\n"


def test_mbox_messages_beyond_the_limit(tmp_path: Path) -> None:
    """A message beyond the limit inside an mbox is named and passed over, its neighbours are read."""
    big = MBOX.replace(b"First", b"x" * 300_000)
    (tmp_path / "a.mbox").write_bytes(big)
    items = found(tmp_path, limits=Limits(message_bytes=1000))
    assert [type(item) for item in items] == [Unreadable, Received]


def test_mbox_is_read_as_a_stream(tmp_path: Path) -> None:
    """The first message of an mbox is handed out before the rest is read."""
    (tmp_path / "a.mbox").write_bytes(MBOX * 50)
    assert isinstance(next(collect([str(tmp_path / "a.mbox")], LIMITS)), Received)
    assert len(received(tmp_path)) == 100


def test_zip(tmp_path: Path) -> None:
    """A zip file gives its .eml files, mboxes and Maildir messages, sorted by name, under names of their own."""
    path = packed(
        tmp_path / "mail.zip",
        {"b.eml": b"B: b", "a/a.eml": b"A: a", "old": MBOX, "box/cur/1741.M1.desk": b"C: c", "notes.txt": b"no mail"},
    )
    items = found(tmp_path)
    names = [item.source.removeprefix(path.as_posix() + "/") for item in items]
    assert names == ["a/a.eml", "b.eml", "box/cur/1741.M1.desk", "old#1", "old#2"]
    assert all(isinstance(item, Received) for item in items)


def test_zip_names_lead_nowhere(tmp_path: Path) -> None:
    """Entries with paths that climb out are read like others, and nothing is written anywhere."""
    packed(tmp_path / "mail.zip", {"../../evil.eml": MAIL, "/abs.eml": MAIL, "C:\\x.eml": MAIL, "a\x1b[2J.eml": MAIL})
    items = found(tmp_path)
    assert len(items) == 4
    assert all(item.source.isprintable() for item in items)
    assert sorted(p.name for p in tmp_path.rglob("*")) == ["mail.zip"]


def test_zip_limits(tmp_path: Path) -> None:
    """Entries, sizes and depth of zip files are bounded, and what is left unread is named."""
    inner = BytesIO()
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("a.eml", MAIL)
    nested = packed(tmp_path / "nested.zip", {"inner.zip": inner.getvalue()})
    assert isinstance(found(nested)[0], Unreadable)
    assert [type(item) for item in found(nested, limits=Limits(zip_depth=2))] == [Received]
    many = packed(tmp_path / "many.zip", {f"{i}.eml": MAIL for i in range(9)})
    items = found(many, limits=Limits(zip_entries=5))
    assert [type(item) for item in items] == [Received] * 5 + [Unreadable]
    assert "4 entries" in items[-1].reason if isinstance(items[-1], Unreadable) else False
    bomb = packed(
        tmp_path / "bomb.zip", {"a.eml": b"x" * 3_000_000, "b.eml": MAIL, "m": b"From x\n" + b"y\n" * 1_000_000}
    )
    items = found(bomb, limits=Limits(message_bytes=1_000_000, unpacked_bytes=500_000))
    assert [type(item) for item in items] == [Unreadable, Received, Received]
    assert sum(len(item.data) for item in items if isinstance(item, Received)) <= 500_000


def test_broken_and_locked_zip(tmp_path: Path) -> None:
    """A damaged zip file, a damaged entry and a locked one are named; the rest is read."""
    (tmp_path / "a.zip").write_bytes(b"PK\3\4 no zip at all")
    whole = packed(tmp_path / "b.zip", {"a.eml": MAIL, "b.eml": MAIL}).read_bytes()
    (tmp_path / "b.zip").write_bytes(whole[:50] + b"\xff\xff" + whole[52:])
    # The flag of a locked entry stands at offset 6 of the local header and 8 of the central one (APPNOTE 4.3).
    locked = packed(tmp_path / "c.zip", {"a.eml": MAIL}).read_bytes()
    at = locked.index(b"PK\1\2") + 8
    (tmp_path / "c.zip").write_bytes(locked[:6] + b"\1" + locked[7:at] + b"\1" + locked[at + 1 :])
    items = found(tmp_path)
    assert [type(item) for item in items] == [Unreadable, Unreadable, Received, Unreadable]
    assert "password" in items[3].reason if isinstance(items[3], Unreadable) else False


def test_standard_input() -> None:
    """Standard input gives one message, or the messages of an mbox."""
    assert found("-", stdin=MAIL) == [Received(MAIL, "standard input")]
    assert [item.source for item in found("-", stdin=MBOX)] == ["standard input#1", "standard input#2"]
    assert isinstance(found("-", stdin=b"")[0], Unreadable)
    assert isinstance(found("-", stdin=b"x" * 200, limits=Limits(message_bytes=100))[0], Unreadable)
    assert count(["-"]) is None


def test_links_do_not_lead_in_circles(tmp_path: Path) -> None:
    """A link to the folder above does not lead round and round."""
    (tmp_path / "a.eml").write_bytes(MAIL)
    try:
        (tmp_path / "again").symlink_to(tmp_path, target_is_directory=True)
    except OSError:
        (tmp_path / "again").mkdir()
    assert received(tmp_path) == [MAIL]


def test_several_paths_keep_their_order(tmp_path: Path) -> None:
    """Paths are read in the order they were named."""
    for name in ("a.eml", "b.eml"):
        (tmp_path / name).write_bytes(name.encode())
    assert received(tmp_path / "b.eml", tmp_path / "a.eml") == [b"b.eml", b"a.eml"]
    assert count([str(tmp_path / "b.eml"), str(tmp_path / "a.eml")]) == 2
