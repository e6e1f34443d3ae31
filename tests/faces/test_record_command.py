"""`record`: typed on a real terminal with checks at once, given by options without one, corrected, and its slip."""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path

import pypdfium2
import pytest
from cli_world import Desk, _tidy, desk, process, shelf, shown_secrets
from pty_world import terminal

__all__ = ["_tidy", "desk", "shelf"]

PROMPT = " > "


def type_in(desk: Desk, *answers: tuple[str, str], more: tuple[str, ...] = ()) -> tuple[int, str]:
    """Answer prompts one after the other; return the exit code and all that was printed.

    Args:
        desk: the archive.
        answers: words that must stand in the question, and what is typed.
        more: further words of the command.
    """
    with terminal("record", "--archive", str(desk.folder), "--who", "Ada", *more) as window:
        for asked, text in answers:
            shown = window.wait_for(PROMPT)
            assert asked in shown, (asked, shown)
            window.press(f"{text}\n")
        code = window.leave()
        return code, window.text


def last(desk: Desk) -> dict[str, object]:
    """Return the last line of the journal."""
    return desk("journal", "--json").lines()[-1]


# --- on a terminal ------------------------------------------------------------------------------------


def test_a_known_machine_is_shown_and_confirmed(desk: Desk) -> None:
    """A known number shows machine and holder; backwards firmware needs a yes; Enter leaves out; one yes enters it."""
    code, text = type_in(
        desk,
        ("Machine ID or serial number", "vb45 2268294"),
        ("Is it this machine?", "y"),
        ("Customer (Enter: that holder", ""),
        ("before the update (last noted: 2.40, 2026-10-20)", "2.10"),
        ("The firmware 2.10 is older than 2.40", "n"),
        ("before the update", "2.40"),
        ("after the update", "new"),
        ("no firmware version", "2.60b"),
        ("Product key", ""),
        ("Activation code", ""),
        ("Purchase date", ""),
        ("Enter it?", "y"),
    )
    assert code == 0
    assert "On record: M16  Vesterlyng Orkan 720" in text and "held by C16  Tamsin Wexcombe" in text
    line = last(desk)
    assert (line["action"], line["subject"], line["who"]) == ("record", "M16", "Ada")
    detail = line["detail"]
    assert isinstance(detail, dict)
    assert [v["value"] for v in detail["values"]][1:] == ["2.40", "2.60b"]
    assert (detail["sure"], detail["customer"]) == (False, "C16")


def test_look_alikes_are_offered_and_not_applied(desk: Desk) -> None:
    """O for 0 offers the code that passes; the unknown number makes a new machine; two dates are asked about."""
    code, _ = type_in(
        desk,
        ("Machine ID or serial number", ""),
        ("This is needed.", "VL-4272-O822-8"),
        ("1  VL-4272-0822-8", "1"),
        ("Not on record: it will be a new machine.", "Vesterling"),
        ("The maker files have: Vesterlyng", "y"),
        ("2  Brise 340", "2"),
        ("Serial number", "VB99-1234567"),
        ("Customer", "Nobody Likethat"),
        ("Nobody like that is on record", "new"),
        ("Name", "Wilma Tester"),
        ("E-mail address", "wilma"),
        ("is no email address", "wilma@tester.example"),
        ("Phone number", ""),
        ("before the update", ""),
        ("after the update", "2.60"),
        ("Product key", ""),
        ("Activation code", ""),
        ("Purchase date", "3/4/2026"),
        ("can be read as 2026-04-03 or 2026-03-04", "2"),
        ("Enter it?", "y"),
    )
    assert code == 0
    machine = str(last(desk)["subject"])
    data = desk("machine", machine, "--json").json()
    assert data["machine_ids"] == ["VL-4272-0822-8"]
    assert (data["maker"], data["model"], data["serial_number"]) == ("Vesterlyng", "Brise 340", "VB99-1234567")
    assert data["purchased"] == "2026-03-04"


