"""Codes are kept like valuables: no command shows one unasked; who asks, says why and stands in the journal."""

from __future__ import annotations

import random
import zipfile
from email import message_from_bytes, policy
from io import BytesIO
from pathlib import Path

import pypdfium2
import pytest
from cli_world import Desk, _tidy, desk, empty, secrets, shelf, shown_secrets
from confirmations import make

__all__ = ["_tidy", "desk", "empty", "shelf"]


def test_the_check_for_codes_can_fail() -> None:
    """The helper finds a code in any grouping and case, so that its silence means something."""
    code = min(secrets())
    assert shown_secrets(f"code: {'-'.join(code[n : n + 3] for n in range(0, len(code), 3)).lower()}.") == [code]


def test_no_profile_or_answer_shows_a_code(shelf: Desk) -> None:
    """Customer, machine, warranty and restore show no product key and no activation code, as text and as JSON."""
    commands = {"customer": ("customer",), "machine": ("machine", "restore", "warranty")}
    for number, record in enumerate(shelf("export").lines()):
        for turn, command in enumerate(commands.get(str(record["record"]), ())):
            if command in ("customer", "warranty") and number % 3:
                # They hold no codes at all: some will do.
                continue
            json = ("--json",) if (number // 3 + turn) % 2 else ()
            outcome = shelf(command, str(record["id"]), *json)
            assert outcome.out
            assert shown_secrets(outcome.out + outcome.err) == [], (command, record["id"])


def test_no_message_shows_a_code(shelf: Desk) -> None:
    """The list of open messages and every message in full, filed or not, show no code, nor does the export."""
    for json in ((), ("--json",)):
        assert shown_secrets(shelf("triage", *json).out) == []
    export = shelf("export")
    assert shown_secrets(export.out) == []
    for number, record in enumerate(export.lines()):
        if record["record"] == "message":
            json = ("--json",) if number % 2 else ()
            outcome = shelf("triage", "show", str(record["id"]), *json)
            assert shown_secrets(outcome.out) == [], record["source"]


def test_search_finds_codes_without_showing_them(shelf: Desk) -> None:
    """Searched by its last characters, a code is found and stays masked; searched in full, only others stay masked."""
    upgrades = shelf("machine", "M1", "--json").json()["upgrades"]
    ending = "".join(c for c in str(upgrades[0]["activation_code"]) if c.isalnum())  # type: ignore[index]
    assert len(ending) == 4
    for json in ((), ("--json",)):
        outcome = shelf("search", ending, *json)
        assert "M1" in outcome.out
        assert shown_secrets(outcome.out) == []
    for words in (("Hetty",), ("activation",), ("maker:vesterlyng",), ("date:2026",), ("code",), ("*",)):
        assert shown_secrets(shelf("search", *words, "--limit", "200").out) == []


@pytest.mark.parametrize("command", [("restore", "M1"), ("triage", "show", "E1")])
def test_reveal_needs_a_reason(shelf: Desk, command: tuple[str, ...]) -> None:
    """Without a reason --reveal is refused as wrong use, shows nothing and writes nothing; a blank is no reason."""
    for reason in ((), ("--reason", "  ")):
        outcome = shelf(*command, "--reveal", *reason)
        assert outcome.code == 2
        assert shown_secrets(outcome.out + outcome.err) == []
        assert "--reason" in outcome.err
    assert shelf("journal", "--json").out == ""


@pytest.mark.parametrize("command", [("restore", "M1"), ("triage", "show", "E1"), ("export",)])
def test_a_reveal_stands_in_the_journal(desk: Desk, command: tuple[str, ...]) -> None:
    """With a reason the codes are shown, and the journal has who, what and why."""
    outcome = desk(*command, "--reveal", "--reason", "caller known", "--who", "Ada Bobbin")
    assert outcome.code == 0
    assert shown_secrets(outcome.out)
    (line,) = desk("journal", "--json").lines()
    assert (line["who"], line["action"], line["why"]) == ("Ada Bobbin", "reveal", "caller known")
    assert shown_secrets(desk("journal").out) == []


def test_codes_go_to_the_present_holder_only(desk: Desk) -> None:
    """Asked for by a customer who does not have the machine, the codes are not shown."""
    outcome = desk("restore", "M1", "--customer", "C2", "--reveal", "--reason", "asked")
    assert outcome.code == 1
    assert shown_secrets(outcome.out + outcome.err) == []
    assert desk("journal", "--json").out == ""


def test_originals_are_written_out_with_a_reason_only(desk: Desk) -> None:
    """What could not be read can be looked at: the original and its picture, for a reason that the journal keeps."""
    photo = desk.message("030-tamsin-photo.eml")
    out = desk.folder.parent / "look"
    assert desk("triage", "show", photo, "--out", str(out)).code == 2
    assert not out.exists()
    assert desk("triage", "show", photo, "--out", str(out), "--reveal", "--reason", "photo").code == 0
    assert sorted(path.name for path in out.iterdir()) == [f"{photo}-IMG_0412.jpg", f"{photo}.eml"]
    assert [line["why"] for line in desk("journal", photo, "--json").lines()] == ["photo"]
    assert desk("triage", "show", photo, "--out", str(out), "--reveal", "--reason", "again").code == 2


def test_refusals_show_no_code(desk: Desk) -> None:
    """What is refused is said without the code, also where the code itself is what is wrong."""
    shown = desk("restore", "M1", "--reveal", "--reason", "test", "--json").json()["upgrades"]
    code = str(shown[0]["activation_code"])  # type: ignore[index]
    for words in (
        ("record", "--set", f"activation_code={code}", "--set", "serial_number=VB39-9279552"),
        ("record", "--set", f"product_key={code}", "--set", "serial_number=VB39-9279552"),
        ("triage", "settle", "E17", "--set", f"activation_code={code}"),
    ):
        outcome = desk(*words)
        assert outcome.code != 0
        assert shown_secrets(outcome.out + outcome.err) == [], words


def named_after_its_code(empty: Desk, tmp_path: Path) -> str:
    """Take in a confirmation that was saved, as its PDF was, under a name with the activation code; return the code."""
    made = make(random.Random(11), 0, "en", "pdf")
    code = made.truth["activation_code"]
    mail = message_from_bytes(made.data, policy=policy.default)
    (paper,) = mail.iter_attachments()
    paper.replace_header("Content-Disposition", "attachment")
    paper.set_param("filename", f"certificate {code}.pdf", header="Content-Disposition")
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / f"code{code.lower()}x.eml").write_bytes(mail.as_bytes())
    terms = '[[term]]\npart = "machine"\nyears = 5\nstart = "purchase"\nholder = "any"\n'
    (empty.folder / "coverage.toml").write_text(terms)
    assert empty("ingest", str(tmp_path / "in")).code == 0
    return code


