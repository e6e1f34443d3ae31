"""Rules that put messages aside by their sender: never a confirmation, seen, removed, undone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from records_world import MARIT, SETTINGS, dump, fact, message, reading, take, values

from counterfoil.errors import RecordUnknown, SettlementRefused, UsageProblem
from counterfoil.model import Check, Document, Kind, Problem, Standing
from counterfoil.records.rules import add_rule, remove_rule, rules
from counterfoil.records.settling import undo
from counterfoil.records.store import Store

NEWS = "news@stitch-letter.example"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """New records."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    yield made
    made.close()


def newsletter(store: Store, **more: str | None) -> Standing:
    """File a message of the newsletter that names a customer and an upgrade, but no code unless one is given."""
    none = dict.fromkeys(("machine_id", "serial_number", "product_key", "activation_code"))
    found = values(**{**none, **more})
    return take(store, found, message(sender=NEWS.upper(), name="Stitch Letter"))[1].standing


def test_what_comes_from_the_address_is_put_aside(store: Store) -> None:
    """A message without codes from the address is put aside whatever the case of its letters; others stay open."""
    assert newsletter(store) is Standing.OPEN
    rule = add_rule(store, SETTINGS, f" {NEWS} ", who="kim", why="newsletter")
    assert (rule.id, rule.address, rule.who, rule.why, rule.messages) == ("R1", NEWS, "kim", "newsletter", 0)
    assert newsletter(store) is Standing.ASIDE
    assert store.message("E2").signs[-1] == f"put aside by rule R1: from {NEWS}"
    assert take(store, values(machine_id=None, serial_number=None))[1].standing is Standing.OPEN
    assert [r.messages for r in rules(store)] == [1]


@pytest.mark.parametrize("kind", ["machine_id", "serial_number", "product_key", "activation_code"])
def test_a_code_is_never_put_aside(store: Store, kind: str) -> None:
    """A message from the address that holds any code at filing odds is decided as if there were no rule."""
    add_rule(store, SETTINGS, NEWS, who="kim", why="")
    assert newsletter(store, **{kind: MARIT[Kind(kind)]}) is not Standing.ASIDE
    whole = take(store, MARIT, message(sender=NEWS))[1]
    assert whole.standing is Standing.FILED


@pytest.mark.parametrize(("odds", "check"), [(4.2, Check.NONE), (1.0, Check.NONE), (-2.0, Check.FAILED)])
def test_a_doubtful_code_is_never_put_aside(store: Store, odds: float, check: Check) -> None:
    """A code typed off in a sentence, cut short, or with a wrong character may be all that a confirmation holds."""
    add_rule(store, SETTINGS, NEWS, who="kim", why="")
    doubtful = fact(Kind.PRODUCT_KEY, "SAVE-2025-NOW1", odds=odds, check=check)
    read = reading({Kind.CUSTOMER_NAME: "Marit Solvang"}, doubtful)
    assert take(store, read, message(sender=NEWS))[1].standing is not Standing.ASIDE


def test_two_codes_that_contradict_are_never_put_aside(store: Store) -> None:
    """Two values for one code lower each other's odds: the message is asked about, whatever the rule says."""
    add_rule(store, SETTINGS, NEWS, who="kim", why="")
    two = [fact(Kind.ACTIVATION_CODE, value, odds=2.0) for value in ("7Q2L-UV6G-99L1-44T8", "8Q2L-UV6G-99L1-44T9")]
    read = reading({Kind.CUSTOMER_NAME: "Marit Solvang"}, *two)
    assert take(store, read, message(sender=NEWS))[1].standing is Standing.OPEN


def test_an_unread_document_is_never_put_aside(store: Store) -> None:
    """What may be a confirmation that could not be read is asked about; a logo in the text is not."""
    add_rule(store, SETTINGS, NEWS, who="kim", why="")
    name = {Kind.CUSTOMER_NAME: "Marit Solvang"}
    body = Document("body", 0, "Here.", ())
    locked = Document("pdf:a.pdf", 0, "", (), problem=Problem.ENCRYPTED)
    logo = Document("picture:logo.png", 0, "", (), problem=Problem.PICTURE, inline=True)
    assert take(store, reading(name), message(body, locked, sender=NEWS))[1].standing is Standing.OPEN
    assert take(store, reading(name), message(body, logo, sender=NEWS))[1].standing is Standing.ASIDE


def test_removed_and_brought_back(store: Store) -> None:
    """A removed rule no longer works, what it put aside stays so; undo of the removal brings it back as it was."""
    made = add_rule(store, SETTINGS, NEWS, who="kim", why="newsletter")
    newsletter(store)
    removed, line = remove_rule(store, "r1", who="lou", why="wanted after all")
    assert removed.id == made.id
    assert rules(store) == []
    assert newsletter(store) is Standing.OPEN
    assert store.message("E1").standing is Standing.ASIDE
    undo(store, SETTINGS, line, who="lou", why="")
    assert [(r.id, r.who, r.messages) for r in rules(store)] == [("R1", "kim", 1)]
    assert newsletter(store) is Standing.ASIDE
    assert [(e.action, e.subject, e.who) for e in store.journal()] == [
        ("rule", "R1", "kim"),
        ("remove rule", "R1", "lou"),
        ("undo", "R1", "lou"),
    ]


def test_making_is_undone(store: Store) -> None:
    """Undo of the making leaves the records as before it, and the number is not used again."""
    before = dump(store)
    made = add_rule(store, SETTINGS, NEWS, who="kim", why="")
    undo(store, SETTINGS, made.journal, who="kim", why="")
    assert dump(store) == before
    assert add_rule(store, SETTINGS, NEWS, who="kim", why="").id == "R2"


def test_a_second_rule_is_the_first(store: Store) -> None:
    """Asking for the same rule again makes none, and adds nothing to the journal."""
    first = add_rule(store, SETTINGS, NEWS, who="kim", why="")
    assert add_rule(store, SETTINGS, NEWS.title(), who="lou", why="") == first
    assert len(store.journal()) == 1


def test_whose_mail_must_be_looked_at(store: Store) -> None:
    """No rule is made for the shop's own address, nor for a customer's unless a person is sure; nor for no address."""
    take(store, MARIT)
    with pytest.raises(SettlementRefused, match="shop's own"):
        add_rule(store, SETTINGS, "Desk@shop.example", sure=True, who="kim", why="")
    with pytest.raises(SettlementRefused, match="an address of C1"):
        add_rule(store, SETTINGS, "marit@post.example", who="kim", why="")
    with pytest.raises(UsageProblem):
        add_rule(store, SETTINGS, "newsletter", who="kim", why="")
    assert rules(store) == []
    assert add_rule(store, SETTINGS, "marit@post.example", sure=True, who="kim", why="").id == "R1"


def test_unknown_rule(store: Store) -> None:
    """A rule that there is not cannot be removed."""
    with pytest.raises(RecordUnknown, match="no rule R4"):
        remove_rule(store, "R4", who="kim", why="")


def test_an_older_archive_gets_the_rules(store: Store) -> None:
    """Records from before there were rules get their table and numbers when they are opened."""
    with store.write() as conn:
        conn.execute(sa.text("DROP TABLE rule"))
        conn.execute(sa.text("ALTER TABLE counter DROP COLUMN rule"))
        conn.execute(sa.text("DELETE FROM migration WHERE name = '0002 rules'"))
    older = Store(store.path, settings=SETTINGS)
    assert rules(older) == []
    assert add_rule(older, SETTINGS, NEWS, who="kim", why="").id == "R1"
    older.close()
