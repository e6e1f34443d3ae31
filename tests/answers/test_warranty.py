"""Warranty answers: the dates on record, the terms, and what they say together.

That the last day of a term is the one with the start's own number, inclusive, is the rule of BGB section 188(2); worked
cases stand in tests/outside/test_warranty_cases.py.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from answers_world import MARIT, TRADED_IN, Desk, machine, noted

from counterfoil.answers.coverage import Term
from counterfoil.answers.warranty import STANDING_NOTE, Cover, assess, holder_on, warranty
from counterfoil.model import Holding, Kind, MachineProfile, Noted
from counterfoil.records.settling import settle

TWO_YEARS = Term("machine", 24, number=1)
FIRST_HOLDER = Term("machine", 60, first_holder=True, number=1)
BOUGHT = noted(Kind.PURCHASE_DATE, "2024-01-15")
REGISTERED = noted(Kind.REGISTRATION_DATE, "2024-02-20")
CHANGED_HANDS = (Holding("C3", "M7", "2024-01-15", "2025-06-10", "E5"), Holding("C4", "M7", "2025-06-10", None, "E9"))


def only(profile: MachineProfile, on: date, *terms: Term) -> Cover:
    """Return the answer for the one part there is."""
    (cover,) = assess(profile, terms or (TWO_YEARS,), on).coverage
    return cover


@pytest.mark.parametrize(
    ("on", "covered", "days_left"),
    [
        (date(2024, 1, 14), False, 0),
        (date(2024, 1, 15), True, 731),
        (date(2026, 1, 14), True, 1),
        (date(2026, 1, 15), True, 0),
        (date(2026, 1, 16), False, 0),
    ],
)
def test_first_and_last_day_are_covered(on: date, covered: bool, days_left: int) -> None:
    """Cover holds from the day of purchase up to and including the last day."""
    cover = only(machine(BOUGHT), on)
    assert (cover.covered, cover.days_left) == (covered, days_left)
    assert (cover.start, cover.ends) == (date(2024, 1, 15), date(2026, 1, 15))
    assert (cover.start_from, cover.assumed) == ("purchase", False)


def test_ends_are_pinned_to_the_month() -> None:
    """A term of six months from 31 August ends with February."""
    cover = only(machine(noted(Kind.PURCHASE_DATE, "2024-08-31")), date(2025, 1, 1), Term("motor", 6))
    assert cover.ends == date(2025, 2, 28)


def test_registration_stands_in_and_is_marked() -> None:
    """Without a purchase date the registration date is used, marked as assumed, and the sentence says so."""
    cover = only(machine(REGISTERED), date(2025, 1, 1))
    assert (cover.covered, cover.start_from, cover.assumed) == (True, "registration", True)
    assert "The registration date stands in: no purchase date is on record." in cover.why


def test_a_term_from_registration_is_not_assumed() -> None:
    """A term that runs from registration takes that date as its own."""
    term = Term("machine", 24, start="registration")
    cover = only(machine(BOUGHT, REGISTERED), date(2025, 1, 1), term)
    assert (cover.start, cover.start_from, cover.assumed) == (date(2024, 2, 20), "registration", False)


def test_no_date_is_no_answer() -> None:
    """Without any date the answer is that it cannot be told."""
    cover = only(machine(), date(2025, 1, 1))
    assert (cover.covered, cover.start, cover.start_from, cover.ends, cover.days_left) == (None,) * 5
    assert cover.why == "Neither a purchase date nor a registration date is on record."


@pytest.mark.parametrize(
    ("on", "covered"),
    [(date(2025, 12, 1), True), (date(2026, 2, 1), None), (date(2026, 8, 1), False), (date(2024, 3, 1), None)],
)
def test_two_purchase_dates_are_both_shown(on: date, covered: bool | None) -> None:
    """Where the records hold two purchase dates, both are shown, and the answer is open where they disagree."""
    cover = only(machine(BOUGHT, noted(Kind.PURCHASE_DATE, "2024-05-02", "E8", number=2)), on)
    assert cover.covered is covered
    assert (cover.start, cover.latest_start) == (date(2024, 1, 15), date(2024, 5, 2))
    assert (cover.ends, cover.latest_ends) == (date(2026, 1, 15), date(2026, 5, 2))
    assert cover.assumed
    assert "earliest 2024-01-15 (E5, pdf:confirmation.pdf, page 1), latest 2024-05-02 (E8" in cover.why


def test_of_several_registrations_the_first_is_the_machines() -> None:
    """Upgrades bought later are registered on their own; the first registration is the machine's."""
    again = noted(Kind.REGISTRATION_DATE, "2025-09-01", "E8", number=2)
    cover = only(machine(again, REGISTERED), date(2026, 3, 1), Term("machine", 24, start="registration"))
    assert (cover.covered, cover.start, cover.assumed) == (False, date(2024, 2, 20), False)
    assert only(machine(again, REGISTERED), date(2026, 3, 1)).ends == date(2026, 2, 20)