def test_a_slip_of_the_finger_offers_the_machine_on_record(desk: Desk) -> None:
    """A number one digit off offers the machine like it; a failed check digit is said at once and needs a yes."""
    code, _ = type_in(
        desk,
        ("Machine ID or serial number", "VL-8157-3252-5"),
        ("1  M16  Vesterlyng Orkan 720", ""),
        ("The check digit of the machine ID VL-8157-3252-5 does not fit", "n"),
        ("Machine ID or serial number", "VL-8157-3252-5"),
        ("1 it is that one, as on record", "1"),
        ("Customer (Enter: that holder", "tamsin"),
        ("1  C16  Tamsin Wexcombe", "1"),
        ("before the update", ""),
        ("after the update", "2.60"),
        ("Product key", ""),
        ("Activation code", ""),
        ("Purchase date", ""),
        ("Enter it?", "n"),
    )
    assert code == 0
    assert desk("journal", "--json").out == ""


def test_what_speaks_against_it_is_shown_and_accepted(desk: Desk) -> None:
    """A key of another machine is said at once and at the end; accepted by a yes, the journal has the sentence."""
    shown = desk("restore", "M1", "--reveal", "--reason", "test", "--json").json()["upgrades"]
    key = str(shown[0]["product_key"])  # type: ignore[index]
    code, text = type_in(
        desk,
        ("Is it this machine?", "y"),
        ("Customer (Enter: that holder", "C4"),
        ("1  C4", "1"),
        ("Has it changed hands?", "n"),
        ("Customer (Enter: that holder", ""),
        ("before the update", ""),
        ("after the update", ""),
        ("Product key", key),
        ("On another machine already: M1  Vesterlyng", "y"),
        ("Activation code", ""),
        ("Upgrade name (number or name)", "1"),
        ("Purchase date", ""),
        ("is on another machine already: M1", "y"),
        more=("--set", "machine_id=VL-8157-3252-4", "--ask"),
    )
    assert code == 0
    detail = last(desk)["detail"]
    assert isinstance(detail, dict)
    assert detail["sure"] is True and "on another machine already: M1" in detail["against"][0]
    # What was typed stands on the screen; what the command says of it is masked.
    assert text.count(key) == 1


def test_stopped_half_way(desk: Desk) -> None:
    """Ctrl-C and the end of input leave with 130, and nothing was entered."""
    for key in ("\x03", "\x04"):
        with terminal("record", "--archive", str(desk.folder)) as window:
            window.wait_for(PROMPT)
            window.press("VB45-2268294\n")
            window.wait_for("Is it this machine?  y n > ")
            assert window.stop(key) == 130
    assert desk("journal", "--json").out == ""


# --- without a terminal -------------------------------------------------------------------------------


def test_without_a_terminal_nothing_waits(desk: Desk) -> None:
    """Without a terminal the options that would have answered are named, and nothing is read from the input."""
    for words in (("record",), ("record", "--ask")):
        done = process(*words, "--archive", str(desk.folder), input=b"VB45-2268294\ny\n")
        assert done.returncode == 2
        for option in ("--set machine_id=", "--set serial_number=", "--firmware-after", "--customer"):
            assert option in done.stderr.decode()


@pytest.mark.parametrize(
    ("words", "code", "named"),
    [
        (("--set", "serial_number=VB99-1234567"), 13, "--customer"),
        (("--set", "serial_number=VB99-1234567", "--customer", "new"), 13, "--set customer_name="),
        (("--set", "model=Brise 300", "--customer", "C1"), 2, "--set machine_id="),
        (("--set", "serial_number=VB45-2268294", "--firmware-after", "2.10"), 13, "--sure"),
        (("--set", "machine_id=VL-8157-3252-5", "--customer", "C16"), 13, "check digit"),
        (("--correct", "J1", "--customer", "C4"), 2, "counterfoil undo J1"),
        (("--correct", "J1"), 2, "--drop"),
        (("--drop", "model"), 2, "--correct"),
        (("--slip-of", "J1"), 2, "--slip OUT.pdf"),
        (("--slip-of", "J1", "--slip", "x.pdf", "--set", "model=x"), 2, "--slip-of"),
        (("--slip-of", "J1", "--slip", "x.pdf"), 13, "no entry at the bench"),
    ],
)
def test_refusals_name_the_option(
    shelf: Desk, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, words: tuple[str, ...], code: int, named: str
) -> None:
    """What is missing or wrong is named with the option that puts it right; nothing is entered or written."""
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    outcome = shelf("record", *words)
    assert (outcome.code, outcome.out) == (code, "")
    assert named in outcome.err
    assert list((tmp_path / "here").iterdir()) == []
    assert shelf("journal", "--json").out == ""


