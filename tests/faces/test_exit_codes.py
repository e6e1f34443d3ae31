"""Each class of error leaves with its own exit code, says what to do next, and never with a traceback."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from cli_world import Desk, _tidy, desk, empty, own_environment, process, shelf
from conftest import SAMPLES

from counterfoil.faces.cli import run

__all__ = ["_tidy", "desk", "empty", "shelf"]


def refused(outcome: object, code: int, *words: str) -> None:
    """Hold an outcome against its exit code; the sentence on standard error names what was wrong."""
    assert outcome.code == code, outcome  # type: ignore[attr-defined]
    assert outcome.out == ""  # type: ignore[attr-defined]
    for word in ("counterfoil", *words):
        assert word in outcome.err  # type: ignore[attr-defined]


@pytest.mark.parametrize("command", [("search", "x"), ("ingest", "-"), ("triage",), ("verify",), ("export",)])
def test_missing_archive(command: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without an archive in the folder every command leaves with 4 and says how to make one."""
    assert run([*command, "--archive", str(tmp_path / "none")]) == 4
    assert "counterfoil init" in capsys.readouterr().err


def test_the_archive_may_come_from_the_environment(shelf: Desk) -> None:
    """COUNTERFOIL_ARCHIVE names the archive where --archive does not; a folder on the group serves its commands."""
    done = process("customer", "C1", COUNTERFOIL_ARCHIVE=str(shelf.folder))
    assert done.returncode == 0
    assert done.stdout.decode().startswith("C1  ")
    assert process("triage", "--archive", str(shelf.folder), "show", "E1").returncode == 0


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("customer", "C9999"), "C9999"),
        (("machine", "M9999"), "M9999"),
        (("triage", "show", "E9999"), "E9999"),
        (("triage", "settle", "E9999", "--aside"), "E9999"),
        (("triage", "undo", "J9999"), "J9999"),
        (("journal", "J9999"), "J9999"),
        (("warranty", "Nobody", "Atall"), "Nobody Atall"),
        (("restore", "zzyzx"), "zzyzx"),
        (("customer", ""), "customer"),
    ],
)
def test_unknown_record(shelf: Desk, words: tuple[str, ...], named: str) -> None:
    """A reference that no record answers leaves with 12 and names what was asked for."""
    refused(shelf(*words), 12, named, "counterfoil")


def test_ambiguous_reference(shelf: Desk) -> None:
    """A text that finds several records leaves with 1 and lists the candidates, a line each; as JSON with --json."""
    outcome = shelf("warranty", "Vesterlyng")
    refused(outcome, 1, "Vesterlyng", "M1 ", "M4 ")
    assert len(outcome.err.splitlines()) >= 4
    found = shelf("warranty", "Vesterlyng", "--json")
    assert found.code == 1
    candidates = found.json()["candidates"]
    assert isinstance(candidates, list)
    assert {"M1", "M4"} <= {candidate["ref"] for candidate in candidates}


def test_missing_path(shelf: Desk) -> None:
    """A path that does not exist leaves with 8; nothing named beside it was taken in."""
    refused(shelf("ingest", str(SAMPLES / "old.mbox"), "/no/such/mailbox"), 8, "/no/such/mailbox")


@pytest.mark.parametrize(
    "words",
    [
        ("nonsense",),
        ("search",),
        ("ingest",),
        ("warranty", "M1", "--on", "5.5.2026"),
        ("search", "x", "--limit", "0"),
        ("record",),
        ("record", "--set", "colour=red"),
        ("record", "--set", "model"),
        ("record", "--set", "model=Brise 300"),
        ("triage", "settle", "E17"),
        ("triage", "settle", "E17", "--aside", "--customer", "C1"),
        ("triage", "settle", "E17", "--drop", "colour"),
    ],
)
def test_wrong_use(shelf: Desk, words: tuple[str, ...]) -> None:
    """A command called wrongly leaves with 2, says what is wrong, and changes nothing."""
    outcome = shelf(*words)
    assert outcome.code == 2
    assert outcome.err
    assert outcome.out == ""
    assert shelf("journal", "--json").out == ""


def test_init_does_not_touch_a_folder_in_use(shelf: Desk) -> None:
    """A folder with something in it is refused as wrong use."""
    refused(shelf("init"), 2, "not an empty folder")


@pytest.mark.parametrize("text", ["filing_odds = [", 'filing_odds = "high"', "colour = 1"])
def test_faulty_settings(desk: Desk, text: str) -> None:
    """Settings that are no TOML, of a wrong type or unknown leave with 10 and name the file."""
    (desk.folder / "counterfoil.toml").write_text(text, encoding="utf-8")
    refused(desk("search", "x"), 10, "counterfoil.toml")


@pytest.mark.parametrize("text", ["[[term", "[[term]]\nyears = 1\n", '[[term]]\npart = "machine"\nyears = "two"\n'])
def test_faulty_coverage_terms(desk: Desk, text: str) -> None:
    """Coverage terms that cannot be read leave with 10 and name the file."""
    (desk.folder / "coverage.toml").write_text(text, encoding="utf-8")
    refused(desk("warranty", "M1"), 10, "coverage.toml")