def test_a_purchase_after_the_registration_is_doubtful() -> None:
    """A purchase later than the registration may be that of an upgrade: the answer is open where the two disagree."""
    later = noted(Kind.PURCHASE_DATE, "2025-04-03", "E8", number=2)
    profile = machine(REGISTERED, later)
    assert [only(profile, on).covered for on in (date(2026, 1, 1), date(2026, 6, 1), date(2027, 6, 1))] == [
        True,
        None,
        False,
    ]
    cover = only(profile, date(2026, 6, 1))
    assert (cover.start, cover.latest_start, cover.assumed) == (date(2024, 2, 20), date(2025, 4, 3), True)
    assert cover.start_from == "registration"
    assert "which may be that of an upgrade" in cover.why


def test_a_date_with_two_readings_counts_as_two() -> None:
    """A day-month date that can be read both ways gives an answer only where both readings agree."""
    either = noted(Kind.PURCHASE_DATE, "2024-04-03", readings=("2024-04-03", "2024-03-04"))
    assert only(machine(either), date(2025, 1, 1)).covered is True
    assert only(machine(either), date(2026, 3, 20)).covered is None


def test_what_a_person_confirmed_stands() -> None:
    """A confirmed date sets aside dates nobody confirmed, and a doubtful reading of its own."""
    sure = noted(Kind.PURCHASE_DATE, "2024-04-03", readings=("2024-04-03", "2024-03-04"), confirmed=True)
    cover = only(machine(BOUGHT, sure), date(2026, 3, 20))
    assert (cover.covered, cover.start, cover.assumed) == (True, date(2024, 4, 3), False)


def test_a_correction_replaces_an_earlier_confirmation() -> None:
    """Of two confirmed dates the one noted last holds."""
    first = noted(Kind.PURCHASE_DATE, "2024-01-15", confirmed=True, number=1)
    second = noted(Kind.PURCHASE_DATE, "2024-06-01", "J4", confirmed=True, number=2, at="2025-04-01T08:00:00+00:00")
    cover = only(machine(first, second), date(2026, 3, 1))
    assert (cover.covered, cover.start) == (True, date(2024, 6, 1))
    assert "J4, entered by hand" in cover.why


def test_an_uncertain_date_is_marked_as_assumed() -> None:
    """A date below the odds of certainty that nobody confirmed is used, and marked."""
    cover = only(machine(noted(Kind.PURCHASE_DATE, "2024-01-15", odds=2.0)), date(2025, 1, 1))
    assert (cover.covered, cover.assumed) == (True, True)
    assert "Nobody confirmed this date" in cover.why


def test_readings_that_were_not_chosen_do_not_count() -> None:
    """A date that was weighed and not taken starts no term."""
    weighed = noted(Kind.PURCHASE_DATE, "2020-01-01")
    unchosen = Noted(weighed.fact, weighed.source, weighed.at, 9, chosen=False)
    assert only(machine(BOUGHT, unchosen), date(2025, 1, 1)).start == date(2024, 1, 15)


