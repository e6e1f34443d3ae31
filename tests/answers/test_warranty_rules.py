"""The rules a term may have beyond a length: registered in time, the activation, proofs, extensions; both answers."""

from __future__ import annotations

from datetime import date

import pytest
from answers_world import machine, noted

from counterfoil.answers.coverage import Term
from counterfoil.answers.warranty import Cover, assess
from counterfoil.model import Holding, Kind, MachineProfile
from counterfoil.records.extensions import Extension

BOUGHT = noted(Kind.PURCHASE_DATE, "2024-02-01")
#: Ten years where registered within 28 days, else two.
MOTOR = Term("motor", 120, register_days=28, else_months=24, number=1)
SOLD = (Holding("C3", "M7", "2024-02-01", "2025-06-10", "E5"), Holding("C4", "M7", "2025-06-10", None, "E9"))
ON = date(2026, 11, 25)


def only(profile: MachineProfile, term: Term, on: date = ON, *bought: Extension) -> Cover:
    """Return the answer for the one part there is."""
    (cover,) = assess(profile, [term], on, bought=bought).coverage
    return cover


def registered(day: str, source: str = "E6", number: int = 2) -> MachineProfile:
    """Return a machine bought on 1 February 2024 and registered on a day."""
    return machine(BOUGHT, noted(Kind.REGISTRATION_DATE, day, source, number=number))


def extension(parts: tuple[str, ...] = ("motor",), months: int = 24, **more: object) -> Extension:
    """Return an extension of the machine."""
    return Extension("J12", "M7", parts, months, date(2024, 2, 1), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("day", "covered", "last"),
    [("2024-02-01", True, "2034-02-01"), ("2024-02-29", True, "2034-02-01"), ("2024-03-01", False, "2026-02-01")],
)
def test_registered_within_days_or_the_shorter_term(day: str, covered: bool, last: str) -> None:
    """The 28th day after the purchase is still in time (BGB 187(1): the day of the event is not counted)."""
    cover = only(registered(day), MOTOR)
    assert (cover.covered, cover.ends, cover.assumed) == (covered, date.fromisoformat(last), False)
    assert f"egistered on {day}" in cover.why


@pytest.mark.parametrize(("on", "covered"), [("2025-11-25", True), ("2026-11-25", None), ("2034-02-02", False)])
def test_without_a_registration_both_answers_are_given(on: str, covered: bool | None) -> None:
    """Where nobody knows of a registration the answer holds only where both lengths agree; both are listed."""
    cover = only(machine(BOUGHT), MOTOR, date.fromisoformat(on))
    assert (cover.covered, cover.assumed) == (covered, True)
    assert [answer.ends for answer in cover.answers] == [date(2026, 2, 1), date(2034, 2, 1)]
    assert cover.missing == ("Proof of a registration within 28 days of the purchase.",)
    assert "no registration is on record; it had to be made by 2024-02-29" in cover.why


def test_a_late_activation_does_not_prove_a_late_registration() -> None:
    """The first confirmation of an upgrade comes late: the machine may have been registered before, unknown to us."""
    late = noted(Kind.REGISTRATION_DATE, "2024-09-01", "E6", number=2)
    code = noted(Kind.ACTIVATION_CODE, "7K5S-UV6G-99L1-44TT", "E6", number=3)
    cover = only(machine(BOUGHT, late, code), MOTOR)
    assert (cover.covered, cover.assumed) == (None, True)
    assert "the first activation on record is of 2024-09-01" in cover.why


def test_no_shorter_term_means_no_cover() -> None:
    """A term without a shorter one gives nothing to a machine registered late."""
    cover = only(registered("2024-06-01"), Term("motor", 120, register_days=28))
    assert (cover.covered, cover.ends, cover.days_left) == (False, None, 0)
    assert cover.why.startswith("There is no cover")


def test_the_activation_starts_a_term() -> None:
    """A term from the activation runs from the first confirmation that holds a code, not from a registration before."""
    first = noted(Kind.REGISTRATION_DATE, "2024-02-10", "E6", number=2)
    active = noted(Kind.REGISTRATION_DATE, "2024-09-01", "E8", number=3)
    code = noted(Kind.ACTIVATION_CODE, "7K5S-UV6G-99L1-44TT", "E8", number=4)
    term = Term("card", 6, start="activation")
    cover = only(machine(first, active, code), term)
    assert (cover.start, cover.start_from, cover.ends, cover.assumed) == (
        date(2024, 9, 1),
        "activation",
        date(2025, 3, 1),
        False,
    )
    stand_in = only(machine(first), term)
    assert (stand_in.start_from, stand_in.assumed) == ("registration", True)


def test_what_counts_as_proof_is_asked_for() -> None:
    """A term that wants an invoice says that it is missing, and is silent once the number is on record."""
    term = Term("machine", 60, proof=("invoice",))
    assert only(machine(BOUGHT), term).missing == ("The proof that the term asks for: an invoice number.",)
    invoice = noted(Kind.INVOICE_NUMBER, "R-2204", number=2)
    assert only(machine(BOUGHT, invoice), term).missing == ()
    assert only(machine(BOUGHT), Term("machine", 60, proof=("invoice", "pdf"))).missing == ()


