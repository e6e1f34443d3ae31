"""`triage walk` on a real terminal: settled by keys alone, taken back by keys alone, the terminal left as it was."""

from __future__ import annotations

import os
import random
import re
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable
from email.message import EmailMessage
from pathlib import Path

import pytest
import sqlalchemy as sa
from cli_world import Desk, _tidy, desk, empty, process
from pty_world import Terminal, terminal

from counterfoil.archive import Archive
from counterfoil.errors import UsageProblem
from counterfoil.faces.cli.keys import END, OTHER, need_terminal, windows_keys
from counterfoil.records import schema

__all__ = ["_tidy", "desk", "empty"]

#: How a prompt ends; a key is pressed only once it stands there.
PROMPT = " > "
#: What an answer that is refused prints.
REFUSED = "\nrefused\n"
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


def next_open(desk: Desk) -> str:
    """Return an open message."""
    return str(next(r["id"] for r in desk("export").lines() if r.get("standing") == "open"))


def answer(shown: str) -> str:
    """Return the key that a person might press: the likely answer where there is one, else aside."""
    prompt = shown.splitlines()[-1]
    return "a" if REFUSED in shown else "1" if prompt.startswith("1") else "a"


def settle_all(window: Terminal) -> int:
    """Answer until everything was asked; return the number of keys pressed for it."""
    while "That was the last one." not in (shown := window.wait_for(PROMPT)):
        window.press(answer(shown))
    return window.pressed


def records(desk: Desk) -> dict[str, list[tuple[object, ...]]]:
    """Return every row of every table but the journal, the counters of used ids, and what only tells the index to look
    again."""
    store = Archive(desk.folder).store
    found = {}
    with store.reading() as conn:
        for table in schema.metadata.sorted_tables:
            if table.name not in ("journal", "counter", "migration"):
                kept = [c for c in table.columns if c.name not in ("revision", "again") or table.name == "holding"]
                found[table.name] = sorted((tuple(row) for row in conn.execute(sa.select(*kept))), key=repr)
    store.close()
    return found