def test_a_first_holder_term_ends_with_the_first_holder() -> None:
    """The day before the change of hands is the last one covered; the later holder is not covered."""
    profile = machine(BOUGHT, holders=CHANGED_HANDS)
    before, after = only(profile, date(2025, 6, 9), FIRST_HOLDER), only(profile, date(2025, 6, 10), FIRST_HOLDER)
    assert (before.covered, before.ends, after.covered) == (True, date(2025, 6, 9), False)
    assert "changed hands after 2025-06-09 (E9)" in after.why
    assert only(profile, date(2025, 6, 10), Term("machine", 60)).covered is True


def test_a_later_holders_purchase_starts_no_new_term() -> None:
    """Terms count from the first sale (common practice, no source); the later date is named and not used."""
    later = noted(Kind.PURCHASE_DATE, "2025-06-10", "E9", number=2)
    cover = only(machine(BOUGHT, later, holders=CHANGED_HANDS), date(2026, 3, 1))
    assert (cover.covered, cover.start, cover.assumed) == (False, date(2024, 1, 15), False)
    assert "The date 2025-06-10 is a later holder's (E9" in cover.why


def test_a_later_holders_purchase_alone_can_only_deny() -> None:
    """Where only a later holder's purchase is on record, the first sale was earlier: cover is open, then over."""
    profile = machine(noted(Kind.PURCHASE_DATE, "2025-06-10", "E9"), holders=CHANGED_HANDS)
    assert only(profile, date(2026, 3, 1)).covered is None
    assert only(profile, date(2027, 6, 11)).covered is False
    assert only(profile, date(2026, 3, 1)).assumed


def test_a_change_of_hands_without_a_day_leaves_it_open() -> None:
    """Where the day of the change is not on record, a first holder's term gives no answer while it would run."""
    holders = (Holding("C3", "M7", None, None, "E5"), Holding("C4", "M7", None, None, "E9"))
    profile = machine(BOUGHT, holders=holders)
    assert only(profile, date(2025, 1, 1), FIRST_HOLDER).covered is None
    assert only(profile, date(2029, 2, 1), FIRST_HOLDER).covered is False


def test_a_machine_given_up_ends_the_first_holders_term() -> None:
    """A machine traded in, with no new holder yet, is past its first holder."""
    profile = machine(BOUGHT, holders=(Holding("C3", "M7", "2024-01-15", "2025-06-10", "E5"),))
    assert only(profile, date(2025, 6, 11), FIRST_HOLDER).covered is False


def test_unknown_model_leaves_it_open_where_terms_differ() -> None:
    """Where a term for the unknown model would give another answer, there is none."""
    terms = (TWO_YEARS, Term("machine", 60, model="Corvina 700", number=2))
    profile = machine(BOUGHT, model=None)
    assert only(profile, date(2027, 1, 1), *terms).covered is None
    assert "The model of the machine is not on record" in only(profile, date(2027, 1, 1), *terms).why
    agreed = only(profile, date(2025, 1, 1), *terms)
    assert (agreed.covered, agreed.assumed) == (True, True)


def test_a_term_for_a_maker_not_on_record_gives_no_answer() -> None:
    """A maker's term is not given to a machine whose maker is unknown."""
    cover = only(machine(BOUGHT, maker=None), date(2025, 1, 1), Term("machine", 24, maker="Vellamar"))
    assert cover.covered is None


def test_no_term_is_said() -> None:
    """A machine that no term covers gets an answer that says so."""
    answer = assess(machine(BOUGHT), [Term("machine", 24, maker="Ostrel")], date(2025, 1, 1))
    assert answer.coverage == ()
    assert answer.note.startswith("No coverage term in coverage.toml holds for this machine.")


