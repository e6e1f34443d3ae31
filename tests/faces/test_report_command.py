"""`report ...`: each list as table, CSV, JSON, file and chart; nothing is written over; long ones go page by page."""

from __future__ import annotations

import csv
import io
import json
import os
import stat
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from cli_world import Desk, _tidy, desk, empty, process, shelf, shown_secrets
from pty_world import terminal

__all__ = ["_tidy", "desk", "empty", "shelf"]

LISTS = ("weeks", "firmware", "versions", "upgrades", "proof", "keys")
CHARTS = ("weeks", "firmware", "versions", "upgrades")
MODEL = ("firmware", "--model", "Aria 5", "--below", "2.0.1")


def rows(text: str) -> list[list[str]]:
    """Read CSV with the standard library."""
    return list(csv.reader(io.StringIO(text)))


@pytest.mark.parametrize("name", LISTS)
def test_every_list_in_every_form(shelf: Desk, name: str) -> None:
    """Table, CSV and JSON tell of the same rows, and none shows a code."""
    table = shelf("report", name)
    data = shelf("report", name, "--json").json()
    lines = rows(shelf("report", name, "--csv").out)
    assert table.code == 0
    listed, apart = data["rows"], data["apart"]
    assert isinstance(listed, list) and isinstance(apart, list)
    every = [*listed, *(row for part in apart for row in part["rows"])]
    assert len(lines) == len(every) + 1 > 1
    for row, line in zip(every, lines[1:], strict=True):
        assert ["" if v is None else str(v) for v in list(row.values())[:3]] == [c.removeprefix("'") for c in line[:3]]
        if row.get("machine"):
            assert str(row["machine"]) in table.out
    assert shown_secrets(table.out + json.dumps(data) + str(lines)) == []


@pytest.mark.parametrize("name", CHARTS)
def test_charts_in_the_terminal_and_as_a_file(shelf: Desk, tmp_path: Path, name: str) -> None:
    """The same figures stand beside bars on the terminal and in an SVG file."""
    figures = shelf("report", name, "--json").json()["chart"]
    assert isinstance(figures, dict) and figures
    drawn = shelf("report", name, "--chart").out
    assert "█" in drawn
    lines = drawn.splitlines()
    shown = []
    for label, values in figures.items():
        (line,) = [line for line in lines if line.startswith(f"{label} ")]
        assert [word for word in line.removeprefix(label).split() if word.isdigit()] == list(map(str, values.values()))
        shown.append(line)
    bars = [(sum(values.values()), line.count("█")) for values, line in zip(figures.values(), shown, strict=True)]
    # All bars are to one scale; an eighth of a block a series may be lost at the end of a bar.
    assert all(one[1] <= other[1] + 3 for one in bars for other in bars if one[0] <= other[0])
    out = tmp_path / f"{name}.svg"
    assert shelf("report", name, "--out", str(out)).code == 0
    root = ET.fromstring(out.read_bytes())
    texts = {"".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text")}
    assert set(figures) <= texts


def test_bars_without_block_characters(shelf: Desk) -> None:
    """Where the output cannot show blocks, bars are made of number signs."""
    done = process("report", "weeks", "--chart", "--archive", str(shelf.folder), PYTHONIOENCODING="ascii")
    text = done.stdout.decode("ascii")
    assert "#" in text and "\\u" not in text


@pytest.mark.parametrize("name", ["proof", "keys"])
def test_what_has_no_chart_says_so(shelf: Desk, tmp_path: Path, name: str) -> None:
    """A list without figures refuses to be drawn, and writes nothing."""
    out = tmp_path / "x.svg"
    for words in (("--chart",), ("--out", str(out))):
        outcome = shelf("report", name, *words)
        assert (outcome.code, "no chart" in outcome.err) == (2, True)
    assert not out.exists()


def test_a_mailing(shelf: Desk, tmp_path: Path) -> None:
    """The CSV for a mailing begins with the mark of UTF-8 that spreadsheets look for; only its owner can read it."""
    out = tmp_path / "mailing.csv"
    said = shelf("report", *MODEL, "--out", str(out))
    data = out.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    assert os.name == "nt" or stat.S_IMODE(out.stat().st_mode) == 0o600
    lines = rows(data.decode("utf-8-sig"))
    assert lines[0] == [
        *("customer", "name", "email", "phone", "address", "language"),
        *("machine", "maker", "model", "serial number", "firmware", "noted on", "noted in", "group"),
    ]
    below = [line for line in lines[1:] if line[-1] == "below 2.0.1"]
    assert {line[10] for line in below} == {"1.9"}
    assert all("@" in line[2] for line in below)
    assert said.out == f"Written: {out} ({len(below)} below 2.0.1 and {len(lines) - 1 - len(below)} not known)\n"
    plain = tmp_path / "plain.csv"
    shelf("report", *MODEL, "--out", str(plain), "--encoding", "utf-8", "--delimiter", "tab")
    assert plain.read_text(encoding="utf-8").startswith("customer\tname\t")


def test_nothing_is_written_over_without_a_word(shelf: Desk, tmp_path: Path) -> None:
    """A file that is there stays; with --replace it is the new one, and nothing else is left behind."""
    out = tmp_path / "keys.json"
    out.write_text("mine", encoding="utf-8")
    refused = shelf("report", "keys", "--out", str(out))
    assert (refused.code, "--replace" in refused.err) == (2, True)
    assert out.read_text(encoding="utf-8") == "mine"
    assert shelf("report", "keys", "--out", str(out), "--replace").code == 0
    assert json.loads(out.read_text(encoding="utf-8"))["report"] == "keys"
    assert [path.name for path in tmp_path.iterdir()] == ["keys.json"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("keys", "--out", "keys.txt"), ".csv, .json or .svg"),
        (("keys", "--csv", "--json"), "one way at a time"),
        (("keys", "--csv", "--delimiter", "ab"), "delimiter"),
        (("keys", "--out", "keys.csv", "--encoding", "utf-99"), "utf-99"),
        (("firmware", "--below", "2.10"), "--model"),
        (("firmware", "--below", "new", "--model", "Aria 5"), "no firmware version"),
        (("upgrades", "--upgrade", "Garden of Hems"), "Quilt Pack"),
    ],
)
def test_wrong_use(
    shelf: Desk, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, words: tuple[str, ...], said: str
) -> None:
    """A list asked for wrongly leaves with 2, says what would be right, and writes nothing."""
    monkeypatch.chdir(tmp_path)
    outcome = shelf("report", *words)
    assert (outcome.code, outcome.out) == (2, "")
    assert said in outcome.err
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_cannot_be_written(shelf: Desk, tmp_path: Path) -> None:
    """A folder that is not there leaves with 11 and names the file."""
    outcome = shelf("report", "keys", "--out", str(tmp_path / "no" / "keys.csv"))
    assert (outcome.code, "keys.csv" in outcome.err) == (11, True)