def bare(text: str) -> str:
    """Return the letters and digits of a text, upper case."""
    return "".join(c for c in text.upper() if c.isalnum())


def test_names_of_files_show_no_code(empty: Desk, tmp_path: Path) -> None:
    """A PDF or a saved mail named after its code tells it in no answer: not as text, CSV or JSON, nor in the summary
    and the names of files of a pack; a reveal tells the names as they are."""
    code = bare(named_after_its_code(empty, tmp_path))
    end = ("report", "warranty", "--on", "2025-06-01", "--ending-within", "9999d")
    answers = [("triage", "show", "E1"), ("customer", "C1"), ("machine", "M1"), ("warranty", "M1"), end]
    for words in [("export",), (*end, "--csv"), *answers, *((*words, "--json") for words in answers)]:
        outcome = empty(*words)
        assert outcome.code == 0, words
        assert code not in bare(outcome.out + outcome.err), words
    assert "certificate" in empty("machine", "M1").out
    pack = empty("warranty", "M1", "--pack", str(tmp_path / "p.zip"), "--reason", "claim", "--json")
    assert pack.code == 0
    assert code not in bare(pack.out)
    summary = zipfile.ZipFile(tmp_path / "p.zip").read("M1-warranty/summary.pdf")
    text = "".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(BytesIO(summary)))
    assert "certificate" in text
    assert code not in bare(text)
    assert code in bare(empty("export", "--reveal", "--reason", "asked").out)