def test_the_holder_of_the_day_is_named() -> None:
    """The answer names who held the machine on the day asked for."""
    profile = machine(BOUGHT, holders=CHANGED_HANDS)
    days = [date(2023, 1, 1), date(2025, 6, 9), date(2025, 6, 10), date(2026, 1, 1)]
    assert [holder_on(profile, day) for day in days] == ["C3", "C3", "C4", "C4"]
    assert holder_on(machine(holders=()), date(2025, 1, 1)) is None


def test_json_has_the_keys_of_the_contract() -> None:
    """The JSON form has the agreed keys, ISO dates, evidence with message and page, and the standing note."""
    term = Term("machine", 24, note="Keep the invoice.", number=1)
    answer = assess(machine(BOUGHT), [term], date(2025, 1, 1)).to_json()
    assert list(answer) == ["machine", "customer", "on", "coverage", "evidence", "note"]
    assert (answer["machine"], answer["customer"], answer["on"]) == ("M7", "C3", "2025-01-01")
    assert answer["note"] == STANDING_NOTE
    coverage = answer["coverage"]
    assert isinstance(coverage, list)
    assert coverage == [
        coverage[0]
        | {
            "part": "machine",
            "covered": True,
            "start": "2024-01-15",
            "start_from": "purchase",
            "assumed": False,
            "ends": "2026-01-15",
            "days_left": 379,
            "why": "Covered up to and including 2026-01-15: 2 years from the purchase on 2024-01-15 "
            "(E5, pdf:confirmation.pdf, page 1). Keep the invoice.",
            "rule": "2 years from the purchase; stays with the machine.",
            "missing": [],
            "extensions": [],
        }
    ]
    assert (coverage[0]["proof"]["message"], coverage[0]["proof"]["page"]) == ("E5", 1)
    (told,) = coverage[0]["answers"]
    assert told == {
        "covered": True,
        "start": "2024-01-15",
        "ends": "2026-01-15",
        "days_left": 379,
        "because": "counted from 2024-01-15",
    }
    evidence = answer["evidence"]
    assert isinstance(evidence, list)
    assert {"kind": "purchase_date", "message": "E5", "page": 1, "pattern": "label"}.items() <= evidence[-1].items()


def test_from_the_records_after_a_trade_in(tmp_path: Path) -> None:
    """Out of real records: the first sale starts the term, the day of the change ends it for the first holder."""
    desk = Desk(tmp_path)
    desk.confirm(MARIT)
    second = desk.confirm(TRADED_IN, day="2025-06-12")
    settle(desk.store, desk.settings, second, customer="new", machine="M1", who="anna", why="traded in at the shop")
    terms = (TWO_YEARS, Term("motor", 120, first_holder=True, number=2))
    answer = warranty(desk.store, terms, "M1", date(2025, 12, 1))
    assert answer.customer == "C2"
    assert [(c.part, c.covered, c.ends) for c in answer.coverage] == [
        ("machine", True, date(2026, 1, 15)),
        ("motor", False, date(2025, 6, 9)),
    ]
    assert warranty(desk.store, terms, "M1", date(2025, 6, 9)).customer == "C1"


def test_of_several_terms_the_shortest_is_told() -> None:
    """Where the model is not on record and the terms differ by it, the last day is that of the shortest, the latest
    that of the longest, in whichever order they stand in the file."""
    long, short = Term("machine", 60, number=1), Term("machine", 24, model="Corvina 700", number=2)
    other = Term("machine", 36, model="Corvina 900", number=3)
    profile = machine(BOUGHT, model=None)
    for terms in ((long, short, other), (other, short, long)):
        cover = only(profile, date(2025, 6, 1), *terms)
        assert (cover.covered, cover.assumed) == (True, True)
        assert (cover.ends, cover.latest_ends) == (date(2026, 1, 15), date(2029, 1, 15))
        assert cover.days_left == (date(2026, 1, 15) - date(2025, 6, 1)).days
        assert "2026-01-15" in cover.why
        assert sorted(answer.ends for answer in cover.answers if answer.ends) == [
            date(2026, 1, 15), date(2027, 1, 15), date(2029, 1, 15),
        ]  # fmt: skip
