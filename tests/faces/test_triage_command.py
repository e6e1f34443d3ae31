"""The desk decides: settle, undo, and entries at the bench, each with its line in the journal."""

from __future__ import annotations

import pytest
from cli_world import Desk, _tidy, desk, empty, shelf

__all__ = ["_tidy", "desk", "empty", "shelf"]


def record(shelf: Desk, ref: object) -> dict[str, object]:
    """Return one record of the export."""
    return next(r for r in shelf("export").lines() if r["id"] == ref)


def open_with(shelf: Desk, code: str) -> str:
    """Return the first open message with a question."""
    groups = shelf("triage", "--json").json()["groups"]
    assert isinstance(groups, list)
    return str(next(g["messages"][0]["id"] for g in groups if g["code"] == code))


def test_the_list_has_every_open_message_with_its_question(shelf: Desk) -> None:
    """Each open message stands in the list under its question, with the likely answer where there is one."""
    out = shelf("triage").out
    for message in shelf("export").lines():
        if message.get("standing") == "open":
            assert f"{message['id']} " in out
            assert all(code.replace("_", " ") in out for code in message["questions"])  # type: ignore[attr-defined]
    assert "likely: C1" in shelf("triage", "show", shelf.message("vera-trade-in.eml")).out or "likely: " in out
    assert "counterfoil triage show E" in out


def test_nothing_open(empty: Desk) -> None:
    """An archive without open messages says so."""
    assert empty("triage").out == "Nothing is open.\n"


def test_settled_to_a_new_customer_and_undone(desk: Desk) -> None:
    """A second-hand machine goes to a new customer, the former holder's time ends; undone, all is as before."""
    before = desk("export").out
    message = desk.message("vera-trade-in.eml")
    settled = desk("triage", "settle", message, "--customer", "new", "--why", "second hand", "--json").json()
    assert list(settled) == ["id", "standing", "customer", "machine", "journal"]
    assert settled["standing"] == "filed"
    assert record(desk, settled["customer"])["names"] == ["Vera Lintock"]
    holders = record(desk, settled["machine"])["holders"]
    assert [(h["customer"], h["to"]) for h in holders] == [  # type: ignore[attr-defined]
        ("C1", "2025-10-07"),
        (settled["customer"], None),
    ]
    undone = desk("triage", "undo", str(settled["journal"]), "--why", "wrong person", "--json")
    assert undone.code == 0
    assert desk("export").out == before
    lines = desk("journal", message, "--json").lines()
    assert [(line["action"], line["why"]) for line in lines] == [("settle", "second hand"), ("undo", "wrong person")]
    assert lines[0]["undone_by"] == lines[1]["id"]
    assert desk("triage", "undo", str(settled["journal"])).code != 0


def test_settled_to_a_known_customer(desk: Desk) -> None:
    """A message whose customer was unclear is filed to the one named, by id or by text."""
    message = open_with(desk, "customer_unclear")
    before = desk("export").out
    settled = desk("triage", "settle", message, "--customer", "Imogen Thackerby", "--json").json()
    assert settled["standing"] == "filed"
    assert "Imogen Thackerby" in str(record(desk, settled["customer"])["names"])
    desk("triage", "undo", str(settled["journal"]))
    assert desk("export").out == before


def test_a_missing_value_is_added(desk: Desk) -> None:
    """A product key off the card answers the question for it; the value stands as entered by a person."""
    message = open_with(desk, "fact_missing")
    assert "product key" in desk("triage", "show", message).out
    settled = desk("triage", "settle", message, "--set", "product_key=SP55-0000-1234", "--sure", "--json").json()
    assert settled["standing"] == "filed"
    facts = desk("triage", "show", message, "--json").json()["facts"]
    assert isinstance(facts, list)
    (key,) = (f for f in facts if f["kind"] == "product_key" and f["chosen"])
    assert key["confirmed"]
    assert key["value"].endswith("1234")


def test_a_wrong_value_is_dropped(desk: Desk) -> None:
    """A value that was read wrongly is taken out, and the undoing brings it back."""
    message = desk.message("001-hetty-first-upgrade.eml")
    before = desk("export").out
    settled = desk("triage", "settle", message, "--drop", "purchase_date", "--json").json()
    assert record(desk, settled["machine"])["purchased"] is None
    desk("triage", "undo", str(settled["journal"]))
    assert desk("export").out == before


def test_put_aside(desk: Desk) -> None:
    """What is no confirmation is put aside: no longer open, still found, and undoable."""
    message = open_with(desk, "attachment_missing")
    before = desk("export").out
    settled = desk("triage", "settle", message, "--aside", "--why", "never sent", "--json").json()
    assert (settled["standing"], settled["customer"]) == ("aside", None)
    assert message not in desk("triage").out.split()
    assert desk("search", message).code == 0
    desk("triage", "undo", str(settled["journal"]))
    assert desk("export").out == before