def test_entered_corrected_and_undone(desk: Desk) -> None:
    """By options: entered, corrected by a new line, the first entry still in the journal, undone in turn."""
    before = desk("machine", "M16", "--json").out
    entered = desk("record", "--set", "serial_number=VB45-2268294", "--firmware-after", "2.60", "--json").json()
    assert entered == {"customer": "C16", "machine": "M16", "journal": "J1"}
    page = desk(
        "record", "--correct", "j1", "--firmware-after", "2.61", "--set", "purchase_date=2026-10-01", "--why", "x"
    )
    assert page.code == 0 and "counterfoil undo J2" in page.out
    firmware = desk("machine", "M16", "--json").json()["firmware"]
    assert [note["version"] for note in firmware] == ["2.40", "2.61"]  # type: ignore[attr-defined]
    first, second = desk("journal", "M16", "--json").lines()
    assert (first["action"], first["undone_by"]) == ("record", None)
    assert second["detail"]["after"]["firmware_version after"] == "2.61"  # type: ignore[index]
    assert desk("undo", "J1").code == 13
    assert desk("undo", "J2").code == 0
    assert desk("undo", "J1").code == 0
    assert desk("machine", "M16", "--json").out == before
    assert desk("verify").code == 0


# --- the slip -----------------------------------------------------------------------------------------


def test_a_slip_with_the_entry_and_later(desk: Desk, tmp_path: Path) -> None:
    """The slip is written with the entry, or later; it holds no code, and only its owner can read it."""
    shown = desk("restore", "M16", "--reveal", "--reason", "test", "--json").json()["upgrades"]
    key = str(shown[0]["product_key"])  # type: ignore[index]
    out, again = tmp_path / "slip.pdf", tmp_path / "again.pdf"
    words = ("--set", "serial_number=VB45-2268294", "--set", f"product_key={key}", "--firmware-after", "2.60")
    made = desk("record", *words, "--slip", str(out), "--json").json()
    assert made["slip"] == str(out)
    assert desk("record", "--slip-of", str(made["journal"]), "--slip", str(again)).out == f"Written: {again}\n"
    assert out.read_bytes() == again.read_bytes()
    document = pypdfium2.PdfDocument(out.read_bytes())
    text = document[0].get_textpage().get_text_range()
    document.close()
    assert "2.60" in text and key[-2:] in text
    assert shown_secrets(text) == [] and shown_secrets(json.dumps(made)) == []
    assert os.name == "nt" or stat.S_IMODE(out.stat().st_mode) == 0o600


def test_a_slip_that_is_there_stops_the_entry(desk: Desk, tmp_path: Path) -> None:
    """A file of that name stays, and nothing is entered; one that cannot be written does not lose the entry."""
    out = tmp_path / "slip.pdf"
    out.write_text("mine", encoding="utf-8")
    words = ("record", "--set", "serial_number=VB45-2268294", "--firmware-after", "2.60", "--slip")
    refused = desk(*words, str(out))
    assert (refused.code, out.read_text(encoding="utf-8")) == (2, "mine")
    assert desk("journal", "--json").out == ""
    kept = desk(*words, str(tmp_path / "no" / "slip.pdf"))
    assert (kept.code, "--slip-of J1" in kept.err) == (11, True)
    assert "M16" in kept.out
