"""What messages bring is printed harmlessly; tables stay readable at every width and in a pipe."""

from __future__ import annotations

import base64
import json
import subprocess
import sys
import unicodedata
from email.message import EmailMessage
from pathlib import Path

import pytest
from cli_world import PATIENCE_SECONDS, Desk, _tidy, desk, empty, own_environment, shelf
from rich.cells import cell_len

from counterfoil.faces.cli.harmless import clean, json_text
from counterfoil.faces.cli.layout import marked, pairs, prose, table

__all__ = ["_tidy", "desk", "empty", "shelf"]

#: Colour, title and clear-screen sequences, C1 controls, direction overrides and isolates, a line separator.
HOSTILE = "\x1b[31mred\x1b]0;title\x07\x9b2J\u202egnp.exe\u2066x\u2069\u200f\u2028[bold]loud[/bold] :bomb: [/nope]"


def steering(text: str) -> list[str]:
    """Return the characters that steer a terminal or turn the direction of writing."""
    return [c for c in text if unicodedata.category(c) in {"Cc", "Cf", "Zl", "Zp"} and c not in "\n\u00ad"]


def hostile_message(folder: Path) -> Path:
    """Write a mail whose every field is hostile and whose attachment makes it open."""
    message = EmailMessage()
    message["From"] = '"Eve [red]Marrow[/red]" <eve@postbox.example>'
    message["To"] = "help@shop.example"
    message["Message-ID"] = "<hostile@postbox.example>"
    message["Date"] = "Tue, 03 Mar 2026 10:00:00 +0000"
    message.set_content(f"Please look at this quiltword {HOSTILE}\n")
    message.add_attachment(b"\x00\x01", maintype="application", subtype="x-thing", filename="a[bold]b.thing")
    raw = message.as_bytes()
    subject = base64.b64encode(HOSTILE.encode())
    (folder / "hostile.eml").write_bytes(b"Subject: =?utf-8?B?" + subject + b"?=\n" + raw)
    return folder / "hostile.eml"


def test_hostile_mail_is_printed_harmlessly(empty: Desk, tmp_path: Path) -> None:
    """Escape sequences, direction overrides and markup in a mail reach the terminal as plain characters."""
    assert empty("ingest", str(hostile_message(tmp_path))).code == 0
    for words in (
        ("triage",),
        ("triage", "show", "E1"),
        ("search", "quiltword"),
        ("search", "E1"),
        ("export",),
        ("triage", "--json"),
        ("triage", "show", "E1", "--json"),
        ("search", "quiltword", "--json"),
    ):
        outcome = empty(*words)
        assert outcome.code == 0, words
        assert steering(outcome.out + outcome.err) == [], words
    shown = empty("triage", "show", "E1").out
    for literal in ("[bold]loud[/bold]", ":bomb:", "[/nope]", "Eve [red]Marrow[/red]"):
        assert literal in " ".join(shown.split()), literal


def test_json_keeps_what_the_mail_said(empty: Desk, tmp_path: Path) -> None:
    """JSON hides nothing: harmful characters are escapes there, and read back as they were."""
    empty("ingest", str(hostile_message(tmp_path)))
    (message,) = empty("export").lines()
    assert "\x9b2J" in str(message["subject"])


def test_hostile_values_typed_at_the_desk(empty: Desk) -> None:
    """A name with markup is shown as typed, in the profile, the search and the refusal of a wrong one."""
    words = (
        "--customer",
        "new",
        "--set",
        "customer_name=Runa [bold]Aldermoor[/bold]",
        "--set",
        "serial_number=Q112233",
    )
    assert empty("record", *words).code == 0
    for command in (("customer", "C1"), ("search", "Runa"), ("machine", "M1"), ("restore", "M1"), ("warranty", "M1")):
        assert "[bold]Aldermoor[/bold]" in empty(*command).out, command
    refusal = empty("customer", "no\x1b[2Jbody")
    assert refusal.code == 12
    assert steering(refusal.err) == []


@pytest.mark.parametrize("text", ["plain", "Käthe Nähringer", "日本語", "a\u00adb", "• … – “x”"])
def test_readable_letters_stay(text: str) -> None:
    """Letters of every script, bullets and soft hyphens are left as they are, as text and in JSON."""
    assert clean(text) == text
    assert json.loads(json_text(text)) == text


def test_json_text_escapes_and_reads_back() -> None:
    """A character that could steer a terminal is an escape in JSON, lone surrogates too, and reads back the same."""
    harmful = "".join(map(chr, (*range(0x20), 0x7F, *range(0x80, 0xA0), 0x202E, 0x2028, 0xE0001, 0xDC80)))
    text = json_text({"value": harmful})
    assert text.isprintable()
    assert json.loads(text) == {"value": harmful}


