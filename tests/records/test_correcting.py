"""Entries at the bench corrected: right values in the profiles, the first entry in the history, undo in both orders."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from records_world import MARIT, SETTINGS, another, dump, fact, take, values

from counterfoil.errors import RecordUnknown, SettlementRefused, UsageProblem
from counterfoil.model import Check, Fact, Kind
from counterfoil.records import schema
from counterfoil.records.bench import record
from counterfoil.records.correcting import correct as correct_any
from counterfoil.records.merging import merge
from counterfoil.records.settling import undo
from counterfoil.records.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """New records with one entry, J1; whatever a test did, file, references and journal are in order afterwards."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    given = [fact(kind, value) for kind, value in values(firmware_version=None).items()]
    record(
        made,
        SETTINGS,
        customer="new",
        facts=given,
        firmware_before="2.10",
        firmware_after="2.40",
        who="kim",
        why="at the bench",
    )
    yield made
    assert made.integrity() == []
    assert made.journal_break() is None
    made.close()


def correct(store: Store, entry: str = "J1", *facts: Fact, **more: Any) -> tuple[str, str, str]:
    """Correct an entry."""
    return correct_any(store, SETTINGS, entry, facts=facts, **({"who": "ada", "why": "misread"} | more))


def test_right_values_take_the_place_of_wrong_ones(store: Store) -> None:
    """The profile has the right key and nothing of the wrong one; key and code stay one upgrade."""
    assert correct(store, "J1", fact(Kind.PRODUCT_KEY, "SPQ4-7RTW-M2XB")) == ("C1", "M1", "J2")
    (upgrade,) = store.machine("M1").upgrades
    assert upgrade.product_key is not None and upgrade.product_key.fact.value == "SPQ4-7RTW-M2XB"
    assert upgrade.activation_code is not None
    assert upgrade.activation_code.fact.value == MARIT[Kind.ACTIVATION_CODE]
    assert {noted.source for noted in store.machine("M1").facts} == {"J2"}
    assert store.find_code("SPQ47RTWM2XA", endings=False, near=False) == []


def test_the_first_entry_is_not_lost(store: Store) -> None:
    """The first line of the journal stands as it was, and its values are still among the records, whole."""
    (before,) = store.journal()
    correct(store, "J1", fact(Kind.PRODUCT_KEY, "SPQ4-7RTW-M2XB"))
    first, second = store.journal()
    assert first == before
    assert (second.action, second.who, second.why, second.detail["corrects"]) == ("correct", "ada", "misread", "J1")
    with store.reading() as conn:
        kept = sa.select(schema.fact.c.value).where(schema.fact.c.journal_id == 1, schema.fact.c.kind == "product_key")
        assert conn.scalars(kept).all() == [MARIT[Kind.PRODUCT_KEY]]


def test_the_journal_says_what_changed_and_shows_no_code(store: Store) -> None:
    """Before and after stand in the line, codes by their ends only."""
    correct(store, "J1", fact(Kind.PRODUCT_KEY, "SPQ4-7RTW-M2XB"), firmware_after="2.60")
    detail = store.journal()[-1].detail
    before, after = detail["before"], detail["after"]
    assert isinstance(before, dict) and isinstance(after, dict)
    changed = {name for name in before | after if before.get(name) != after.get(name)}
    assert changed == {"product_key", "firmware_version after"}
    assert "7RTW" not in repr(detail) and "M2XA" in repr(before) and "M2XB" in repr(after)


def test_undo_brings_the_first_values_back(store: Store) -> None:
    """After undoing the correction all rows are as before; before that the entry itself cannot be undone."""
    before = dump(store)
    correct(store, "J1", fact(Kind.PURCHASE_DATE, "2025-02-01"), firmware_before="2.9", drop=[Kind.UPGRADE_NAME])
    with pytest.raises(SettlementRefused, match="J2 rests on it"):
        undo(store, SETTINGS, "J1", "kim", "")
    undo(store, SETTINGS, "J2", "kim", "")
    assert dump(store) == before
    correct(store, "J1", fact(Kind.PURCHASE_DATE, "2025-02-01"))
    undo(store, SETTINGS, "J4", "kim", "")
    undo(store, SETTINGS, "J1", "kim", "")
    assert store.machines() == [] and store.customers() == []


