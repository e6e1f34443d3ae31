"""Codes read by eye are never filed unasked; what makes them as good as text, and how they are confirmed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from records_world import MARIT, SETTINGS, another, codes, fact, reading, take, values

from counterfoil.errors import SettlementRefused
from counterfoil.model import ALSO_IN_SYMBOL, ALSO_IN_TEXT, BY_EYE, Check, Fact, Kind, Place, Reading, Standing
from counterfoil.records.settling import settle
from counterfoil.records.store import Store

KINDS = (Kind.MACHINE_ID, Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """New records."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    yield made
    made.close()


def seen(kind: Kind, *evidence: str, check: Check = Check.NONE, readings: tuple[str, ...] = ()) -> Fact:
    """Return a code of the usual machine, read off a photo."""
    made = fact(kind, MARIT[kind], check=check, readings=readings)
    return replace(made, place=Place("picture:card.jpg", 1, made.place.box), evidence=(*evidence, BY_EYE))


@pytest.mark.parametrize("kind", KINDS)
def test_a_code_read_by_eye_is_asked_about(store: Store, kind: Kind) -> None:
    """Each kind of code keeps the message open where its only source is a picture, however sure the reading is; the
    code as read is the answer offered."""
    ref, decision = take(store, reading(MARIT, replace(seen(kind), odds=15.0)))
    assert decision.standing is Standing.OPEN
    assert codes(decision) == ["code_read_by_eye"]
    assert len(decision.questions[0].candidates) == 1
    assert MARIT[kind] in decision.questions[0].candidates[0].ref or kind in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
    assert store.message(ref).standing is Standing.OPEN


@pytest.mark.parametrize(
    ("evidence", "check", "asked"),
    [
        ((), Check.PASSED, True),
        ((ALSO_IN_TEXT,), Check.NONE, True),
        ((ALSO_IN_TEXT,), Check.FAILED, True),
        ((ALSO_IN_TEXT,), Check.PASSED, False),
        ((ALSO_IN_SYMBOL,), Check.NONE, False),
    ],
)
def test_what_makes_it_as_good_as_text(store: Store, evidence: tuple[str, ...], check: Check, asked: bool) -> None:
    """A right check digit alone does not, nor the same characters alone; both together do, and so does a QR code."""
    _, decision = take(store, reading(MARIT, seen(Kind.PRODUCT_KEY, *evidence, check=check)))
    assert codes(decision) == (["code_read_by_eye"] if asked else [])


def test_a_code_on_record_with_a_right_check_digit_is_not_asked_about(store: Store) -> None:
    """The records count as text elsewhere: a known machine's ID with a right check digit files its next upgrade."""
    take(store, MARIT)
    following = values(another(2), machine_id=MARIT[Kind.MACHINE_ID], serial_number=MARIT[Kind.SERIAL_NUMBER])
    _, decision = take(store, reading(following, seen(Kind.MACHINE_ID)))
    assert codes(decision) == ["code_read_by_eye"]
    _, decision = take(store, reading(following, seen(Kind.MACHINE_ID, check=Check.PASSED)))
    assert (decision.standing, decision.machine) == (Standing.FILED, "M1")


def test_the_same_code_in_a_text_is_enough(store: Store) -> None:
    """Where a text of the message gives the code too, behind its label, nothing is asked, whichever was chosen."""
    picture = seen(Kind.PRODUCT_KEY)
    found = reading(MARIT, picture)
    both = Reading((*found.facts, fact(Kind.PRODUCT_KEY, MARIT[Kind.PRODUCT_KEY])), found.chosen, confirmation=6.0)
    assert codes(take(store, both)[1]) == []


def test_a_wrong_check_digit_is_said_in_the_one_question(store: Store) -> None:
    """A code read by eye with a wrong check digit is asked about once, with its correction ahead of the reading."""
    misread = seen(Kind.PRODUCT_KEY, check=Check.FAILED, readings=("5PQ4-7RTW-M2XA",))
    _, decision = take(store, reading(MARIT, misread))
    (question,) = decision.questions
    assert "check digit does not fit" in question.sentence
    assert ["corrected" in candidate.label for candidate in question.candidates] == [True, False]


def test_confirming_every_code_files_the_message(store: Store) -> None:
    """Choosing a customer is not enough; each code has to be confirmed, or given as it really is; then it is filed."""
    ref, _ = take(store, reading(MARIT, *(seen(kind) for kind in KINDS)))
    with pytest.raises(SettlementRefused, match="read by eye"):
        settle(store, SETTINGS, ref, customer="new", who="kim", why="looked")
    right = [fact(kind, MARIT[kind]) for kind in KINDS[:3]]
    with pytest.raises(SettlementRefused, match="activation code"):
        settle(store, SETTINGS, ref, facts=right, who="kim", why="looked")
    done = settle(
        store, SETTINGS, ref, facts=[*right, fact(Kind.ACTIVATION_CODE, "9KDW-4HPX-77RA-B2NF")], who="kim", why="looked"
    )
    assert done.standing is Standing.FILED
    assert store.machine("M1").latest(Kind.ACTIVATION_CODE).fact.value == "9KDW-4HPX-77RA-B2NF"  # type: ignore[union-attr]
    assert all(noted.confirmed for noted in done.facts if noted.chosen and noted.fact.kind in KINDS)
