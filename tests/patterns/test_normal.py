"""Normal forms."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterfoil.model import CODE_KINDS, Kind
from counterfoil.patterns.names import fold_name
from counterfoil.patterns.normal import (
    fold_code,
    normal,
    normal_code,
    normal_email,
    normal_name,
    normal_phone,
    normal_text,
    normal_version,
)


@given(st.text(max_size=40))
def test_normal_forms_are_stable(text: str) -> None:
    """The normal form of a normal form is itself, for codes, texts and names."""
    for form in (normal_code, normal_text, normal_version):
        assert form(form(text)) == form(text)


@given(st.text(max_size=40))
def test_codes_are_capitals_and_digits(text: str) -> None:
    """A code's normal form holds ASCII capitals and digits only, and hyphens and case do not change it."""
    code = normal_code(text)
    assert all(c in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ" for c in code)
    assert normal_code("-".join(code.lower())) == code


def test_look_alikes_fold_together() -> None:
    """Characters mistaken for one another give one fold; Cyrillic and full-width letters fold to Latin ones."""
    assert fold_code("O0QD") == "0000" and fold_code("1ILJ") == "1111" and fold_code("UVY") == "VVV"
    assert fold_code("Z2-S5-B8-G6-T7") == "2255886677"
    assert fold_code("АВС") == fold_code("ABC") and fold_code("Ａ１") == fold_code("A1")


@pytest.mark.parametrize(
    ("text", "region", "expected"),
    [
        ("020 7946 0123", "GB", "+442079460123"),
        ("+44 (0)20 7946 0123", "DE", "+442079460123"),
        ("0044 20 7946 0123", "GB", "+442079460123"),
        ("01632/960.123", "GB", "+441632960123"),
        ("Tel. (212) 555-0123 (evenings)", "US", "+12125550123"),
        ("12", "GB", None),
        ("none", "GB", None),
        ("99999999999999999999999999", "GB", None),
    ],
)
def test_telephone_numbers(text: str, region: str, expected: str | None) -> None:
    """Any spelling gives E.164; what is no number gives None."""
    assert normal_phone(text, region) == expected


def test_other_forms() -> None:
    """E-mail addresses in lower case, versions as digits and dots, names without titles, case as written."""
    assert normal_email("Liv <Liv.Tarrant@POST.example>") == "liv.tarrant@post.example"
    assert normal_email("no address") is None and normal_email("a@b") is None
    assert normal_version(" v2.10 ") == "2.10" and normal_version("release") == ""
    assert normal_name("Frau Dr.  Änne  Vogtländer,") == "Änne Vogtländer"
    assert normal_name("Dr.") == "Dr"


def test_each_kind_has_its_form() -> None:
    """``normal`` picks the form by kind and gives plain text back where a value is not of its kind."""
    assert {normal(kind, "ab-12.c") for kind in CODE_KINDS} == {"AB12C"}
    assert normal(Kind.INVOICE_NUMBER, "R-2026/117") == "R2026117"
    assert normal(Kind.PURCHASE_DATE, "23/04/2026") == "2026-04-23"
    assert normal(Kind.PURCHASE_DATE, "some day") == "some day"
    assert normal(Kind.PHONE_NUMBER, "(212) 555-0123", "US") == "+12125550123"
    assert normal(Kind.PHONE_NUMBER, "call me") == "call me"
    assert normal(Kind.EMAIL_ADDRESS, "Not an address") == "not an address"
    assert normal(Kind.MODEL, " Corda  310 ") == "Corda 310"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Anne-Marie Åström", "anne marie astrom"),
        ("Dr. Liv O’Tarrant", "LIV O'TARRANT"),
        ("Frau Weiß", "Weiss"),
        ("Łucja Ørsted", "Lucja Orsted"),
        ("Solvang, Marit", "solvang marit"),
    ],
)
def test_names_fold(one: str, other: str) -> None:
    """Case, accents, titles, hyphens and commas do not matter when names are compared; order stays."""
    assert fold_name(one) == fold_name(other)


def test_a_name_that_is_only_a_title_stays() -> None:
    """Something is left of every name, even of a mere title."""
    assert fold_name("Mr") == ("mr",) and fold_name("") == ()
