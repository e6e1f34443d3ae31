"""`password`: noted from a file or typed twice, listed by customer, forgotten; never shown."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from cli_world import Desk, _tidy, desk, empty

__all__ = ["_tidy", "desk", "empty"]
SECRET = "Garnrolle-7719"


def _file(tmp_path: Path, text: str = SECRET) -> str:
    path = tmp_path / "told.pw"
    path.write_text(text + "\n", encoding="utf-8")
    path.chmod(0o600)
    return str(path)


def test_noted_listed_and_forgotten(desk: Desk, tmp_path: Path) -> None:
    """A password from a file is noted once; the list has who and how many; the journal has it; it can go again."""
    told = _file(tmp_path)
    done = desk("password", "C2", "--password-file", told, "--who", "kim", "--why", "told on the phone", "--json")
    assert done.json()["passwords"] == 1 and str(done.json()["journal"]).startswith("J")
    assert "noted before" in desk("password", "C2", "--password-file", told).out
    listed = desk("password", "--json")
    assert listed.json() == {"customers": [{"id": "C2", "passwords": 1}]}
    assert "C2" in desk("password").out
    journal = desk("journal", "C2")
    assert "told on the phone" in journal.out
    assert SECRET not in done.out + listed.out + journal.out + desk("export").out + desk("customer", "C2").out
    assert desk("verify").code == 0
    assert "forgotten" in desk("password", "C2", "--forget").out
    assert "No password was noted" in desk("password", "C2", "--forget").out
    assert desk("password").out == "No passwords of customers are noted.\n"


def test_it_is_not_undone_as_a_line_of_the_journal(desk: Desk, tmp_path: Path) -> None:
    """Undoing the line is refused in a sentence: the journal does not know the password."""
    done = desk("password", "C2", "--password-file", _file(tmp_path), "--json").json()
    refused = desk("undo", str(done["journal"]))
    assert refused.code == 13 and str(done["journal"]) in refused.err
    assert desk("password", "--json").json() == {"customers": [{"id": "C2", "passwords": 1}]}


def test_wrong_use(desk: Desk, tmp_path: Path) -> None:
    """Without a terminal the option that would have answered is named; what makes no sense is refused."""
    asked = desk("password", "C2")
    assert asked.code == 2 and "--password-file" in asked.err
    assert desk("password", "--forget").code == 2
    assert desk("password", "C2", "--forget", "--password-file", _file(tmp_path)).code == 2
    assert desk("password", "C9999", "--password-file", _file(tmp_path)).code == 12
    assert desk("password", "C2", "--password-file", _file(tmp_path, "two\twords")).code == 2


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo terminals are a matter of POSIX")
def test_typed_twice_and_not_shown(desk: Desk) -> None:
    """On a terminal it is typed twice and not echoed; two that differ are asked for again."""
    from pty_world import terminal

    with terminal("password", "--archive", str(desk.folder), "C2") as window:
        window.wait_for("Password for PDFs of C2")
        window.press(f"{SECRET}\r")
        window.wait_for("Once more")
        window.press("another\r")
        window.wait_for("Password for PDFs of C2")
        window.press(f"{SECRET}\r")
        window.wait_for("Once more")
        window.press(f"{SECRET}\r")
        window.wait_for("Noted.")
        assert SECRET not in window.text
    assert desk("password", "--json").json() == {"customers": [{"id": "C2", "passwords": 1}]}