def test_a_correction_is_corrected(store: Store) -> None:
    """The last line of an entry is corrected, an earlier one refused with its name; undone one after the other."""
    before = dump(store)
    correct(store, "J1", firmware_after="2.60")
    with pytest.raises(SettlementRefused, match="corrected by J2") as refused:
        correct(store, "J1", firmware_after="2.70")
    assert "J2" in refused.value.next_step
    correct(store, "J2", firmware_after="2.70")
    assert [n.version for n in store.machine("M1").firmware] == ["2.10", "2.70"]
    undo(store, SETTINGS, "J3", "kim", "")
    undo(store, SETTINGS, "J2", "kim", "")
    assert dump(store) == before


def test_values_keep_their_day(store: Store) -> None:
    """A correction speaks of the day of the entry: what was noted later stays the latest."""
    ident = [fact(Kind.MACHINE_ID, MARIT[Kind.MACHINE_ID])]
    record(store, SETTINGS, customer=None, facts=ident, firmware_after="2.80", who="kim", why="")
    correct(store, "J1", firmware_after="2.60")
    latest = store.machine("M1").latest(Kind.FIRMWARE_VERSION)
    assert latest is not None and latest.fact.normal == "2.80"


def test_the_holder_has_it_from_the_right_day(store: Store) -> None:
    """Where the entry said from when the holder has the machine, its correction does."""
    assert [h.since for h in store.machine("M1").holders] == ["2025-03-01"]
    correct(store, "J1", fact(Kind.PURCHASE_DATE, "2025-02-01"))
    assert [(h.since, h.source) for h in store.machine("M1").holders] == [("2025-02-01", "J1")]


def test_the_holder_before_has_it_up_to_that_day(store: Store) -> None:
    """Where the entry took a machine from a holder, the corrected day ends the one and begins the other."""
    given = {Kind.MACHINE_ID: MARIT[Kind.MACHINE_ID], Kind.CUSTOMER_NAME: "Teun Duinhoven"}
    facts = [fact(kind, value) for kind, value in (given | {Kind.PURCHASE_DATE: "2025-06-01"}).items()]
    record(store, SETTINGS, customer="new", facts=facts, sure=True, who="kim", why="")
    before = dump(store)
    for day, expected in (("2025-05-01", "2025-05-01"), ("2025-01-01", "2025-03-01")):
        correct(store, "J2", fact(Kind.PURCHASE_DATE, day))
        first, second = store.machine("M1").holders
        assert (first.until, second.since, second.until) == (expected, expected, None)
        undo(store, SETTINGS, store.journal()[-1].id, "kim", "")
        assert dump(store) == before


def test_a_misread_identifier(store: Store) -> None:
    """The machine stays the one it is under its right number; that of another machine is refused."""
    take(store, another(2))
    correct(store, "J1", fact(Kind.SERIAL_NUMBER, "7731 40923"))
    assert store.machine("M1").values(Kind.SERIAL_NUMBER) == ("7731 40923",)
    with pytest.raises(SettlementRefused, match="on another machine"):
        correct(store, "J2", fact(Kind.MACHINE_ID, another(2)[Kind.MACHINE_ID]))