def test_thirty_settled_by_keys_alone_and_all_undone(
    desk: Desk, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """Thirty and more open messages are settled with keys alone; as many u's bring every row of every table back."""
    number = more_open(desk, tmp_path)
    assert number >= 30
    before, rows = desk("export").out, records(desk)
    with terminal("triage", "walk", "--who", "kim", "--archive", str(desk.folder)) as window:
        for_all = settle_all(window)
        assert desk("triage", "--json").json()["groups"] == []
        assert records(desk) != rows
        settled = [line for line in desk("journal", "--limit", "500", "--json").lines() if line["action"] == "settle"]
        assert len(settled) == number
        assert {line["who"] for line in settled} == {"kim"}
        after = Counter(r["standing"] for r in desk("export").lines() if r["record"] == "message")
        # Two keys where an answer was refused and it was then put aside, or two questions were asked, else one.
        assert number <= for_all <= number + 15
        for left in reversed(range(number)):
            window.press("u")
            assert f"({left + 1} of {number})" in window.wait_for(PROMPT)
        window.press("q")
        assert window.leave() == 0
        assert window.pressed == for_all + number + 1
        assert f"Settled 0, skipped 0; {window.pressed} keys." in window.text
    assert desk("export").out == before
    assert records(desk) == rows
    assert desk("verify").code == 0
    figures = f"{number} messages settled with {for_all} keys, undone with {number}; standing in between: {dict(after)}"
    record_property("walk", figures)
    print(figures)


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
        while REFUSED not in refused:
            window.press("1")
            refused = window.wait_for(PROMPT)
        assert "check digit" in " ".join(refused.split())
        window.press("!")
        assert "filed: " in window.wait_for(PROMPT)
        window.press("q")
        window.leave()
    line = desk("journal", ref, "--json").lines()[-1]
    assert (line["action"], line["why"]) == ("settle", "triage walk")


def test_what_settling_will_do_is_shown_first(desk: Desk) -> None:
    """Before a key is pressed each answer says where it files the message, and that is where it is filed."""
    with terminal("triage", "walk", "--archive", str(desk.folder)) as window:
        while "Barnaby Thackerby" not in (shown := window.wait_for(PROMPT)):
            window.press("s")
        effects = re.findall(r"-> (files it to .*)", shown)
        assert effects == ["files it to a new customer, a new machine", "files it to C9, a new machine"]
        window.press("2")
        assert "filed: C9 M" in window.wait_for(PROMPT)
        window.press("u")
        while "Vera Lintock" not in (shown := window.wait_for(PROMPT)):
            window.press("s")
        assert "-> files it to a new customer, M1, which C1 no longer has then" in shown
        window.press("q")
        assert window.leave() == 0


def test_the_text_comes_in_pieces(desk: Desk, tmp_path: Path) -> None:
    """A long text is shown piece by piece, each line once; after the last it begins again."""
    mail = kin_mail(0, random.Random(5)).replace(b"Dear customer,", b"".join(b"line %d\n" % n for n in range(30)))
    (tmp_path / "long.eml").write_bytes(mail.replace(b"Thackerby", b"Aldermoor").replace(b"Machine ID", b"Machine"))
    desk("ingest", str(tmp_path / "long.eml"))
    with terminal("triage", "walk", "--archive", str(desk.folder)) as window:
        while "Ada Aldermoor" not in window.wait_for(PROMPT):
            window.press("s")
        shown = ""
        for _ in range(4):
            window.press("o")
            piece = window.wait_for(PROMPT)
            assert piece.count("\n") < 24
            shown += piece
            if "o shows more" not in piece:
                break
        assert [shown.count(f"line {n}\n") for n in range(30)] == [1] * 30
        window.press("?")
        assert "1-9 an answer" in window.wait_for(PROMPT)
        window.press("q")
        assert window.leave() == 0


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
        # The terminal outlives the command: its settings can be looked at before it is closed.
        assert window.stop("\x03") == 130
        assert termios.tcgetattr(window.master)[3] == before[3] | termios.ECHO | termios.ICANON
        window.leave()
        assert "Settled 1, skipped 0" in window.text
        assert "Traceback" not in window.text
    assert len([line for line in desk("journal", "--json").lines() if line["action"] == "settle"]) == 1


@pytest.mark.parametrize("ended_by", ["the window is closed", "told to end"])
def test_ended_from_outside(desk: Desk, ended_by: str) -> None:
    """Closed with its window, or told to end, it leaves what was settled whole and settles nothing more."""
    with terminal("triage", "walk", "--archive", str(desk.folder)) as window:
        window.wait_for(PROMPT)
        window.press("a")
        window.wait_for(PROMPT)
        if ended_by == "told to end":
            window.process.terminate()
            assert window.process.wait(60) == 130
            window.leave()
            assert "Settled 1, skipped 0" in window.text
        else:
            # The kernel sends SIGHUP to the session when the other side of its terminal goes.
            window.close()
            assert window.process.wait(60) == -signal.SIGHUP
    assert len([line for line in desk("journal", "--json").lines() if line["action"] == "settle"]) == 1
    assert desk("verify").code == 0
    assert desk("triage", "settle", next_open(desk), "--aside").code == 0


def test_stopped_and_brought_back(desk: Desk) -> None:
    """Stopped with Ctrl-Z and continued, it takes single keys again, though a shell has set the terminal otherwise."""
    import termios

    with terminal("triage", "walk", "--archive", str(desk.folder)) as window:
        window.wait_for(PROMPT)
        # A session without a shell is an orphan, which Ctrl-Z cannot stop; the signals are the same.
        window.process.send_signal(signal.SIGSTOP)
        os.waitpid(window.process.pid, os.WUNTRACED)
        modes = termios.tcgetattr(window.master)
        modes[3] |= termios.ICANON | termios.ECHO
        termios.tcsetattr(window.master, termios.TCSANOW, modes)
        window.process.send_signal(signal.SIGCONT)
        while termios.tcgetattr(window.master)[3] & termios.ICANON:
            time.sleep(0.01)
        window.press("s")
        assert "skipped" in window.wait_for(PROMPT)
        window.press("q")
        assert window.leave() == 0


def test_keys_over_a_slow_line(desk: Desk) -> None:
    """An arrow key, a function key and a letter of two bytes, each byte late, answer nothing."""
    with terminal("triage", "walk", "--archive", str(desk.folder)) as window:
        window.wait_for(PROMPT)
        for sequence in (b"\x1b[A", b"\x1bOD", b"\x1b[15~", "ä".encode()):
            for byte in sequence:
                os.write(window.master, bytes([byte]))
                time.sleep(0.15)
            assert "none of the keys" in window.wait_for(PROMPT)
        # Half a letter: what follows is not swallowed for ever.
        os.write(window.master, b"\xc3")
        assert "none of the keys" in window.wait_for(PROMPT)
        window.press("q")
        assert window.leave() == 0
        assert "Settled 0, skipped 0; 6 keys." in window.text


def test_little_is_printed(desk: Desk) -> None:
    """Nothing is drawn twice: no key moves the cursor, and no question takes two seconds at 9600 bit/s."""
    with terminal("triage", "walk", "--archive", str(desk.folder)) as window:
        longest = 0
        while "That was the last one." not in (shown := window.wait_for(PROMPT)):
            longest = max(longest, len(shown.encode()))
            window.press("s")
        window.press("q")
        assert window.leave() == 0
        assert "\x1b" not in window.text and "\r" not in window.text
        assert window.text.count("1-9 an answer") == 1
    # 9600 bit/s are 960 characters a second with start and stop bit; the longest question has several candidates.
    assert longest < 2 * 960


def test_somebody_else_was_quicker(desk: Desk) -> None:
    """A message settled by somebody else while its question stands there keeps their decision."""
    with terminal("triage", "walk", "--archive", str(desk.folder)) as window:
        ref = window.wait_for(PROMPT).split("\n\n")[1].split()[0]
        assert desk("triage", "settle", ref, "--aside", "--who", "lou").code == 0
        window.press("a")
        assert "somebody else has settled it" in window.wait_for(PROMPT)
        window.press("q")
        assert window.leave() == 0
    assert [line["who"] for line in desk("journal", ref, "--json").lines()] == ["lou"]


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
