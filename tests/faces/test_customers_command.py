"""`counterfoil customers`: what a list would bring is shown first, taken in when told, and written out again."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from cli_world import Desk, _tidy, desk, empty
from conftest import SAMPLES

__all__ = ["_tidy", "desk", "empty"]

LIST = str(SAMPLES / "customers.csv")


def test_a_list_is_shown_first(empty: Desk) -> None:
    """Without --write the command says how the file was understood, what it would bring and ask; nothing changes."""
    shown = empty("customers", "import", LIST)
    assert shown.code == 1
    for said in ("utf-8", "comma", "street", "not taken  language", "Fiammetta Asolapura", "Add --write", "--answer"):
        assert said in shown.out
    assert empty("journal").out.startswith("Nothing")
    assert empty("customers", "export", "-").out == "name,email,phone,address\r\n"


def test_a_list_is_taken_in_once_and_back(empty: Desk) -> None:
    """With --write it is taken in, a second time nothing is; the line of the journal named takes it back."""
    first = empty("customers", "import", LIST, "--write", "--distinct", "--json").json()
    assert (first["journal"], first["questions"], first["bad"], first["delimiter"]) == ("J1", [], [], ",")
    second = empty("customers", "import", LIST, "--write", "--distinct")
    assert second.code == 0
    assert "There was nothing to write." in second.out
    assert "line 2 of the list" in empty("customer", "Fiammetta", "Asolapura").out
    assert empty("triage", "undo", "J1").code == 0
    assert empty("customers", "export", "-").out.count("\n") == 1


def test_bad_rows_merges_and_questions_are_listed(desk: Desk, tmp_path: Path) -> None:
    """Against an archive with mail, rows are shown by line: bad ones with the reason, known ones with what is added,
    doubtful ones with candidates and their evidence, and an answer settles one."""
    known = next(r for r in desk("export").lines() if r["record"] == "customer" and r["emails"])
    name, mail, ref = known["names"][0], known["emails"][0], known["id"]  # type: ignore[index]
    path = tmp_path / "list.csv"
    text = f"Kundin;Post;Tel\n{name};{mail};020 7946 0991\n;x@post.example;\n{name};;020 7946 0992\n"
    path.write_text(text, encoding="cp1252")
    words = ("customers", "import", str(path), "--column", "name=Kundin", "--column", "email=Post")
    shown = desk(*words)
    assert shown.code == 1
    assert f"line 2: {name} is {ref}, adding 020 7946 0991" in shown.out
    assert "line 3: It has no name." in shown.out
    assert f"--answer 4={ref}" in shown.out
    done = desk(*words, "--answer", f"4={ref}", "--write", "--json").json()
    merged = done["merged"]
    assert isinstance(merged, list)
    assert [merge["into"] for merge in merged] == [ref, ref]
    assert done["questions"] == []


@pytest.mark.parametrize(
    "words",
    [
        ("--column", "name"),
        ("--column", "shoe=name"),
        ("--column", "name=Wer"),
        ("--answer", "x=C1"),
        ("--answer", "2=C1", "--answer", "2=C2"),
        ("--region", "Germany"),
        ("--encoding", "utf-99"),
        ("--delimiter", "::"),
    ],
)
def test_wrong_options_are_refused(empty: Desk, words: tuple[str, ...]) -> None:
    """An option that cannot be meant ends with exit code 2 and a sentence, and writes nothing."""
    outcome = empty("customers", "import", LIST, *words, "--write")
    assert (outcome.code, outcome.out) == (2, "")
    assert outcome.err.startswith("counterfoil: ")
    assert empty("journal").out.startswith("Nothing")


def test_the_list_is_written_out(empty: Desk, tmp_path: Path) -> None:
    """The list goes to a new file that only its owner can read, in the encoding and with the delimiter named; a file
    that is there is not written over, and the list can be read back into another archive."""
    empty("customers", "import", LIST, "--write", "--distinct")
    path = tmp_path / "out.csv"
    said = empty("customers", "export", str(path), "--encoding", "utf-8-sig", "--delimiter", "tab", "--json").json()
    assert said["customers"] == path.read_text(encoding="utf-8-sig").count("\n") - 1
    assert "export" in empty("journal").out
    assert path.read_bytes().startswith(b"\xef\xbb\xbfname\temail\tphone\taddress\r\n")
    if sys.platform != "win32":
        assert path.stat().st_mode & 0o77 == 0
    assert empty("customers", "export", str(path)).code == 2
    again = empty("customers", "import", str(path), "--write", "--distinct").out
    assert "There was nothing to write." in again
    assert empty("customers", "export", str(tmp_path / "b.csv"), "--encoding", "ascii").code == 2
    assert empty("customers", "export", str(tmp_path / "c.csv"), "--delimiter", "::").code == 2
    assert empty("customers", "export", "-", "--json").code == 2
