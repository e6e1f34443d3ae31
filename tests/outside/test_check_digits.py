"""Check digits and dates against published examples and reference libraries."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date

import pytest
from dateutil import parser  # type: ignore[import-untyped]
from stdnum import damm, luhn, verhoeff
from stdnum.iso7064 import mod_11_2, mod_11_10, mod_37_2, mod_37_36, mod_97_10

from counterfoil.model import Check, Kind
from counterfoil.patterns.checks import CHECKS, LETTERS_AND_DIGITS, check, is_iban
from counterfoil.patterns.dates import read_date
from counterfoil.patterns.shapes import make_shape

PUBLISHED = [
    ("luhn", "79927398713", "worked example in most descriptions of Luhn's method"),
    ("damm", "5724", "worked example 572 with check digit 4 in descriptions of Damm's method; from memory"),
    ("verhoeff", "2363", "worked example 236 with check digit 3; from memory"),
    ("mod_11_2", "0000000218250097", "ORCID 0000-0002-1825-0097 (ISO 7064 Mod 11, 2), ORCID support page; from memory"),
    ("mod_11_2", "079X", "example in the documentation of python-stdnum 2.2"),
    ("mod_11_10", "002006673085", "example in the documentation of python-stdnum 2.2"),
    ("mod_37_2", "G123489654321Y", "example in the documentation of python-stdnum 2.2"),
    ("mod_37_36", "A12425GABC1234002M", "example in the documentation of python-stdnum 2.2"),
    ("mod_97_10", "9999123456789012141490", "example in the documentation of python-stdnum 2.2"),
]


@pytest.mark.parametrize(("name", "number", "source"), PUBLISHED, ids=[f"{n} {c}" for n, c, _ in PUBLISHED])
def test_published_numbers_pass_and_their_neighbours_fail(name: str, number: str, source: str) -> None:
    """A published number passes; with any one digit changed it fails (each of these finds all single errors)."""
    assert check(name, number) is Check.PASSED, source
    for at, digit in enumerate(number):
        if digit.isdigit():
            changed = number[:at] + str((int(digit) + 1) % 10) + number[at + 1 :]
            assert check(name, changed) is Check.FAILED, (source, changed)


def test_every_check_has_a_published_number() -> None:
    """No check digit a maker file may name goes without a published example."""
    assert {name for name, _, _ in PUBLISHED} | {"none"} == set(CHECKS)
    assert check("none", "ANYTHING") is Check.NONE


def test_published_bank_account_number() -> None:
    """The IBAN registry's British example (from memory) passes; with one digit changed it does not."""
    assert is_iban("GB29NWBK60161331926819") and not is_iban("GB29NWBK60161331926818")
    assert not is_iban("VT204417R")


def test_random_codes_agree_with_the_reference_library() -> None:
    """Check digits made by python-stdnum pass here, also through a maker's shape; with another last character not."""
    rng = random.Random(7064)
    makers: dict[str, Callable[[str], str]] = {
        "luhn": luhn.calc_check_digit,
        "damm": damm.calc_check_digit,
        "verhoeff": verhoeff.calc_check_digit,
        "mod_11_2": mod_11_2.calc_check_digit,
        "mod_11_10": mod_11_10.calc_check_digit,
        "mod_37_36": mod_37_36.calc_check_digit,
        "mod_37_2": mod_37_2.calc_check_digit,
        "mod_97_10": mod_97_10.calc_check_digits,
    }
    for name, calculate in makers.items():
        letters = name.startswith("mod_37")
        alphabet = LETTERS_AND_DIGITS if letters else "0123456789"
        for _ in range(200):
            body = "".join(rng.choice(alphabet) for _ in range(9))
            digits = calculate(body)
            if digits == "*":
                continue  # a check character that no normal form can hold
            shape = make_shape(Kind.MACHINE_ID, "X", "ZZ-" + "*" * (9 + len(digits)), check_name=name, check_from=2)
            if name != "luhn":
                assert shape.check("ZZ" + body + digits) is Check.PASSED
            assert check(name, body + digits) is Check.PASSED
            other = rng.choice([c for c in "0123456789" if c != digits[-1]])
            assert check(name, body + digits[:-1] + other) is Check.FAILED


def test_luhn_over_other_alphabets_agrees_with_the_reference_library() -> None:
    """Luhn mod N over a maker's alphabet is the reference library's."""
    rng = random.Random(16)
    alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
    shape = make_shape(Kind.PRODUCT_KEY, "X", "****-*****", alphabet=alphabet, check_name="luhn")
    for _ in range(200):
        body = "".join(rng.choice(alphabet) for _ in range(8))
        code = body + luhn.calc_check_digit(body, alphabet=alphabet)
        assert shape.check(code) is Check.PASSED


ISO_8601 = [
    ("1985-04-12", date(1985, 4, 12)),
    ("19850412", date(1985, 4, 12)),
    ("1985-102", date(1985, 4, 12)),
    ("1985-W15-5", date(1985, 4, 12)),
    ("1985W155", date(1985, 4, 12)),
    ("1985-04-12T23:20:50.52Z", date(1985, 4, 12)),
    ("1996-12-19T16:39:57-08:00", date(1996, 12, 19)),
    ("1990-12-31T23:59:60Z", date(1990, 12, 31)),
]


@pytest.mark.parametrize(("text", "day"), ISO_8601)
def test_published_iso_dates(text: str, day: date) -> None:
    """The examples of ISO 8601 (12 April 1985) and of RFC 3339, section 5.8 (both from memory) are read."""
    assert read_date(text).readings == (day,)


def test_unambiguous_dates_agree_with_dateutil() -> None:
    """On dates that can be read one way only, dateutil is of the same opinion."""
    rng = random.Random(8601)
    for _ in range(500):
        day = date.fromordinal(rng.randrange(date(2000, 1, 1).toordinal(), date(2040, 1, 1).toordinal()))
        spellings = [f"{day:%Y-%m-%d}", f"{day:%d %B %Y}", f"{day:%B %d, %Y}", f"{day:%d-%b-%Y}", f"{day:%a, %d %b %Y}"]
        if day.day > 12:
            spellings += [f"{day:%d/%m/%Y}", f"{day:%m/%d/%Y}", f"{day:%d.%m.%Y}"]
        for text in spellings:
            assert read_date(text).readings == (day,), text
            assert parser.parse(text).date() == day, text
