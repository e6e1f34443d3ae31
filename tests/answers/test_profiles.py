"""Profiles with provenance."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from answers_world import MACHINE_ID, MARIT, MARIT_AGAIN, Desk

from counterfoil.answers.profiles import customer_profile, machine_profile
from counterfoil.errors import RecordUnknown
from counterfoil.model import Kind


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """An archive with one customer, one machine and two confirmations."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT, subject=f"Your code {MARIT[Kind.ACTIVATION_CODE]}")
    desk.confirm(MARIT_AGAIN, day="2024-03-01")
    return desk


def test_every_value_says_where_it_was_read(desk: Desk) -> None:
    """A value that two messages agree on is shown once, with both places."""
    machine = machine_profile(desk.store, "M1")
    (value,) = [v for v in machine.values if v.kind is Kind.MACHINE_ID]
    assert (value.label, value.value, value.confirmed) == ("machine ID", MACHINE_ID, False)
    assert value.origins == ("E1, pdf:confirmation.pdf, page 1", "E2, pdf:confirmation.pdf, page 1")
    assert machine.title == "Vellamar Corvina 700"


def test_a_customers_profile_lists_machines_and_messages(desk: Desk) -> None:
    """The customer's profile shows contacts, the machines held, and the messages they came from."""
    customer = customer_profile(desk.store, "C1")
    assert (customer.id, customer.name) == ("C1", "Marit Solvang")
    assert [v.value for v in customer.values] == ["Marit Solvang", "marit@solvang.example"]
    (line,) = customer.machines
    assert (line.id, line.model, line.since, line.until) == ("M1", "Corvina 700", "2024-01-15", None)
    assert [(m.id, m.standing) for m in customer.messages] == [("E1", "filed"), ("E2", "filed")]


def test_holders_are_named(desk: Desk) -> None:
    """A machine's profile names its holders with the message that says so."""
    (holder,) = machine_profile(desk.store, "M1").holders
    assert (holder.customer, holder.name, holder.since, holder.source) == ("C1", "Marit Solvang", "2024-01-15", "E1")


def test_profiles_show_no_code(desk: Desk) -> None:
    """No profile holds a product key or activation code in clear, in its lines, its JSON, or a message's subject."""
    machine, customer = machine_profile(desk.store, "M1"), customer_profile(desk.store, "C1")
    texts = [json.dumps(p.to_json(), ensure_ascii=False) for p in (machine, customer)]
    for text in (*texts, str(machine.values), str(machine.upgrades), str(machine.messages)):
        if text.startswith("("):
            continue
        for code in ("7K5S", "SP2B", "BE11", "Q2Q2"):
            assert code not in text
    assert [u.activation_code for u in machine.upgrades] == ["••••-••••-••••-44TT", "••••-••••-••••-10RT"]


def test_json_extends_the_export(desk: Desk) -> None:
    """The JSON of a profile has the keys of the export and, with each value, its evidence."""
    data = machine_profile(desk.store, "M1").to_json()
    assert (data["id"], data["maker"], data["machine_ids"]) == ("M1", "Vellamar", [MACHINE_ID])
    values = data["values"]
    assert isinstance(values, list)
    first = values[0]["evidence"][0]
    assert {"source": "E1", "document": "pdf:confirmation.pdf", "page": 1, "pattern": "label"}.items() <= first.items()


def test_unknown_ids_are_refused(desk: Desk) -> None:
    """An id nobody has raises."""
    with pytest.raises(RecordUnknown):
        customer_profile(desk.store, "C9")
    with pytest.raises(RecordUnknown):
        machine_profile(desk.store, "M9")
