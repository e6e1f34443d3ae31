"""Triage: the list of open messages, and one in full."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from answers_world import MARIT, Desk

from counterfoil.answers.triage import show, triage
from counterfoil.errors import RecordUnknown, UsageProblem
from counterfoil.model import Kind

#: The same e-mail address, another person of the family.
OLA = MARIT | {
    Kind.CUSTOMER_NAME: "Ola Solvang",
    Kind.MACHINE_ID: "VM-555000-C",
    Kind.SERIAL_NUMBER: "700-99-4444",
    Kind.PRODUCT_KEY: "SP77-8XQ0-ZZ99",
    Kind.ACTIVATION_CODE: "OLA1-UV6G-99L1-44T9",
}


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """An archive with one filed message and two open ones, the newer kept first."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT)
    desk.confirm(OLA, day="2024-06-01", subject=f"Code {OLA[Kind.ACTIVATION_CODE]}")
    desk.confirm(OLA | {Kind.UPGRADE_NAME: "Other"}, day="2024-05-01")
    return desk


def test_open_messages_are_grouped_oldest_first(desk: Desk) -> None:
    """Each open message stands under its question's code, the oldest first, with sentence and candidates."""
    groups = triage(desk.store)
    (group,) = [g for g in groups if g.code == "customer_unclear"]
    assert [message.id for message in group.messages] == ["E3", "E2"]
    question = group.messages[0].questions[0]
    assert question.code == "customer_unclear" and question.sentence.endswith((".", "?"))
    assert "C1" in [candidate.ref for candidate in question.candidates]


def test_a_quiet_archive_has_no_groups(tmp_path: Path) -> None:
    """Where all is filed there is nothing to decide."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT)
    assert triage(desk.store) == ()


def test_one_message_is_shown_in_full(desk: Desk) -> None:
    """Facts with their places, documents, questions and the likely answer are all there."""
    shown = show(desk.store, "E2")
    assert shown.likely is not None and shown.likely.ref == "new"
    assert {value.label for value in shown.chosen} >= {"machine ID", "customer name", "activation code"}
    assert all(value.origin == "E2, pdf:confirmation.pdf, page 1" for value in shown.chosen)
    assert [document.name for document in shown.documents] == ["body"]
    data = shown.to_json()
    assert (data["id"], data["standing"], data["sender"]) == ("E2", "open", "Ola Solvang <marit@solvang.example>")
    assert json.loads(json.dumps(data)) == data


def test_codes_are_masked_in_lists_and_in_full(desk: Desk) -> None:
    """Neither the list nor the message in full holds a code in clear."""
    listed = json.dumps([group.to_json() for group in triage(desk.store)], ensure_ascii=False)
    full = json.dumps(show(desk.store, "E2").to_json(), ensure_ascii=False)
    for text in (listed, full):
        for code in ("OLA1", "SP77", "7K5S"):
            assert code not in text
    assert "••••-••••-••••-44T9" in full


def test_codes_of_one_message_can_be_shown_to_a_named_person(desk: Desk) -> None:
    """A reveal shows the message's codes and is in the journal and in the message's history."""
    shown = show(desk.store, "E2", reveal=True, who="anna", reason="two codes to compare")
    values = {value.label: value.value for value in shown.chosen}
    assert values["activation code"] == OLA[Kind.ACTIVATION_CODE]
    assert [(e.who, e.action, e.why) for e in shown.history] == [("anna", "reveal", "two codes to compare")]
    with pytest.raises(UsageProblem, match="for a reason"):
        show(desk.store, "E2", reveal=True, who="anna")


def test_unknown_messages_are_refused(desk: Desk) -> None:
    """An id nobody has raises."""
    with pytest.raises(RecordUnknown):
        show(desk.store, "E99")
