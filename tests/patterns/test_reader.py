"""Values typed by staff, and the patterns as one object."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from pattern_makers import CODE, KEY, patterns

import counterfoil.patterns as package
from counterfoil.errors import SettlementRefused
from counterfoil.model import Check, Kind
from counterfoil.patterns import Patterns


def test_a_typed_code_is_checked_by_the_only_maker_it_fits(tmp_path: Path) -> None:
    """Without a maker named, the single maker whose shape and check digit fit is taken."""
    known = patterns(tmp_path)
    fact = known.make_fact(Kind.PRODUCT_KEY, KEY)
    assert (fact.normal, fact.check, fact.pattern) == ("VK220441711", Check.PASSED, "entered by hand")
    assert fact.odds > 4.6
    wrong = known.make_fact(Kind.PRODUCT_KEY, KEY[:-1] + "2")
    assert wrong.check is Check.FAILED and wrong.odds < 0


def test_two_makers_with_one_shape_do_not_check(tmp_path: Path) -> None:
    """Where two makers share the shape and neither is named, no check digit is claimed to have failed."""
    twin = 'maker = "Twin"\n[codes.product_key]\nshape = "VK-####-####-#"\ncheck = "damm"\ncheck_from = 2\n'
    known = patterns(tmp_path, ("twin.toml", twin))
    assert known.make_fact(Kind.PRODUCT_KEY, KEY[:-1] + "3").check is Check.NONE
    assert known.make_fact(Kind.PRODUCT_KEY, KEY).check is Check.PASSED
    assert known.make_fact(Kind.PRODUCT_KEY, KEY[:-1] + "3", maker="velotta").check is Check.FAILED


def test_a_typed_code_outside_the_makers_shape_is_doubtful(tmp_path: Path) -> None:
    """With the maker named, a value of another shape has low odds and says why."""
    fact = patterns(tmp_path).make_fact(Kind.ACTIVATION_CODE, "1234-5678", maker="Velotta")
    assert fact.odds < 4.6 and "shape" in fact.evidence[0]
    assert patterns(tmp_path).make_fact(Kind.ACTIVATION_CODE, CODE, maker="Velotta").check is Check.PASSED


@pytest.mark.parametrize(
    ("kind", "text", "normal"),
    [
        (Kind.EMAIL_ADDRESS, " Liv@Post.Example ", "liv@post.example"),
        (Kind.PHONE_NUMBER, "020 7946 0155", "+442079460155"),
        (Kind.FIRMWARE_VERSION, "v2.10", "2.10"),
        (Kind.PURCHASE_DATE, "2026-04-03", "2026-04-03"),
        (Kind.CUSTOMER_NAME, "Ms  Liv Tarrant", "Liv Tarrant"),
        (Kind.MAKER, "VELOTTA", "Velotta"),
        (Kind.MODEL, "Corda  310", "Corda 310"),
    ],
)
def test_typed_values_get_their_normal_form(tmp_path: Path, kind: Kind, text: str, normal: str) -> None:
    """Every kind typed by hand has the normal form it would have when read."""
    fact = patterns(tmp_path).make_fact(kind, text)
    assert fact.normal == normal and fact.odds >= 4.6


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (Kind.EMAIL_ADDRESS, "liv at post"),
        (Kind.PHONE_NUMBER, "none"),
        (Kind.PURCHASE_DATE, "last spring"),
        (Kind.FIRMWARE_VERSION, "new"),
        (Kind.ACTIVATION_CODE, "??"),
        (Kind.CUSTOMER_NAME, " - "),
    ],
)
def test_what_is_no_value_of_its_kind_is_refused(kind: Kind, text: str) -> None:
    """A text that holds no value of the kind raises SettlementRefused with the text in it."""
    with pytest.raises(SettlementRefused, match=text.strip().replace("?", r"\?")):
        Patterns.load(None).make_fact(kind, text)


def test_a_typed_ambiguous_date_keeps_both_readings() -> None:
    """03/04/2020 keeps both readings; near the day given one remains."""
    known = Patterns.load(None)
    assert known.make_fact(Kind.PURCHASE_DATE, "03/04/2020").readings == ("2020-04-03", "2020-03-04")
    near = known.make_fact(Kind.PURCHASE_DATE, "03/04/2020", near=date(2020, 3, 10))
    assert (near.normal, near.readings) == ("2020-03-04", ())


def test_makers_are_found_by_any_of_their_names(tmp_path: Path) -> None:
    """A maker answers to its name and other spellings, whatever their case; others give None."""
    known = patterns(tmp_path)
    assert known.maker("velotta nähsysteme") is known.makers[0]
    assert known.maker("Nobody") is None


def test_the_package_offers_its_public_names() -> None:
    """Every name the package lists can be had from it, and no other."""
    assert all(getattr(package, name) for name in package.__all__)
    with pytest.raises(AttributeError):
        _ = package.nothing
