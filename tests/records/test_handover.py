"""A machine changes hands by hand: the codes go with it, the former holder is told from the present one, undo."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from records_world import SETTINGS, another, codes, dump, fact, message, take, values

from counterfoil.errors import RecordUnknown, SettlementRefused, UsageProblem
from counterfoil.model import Kind
from counterfoil.records.handover import NEW, NOBODY, correct_dates, hand_over
from counterfoil.records.settling import settle
from counterfoil.records.store import Store
from counterfoil.records.undoing import undo

DAY = date(2025, 9, 1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Give records with Marit (C1, M1 since 2025-03-01, E1) and Ola Berg (C2, M2, E2)."""
    made = Store(tmp_path / "records.db", create=True)
    take(made, values())
    take(made, another(2, email_address="ola@post.example", customer_name="Ola Berg"))
    yield made
    made.close()


def _holders(store: Store) -> list[tuple[str, str | None, str | None]]:
    return [(h.customer, h.since, h.until) for h in store.machine("M1").holders]


def test_the_codes_travel_with_the_machine(store: Store) -> None:
    """After a handover the new holder has the machine with its upgrades, and the former one has it no longer."""
    upgrades = store.machine("M1").upgrades
    done = hand_over(store, SETTINGS, "M1", "C2", on=DAY, who="kim", why="sold on")
    assert (done.machine, done.customer) == ("M1", "C2")
    assert _holders(store) == [("C1", "2025-03-01", "2025-09-01"), ("C2", "2025-09-01", None)]
    assert store.machine("M1").upgrades == upgrades
    assert [h.machine for h in store.customer("C1").holdings if h.until is None] == []


def test_somebody_new_gets_a_profile(store: Store) -> None:
    """A new holder is entered with name and contacts, each with the line of the journal as its source."""
    facts = [fact(Kind.CUSTOMER_NAME, "Runa Aldermoor"), fact(Kind.EMAIL_ADDRESS, "runa@post.example")]
    done = hand_over(store, SETTINGS, "M1", NEW, on=DAY, facts=facts, who="kim", why="gift")
    assert done.customer == "C3"
    assert {n.source for n in store.customer("C3").facts} == {done.journal}
    _, decision = take(store, values(customer_name="Runa Aldermoor", email_address="runa@post.example"))
    assert decision.customer == "C3"


def test_a_trade_in_leaves_the_machine_with_nobody(store: Store) -> None:
    """With nobody holding it, a message about the machine is a question, whoever it names; settling says who."""
    hand_over(store, SETTINGS, "M1", NOBODY, on=DAY, who="kim", why="trade-in")
    assert store.machine("M1").holder is None
    ref, decision = take(store, values(purchase_date=None))
    assert codes(decision) == ["holder_unclear"]
    evidence = decision.questions[0].candidates[0].evidence
    assert "had Halden Aria 500 HG204518K (M1) until 2025-09-01" in evidence
    settle(store, SETTINGS, ref, customer="C1", who="kim", why="an old one, forwarded late")
    assert store.machine("M1").holder is None, "a confirmation does not give a machine back"
    ref, decision = take(store, values(customer_name="Runa Aldermoor", email_address="runa@post.example"))
    assert codes(decision) == ["holder_unclear"]
    settle(store, SETTINGS, ref, customer="new", who="kim", why="sold to her")
    assert _holders(store)[-1] == ("C3", "2025-09-01", None)


def test_a_late_forward_by_the_former_holder_changes_nothing(store: Store) -> None:
    """The former holder's message is asked about, and settled as theirs it does not make them the holder again."""
    hand_over(store, SETTINGS, "M1", "C2", on=date(2025, 3, 5), who="kim", why="")
    ref, decision = take(store, values(purchase_date=None))
    assert codes(decision) == ["holder_unclear"]
    settle(store, SETTINGS, ref, customer="C1", who="kim", why="")
    assert store.message(ref).customer == "C1"
    assert store.machine("M1").holder == "C2"


@pytest.mark.parametrize("to", ["C2", NOBODY, NEW])
def test_undo_gives_the_machine_back(store: Store, to: str) -> None:
    """Undoing a handover restores every row, a new profile included."""
    state = dump(store)
    facts = [fact(Kind.CUSTOMER_NAME, "Runa Aldermoor")] if to == NEW else []
    done = hand_over(store, SETTINGS, "M1", to, on=DAY, facts=facts, who="kim", why="")
    assert dump(store) != state
    undo(store, SETTINGS, done.journal, "kim", "wrong machine")
    assert dump(store) == state


def test_undo_waits_for_later_holders(store: Store) -> None:
    """A handover is not undone under a later one: the machine would have two holders."""
    first = hand_over(store, SETTINGS, "M1", NOBODY, on=DAY, who="kim", why="")
    second = hand_over(store, SETTINGS, "M1", "C2", on=DAY, who="kim", why="")
    with pytest.raises(SettlementRefused, match="M1 had another holder since"):
        undo(store, SETTINGS, first.journal, "kim", "")
    undo(store, SETTINGS, second.journal, "kim", "")
    undo(store, SETTINGS, first.journal, "kim", "")
    assert store.machine("M1").holder == "C1"