@pytest.mark.parametrize("name", LISTS)
def test_empty_lists_are_a_sentence(empty: Desk, name: str) -> None:
    """Without records every list says so in a sentence; its CSV has only headings, its chart nothing to draw."""
    outcome = empty("report", name)
    assert outcome.code == 0
    assert outcome.out.rstrip().endswith(".")
    lines = rows(empty("report", name, "--csv").out)
    assert len(lines) == 1 or name == "weeks"
    if name in CHARTS:
        assert "nothing to draw" in empty("report", name, "--chart").out


def test_an_empty_mailing_says_so(shelf: Desk, tmp_path: Path) -> None:
    """A file without rows is written, and the sentence stands beside it, not among the rows."""
    out = tmp_path / "none.csv"
    outcome = shelf("report", "firmware", "--model", "Aria 5", "--below", "1.0", "--out", str(out))
    assert outcome.err == "No Aria 5 on record has firmware below 1.0.\n"
    assert outcome.out.startswith(f"Written: {out} (0 below 1.0 and ")


def test_long_lists_go_page_by_page(shelf: Desk, tmp_path: Path) -> None:
    """On a terminal a list longer than the screen goes through the pager; a short one, and a pipe, do not."""
    pager = tmp_path / "pager.sh"
    pager.write_text("#!/bin/sh\necho PAGED\nexec cat\n", encoding="utf-8")
    pager.chmod(0o755)
    folder = ("--archive", str(shelf.folder))
    for words, is_paged in ((("upgrades",), True), (("keys",), False)):
        with terminal("report", *words, *folder, PAGER=str(pager), LINES="24") as window:
            assert window.leave() == 0
            assert ("PAGED" in window.text) is is_paged
            assert "Machines without" in window.text or "seen on more than one machine" in window.text
    assert "PAGED" not in process("report", "upgrades", *folder, PAGER=str(pager)).stdout.decode()


def test_drawing_is_imported_when_it_draws(shelf: Desk) -> None:
    """A list as a table does not load the chart library."""
    import subprocess
    import sys

    from cli_world import own_environment

    code = (
        "import sys\nfrom counterfoil.faces.cli import run\n"
        f"run(['report', 'weeks', '--archive', {str(shelf.folder)!r}])\n"
        "print('reportlab' in sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env=own_environment(), check=True
    )
    assert done.stderr.strip() == "False"
