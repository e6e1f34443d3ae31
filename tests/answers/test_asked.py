"""What a question asks, what its answers mean for a settlement, and what settling changes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from answers_world import MARIT, Desk, fact

from counterfoil.answers.asked import ASKED, NEW, Answer, answer, asked, changes, kinds_in
from counterfoil.answers.masking import mask
from counterfoil.answers.walk import asked_now, outcomes, text_of, waiting
from counterfoil.errors import SettlementRefused
from counterfoil.model import Candidate, Kind, MessageRecord, Noted, Question
from counterfoil.records.codes import corrected, masked
from counterfoil.records.questions import ORDER
from counterfoil.records.settling import settle

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
    desk.confirm(OLA, day="2024-06-01")
    desk.confirm(OLA | {Kind.UPGRADE_NAME: "Other"}, day="2024-05-01")
    return desk


def message(desk: Desk, *facts: Noted) -> MessageRecord:
    """Return the open message with further values read from it."""
    record = desk.store.message("E2")
    return replace(record, facts=(*record.facts, *facts))


def also(kind: Kind, value: str, *readings: str) -> Noted:
    """Return a further value of a message."""
    return Noted(fact(kind, value, readings=readings), "E2", "2024-06-01T10:00:00+00:00", 99, False)


def test_every_question_asks_something() -> None:
    """Each code that filing knows has what has to be found out, and it ends as a request or a question."""
    assert set(ASKED) == set(ORDER)
    for code in ORDER:
        text = asked(Question(code, "Something was found."))
        assert text.startswith("Something was found. ") and text[-1] in "?."
    assert asked(Question("holder_unclear", "Has it changed hands?")) == "Has it changed hands?"


def test_records_are_answers(desk: Desk) -> None:
    """Ids answer for themselves, as does somebody new."""
    record = message(desk)
    assert answer(Candidate("C1", "Marit"), record) == Answer(customer="C1")
    assert answer(Candidate("M7", "Corvina"), record) == Answer(machine="M7")
    assert answer(Candidate(NEW, "new"), record) == Answer(customer="new")


@pytest.mark.parametrize("cover", [mask, masked])
def test_covered_codes_are_answers(desk: Desk, cover: object) -> None:
    """A covered code, whoever covered it, answers as the value it stands for; one that fits two values does not."""
    ref = cover(OLA[Kind.ACTIVATION_CODE])  # type: ignore[operator]
    value = (Kind.ACTIVATION_CODE, OLA[Kind.ACTIVATION_CODE])
    assert answer(Candidate(ref, ref), message(desk)) == Answer(value=value)
    twin = also(Kind.ACTIVATION_CODE, "ZZZ1-UV6G-99L1-44T9")
    assert answer(Candidate(ref, ref), message(desk, twin)) is None
    assert answer(Candidate("••••-0000", ""), message(desk)) is None


def test_days_are_answers(desk: Desk) -> None:
    """A reading of a date answers as that day."""
    record = message(desk, also(Kind.REGISTRATION_DATE, "3/4/2024", "2024-04-03", "2024-03-04"))
    assert answer(Candidate("2024-03-04", ""), record) == Answer(value=(Kind.REGISTRATION_DATE, "2024-03-04"))
    assert answer(Candidate("2024-01-15", ""), record) == Answer(value=(Kind.PURCHASE_DATE, "2024-01-15"))


def test_what_settling_changes(desk: Desk) -> None:
    """It is said what is filed and where; no code and nothing of the customer stands in it."""
    record = desk.store.message("E2")
    for code in ORDER:
        text = changes(Question(code, ""), record)
        assert text.startswith("Settling files E2 ") and text.endswith(".")
        assert "machine ID" in text and "OLA1" not in text and "SP77" not in text
    assert "may become the holder" in changes(Question("holder_unclear", ""), record)


def test_kinds_in_a_sentence() -> None:
    """The kinds a sentence names are found in its order."""
    sentence = "Not found in the message: machine ID or serial number, product key, customer's name."
    kinds = (Kind.MACHINE_ID, Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.CUSTOMER_NAME)
    assert kinds_in(Question("fact_missing", sentence)) == kinds


def test_one_after_the_other(desk: Desk) -> None:
    """Open messages are walked through oldest first; keys mean the candidates in their order; codes stay covered."""
    assert waiting(desk.store) == ["E3", "E2"]
    (shown,) = asked_now(desk.store, desk.settings, "E3")
    assert [c.ref for c in shown.candidates] == ["new", "C1"]
    assert shown.answer("1") == shown.answer("n") == Answer(customer="new")
    assert shown.answer("2") == Answer(customer="C1")
    assert [shown.answer(key) for key in ("3", "0", "x", "", "²", "12")] == [None] * 6
    assert "OLA1" not in repr(shown) and "SP77" not in repr(shown)
    assert not any("OLA1" in line or "SP77" in line for line in text_of(desk.store, "E3"))


def test_what_was_settled_since_counts(desk: Desk) -> None:
    """A question is asked by what is known now: after the first of two is settled, the second has one likely answer."""
    settle(desk.store, desk.settings, "E3", customer="new", who="kim", why="")
    (shown,) = asked_now(desk.store, desk.settings, "E2")
    assert shown.text == "What was settled since answers it. File it?"
    assert shown.answer("1") == Answer(customer="C2")
    assert asked_now(desk.store, desk.settings, "E3") == ()


def test_what_each_answer_will_do(desk: Desk) -> None:
    """Before it is settled each answer says where the message will be filed, and settling does just that; what will be
    refused says why, with its codes covered."""
    (shown,) = asked_now(desk.store, desk.settings, "E3")
    new, known = outcomes(desk.store, desk.settings, shown, ())
    assert new == "files it to a new customer, a new machine"
    assert known == "files it to C1, a new machine"
    before = desk.store.message("E3")
    done = settle(desk.store, desk.settings, "E3", customer="C1", who="kim", why="")
    assert before.standing == "open" and (done.customer, done.machine) == ("C1", "M2")
    (shown,) = asked_now(desk.store, desk.settings, "E2")
    assert outcomes(desk.store, desk.settings, shown, ())[0].startswith("files it to ")
    taken = MARIT | {Kind.ACTIVATION_CODE: "OTHR-UV6G-99L1-0000"}
    desk.confirm(taken, day="2024-09-01")
    (shown,) = asked_now(desk.store, desk.settings, "E4")
    (refused,) = outcomes(desk.store, desk.settings, shown, ())
    assert refused.startswith("refused unless ! is pressed then: ") and "has another activation code" in refused
    assert MARIT[Kind.PRODUCT_KEY] not in refused and "OTHR" not in refused
    with pytest.raises(SettlementRefused):
        settle(desk.store, desk.settings, "E4", machine="M1", who="kim", why="")


def test_no_key_makes_two_machines_one(desk: Desk) -> None:
    """A code that is on another machine already: with another serial number that machine is no answer, else it is."""
    for number, serial in ((4, "700-77-0000"), (5, None)):
        found = MARIT | {Kind.MACHINE_ID: f"VM-77700{number}-C", Kind.ACTIVATION_CODE: f"NEW{number}-UV6G-99L1-0000"}
        found |= {Kind.SERIAL_NUMBER: serial} if serial else {}
        desk.confirm({k: v for k, v in found.items() if serial or k is not Kind.SERIAL_NUMBER}, day="2024-08-01")
        shown = asked_now(desk.store, desk.settings, f"E{number}")
        asked_for = [a.machine for question in shown for a in question.answers if a.machine]
        assert ("on another machine already" in shown[0].text, asked_for) == (True, [] if serial else ["M1"])


def test_no_key_for_what_would_be_refused(desk: Desk) -> None:
    """Where no machine can be told, no customer is offered as an answer: it would be refused."""
    kinds = (Kind.MACHINE_ID, Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
    desk.confirm({k: v for k, v in MARIT.items() if k not in kinds}, day="2024-07-01")
    (shown,) = asked_now(desk.store, desk.settings, "E4")
    assert (shown.candidates, shown.answers) == ((), ())
    assert "triage reply E4" in shown.changes and "Likely it is of Marit Solvang" in shown.changes


def test_a_correction_answers_with_the_corrected_code(desk: Desk) -> None:
    """A correction offered, covered or not, settles with the corrected value; the code as read with itself."""
    key = also(Kind.PRODUCT_KEY, "ZPQ4-7RTW-M2XO", "ZPQ4-7RTW-M2X0")
    record = message(desk, key, also(Kind.MACHINE_ID, "HG-2O4518-K", "HG-204518-K"))
    covered = corrected(Kind.PRODUCT_KEY, "ZPQ4-7RTW-M2X0")
    assert "7RTW" not in covered
    assert answer(Candidate(covered, ""), record) == Answer(value=(Kind.PRODUCT_KEY, "ZPQ4-7RTW-M2X0"))
    assert answer(Candidate(masked("ZPQ4-7RTW-M2XO"), ""), record) == Answer(value=(Kind.PRODUCT_KEY, "ZPQ4-7RTW-M2XO"))
    assert answer(Candidate("HG-204518-K", ""), record) == Answer(value=(Kind.MACHINE_ID, "HG-204518-K"))
