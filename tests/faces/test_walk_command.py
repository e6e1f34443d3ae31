"""`triage walk` on a real terminal: settled by keys alone, taken back by keys alone, the terminal left as it was."""

from __future__ import annotations

import random
import sys
from email.message import EmailMessage
from pathlib import Path

import pytest
from cli_world import Desk, _tidy, desk, empty, process
from pty_world import Terminal, terminal

from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.keys import END, OTHER, need_terminal, windows_keys

__all__ = ["_tidy", "desk", "empty"]

#: How a prompt ends; a key is pressed only once it stands there.
PROMPT = " > "
KIN = ("Ada", "Basil", "Cosmo", "Dorrit", "Ewan", "Flora", "Greta", "Hector", "Ivo", "Juno")


def kin_mail(number: int, rng: random.Random) -> bytes:
    """Return a confirmation for a relative at the address of a known customer: a question of whose it is."""

    def code(*sizes: int) -> str:
        return "-".join("".join(rng.choice("23456789ABCDEFGH") for _ in range(size)) for size in sizes)

    name = f"{KIN[number]} Thackerby"
    mail = EmailMessage()
    mail["From"] = f"{name} <thackerbys@postbox.example>"
    mail["To"] = "support@thimblewick.example"
    mail["Subject"] = "Fwd: Confirmation of your activation"
    mail["Date"] = f"Mon, {number + 1} Jun 2026 10:15:00 +0000"
    mail["Message-ID"] = f"<kin{number}@postbox.example>"
    mail.set_content(
        "---------- Forwarded message ---------\nFrom: service@lindra.example\nDate: 2026-05-30 09:00\n"
        f"Subject: Confirmation of your activation\nTo: {name} <thackerbys@postbox.example>\n\nDear customer,\n\n"
        "your upgrade has been activated. Please keep this for the warranty.\n\n"
        f"Customer: {name}\nMachine ID: 7{code(3, 4, 4)}\nProduct key: 2{code(4, 5, 5)}\n"
        f"Activation code: 3{code(3, 4, 4, 4)}\nModel: Lindra 400\n"
    )
    return mail.as_bytes()


def more_open(desk: Desk, tmp_path: Path) -> int:
    """Take in messages of ten relatives; return how many messages are open then."""
    rng = random.Random(5)
    for number in range(len(KIN)):
        (tmp_path / f"kin{number}.eml").write_bytes(kin_mail(number, rng))
    assert desk("ingest", *(str(tmp_path / f"kin{n}.eml") for n in range(len(KIN)))).code in (0, 1)
    return sum(r.get("standing") == "open" for r in desk("export").lines())


def answer(shown: str) -> str:
    """Return the key that a person might press: the likely answer where there is one, else aside."""
    prompt = shown.splitlines()[-1]
    return "a" if "refused" in shown else "1" if prompt.startswith("1") else "a"


def settle_all(window: Terminal) -> int:
    """Answer until everything was asked; return the number of keys pressed for it."""
    while "That was the last one." not in (shown := window.wait_for(PROMPT)):
        window.press(answer(shown))
    return window.pressed


def test_thirty_settled_by_keys_alone_and_all_undone(desk: Desk, tmp_path: Path) -> None:
    """Thirty and more open messages are settled with keys alone; as many u's bring the state before back, exactly."""
    number = more_open(desk, tmp_path)
    assert number >= 30
    before = desk("export").out
    with terminal("triage", "walk", "--who", "kim", "--archive", str(desk.folder)) as window:
        for_all = settle_all(window)
        assert desk("triage", "--json").json()["groups"] == []
        settled = [line for line in desk("journal", "--limit", "500", "--json").lines() if line["action"] == "settle"]
        assert len(settled) == number
        assert {line["who"] for line in settled} == {"kim"}
        # Two keys where an answer was refused and the message was then put aside, else one.
        assert number <= for_all <= number + 10
        for left in reversed(range(number)):
            window.press("u")
            assert f"({left + 1} of {number})" in window.wait_for(PROMPT)
        window.press("q")
        assert window.leave() == 0
        assert window.pressed == for_all + number + 1
        assert f"Settled 0, skipped 0; {window.pressed} keys." in window.text
    assert desk("export").out == before
    assert desk("verify").code == 0


def test_every_key(desk: Desk) -> None:
    """Skip, show, undo, new, a number, an unknown key and an arrow do what they say; codes stay covered."""
    with terminal("triage", "walk", "--archive", str(desk.folder)) as window:
        window.wait_for(PROMPT)
        window.press("u")
        assert "nothing to undo" in window.wait_for(PROMPT)
        window.press("x")
        assert "none of the keys" in window.wait_for(PROMPT)
        window.press("\x1b[A")
        assert "none of the keys" in window.wait_for(PROMPT)
        window.press("o")
        assert "body:" in window.wait_for(PROMPT)
        window.press("s")
        shown = window.wait_for(PROMPT)
        assert "skipped" in shown and "Barnaby" in shown and "  1  new  " in shown
        window.press("u")
        assert "(1 of " in window.wait_for(PROMPT)
        window.press("s")
        window.wait_for(PROMPT)
        window.press("n")
        assert "filed: C" in window.wait_for(PROMPT)
        window.press("u")
        assert "is undone" in window.wait_for(PROMPT)
        window.press("2")
        assert "filed: C9" in window.wait_for(PROMPT)
        window.press("q")
        assert window.leave() == 0
        assert "Settled 1, skipped 1; 11 keys." in window.text
    message = next(r for r in desk("export").lines() if str(r.get("source", "")).endswith("barnaby-shared-address.eml"))
    assert (message["standing"], message["customer"]) == ("filed", "C9")


