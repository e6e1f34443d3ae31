"""A whole group settled at once: what may be a confirmation is left for a person to look at."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from records_world import MARIT, SETTINGS, another, dump, message, take, values

from counterfoil.errors import RecordUnknown, UsageProblem
from counterfoil.model import Standing
from counterfoil.records.grouping import settle_from
from counterfoil.records.rules import rules
from counterfoil.records.settling import undo
from counterfoil.records.store import Store

NEWS = "news@stitch-letter.example"
NO_CODES = dict.fromkeys(("machine_id", "serial_number", "product_key", "activation_code"))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Records with a customer, two newsletters, a message with codes from the same sender, and one from elsewhere."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    take(made, MARIT)
    for found in (values(**NO_CODES), values(**NO_CODES), another(5, customer_name="Ola Solvang")):
        take(made, found, message(sender=NEWS))
    take(made, values(**NO_CODES), message(sender="other@post.example"))
    assert [m.id for m in made.messages(Standing.OPEN)] == ["E2", "E3", "E4", "E5"]
    yield made
    made.close()


def test_aside_now_and_in_future(store: Store) -> None:
    """All without codes from the address go aside, one with codes is left and named, a rule is made; all is undone."""
    before = dump(store)
    done = settle_from(store, SETTINGS, NEWS.upper(), aside=True, from_now_on=True, who="kim", why="newsletter")
    assert [m.id for m, _ in done.settled] == ["E2", "E3"]
    assert done.left == (("E4", "It holds a code."),)
    assert done.rule is not None and done.new_rule and done.rule.id == "R1"
    assert [m.id for m in store.messages(Standing.OPEN)] == ["E4", "E5"]
    assert [(e.action, e.subject, e.why) for e in store.journal()] == [
        ("rule", "R1", "newsletter"),
        ("settle", "E2", "newsletter"),
        ("settle", "E3", "newsletter"),
    ]
    for line in done.journal:
        undo(store, SETTINGS, line, who="kim", why="")
    assert dump(store) == before


def test_without_a_rule(store: Store) -> None:
    """Without being asked to, no rule is made; what a person is sure of goes aside with its codes."""
    done = settle_from(store, SETTINGS, NEWS, aside=True, sure=True, who="kim", why="")
    assert ([m.id for m, _ in done.settled], done.left, done.rule) == (["E2", "E3", "E4"], (), None)
    assert rules(store) == []


def test_filed_to_one_customer(store: Store) -> None:
    """Filed to a customer together: what is complete is filed, what contradicts stays open with its reason."""
    done = settle_from(store, SETTINGS, NEWS, customer="c1", who="kim", why="her own")
    assert [(m.id, m.customer, m.standing) for m, _ in done.settled] == [("E4", "C1", Standing.FILED)]
    assert [ref for ref, _ in done.left] == ["E2", "E3"]
    assert all("Not found in the message" in reason for _, reason in done.left)
    assert [m.id for m in store.messages(Standing.OPEN)] == ["E2", "E3", "E5"]


def test_a_second_time_changes_nothing(store: Store) -> None:
    """Doing it again settles nothing, and names the rule there is."""
    settle_from(store, SETTINGS, NEWS, aside=True, from_now_on=True, who="kim", why="")
    lines = len(store.journal())
    again = settle_from(store, SETTINGS, NEWS, aside=True, from_now_on=True, who="kim", why="")
    assert (again.settled, again.new_rule, again.journal, len(store.journal())) == ((), False, (), lines)


def test_what_a_group_cannot_be_told(store: Store) -> None:
    """Neither nothing, nor both, nor a new customer for each, nor somebody unknown; nothing changes."""
    before = dump(store)
    for wrong in ({}, {"aside": True, "customer": "C1"}, {"customer": "C1", "from_now_on": True}, {"customer": "new"}):
        with pytest.raises(UsageProblem):
            settle_from(store, SETTINGS, NEWS, who="kim", why="", **wrong)
    with pytest.raises(RecordUnknown):
        settle_from(store, SETTINGS, NEWS, customer="C99", who="kim", why="")
    assert dump(store) == before
