"""`counterfoil patterns learn`: shown with codes covered, written only when told, asked for on a terminal only."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_world import Desk, _tidy, empty
from pty_world import terminal
from unknown_maker import make_pass

__all__ = ["_tidy", "empty"]

NUMBER = 5


@pytest.fixture
def passes(empty: Desk, tmp_path: Path) -> Desk:
    """Give an archive with five messages of a maker nobody described."""
    (tmp_path / "mail").mkdir()
    for n in range(NUMBER):
        (tmp_path / "mail" / f"{n}.eml").write_bytes(make_pass(n).data)
    empty("ingest", str(tmp_path / "mail"))
    return empty


def words(*numbers: int) -> list[str]:
    """Return messages and their values as options."""
    named = [f"E{n + 1}" for n in numbers]
    return [*named, *(word for n in numbers for word in make_pass(n).words()), "--value", "maker=Mirabelo"]


def secrets(text: str) -> list[str]:
    """Return the keys and codes of the messages that a text shows."""
    found = [code for n in range(NUMBER) for code in (make_pass(n).product_key, make_pass(n).activation_code)]
    return [code for code in found if code in text]


def test_shown_then_written_then_checked(passes: Desk) -> None:
    """The proposal is shown with codes covered and nothing written; --write writes it, and its examples hold."""
    folder = passes.folder / "patterns"
    before = sorted(folder.iterdir())
    shown = passes("patterns", "learn", *words(*range(NUMBER)))
    assert shown.code == 0
    assert 'shape = "MB-######-@"' in shown.out
    assert "Nothing is written yet" in shown.out
    assert secrets(shown.out) == []
    assert sorted(folder.iterdir()) == before
    written = passes("patterns", "learn", *words(*range(NUMBER)), "--write", "mirabelo", "--why", "five of them")
    assert "mirabelo.toml" in written.out
    assert "five of them" in passes("journal").out
    checked = passes("patterns", "check")
    assert checked.code == 0
    assert passes("reread", "--write").code == 0
    assert passes("triage").out.startswith("Nothing is open")
    again = passes("patterns", "learn", *words(*range(NUMBER)), "--write", "mirabelo")
    assert again.code == 2


def test_codes_are_shown_with_a_reason_and_noted(passes: Desk) -> None:
    """--reveal needs a reason; with one the values are shown and each message's line stands in the journal."""
    assert passes("patterns", "learn", *words(0, 1), "--reveal").code == 2
    shown = passes("patterns", "learn", *words(0, 1), "--reveal", "--reason", "comparing with the card", "--json")
    assert make_pass(0).product_key in shown.out
    lines = [line for line in passes("journal", "--json").lines() if line["action"] == "reveal"]
    assert [(line["subject"], line["why"]) for line in lines] == [
        ("E1", "comparing with the card"),
        ("E2", "comparing with the card"),
    ]


def test_json_says_the_same(passes: Desk) -> None:
    """--json gives one object with shapes, labels, notes, the file and what it would do; codes covered."""
    outcome = passes("patterns", "learn", *words(*range(NUMBER)), "--json")
    said = outcome.json()
    assert secrets(outcome.out) == []
    assert set(said["codes"]) == {"machine_id", "product_key", "activation_code"}  # type: ignore[call-overload]
    assert sorted(said["matched"]) == [f"E{n + 1}" for n in range(NUMBER)]  # type: ignore[call-overload]
    assert said["written"] is None
    assert said["wrong"] == said["contradictions"] == []


def test_without_values_and_terminal_it_says_what_would_answer(passes: Desk) -> None:
    """Without a terminal nothing is asked: the message names the options that point values out."""
    outcome = passes("patterns", "learn", "E1", "E2")
    assert outcome.code == 2
    assert "--take" in outcome.err
    assert "--value" in outcome.err


def test_take_uses_what_was_settled(passes: Desk) -> None:
    """--take E1 takes the values a person settled for the message."""
    for n in range(2):
        settled = ["--set" if word == "--value" else word for word in make_pass(n).words()]
        assert passes("triage", "settle", f"E{n + 1}", "--customer", "new", *settled, "--why", "read").code == 0
    shown = passes("patterns", "learn", "--take", "E1", "--take", "E2", "--json").json()
    assert shown["messages"]["E1"]["machine_id"] == make_pass(0).machine_id  # type: ignore[index]
    assert {label["text"] for label in shown["labels"]} == {"Board mark", "Gift word", "Stitch pass"}  # type: ignore[attr-defined]


def test_on_a_terminal_what_was_read_is_confirmed(passes: Desk) -> None:
    """On a terminal each message's values are shown as proposals; those refused are not used."""
    with terminal("patterns", "learn", "E1", "E2", "--archive", str(passes.folder)) as seen:
        for _ in range(2):
            seen.wait_for("Is all of this right?")
            seen.press("y\n")
        assert seen.leave() == 2
        assert "No code was pointed out" in seen.text
