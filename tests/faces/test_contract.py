"""The machine-readable contract: keys, one object a line, standings and dates as promised."""

from __future__ import annotations

import re

import pytest
from cli_world import Desk, _tidy, desk, empty, shelf
from conftest import TEXT_LETTERS

__all__ = ["_tidy", "desk", "empty", "shelf"]

MESSAGE = {
    "record", "id", "sha256", "source", "message_id", "received", "subject", "standing", "questions", "customer",
    "machine", "facts",
}  # fmt: skip
FACT = {"kind", "value", "normal", "document", "page", "box", "span", "pattern", "check", "odds"}
MACHINE = {
    "record", "id", "maker", "model", "serial_number", "machine_ids", "purchased", "registered", "firmware",
    "upgrades", "holders",
}  # fmt: skip


def test_ingest_ends_with_its_figures(empty: Desk) -> None:
    """Ingest prints one object with exactly the promised keys, whose figures add up."""
    figures = empty("ingest", *map(str, TEXT_LETTERS), "--json").json()
    assert list(figures) == ["received", "new", "already_kept", "filed", "open", "aside", "unreadable", "seconds"]
    number = {name: value for name, value in figures.items() if isinstance(value, int)}
    assert number["received"] == number["new"] + number["already_kept"] == len(TEXT_LETTERS)
    assert number["new"] == number["filed"] + number["open"] + number["aside"]
    assert isinstance(figures["seconds"], float)


def test_export_has_stable_keys(shelf: Desk) -> None:
    """Each line of the export is a message, customer or machine with exactly the promised keys."""
    records = shelf("export").lines()
    kinds = [str(record["record"]) for record in records]
    assert kinds == sorted(kinds, key=["message", "customer", "machine"].index)
    for record in records:
        match record["record"]:
            case "message":
                assert set(record) == MESSAGE
                assert record["standing"] in {"filed", "open", "aside"}
                for fact in record["facts"]:  # type: ignore[attr-defined]
                    assert set(fact) == FACT
                    assert fact["check"] in {"passed", "failed", "none"}
                    assert fact["box"] is None or len(fact["box"]) == 4
                    assert fact["span"] is None or len(fact["span"]) == 2
            case "customer":
                assert set(record) == {"record", "id", "names", "emails", "phones", "machines"}
            case "machine":
                assert set(record) == MACHINE
                for upgrade in record["upgrades"]:  # type: ignore[attr-defined]
                    assert set(upgrade) == {"name", "product_key", "activation_code", "message"}
                for holder in record["holders"]:  # type: ignore[attr-defined]
                    assert set(holder) == {"customer", "from", "to"}
                for note in record["firmware"]:  # type: ignore[attr-defined]
                    assert set(note) == {"version", "noted"}


def test_export_dates_are_iso_8601(shelf: Desk) -> None:
    """Dates are written year-month-day, moments with their offset (ISO 8601)."""
    for record in shelf("export").lines():
        for key in ("purchased", "registered"):
            assert record.get(key) is None or re.fullmatch(r"\d{4}-\d\d-\d\d", str(record[key]))
        received = record.get("received")
        assert received is None or re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00", str(received))


def test_search_answers_in_three_groups(shelf: Desk) -> None:
    """Search prints what it understood and three lists whose items have the promised keys."""
    answer = shelf("search", "Fenna", "--json").json()
    assert list(answer) == ["understood", "customers", "machines", "messages"]
    promised = {
        "customers": {"id", "name"},
        "machines": {"id", "maker", "model", "customer"},
        "messages": {"id", "subject", "received"},
    }
    for group, keys in promised.items():
        found = answer[group]
        assert isinstance(found, list)
        assert found
        assert all(keys <= set(item) for item in found)


def test_warranty_answers_by_part(shelf: Desk) -> None:
    """Warranty prints machine, customer, the day asked for and each part class with its reason."""
    answer = shelf("warranty", "Fenna", "--on", "2026-11-25", "--json").json()
    assert list(answer)[:4] == ["machine", "customer", "on", "coverage"]
    assert answer["on"] == "2026-11-25"
    coverage = answer["coverage"]
    assert isinstance(coverage, list)
    assert coverage
    keys = {"part", "covered", "start", "start_from", "assumed", "ends", "days_left", "why"}
    assert all(set(part) >= keys for part in coverage)
    assert all(part["covered"] in (True, False, None) for part in coverage)


def test_restore_gives_codes_and_steps(desk: Desk) -> None:
    """Restore prints the machine, its holder, machine ID, upgrades in the order of entry, and steps."""
    answer = desk("restore", "Fenna", "--reveal", "--reason", "reset", "--json").json()
    assert list(answer) == ["machine", "customer", "machine_id", "upgrades", "steps"]
    upgrades, steps = answer["upgrades"], answer["steps"]
    assert isinstance(upgrades, list)
    assert isinstance(steps, list)
    assert steps
    keys = {"name", "product_key", "activation_code", "live", "message"}
    assert all(set(upgrade) == keys for upgrade in upgrades)
    assert [u["activation_code"] for u in upgrades if u["live"]] == ["16046-25488-11905-22566"]


@pytest.mark.parametrize("command", ["customer", "machine", "warranty", "restore"])
def test_a_reference_may_be_an_id_in_any_case_or_text(shelf: Desk, command: str) -> None:
    """A record answers to its id, in lower case too, and to a text that finds it alone."""
    by_text = shelf(command, "Fenna", "Kluwen", "--json").json()
    ref = str(by_text.get("id") or by_text.get("machine"))
    assert shelf(command, ref, "--json").json() == by_text
    assert shelf(command, ref.lower(), "--json").json() == by_text


@pytest.mark.parametrize(
    "words",
    [
        ("triage",),
        ("triage", "show", "E1"),
        ("verify",),
        ("patterns", "list"),
        ("patterns", "check"),
        ("customer", "C1"),
    ],
)
def test_other_json_is_one_object(shelf: Desk, words: tuple[str, ...]) -> None:
    """Every other command with --json prints one object on one line."""
    outcome = shelf(*words, "--json")
    assert outcome.json()
    assert outcome.code == 0


def test_the_journal_is_one_object_a_line(desk: Desk) -> None:
    """The journal prints one object a line with who, what, to which record, when and why."""
    desk("restore", "Fenna", "--reveal", "--reason", "reset", "--who", "Ada")
    (line,) = desk("journal", "--json").lines()
    assert list(line) == ["id", "at", "who", "action", "subject", "why", "undone_by", "hash", "detail"]
    assert (line["who"], line["action"], line["why"]) == ("Ada", "reveal", "reset")
