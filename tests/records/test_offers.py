"""A new customer is among the answers to whose a message is, in its place and with its evidence."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from records_world import MARIT, SETTINGS, another, fact, message, reading, take, values

from counterfoil.model import Candidate, Check, Kind, Reading
from counterfoil.records.settling import decide_again, settle
from counterfoil.records.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Records that know Marit Solvang and her machine."""
    made = Store(tmp_path / "records.db", create=True, settings=SETTINGS)
    take(made, MARIT)
    yield made
    made.close()


def candidates(store: Store, found: dict[Kind, str] | Reading, code: str) -> tuple[Candidate, ...]:
    """Return the candidates of the one question that filing raises."""
    decision = take(store, found, message(sender="somebody@post.example"))[1]
    (question,) = decision.questions
    assert question.code == code
    return question.candidates


def test_somebody_else_at_a_known_contact(store: Store) -> None:
    """Kin at the same address: somebody new is likelier than the one whose name differs, and it says why."""
    new, known = candidates(store, another(2, customer_name="Ola Solvang"), "customer_unclear")
    assert (new.ref, new.label, known.ref) == ("new", "new customer Ola Solvang", "C1")
    assert "the e-mail address is known, of C1" in new.evidence


def test_a_namesake_comes_before_somebody_new(store: Store) -> None:
    """One whose name agrees is the likelier answer, somebody new the next."""
    known, new = candidates(store, another(2, email_address="m@elsewhere.example"), "customer_unclear")
    assert (known.ref, new.ref) == ("C1", "new")
    assert new.evidence == ("C1 is called alike", "the e-mail address is not known")


def test_a_machine_in_other_hands(store: Store) -> None:
    """Where the machine is another's, somebody new is offered, with what it would mean for the machine."""
    found = values(customer_name="Vera Lintock", email_address="vera@post.example", product_key="NEW1-NEW2-NEW3")
    found[Kind.ACTIVATION_CODE] = "AAAA-BBBB-CCCC-DD12"
    new, holder = candidates(store, found, "holder_unclear")
    assert (new.ref, holder.ref) == ("new", "C1")
    assert new.evidence[-1] == "M1 would change hands"


def test_without_a_certain_name_somebody_new_comes_last(store: Store) -> None:
    """A new profile needs a name: without a certain one it is offered last and says so."""
    doubtful = fact(Kind.CUSTOMER_NAME, "Ola Solvang", odds=2.0)
    other = fact(Kind.CUSTOMER_NAME, "Ole Solvang", odds=2.0)
    both = {Kind.CUSTOMER_NAME: (doubtful, other)}
    read = reading(another(2, customer_name=None), doubtful, conflicts=both)
    (question,) = [q for q in take(store, read)[1].questions if q.code == "customer_unclear"]
    assert [c.ref for c in question.candidates] == ["C1", "new"]
    assert "not certain" in question.candidates[-1].evidence[0]
    one = take(store, another(3, customer_name="Marit", email_address="x@post.example"))[1].questions[-1]
    assert "not a given and a family name" in next(c for c in one.candidates if c.ref == "new").evidence[0]


def test_the_answer_can_be_given(store: Store) -> None:
    """Settled with the candidate `new`, a profile is made with the name that the candidate gave."""
    candidates(store, another(2, customer_name="Ola Solvang"), "customer_unclear")
    done = settle(store, SETTINGS, "E2", customer="new", who="kim", why="")
    assert store.customer(str(done.customer)).name == "Ola Solvang"


def test_asked_again_with_what_is_known_since(store: Store) -> None:
    """Deciding again names a customer made since as a candidate, or files where nothing is left to ask."""
    for number in (2, 3):
        take(store, another(number, customer_name="Ola Solvang", email_address="s@post.example"))
        take(store, another(number + 5, customer_name="Ola Solvang"), message(sender="somebody@post.example"))
    assert [m.customer for m in store.messages()] == ["C1", "C2", None, "C2", None]
    settle(store, SETTINGS, "E3", customer="C2", who="kim", why="")
    again = decide_again(store, SETTINGS, "E5")
    assert (again.standing.value, again.customer) == ("filed", "C2")
    assert store.message("E5").customer is None


def test_a_corrected_code_is_offered_and_not_taken(store: Store) -> None:
    """A code that fits once a look-alike is corrected is asked about: the correction first, covered where secret."""
    key = fact(Kind.PRODUCT_KEY, "SPQ4-7RTW-M2XO", check=Check.FAILED, odds=-4.0, readings=("SPQ4-7RTW-M2X0",))
    found = another(3)
    first, second = candidates(store, reading(found, key), "check_failed")
    assert first.ref == "••••-••••-M2X0 (corrected)"
    assert second.ref == "••••-••••-M2XO"
    machine = fact(Kind.MACHINE_ID, "HG-2O4518-K", odds=1.0, readings=("HG-204518-K",))
    first, second = candidates(store, reading(another(4), machine), "fact_uncertain")
    assert (first.ref, second.ref) == ("HG-204518-K", "HG-2O4518-K")
