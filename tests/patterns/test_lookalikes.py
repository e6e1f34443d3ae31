"""Look-alikes: a code stays as written; the one correction that fits is noted beside it, never taken."""

from __future__ import annotations

from pathlib import Path

import pytest
from pattern_makers import CODE, KEY, MAKER, SETTINGS, patterns

from counterfoil.model import Kind, Message, Reading
from counterfoil.patterns.lookalikes import only_correction
from counterfoil.patterns.proofs import plain_message
from counterfoil.patterns.shapes import make_shape

HEAD = "Your Velotta confirmation\nManufacturer: Velotta\n"
assert "VT-######-@" in MAKER


def read(folder: Path, text: str) -> Reading:
    """Read a text with the test maker."""
    message: Message = plain_message(HEAD + text)
    return patterns(folder).read(message, SETTINGS)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("VT-2O4417-R", "VT-204417-R"),
        ("VT-20441I-R", "VT-204411-R"),
        ("VT-2S4417-R", "VT-254417-R"),
        ("VT-20B417-R", "VT-208417-R"),
        ("VT-Z0441B-R", "VT-204418-R"),
    ],
)
def test_a_letter_in_the_place_of_a_digit(tmp_path: Path, written: str, meant: str) -> None:
    """The shape admits one digit for the letter: the code stays as written and uncertain, the correction beside it."""
    fact = read(tmp_path, f"Machine ID: {written}").chosen[Kind.MACHINE_ID]
    assert fact.value == written
    assert fact.readings == (meant,)
    assert fact.odds < SETTINGS.filing_odds
    assert "look-alikes" in fact.evidence[-1]


def test_several_corrections_are_none(tmp_path: Path) -> None:
    """A 0 where a letter belongs may be O, Q or D: nothing is offered; a code that fits has no correction."""
    assert read(tmp_path, "Machine ID: VT-204417-0").chosen[Kind.MACHINE_ID].readings == ()
    assert read(tmp_path, "Machine ID: VT-204417-R").chosen[Kind.MACHINE_ID].readings == ()


def test_a_check_digit_decides(tmp_path: Path) -> None:
    """Of all look-alikes only one makes the check character right: it is offered for a code with a wrong one."""
    wrong = CODE.replace("M2X5", "M2XS")
    fact = read(tmp_path, f"Activation code: {wrong}").chosen[Kind.ACTIVATION_CODE]
    assert fact.value == wrong
    assert fact.odds < 0
    assert fact.readings == (CODE,)
    two_ways = CODE.replace("77AB", "77A8")
    assert read(tmp_path, f"Activation code: {two_ways}").chosen[Kind.ACTIVATION_CODE].readings == ()


def test_digits_have_no_look_alikes_among_digits() -> None:
    """A key of digits whose check digit is wrong is not guessed at: no digit looks like another."""
    shape = make_shape(Kind.PRODUCT_KEY, "Velotta", "VK-####-####-#", check_name="luhn", check_from=2)
    good = KEY.replace("-", "")
    assert only_correction(good, [shape]) is None
    assert only_correction(good[:-1] + "2", [shape]) is None
    assert only_correction(good[:-1] + "I", [shape]) == good
    assert only_correction(good[:-1] + "Z", [shape]) is None
    assert only_correction(good[:-1], [shape]) is None
