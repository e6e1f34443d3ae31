"""Which passwords a message's PDFs are tried with."""

from __future__ import annotations

from pathlib import Path

from counterfoil.model import Layer, Mailbox, Message
from counterfoil.sandbox.locks import CustomerPasswords, Locks, Owner, passwords_json
from counterfoil.settings import Settings


def _message(*addresses: str) -> Message:
    layers = [Layer("received", None, Mailbox("", address)) for address in addresses]
    return Message("", 0, tuple(layers), ())


def _files(folder: Path) -> tuple[Settings, CustomerPasswords]:
    for name, text in (("shop.pw", "for all\n"), ("customers.pw", "C1 one\nC2 two\nC3 for all\n")):
        (folder / name).write_text(text, encoding="utf-8")
        (folder / name).chmod(0o600)
    owners = (Owner("C1", "C1", ("A@one.example",)), Owner("C2", "C1", ()), Owner("C3", "C3", ("c@three.example",)))
    return Settings(pdf_password_file=str(folder / "shop.pw")), CustomerPasswords(folder / "customers.pw", owners)


def test_the_shops_then_the_customers(tmp_path: Path) -> None:
    """The shop's come first, then those of whom an address or the id of today names; others' never."""
    settings, customers = _files(tmp_path)
    locks = Locks.load(settings, passwords_json(customers))
    assert locks.of(_message("x@nobody.example"), ()) == ("for all",)
    assert locks.of(_message("x@nobody.example", "a@ONE.example"), ()) == ("for all", "one")
    assert locks.of(_message(), ("C1",)) == ("for all", "one", "two")
    assert locks.of(_message("c@three.example"), ()) == ("for all",)


def test_no_password_passes_the_pipe_or_is_shown(tmp_path: Path) -> None:
    """What a reading process is told names the file and the owners; neither it nor the locks show a password."""
    settings, customers = _files(tmp_path)
    told = passwords_json(customers)
    shown = f"{told}{Locks.load(settings, told)!r}"
    assert "customers.pw" in shown
    assert not any(word in shown for word in ("for all", "one'", "two'"))


def test_files_that_went_away_hold_nothing(tmp_path: Path) -> None:
    """Where the files went away since the run looked, a reading process goes without."""
    settings, customers = _files(tmp_path)
    for name in ("shop.pw", "customers.pw"):
        (tmp_path / name).unlink()
    assert Locks.load(settings, passwords_json(customers)).of(_message("a@one.example"), ("C1",)) == ()
    assert Locks.load(Settings(), passwords_json(None)).of(_message("a@one.example"), ("C1",)) == ()