@pytest.mark.parametrize("code", ["code_conflict", "date_ambiguous", "document_unreadable", "holder_unclear"])
def test_a_shown_message_says_why_it_is_open(shelf: Desk, code: str) -> None:
    """The page of an open message has the question's sentence, the values with their place, and the documents."""
    message = open_with(shelf, code)
    shown = shelf("triage", "show", message, "--json").json()
    page = " ".join(shelf("triage", "show", message).out.split())
    questions, documents = shown["questions"], shown["documents"]
    assert isinstance(questions, list)
    assert isinstance(documents, list)
    assert code in [question["code"] for question in questions]
    for question in questions:
        assert " ".join(question["sentence"].split()) in page
    assert all(document["name"] in page for document in documents)


def test_a_revealed_message_shows_its_text_in_clear(desk: Desk) -> None:
    """With --reveal the text of the message is read from the original again; without, its codes stay covered there."""
    message = desk.message("vera-trade-in.eml")
    covered = desk("triage", "show", message).out
    clear = desk("triage", "show", message, "--reveal", "--reason", "reads it aloud").out
    assert "•" in covered and "•" not in clear
    lines = desk("journal", message, "--json").lines()
    assert [line["action"] for line in lines if line["action"] == "reveal"] == ["reveal"]


def test_a_machine_at_the_bench(desk: Desk) -> None:
    """A firmware update is noted before and after, shows in the machine, can be undone and leaves nothing."""
    before = desk("export").out
    entered = desk(
        "record", "--set", "serial_number=VB39-9279552", "--firmware-before", "1.8", "--firmware-after", "2.0.1",
        "--why", "update at the bench", "--json",
    ).json()  # fmt: skip
    assert list(entered) == ["customer", "machine", "journal"]
    assert entered["customer"] == "C4"
    firmware = desk("machine", str(entered["machine"]), "--json").json()["firmware"]
    assert isinstance(firmware, list)
    assert [(n["version"], n["when"]) for n in firmware[-2:]] == [("1.8", "before"), ("2.0.1", "after")]
    assert "2.0.1" in desk("machine", str(entered["machine"])).out
    assert desk("triage", "undo", str(entered["journal"])).code == 0
    assert desk("export").out == before


def test_a_new_customer_at_the_bench(desk: Desk) -> None:
    """A machine sold over the counter: found by its telephone number in another spelling, and covered."""
    values = {
        "customer_name": "Ottilie Marrow", "phone_number": "01632 960555", "maker": "Vesterlyng", "model": "Brise 300",
        "serial_number": "VB11-0000001", "purchase_date": "2026-11-20",
    }  # fmt: skip
    words = [word for kind, value in values.items() for word in ("--set", f"{kind}={value}")]
    entered = desk("record", "--customer", "new", *words, "--json").json()
    found = desk("search", "+44 1632 960 555", "--json").json()["customers"]
    assert isinstance(found, list)
    assert [c["id"] for c in found] == [entered["customer"]]
    coverage = desk("warranty", "Ottilie", "--on", "2026-11-25", "--json").json()["coverage"]
    assert isinstance(coverage, list)
    assert {"machine", "electronics"} <= {c["part"] for c in coverage if c["covered"]}


def test_a_value_of_another_makers_shape_is_refused(desk: Desk) -> None:
    """On a known machine a code is held against its maker's shapes although nobody typed the maker."""
    outcome = desk("record", "--set", "serial_number=VB39-9279552", "--set", "product_key=93312-73309-18831-44834")
    assert outcome.code == 13
    assert "product key" in outcome.err


def test_telephone_numbers_are_read_for_the_shops_country(empty: Desk) -> None:
    """A number typed without a country code is one of the country in the settings (+1 555 0100: fiction, NANP)."""
    settings = empty.folder / "counterfoil.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace('region = "GB"', 'region = "US"'), encoding="utf-8")
    words = ("--set", "customer_name=Odell Marrow", "--set", "serial_number=QQ112233", "--set")
    assert empty("record", "--customer", "new", *words, "phone_number=(212) 555-0142").code == 0
    found = empty("search", "+1 212 555 0142", "--json").json()["customers"]
    assert isinstance(found, list)
    assert [c["name"] for c in found] == ["Odell Marrow"]


def test_the_journal_of_a_record_has_what_was_filed_to_it(desk: Desk) -> None:
    """Asked for a machine or its holder, the journal shows the settlements of messages filed there."""
    message = desk.message("vera-trade-in.eml")
    settled = desk("triage", "settle", message, "--customer", "new", "--who", "Ada", "--json").json()
    for ref in (settled["machine"], settled["customer"], settled["journal"], message, "Vera Lintock"):
        lines = desk("journal", str(ref), "--json").lines()
        assert [line["id"] for line in lines] == [settled["journal"]], ref
    assert "Ada" in desk("journal").out
    assert desk("journal", "C2").out == "Nothing in the journal about C2.\n"