@pytest.mark.parametrize("text", ["maker = ", 'maker = "X"\n[codes.machine_id]\nshape = "#"\ncheck = "guess"\n'])
def test_faulty_pattern_file(empty: Desk, text: str) -> None:
    """A maker file that is wrong leaves with 9 and names the file, before any mail is read."""
    (empty.folder / "patterns" / "broken.toml").write_text(text, encoding="utf-8")
    refused(empty("ingest", str(SAMPLES / "old.mbox")), 9, "broken.toml")


def test_failing_proofs(empty: Desk) -> None:
    """A maker file whose own examples fail is reported by patterns check with 9."""
    text = 'maker = "Xyloft"\n[proofs]\nfound = [{ text = "nothing here", kind = "machine_id", value = "AB-1234-5" }]\n'
    (empty.folder / "patterns" / "xyloft.toml").write_text(text, encoding="utf-8")
    outcome = empty("patterns", "check")
    assert outcome.code == 9
    assert "xyloft" in outcome.out


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("record", "--set", "serial_number=VB39-9279552", "--set", "machine_id=VL-4412-9939-4"), "check digit"),
        (("record", "--customer", "new", "--set", "serial_number=QQ-112233"), "name"),
        (("triage", "settle", "{trade-in}", "--customer", "new", "--set", "machine_id=VL-4412-9939-4"), "check digit"),
    ],
)
def test_refused_settlement(desk: Desk, words: tuple[str, ...], why: str) -> None:
    """A value that fails its check digit, or a new customer without a name, is refused with 13; nothing is changed."""
    trade_in = desk.message("vera-trade-in.eml")
    before = desk("export").out
    refused(desk(*(trade_in if word == "{trade-in}" else word for word in words)), 13, why)
    assert desk("export").out == before


def test_a_filed_message_is_not_moved_by_a_slip(desk: Desk) -> None:
    """Settling a filed message to another customer is refused with 13 unless it is said to be sure."""
    filed = next(r for r in desk("export").lines() if r.get("standing") == "filed" and r["customer"] == "C4")
    refused(desk("triage", "settle", str(filed["id"]), "--customer", "C9"), 13, "C4")
    assert desk("triage", "settle", str(filed["id"]), "--customer", "C4", "--set", "firmware_version=2.4").code == 0


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Let another process hold the archive's lock."""
    code = (
        "import sys\nfrom filelock import FileLock\n"
        f"with FileLock({str(folder / 'write.lock')!r}):\n print('held', flush=True)\n sys.stdin.read()\n"
    )
    holder = subprocess.Popen([sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert holder.stdout is not None
    assert holder.stdout.readline() == b"held\n"
    try:
        yield
    finally:
        holder.communicate()


def test_busy_archive(empty: Desk) -> None:
    """While another process writes, a writer leaves with 5 after the time set; reading goes on; then it works."""
    with (empty.folder / "counterfoil.toml").open("a", encoding="utf-8") as settings:
        settings.write("\nlock_wait_seconds = 0.05\n")
    with held(empty.folder):
        refused(empty("ingest", str(SAMPLES / "old.mbox")), 5, "Another run")
        assert empty("search", "anything").code == 0
    assert empty("ingest", str(SAMPLES / "old.mbox")).code == 0


def test_damaged_original(desk: Desk) -> None:
    """A changed original is named by verify with 6, and is not handed out."""
    path = next(p for p in sorted((desk.folder / "originals").rglob("*")) if p.is_file())
    path.chmod(0o600)
    path.write_bytes(path.read_bytes() + b"x")
    outcome = desk("verify")
    assert outcome.code == 6
    assert path.name[:12] in outcome.out


def test_a_file_that_is_no_mail_is_named(empty: Desk, tmp_path: Path) -> None:
    """What was named and is no mail is counted as unreadable and named, and the exit code asks for a look."""
    stray = tmp_path / "notes.bin"
    stray.write_bytes(b"\x00\x01\x02 no mail")
    outcome = empty("ingest", str(stray), str(SAMPLES / "old.mbox"))
    assert outcome.code == 1
    assert "notes.bin" in outcome.err
    assert "unreadable" in outcome.out


def test_what_nobody_foresaw_is_told_in_a_sentence(shelf: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """An error of no known class leaves with 3 and a sentence; the traceback is shown only when asked for."""

    def fail(*_: object, **__: object) -> None:
        raise ZeroDivisionError("on purpose")

    monkeypatch.setattr("counterfoil.answers.triage.triage", fail)
    outcome = shelf("triage")
    refused(outcome, 3, "ZeroDivisionError", "COUNTERFOIL_TRACEBACK=1")
    monkeypatch.setenv("COUNTERFOIL_TRACEBACK", "1")
    with pytest.raises(ZeroDivisionError):
        run(["triage", "--archive", str(shelf.folder)])


def test_bytes_that_are_no_text_are_wrong_use(desk: Desk) -> None:
    """A word that the terminal could not give as text is refused where it would be kept."""
    words = ("--set", "serial_number=ZZ998877", "--set", "customer_name=Runa \udcff Aldermoor")
    refused(desk("record", "--customer", "new", *words), 2, "no text")
    assert desk("journal", "--json").out == ""


def test_no_terminal_no_question(shelf: Desk) -> None:
    """Without a terminal nothing waits for an answer: an incomplete settlement fails and names the options."""
    done = subprocess.run(
        [sys.executable, "-m", "counterfoil", "triage", "settle", "E17", "--archive", str(shelf.folder)],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        timeout=30,
        env=own_environment(),
        check=False,
    )
    assert done.returncode == 2
    assert b"--customer" in done.stderr