def test_a_stand_in_gives_the_other_answer() -> None:
    """Where the registration stands in for the purchase, the day from which on it would have ended is named."""
    cover = only(machine(noted(Kind.REGISTRATION_DATE, "2025-01-07")), Term("machine", 24), date(2026, 11, 25))
    assert (cover.covered, cover.assumed, cover.ends) == (True, True, date(2027, 1, 7))
    assert [(a.covered, a.ends) for a in cover.answers] == [(True, date(2027, 1, 7)), (None, None)]
    assert cover.answers[1].because == "if it was bought on 2024-11-24 or before, cover has ended"
    assert (
        only(machine(noted(Kind.PURCHASE_DATE, "2024-11-24")), Term("machine", 24), date(2026, 11, 25)).covered is False
    )
    assert (
        only(machine(noted(Kind.PURCHASE_DATE, "2024-11-25")), Term("machine", 24), date(2026, 11, 25)).covered is True
    )


def test_the_other_answer_counts_extensions_in() -> None:
    """The day from which cover would have ended moves with what an extension adds; one of its own days needs none."""
    profile = machine(noted(Kind.REGISTRATION_DATE, "2025-01-07"))
    longer = only(profile, Term("motor", 24), date(2026, 11, 25), extension(months=12))
    assert longer.answers[1].because == "if it was bought on 2023-11-24 or before, cover has ended"
    sold = extension(since=date(2026, 1, 1))
    assert [a.covered for a in only(profile, Term("motor", 24), date(2026, 11, 25), sold).answers] == [True]


def test_two_readings_give_two_answers() -> None:
    """A day that can be read two ways gives both last days, each with its own days left."""
    either = noted(Kind.PURCHASE_DATE, "2024-04-03", readings=("2024-04-03", "2024-03-04"))
    cover = only(machine(either), Term("machine", 24), date(2026, 3, 20))
    assert (cover.covered, cover.days_left, cover.assumed) == (None, None, True)
    assert [(a.covered, a.ends, a.days_left(date(2026, 3, 20))) for a in cover.answers] == [
        (False, date(2026, 3, 4), 0),
        (True, date(2026, 4, 3), 14),
    ]
    assert cover.missing == ("A person's word which of the dates is right: settle it from the invoice.",)


def test_an_extension_follows_the_term_added_once() -> None:
    """An extension goes on from the term's end; both are added at once, so that no day is lost at a month's end."""
    bought = machine(noted(Kind.PURCHASE_DATE, "2024-01-31"))
    cover = only(bought, Term("motor", 1), date(2024, 3, 31), extension(months=1))
    assert (cover.covered, cover.ends, cover.days_left) == (True, date(2024, 3, 31), 0)
    assert "1 month more by the extension J12" in cover.why


def test_an_extension_for_another_part_changes_nothing() -> None:
    """An extension of the electronics does not extend the motor."""
    covers = assess(machine(BOUGHT), [Term("motor", 24)], ON, bought=[extension(("electronics",))]).coverage
    cover = next(c for c in covers if c.part == "motor")
    assert (cover.covered, cover.ends) == (False, date(2026, 2, 1))


def test_an_extension_may_begin_after_a_gap() -> None:
    """An extension with a first day of its own covers from that day on; the days before it are not covered."""
    sold = extension(since=date(2026, 6, 1))
    assert [only(machine(BOUGHT), Term("motor", 24), day, sold).covered for day in (
        date(2026, 2, 1), date(2026, 2, 2), date(2026, 5, 31), date(2026, 6, 1), date(2028, 6, 1), date(2028, 6, 2),
    )] == [True, False, False, True, True, False]  # fmt: skip


def test_an_extension_outlives_a_first_holders_term() -> None:
    """The term ends with the first holder; the extension that stays with the machine begins when the term would end."""
    term = Term("motor", 24, first_holder=True)
    profile = machine(BOUGHT, holders=SOLD)
    days = (date(2025, 6, 9), date(2025, 6, 10), date(2026, 2, 1), date(2026, 2, 2), date(2028, 2, 1))
    assert [only(profile, term, day, extension()).covered for day in days] == [True, False, False, True, True]


def test_an_extension_may_end_with_its_buyer() -> None:
    """An extension that goes with its buyer is over once they parted with the machine."""
    sold = extension(since=date(2025, 1, 1), with_buyer=True)
    profile = machine(BOUGHT, holders=SOLD)
    assert [only(profile, Term("motor", 6), day, sold).covered for day in (date(2025, 6, 9), date(2025, 6, 10))] == [
        True,
        False,
    ]
    unknown = machine(BOUGHT, holders=(Holding("C3", "M7", None, None, "E5"), Holding("C4", "M7", None, None, "E9")))
    assert only(unknown, Term("motor", 6), date(2025, 6, 10), sold).covered is None


def test_an_extension_holds_without_any_date() -> None:
    """Where no purchase is known, an extension with a first day of its own still covers."""
    sold = extension(since=date(2026, 1, 1))
    cover = only(machine(), Term("motor", 24), ON, sold)
    assert (cover.covered, cover.ends) == (True, date(2028, 1, 1))
    assert only(machine(), Term("motor", 24), date(2025, 12, 31), sold).covered is None


def test_an_extension_for_a_part_without_a_term_is_a_row_of_its_own() -> None:
    """What a customer paid for is never left out of the answer, also where no term names the part."""
    sold = extension(("stand",), since=date(2026, 1, 1))
    covers = assess(machine(BOUGHT), [Term("motor", 24)], ON, bought=[sold]).coverage
    assert [(c.part, c.covered) for c in covers] == [("motor", False), ("stand", True)]
    follows = assess(machine(BOUGHT), [], ON, bought=[extension(("stand",))]).coverage
    assert [(c.part, c.covered) for c in follows] == [("stand", None)]