def test_a_handover_that_cannot_have_been_is_refused(store: Store) -> None:
    """Refused: to the present holder, before their time, in the future, of a new one without a name, of strangers."""
    state = dump(store)
    mail = fact(Kind.EMAIL_ADDRESS, "ola@post.example")
    name = fact(Kind.CUSTOMER_NAME, "Runa Berg")
    with pytest.raises(SettlementRefused, match="C1 has M1 already"):
        hand_over(store, SETTINGS, "M1", "C1", on=DAY, who="kim", why="")
    with pytest.raises(SettlementRefused, match="up to 2025-03-01"):
        hand_over(store, SETTINGS, "M1", "C2", on=date(2025, 2, 1), who="kim", why="")
    with pytest.raises(SettlementRefused, match="in the future"):
        hand_over(store, SETTINGS, "M1", "C2", on=date.today() + timedelta(days=1), who="kim", why="")
    with pytest.raises(UsageProblem, match="needs a name"):
        hand_over(store, SETTINGS, "M1", NEW, on=DAY, facts=[mail], who="kim", why="")
    with pytest.raises(SettlementRefused, match="is that of C2"):
        hand_over(store, SETTINGS, "M1", NEW, on=DAY, facts=[name, mail], who="kim", why="")
    with pytest.raises(UsageProblem):
        hand_over(store, SETTINGS, "M1", "C2", on=DAY, facts=[name], who="kim", why="")
    with pytest.raises(RecordUnknown):
        hand_over(store, SETTINGS, "M9", "C2", on=DAY, who="kim", why="")
    assert dump(store) == state


def test_dates_are_corrected_and_neighbours_move_along(store: Store) -> None:
    """Where one holder's time ends as the next one's begins, both move; undo restores both."""
    hand_over(store, SETTINGS, "M1", "C2", on=DAY, who="kim", why="")
    state = dump(store)
    done = correct_dates(store, "M1", "C2", since=date(2025, 8, 20), who="kim", why="receipt")
    assert _holders(store) == [("C1", "2025-03-01", "2025-08-20"), ("C2", "2025-08-20", None)]
    undo(store, SETTINGS, done.journal, "kim", "")
    assert dump(store) == state
    correct_dates(store, "M1", "C1", since=date(2025, 2, 1), until=date(2025, 8, 25), who="kim", why="")
    assert _holders(store) == [("C1", "2025-02-01", "2025-08-25"), ("C2", "2025-08-25", None)]


def test_dates_that_cannot_be_are_refused(store: Store) -> None:
    """Refused: an end before the begin, an end for who still has it, over another's time, of a stranger, no date."""
    hand_over(store, SETTINGS, "M1", "C2", on=DAY, who="kim", why="")
    state = dump(store)
    refused = [
        ("C1", None, date(2025, 1, 1), "lies before"),
        ("C2", None, date(2025, 10, 1), "still has"),
        ("C2", date(2025, 1, 1), None, "would overlap"),
        ("C2", date.today() + timedelta(days=9), None, "in the future"),
    ]
    for customer, since, until, said in refused:
        with pytest.raises(SettlementRefused, match=said):
            correct_dates(store, "M1", customer, since=since, until=until, who="kim", why="")
    with pytest.raises(SettlementRefused, match="never had"):
        correct_dates(store, "M2", "C1", since=DAY, who="kim", why="")
    with pytest.raises(UsageProblem):
        correct_dates(store, "M1", "C1", who="kim", why="")
    assert dump(store) == state


def test_a_trade_in_is_not_undone_under_later_holders(store: Store) -> None:
    """Once the machine went on to others, undoing the first trade-in would give it back to who had it before them, even
    where nobody has it now: refused, until the later lines are undone."""
    lines = [hand_over(store, SETTINGS, "M1", to, on=DAY, who="kim", why="").journal for to in (NOBODY, "C2", NOBODY)]
    with pytest.raises(SettlementRefused, match="M1 had another holder since"):
        undo(store, SETTINGS, lines[0], "kim", "too early")
    assert store.machine("M1").holder is None
    for line in reversed(lines):
        undo(store, SETTINGS, line, "kim", "in order")
    assert store.machine("M1").holder == "C1"


def test_an_old_confirmation_does_not_take_a_sold_machine_back(store: Store) -> None:
    """Sold by a message that a person settled, then the former holder forwards the old confirmation once more:
    settled as theirs, it leaves the machine where it is; one that states a later purchase does not."""
    sold = values(customer_name="Teun Duinhoven", email_address="teun@post.example", purchase_date="2025-05-01")
    ref, _ = take(store, sold, message(day=60, sender="teun@post.example", name="Teun Duinhoven"))
    settle(store, SETTINGS, ref, customer="new", who="kim", why="bought it from her")
    buyer = store.machine("M1").holder
    assert buyer not in (None, "C1")
    again, decision = take(store, values(purchase_date=None), message(day=200))
    assert codes(decision) == ["holder_unclear"]
    settle(store, SETTINGS, again, customer="C1", who="kim", why="her old mail")
    assert store.machine("M1").holder == buyer
    bought, _ = take(store, values(purchase_date="2025-09-01"), message(day=210))
    settle(store, SETTINGS, bought, customer="C1", sure=True, who="kim", why="bought back")
    assert store.machine("M1").holder == "C1"
