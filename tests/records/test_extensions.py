"""Extensions of cover: entered, read back, taken back, and never lost without a word."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from records_world import SETTINGS, another, fact, take, values

from counterfoil.errors import RecordUnknown, SettlementRefused, UsageProblem
from counterfoil.records.bench import record
from counterfoil.records.extensions import Extension, extend, extensions
from counterfoil.records.handover import NOBODY, hand_over
from counterfoil.records.settling import settle
from counterfoil.records.store import Store
from counterfoil.records.undoing import undo

BOUGHT = date(2025, 4, 1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Give records with Marit (C1, M1 since 2025-03-01, E1) and Ola Berg (C2, M2, E2)."""
    made = Store(tmp_path / "records.db", create=True)
    take(made, values())
    take(made, another(2, email_address="ola@post.example", customer_name="Ola Berg"))
    yield made
    made.close()


def sell(store: Store, **more: object) -> Extension:
    """Enter an extension of two years for the motor of the first machine."""
    options = {"number": "X-2204", "message": "E1", "who": "kim", "why": "sold at the till"} | more
    return extend(store, "m1", ["motor", " motor "], 24, BOUGHT, **options)  # type: ignore[arg-type]


def test_an_extension_is_read_back_as_entered(store: Store) -> None:
    """What was entered comes back with who and why, of one machine and of all; a part named twice is one."""
    done = sell(store, since=date(2026, 1, 16), with_buyer=True)
    expected = Extension(
        done.id, "M1", ("motor",), 24, BOUGHT, date(2026, 1, 16), True, "X-2204", "E1", "kim", "sold at the till"
    )
    assert done == expected
    assert extensions(store, "M1") == extensions(store) == [expected]
    assert extensions(store, "M2") == []


def test_the_journal_says_it_and_undo_takes_it_back(store: Store) -> None:
    """An extension is one line of the journal under its machine; undone, it stands no more, and the chain is whole."""
    done = sell(store)
    (line,) = store.journal(subject="M1")
    assert (line.id, line.action, line.who, line.detail["buyer"]) == (done.id, "extend", "kim", "C1")
    undo(store, SETTINGS, done.id, "kim", "typed for the wrong machine")
    assert extensions(store) == []
    assert store.journal_break() is None
    with pytest.raises(SettlementRefused, match="undone already"):
        undo(store, SETTINGS, done.id, "kim", "again")


def test_a_machine_is_not_taken_away_under_an_extension(store: Store) -> None:
    """What made the machine is not undone while an extension rests on it; with that undone first, it is."""
    facts = [fact(kind, value) for kind, value in another(3, customer_name="Runa Aldermoor").items()]
    _, machine, made = record(store, SETTINGS, customer="new", facts=facts, sure=True, who="kim", why="bench")
    done = extend(store, machine, ["motor"], 12, BOUGHT, who="kim", why="")
    with pytest.raises(SettlementRefused, match=f"{done.id} rests on it"):
        undo(store, SETTINGS, made, "kim", "a slip")
    assert extensions(store, machine) == [done]
    undo(store, SETTINGS, done.id, "kim", "first this")
    undo(store, SETTINGS, made, "kim", "then that")
    with pytest.raises(RecordUnknown):
        store.machine(machine)


def test_a_message_of_another_machine_proves_nothing(store: Store) -> None:
    """Only a message that is filed to this machine is taken as its proof."""
    with pytest.raises(SettlementRefused, match="E2 is filed to M2, not to M1"):
        sell(store, message="E2")
    with pytest.raises(RecordUnknown):
        sell(store, message="E99")
    assert store.journal(subject="M1") == []


def test_the_number_must_not_be_a_code(store: Store) -> None:
    """A product key typed as the contract's number would stand in the journal in clear: it is refused."""
    with pytest.raises(SettlementRefused, match="is a code") as caught:
        sell(store, number="spq4 7rtw m2xa")
    assert "m2xa" not in str(caught.value).casefold()


@pytest.mark.parametrize(("parts", "months"), [([" "], 12), (["motor"], 0), (["motor"], 241), (["m" * 61], 12)])
def test_what_cannot_be_meant_is_refused(store: Store, parts: list[str], months: int) -> None:
    """No part, no length, a length of decades or a part as long as a letter is wrong use."""
    with pytest.raises(UsageProblem):
        extend(store, "M1", parts, months, BOUGHT, who="kim", why="")


def test_an_extension_with_its_buyer_needs_one(store: Store) -> None:
    """On a day on which nobody had the machine, there is no buyer to go with."""
    hand_over(store, SETTINGS, "M1", NOBODY, on=date(2025, 6, 1), who="kim", why="traded in")
    with pytest.raises(SettlementRefused, match="Nobody on record had M1 on 2025-06-02"):
        extend(store, "M1", ["motor"], 12, date(2025, 6, 2), with_buyer=True, who="kim", why="")
    assert extend(store, "M1", ["motor"], 12, date(2025, 5, 31), with_buyer=True, who="kim", why="").with_buyer


def test_a_machine_is_not_settled_away_under_an_extension(store: Store) -> None:
    """Where filing its only message elsewhere would leave nothing of a machine, the extension is named first."""
    done = sell(store, message=None)
    with pytest.raises(SettlementRefused, match=f"nothing would be left of M1, on which {done.id} rests"):
        settle(store, SETTINGS, "E1", customer="C1", machine="M2", sure=True, who="kim", why="the wrong machine")
    assert store.message("E1").machine == "M1"
    undo(store, SETTINGS, done.id, "kim", "first this")
    settle(store, SETTINGS, "E1", customer="C1", machine="M2", sure=True, who="kim", why="the wrong machine")
    assert store.message("E1").machine == "M2"