def test_contradictions_are_refused_unless_sure(store: Store) -> None:
    """A failed check digit, another machine's key, firmware going backwards: refused with a reason, or sure."""
    take(store, another(2))
    before = dump(store)
    odd = fact(Kind.MACHINE_ID, "HG-204519-K", check=Check.FAILED, odds=-3.0)
    other_key = fact(Kind.PRODUCT_KEY, another(2)[Kind.PRODUCT_KEY])
    wrong: list[tuple[tuple[Fact, ...], dict[str, str], str]] = [
        ((odd,), {}, "check digit"),
        ((other_key,), {}, "on another machine"),
        ((), {"firmware_after": "2.9"}, "older than before it, 2.10"),
    ]
    for facts, more, reason in wrong:
        with pytest.raises(SettlementRefused, match=reason):
            correct(store, "J1", *facts, **more)
        assert dump(store) == before
    correct(store, "J1", other_key, firmware_after="2.9", sure=True)
    assert len(store.journal()[-1].detail["against"]) == 2  # type: ignore[arg-type]


def test_what_was_accepted_once_is_not_asked_again(store: Store) -> None:
    """A contradiction that the entry already stood against does not refuse a correction of something else."""
    given = [fact(kind, value) for kind, value in another(2, product_key=MARIT[Kind.PRODUCT_KEY]).items()]
    record(store, SETTINGS, customer="C1", facts=given, sure=True, who="kim", why="")
    correct(store, "J2", fact(Kind.MODEL, "Aria 600"))
    assert store.machine("M2").values(Kind.MODEL) == ("Aria 600",)


def test_a_value_taken_out(store: Store) -> None:
    """A value that has no right one is taken out; the last identifier and the last name are not."""
    correct(store, "J1", drop=[Kind.SERIAL_NUMBER, Kind.UPGRADE_NAME])
    assert store.machine("M1").values(Kind.SERIAL_NUMBER) == ()
    with pytest.raises(SettlementRefused, match="without an identifier"):
        correct(store, "J2", drop=[Kind.MACHINE_ID])
    with pytest.raises(SettlementRefused, match="without a name"):
        correct(store, "J2", drop=[Kind.CUSTOMER_NAME])
    with pytest.raises(SettlementRefused, match="entered no serial number"):
        correct(store, "J2", drop=[Kind.SERIAL_NUMBER])


def test_after_a_merge(store: Store) -> None:
    """A correction made after a merge goes to the customer of today; one made before is undone after the merge is."""
    correct(store, "J1", fact(Kind.CUSTOMER_NAME, "Marit Solvangen"))
    other = another(2, customer_name="Teun Duinhoven", email_address="teun@post.example")
    record(store, SETTINGS, customer="new", facts=[fact(k, v) for k, v in other.items()], who="kim", why="")
    merge(store, "C2", "C1", who="kim", why="same person")
    with pytest.raises(SettlementRefused, match="changed again since"):
        undo(store, SETTINGS, "J2", "kim", "")
    assert correct(store, "J2", fact(Kind.CUSTOMER_NAME, "Marit Solvang"))[0] == "C2"
    assert "Marit Solvang" in store.customer("C2").values(Kind.CUSTOMER_NAME)


def test_wrong_use(store: Store) -> None:
    """Nothing named, a kind twice, an unknown line, one that is no entry, one undone, the same value: all said."""
    key = fact(Kind.PRODUCT_KEY, "SPQ4-7RTW-M2XB")
    with pytest.raises(UsageProblem, match="what is to be corrected"):
        correct(store)
    with pytest.raises(UsageProblem, match="twice"):
        correct(store, "J1", key, key)
    with pytest.raises(UsageProblem, match="twice"):
        correct(store, "J1", key, drop=[Kind.PRODUCT_KEY])
    with pytest.raises(RecordUnknown):
        correct(store, "J7", key)
    with pytest.raises(SettlementRefused, match="says so already"):
        correct(store, "J1", fact(Kind.PRODUCT_KEY, MARIT[Kind.PRODUCT_KEY]))
    store.note("ada", "reveal", "M1", "reset", {})
    with pytest.raises(SettlementRefused, match="no entry at the bench"):
        correct(store, "J2", key)
    undo(store, SETTINGS, "J1", "kim", "")
    with pytest.raises(SettlementRefused, match="was undone by J3"):
        correct(store, "J1", key)
