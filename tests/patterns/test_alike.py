"""Look-alike characters put right: offered where the shape and the check digit say so, and only there."""

from __future__ import annotations

from counterfoil.model import Check, Kind
from counterfoil.patterns.alike import alike
from counterfoil.patterns.normal import normal_code
from counterfoil.patterns.shapes import make_shape

DIGITS = make_shape(Kind.MACHINE_ID, "Halden", "HG-##########-#", check_name="luhn", check_from=2)
MIXED = make_shape(Kind.PRODUCT_KEY, "Halden", "****-****-***", check_name="mod_37_2")
#: 7992739871 with the check digit 3 is the worked example of US patent 2,950,048 in wide use, from memory.
GOOD = "HG79927398713"


def test_a_letter_typed_for_a_digit() -> None:
    """B for 8, I for 1, Z for 2 are put right in the maker's spelling, several at once."""
    assert DIGITS.fits(GOOD) and DIGITS.check(GOOD) is Check.PASSED
    for typed in ("HG7992739B713", "HG799273987I3", "HG799Z7398713", "HG799Z739B7I3"):
        assert alike(typed, [DIGITS]) == ["HG-7992739871-3"], typed


def test_a_code_that_can_be_one_is_left_alone() -> None:
    """Nothing is offered for a code that fits and passes, nor for one that is wrong in another way."""
    for typed in (GOOD, "HG79927398714", "XX79927398713", "HG7992739871", "HG7992739B714"):
        assert alike(typed, [DIGITS]) == [], typed


def test_few_are_offered() -> None:
    """Of many codes that would pass only the number asked for is offered, each passing, none the code typed."""
    found = alike("OO00OO00OO0", [MIXED], most=3)
    assert len(found) == 3
    assert all(MIXED.check(normal_code(code)) is Check.PASSED for code in found)
