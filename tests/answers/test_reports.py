"""The export: keys, order, masking."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from answers_world import MACHINE_ID, MARIT, MARIT_AGAIN, Desk

from counterfoil.answers.reports import EVERYTHING, export
from counterfoil.errors import UsageProblem
from counterfoil.model import Kind

# fmt: off
MESSAGE_KEYS = [
    "record", "id", "sha256", "source", "message_id", "received", "subject", "standing", "questions", "customer",
    "machine", "facts",
]
FACT_KEYS = ["kind", "value", "normal", "document", "page", "box", "span", "pattern", "check", "odds"]
MACHINE_KEYS = [
    "record", "id", "maker", "model", "serial_number", "machine_ids", "purchased", "registered", "firmware", "upgrades",
    "holders",
]
# fmt: on


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """An archive with one customer, one machine and two confirmations."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT, subject=f"Your code {MARIT[Kind.ACTIVATION_CODE]}")
    desk.confirm(MARIT_AGAIN, day="2024-03-01")
    return desk


def test_records_come_in_a_stable_order_with_the_keys_of_the_contract(desk: Desk) -> None:
    """Messages, then customers, then machines, each with exactly the agreed keys; all of it goes into JSON."""
    records = list(export(desk.store))
    assert [(r["record"], r["id"]) for r in records] == [
        ("message", "E1"),
        ("message", "E2"),
        ("customer", "C1"),
        ("machine", "M1"),
    ]
    assert list(records[0]) == MESSAGE_KEYS
    facts = records[0]["facts"]
    assert isinstance(facts, list) and list(facts[0]) == FACT_KEYS
    assert list(records[2]) == ["record", "id", "names", "emails", "phones", "machines"]
    assert list(records[3]) == MACHINE_KEYS
    assert json.loads(json.dumps(records)) == records


def test_values_come_as_on_record(desk: Desk) -> None:
    """Profiles show names, contacts, dates, machine IDs and holders as on record; unknown is null."""
    message, _, customer, machine = export(desk.store)
    assert (message["standing"], message["questions"], message["customer"], message["machine"]) == (
        "filed",
        [],
        "C1",
        "M1",
    )
    assert message["message_id"] is None
    assert customer == {
        "record": "customer",
        "id": "C1",
        "names": ["Marit Solvang"],
        "emails": ["marit@solvang.example"],
        "phones": [],
        "machines": ["M1"],
    }
    assert machine["machine_ids"] == [MACHINE_ID]
    assert (machine["purchased"], machine["registered"], machine["firmware"]) == ("2024-01-15", None, [])
    assert machine["holders"] == [{"customer": "C1", "from": "2024-01-15", "to": None}]


def test_codes_are_masked_everywhere(desk: Desk) -> None:
    """Without a reveal no product key or activation code is in the export, not in normal form, not in a subject."""
    text = json.dumps(list(export(desk.store)), ensure_ascii=False)
    for code in ("7K5S", "UV6G", "SP2B", "BE11", "Q2Q2"):
        assert code not in text
    assert "••••-••••-••••-44TT" in text and "••••••••••••44TT" in text
    assert desk.store.journal() == []


def test_a_reveal_is_in_the_journal(desk: Desk) -> None:
    """With a reveal codes come in full, and the journal has who and why before the first record is out."""
    records = export(desk.store, reveal=True, who="anna", why="shop moves")
    (entry,) = desk.store.journal()
    assert (entry.who, entry.action, entry.subject, entry.why) == (
        "anna",
        "reveal",
        EVERYTHING,
        "shop moves",
    )
    upgrades = list(records)[-1]["upgrades"]
    assert upgrades == [
        {
            "name": source[Kind.UPGRADE_NAME],
            "product_key": source[Kind.PRODUCT_KEY],
            "activation_code": source[Kind.ACTIVATION_CODE],
            "message": message,
        }
        for source, message in ((MARIT, "E1"), (MARIT_AGAIN, "E2"))
    ]


def test_a_reveal_to_nobody_is_refused(desk: Desk) -> None:
    """Codes of a whole archive go to a named person only."""
    with pytest.raises(UsageProblem, match="only to a named person"):
        export(desk.store, reveal=True)
    assert desk.store.journal() == []


def test_ids_are_in_the_order_of_their_numbers(tmp_path: Path) -> None:
    """E2 comes before E10."""
    desk = Desk(tmp_path)
    for n in range(11):
        desk.confirm(MARIT | {Kind.UPGRADE_NAME: f"Pack {n}"}, day=f"2024-02-{n + 1:02}")
    ids = [record["id"] for record in export(desk.store) if record["record"] == "message"]
    assert ids == [f"E{n}" for n in range(1, 12)]
