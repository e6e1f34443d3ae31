"""Codes are kept like valuables: no command shows one unasked; who asks, says why and stands in the journal."""

from __future__ import annotations

import pytest
from cli_world import Desk, _tidy, desk, secrets, shelf, shown_secrets

__all__ = ["_tidy", "desk", "shelf"]


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