def _words(text: str) -> set[str]:
    """Return the words that fit any terminal; a column's name has a colon where it stands below the row."""
    return {word.removesuffix(":") for word in text.split() if len(word) < 15}


@pytest.mark.parametrize("width", [40, 80, 120, 200])
def test_no_line_is_wider_than_the_terminal_or_padded(shelf: Desk, width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """At every width lines fit, none ends in blanks, and no value is lost: only its place changes."""
    commands = (
        ("triage",), ("triage", "show", shelf.message("vera-trade-in.eml")), ("search", "Fenna"), ("customer", "C4"),
        ("machine", "M4"), ("warranty", "M4"), ("restore", "M4"), ("patterns", "list"), ("journal",),
    )  # fmt: skip
    wide = {words: shelf(*words).out for words in commands}
    monkeypatch.setenv("COLUMNS", str(width))
    for words in commands:
        lines = shelf(*words).out.splitlines()
        assert [line for line in lines if line != line.rstrip()] == [], words
        # What somebody copies out, commands and paths, is never broken.
        too_wide = [line for line in lines if cell_len(line) > width and "counterfoil" not in line and "/" not in line]
        if width >= 80:
            assert too_wide == [], words
        missing = _words(wide[words]) - _words(" ".join(lines))
        assert missing == set(), words


def test_a_table_gives_up_its_widest_columns(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Too wide for the terminal, a table puts the widest column below the row with its name; the first two stay."""
    monkeypatch.setenv("COLUMNS", "30")
    table("Title", ("", "name", "colour"), [("M1", "Aria", "a very long colour indeed"), ("M2", "Duo", "")])
    assert capsys.readouterr().out.splitlines() == [
        "Title",
        "    name",
        "M1  Aria",
        "    colour: a very long colour",
        "      indeed",
        "M2  Duo",
    ]


def test_a_table_that_fits_stands_in_columns(capsys: pytest.CaptureFixture[str]) -> None:
    """Wide enough, all columns stand beside each other, wide characters counted as two columns (UAX #11)."""
    table(None, ("", "name", "colour"), [("M1", "日本", "red"), ("M2", "Duo", "blue")])
    assert capsys.readouterr().out.splitlines() == ["    name  colour", "M1  日本  red", "M2  Duo   blue"]


def test_prose_and_pairs_hang(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Wrapped text is indented under its beginning; empty pairs are left out."""
    monkeypatch.setenv("COLUMNS", "30")
    prose("one two three four five six seven", first="1. ")
    pairs([("machine", "Maker Model, serial number 12345"), ("holder", "")])
    assert capsys.readouterr().out.splitlines() == [
        "1. one two three four five six",
        "   seven",
        "machine  Maker Model, serial",
        "         number 12345",
    ]


def test_hits_are_marked_without_reading_markup() -> None:
    """The marks around a hit become style; brackets in the text stay text."""
    text = marked("a \x02hit\x03 and [bold]no[/bold] \x02open")
    assert text.plain == "a hit and [bold]no[/bold] open"
    assert [(span.start, span.end) for span in text.spans] == [(2, 5)]


@pytest.mark.skipif(sys.platform == "win32", reason="the shell of the test is a POSIX one")
@pytest.mark.parametrize("command", ["export", "search activation --limit 200", "triage", "journal"])
def test_a_reader_that_has_seen_enough(shelf: Desk, command: str) -> None:
    """Piped into a reader that closes early, a command ends quietly and well."""
    line = f"{sys.executable} -m counterfoil {command} --archive {shelf.folder} | head -n 1; echo ${{PIPESTATUS[0]}}"
    done = subprocess.run(
        ["bash", "-c", line], capture_output=True, timeout=PATIENCE_SECONDS, env=own_environment(), check=True
    )
    assert done.stderr == b""
    assert done.stdout.splitlines()[-1] == b"0"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a device that is always full")
@pytest.mark.parametrize("command", ["export", "search Fenna"])
def test_output_that_cannot_be_written(shelf: Desk, command: str) -> None:
    """When standard output is on a full disk the command leaves with 11 and says so."""
    words = [sys.executable, "-m", "counterfoil", *command.split(), "--archive", str(shelf.folder)]
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(words, stdout=full, stderr=subprocess.PIPE, env=own_environment(), check=False)
    assert done.returncode == 11
    assert b"cannot be written" in done.stderr
    assert b"Traceback" not in done.stderr


def test_an_old_terminal_gets_stand_ins(shelf: Desk) -> None:
    """Where the output cannot show a character, as ASCII cannot show bullets, a stand-in is printed."""
    words = [sys.executable, "-m", "counterfoil", "machine", "M4", "--archive", str(shelf.folder)]
    done = subprocess.run(
        words, capture_output=True, env=own_environment(PYTHONIOENCODING="ascii", PYTHONUTF8="0"), check=True
    )
    assert b"\\u2022" in done.stdout
    assert done.stdout.isascii()