def test_a_refused_answer_may_be_filed_all_the_same(desk: Desk) -> None:
    """A value whose check digit is wrong is refused with the reason; `!` files it as the original has it."""
    ref = next(g["messages"][0]["id"] for g in desk("triage", "--json").json()["groups"] if g["code"] == "check_failed")  # type: ignore[attr-defined]
    with terminal("triage", "walk", "--archive", str(desk.folder)) as window:
        while f"{ref}  " not in window.wait_for(PROMPT):
            window.press("s")
        refused = ""
        while "refused" not in refused:
            window.press("1")
            refused = window.wait_for(PROMPT)
        assert "check digit" in " ".join(refused.split())
        window.press("!")
        assert "filed: " in window.wait_for(PROMPT)
        window.press("q")
        window.leave()
    line = desk("journal", ref, "--json").lines()[-1]
    assert (line["action"], line["why"]) == ("settle", "triage walk")


def test_keys_pressed_too_early_answer_nothing(desk: Desk) -> None:
    """A key pressed before the first question stands there does not answer it."""
    with terminal("triage", "walk", "--archive", str(desk.folder)) as window:
        for _ in range(5):
            window.press("a")
        window.wait_for(PROMPT)
        window.press("q")
        assert window.leave() == 0
    assert [line for line in desk("journal", "--json").lines() if line["action"] == "settle"] == []


def test_stopped_with_ctrl_c(desk: Desk) -> None:
    """Ctrl-C leaves at once with 130; what was settled is kept, and the terminal shows what is typed again."""
    import termios

    with terminal("triage", "walk", "--archive", str(desk.folder)) as window:
        before = termios.tcgetattr(window.master)
        window.wait_for(PROMPT)
        assert not termios.tcgetattr(window.master)[3] & termios.ECHO
        window.press("a")
        window.wait_for(PROMPT)
        window.press("\x03")
        # The terminal outlives the command: its settings can be looked at before it is closed.
        assert window.process.wait(60) == 130
        assert termios.tcgetattr(window.master)[3] == before[3] | termios.ECHO | termios.ICANON
        window.leave()
        assert "Settled 1, skipped 0" in window.text
        assert "Traceback" not in window.text
    assert len([line for line in desk("journal", "--json").lines() if line["action"] == "settle"]) == 1


def test_the_end_of_the_input(desk: Desk) -> None:
    """Ctrl-D counts as q; with --json the summary is one line."""
    with terminal("triage", "walk", "--json", "--archive", str(desk.folder)) as window:
        window.wait_for(PROMPT)
        window.press("\x04")
        assert window.leave() == 0
        assert window.text.splitlines()[-1] == '{"settled": 0, "skipped": 0, "keys": 0, "journal": []}'


def test_without_a_terminal(desk: Desk) -> None:
    """Without a terminal it does not wait: it leaves with 2 and says which command would have answered."""
    done = process("triage", "walk", "--archive", str(desk.folder), input=b"1111")
    assert done.returncode == 2
    assert b"triage settle E5 --customer" in done.stderr


def test_nothing_is_open(empty: Desk) -> None:
    """Without open messages it says so and leaves."""
    with terminal("triage", "walk", "--archive", str(empty.folder)) as window:
        assert window.leave() == 0
        assert "Nothing is open." in window.text


# --- keys on Windows, whose console gives one character at a time -----------------------------------


def test_keys_of_a_windows_console() -> None:
    """Characters come as they are, Enter as a line end, special keys as one, Ctrl-Z and Ctrl-D end, Ctrl-C stops.

    Source: Microsoft's reference of _getwch: function and arrow keys come as 0 or 0xE0 and a second character.
    """
    pressed = ["a", "\r", "\xe0", "H", "\x00", ";", "ü", "\x1a", "\x04", "\x03"]
    keys = windows_keys(lambda: pressed.pop(0), lambda: bool(pressed))
    assert [keys.read() for _ in range(7)] == ["a", "\n", OTHER, OTHER, "ü", END, END]
    with pytest.raises(KeyboardInterrupt):
        keys.read()
    pressed += ["1", "\xe0", "H", "2"]
    keys.discard()
    assert pressed == []


def test_a_terminal_is_needed_for_both(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where standard input is no terminal nothing is asked, and the next step is told."""
    monkeypatch.setattr(sys.stdin, "isatty", lambda: False, raising=False)
    with pytest.raises(UsageProblem, match="Use --aside"):
        need_terminal("Use --aside.")
