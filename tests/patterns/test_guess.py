"""What values share: shapes, alphabets and check digits, each only where chance is ruled out."""

from __future__ import annotations

import random

import pytest
from stdnum import damm, luhn, verhoeff
from stdnum.iso7064 import mod_11_2, mod_11_10, mod_37_2, mod_37_36, mod_97_10

from counterfoil.patterns.guess import CHECK_CHANCE, LEAST_VALUES, guess_shape, one_in

FULL = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


def codes(number: int, shape: str, alphabet: str = FULL, seed: int = 1) -> list[str]:
    """Return codes drawn at random in a shape."""
    rng = random.Random(seed)
    sets = {"#": "0123456789", "@": "ABCDEFGHIJKLMNOPQRSTUVWXYZ", "*": alphabet}
    return ["".join(rng.choice(sets[c]) if c in sets else c for c in shape) for _ in range(number)]


@pytest.mark.parametrize(
    ("shape", "number"),
    [("VT-######-@", 3), ("####-####-####", 2), ("K/####.###", 6), ("****-****-****", 2), ("QX ## ** ** **", 8)],
)
def test_a_shape_is_found(shape: str, number: int) -> None:
    """Digits, letters, separators and the maker's own letters come out as they were drawn, over and over."""
    for seed in range(20):
        guess = guess_shape(codes(number, shape, seed=seed))
        assert guess.text is not None
        if guess.text != shape:
            # Chance may leave a place wider than drawn, with a note; never narrower.
            assert all(g == s or g == "*" or s in "VTKQX" for g, s in zip(guess.text, shape, strict=True)), guess


def test_letters_shared_by_few_or_by_one_upgrade_are_left_open() -> None:
    """One letter shared by two values is chance; letters that may name an upgrade are no part of the shape."""
    assert (guess_shape(["V-204417-35", "V-204518-36"]).text or "").startswith(("@", "*"))
    three = ["EM-204417-35", "EM-204518-36", "EM-204519-31"]
    assert guess_shape(three, fixed_letters=False).text == "@@-######-##"
    assert guess_shape(three).text == "EM-######-##"


@pytest.mark.parametrize(
    ("values", "said"),
    [
        (["VT-204417-R"], "one value"),
        (["VT-204417-R", "VT 204417 r"], "one value"),
        (["VT-204417-R", "VT-2044-R"], "7, 9 characters"),
        (["A1", "B2"], "less than 4"),
    ],
)
def test_too_few_or_unlike_values_give_no_shape(values: list[str], said: str) -> None:
    """One value, the same one twice, values of different lengths or tiny ones give no shape but a reason."""
    guess = guess_shape(values)
    assert guess.text is None
    assert guess.checks == ()
    assert said in guess.notes[0]


def test_the_alphabet_is_narrowed_only_by_many_characters() -> None:
    """Letters are left out of the alphabet when enough characters were seen without them, not before."""
    assert guess_shape(codes(8, "****-****-****", CROCKFORD)).alphabet == CROCKFORD
    few = guess_shape(codes(3, "****-****", CROCKFORD))
    assert few.alphabet == FULL
    assert any("too few" in note for note in few.notes)
    assert guess_shape(codes(30, "****-****-****", FULL)).alphabet == FULL


SCHEMES = {
    "luhn": lambda p: p + luhn.calc_check_digit(p),
    "damm": lambda p: p + damm.calc_check_digit(p),
    "verhoeff": lambda p: p + verhoeff.calc_check_digit(p),
    "mod_11_10": lambda p: p + mod_11_10.calc_check_digit(p),
    "mod_11_2": lambda p: p + mod_11_2.calc_check_digit(p),
    "mod_37_2": lambda p: p + mod_37_2.calc_check_digit(p),
    "mod_37_36": lambda p: p + mod_37_36.calc_check_digit(p),
    "mod_97_10": lambda p: p + mod_97_10.calc_check_digits(p),
}


@pytest.mark.parametrize("name", SCHEMES)
def test_every_scheme_of_python_stdnum_is_found(name: str) -> None:
    """Eight values whose check digits python-stdnum computed are recognised as passing that scheme and no other one."""
    payloads = codes(40, "##########" if not name.startswith("mod_37") else "**********", seed=3)
    values = [value for p in payloads if "*" not in (value := SCHEMES[name](p))]
    guess = guess_shape([v for v in values if v.isalnum()][:8])
    assert guess.check is not None
    assert guess.check.name == name


def test_a_scheme_behind_letters_is_found() -> None:
    """A check digit that leaves the letters at the front out is found there."""
    values = [f"VK{p}{luhn.calc_check_digit(p)}" for p in codes(7, "########", seed=5)]
    guess = guess_shape(values)
    assert guess.check is not None
    assert (guess.check.name, guess.check.start) == ("luhn", 2)


def test_chance_is_told_and_rules_a_check_out() -> None:
    """Two values that pass Luhn do so once in 100 by chance (one digit in ten each): told, and not written."""
    values = [p + luhn.calc_check_digit(p) for p in ("7992739871", "4992739872")]
    guess = guess_shape(values)
    (found,) = [c for c in guess.checks if c.name == "luhn"]
    assert one_in(found.chance) == "1 in 100"
    assert found.any_chance > CHECK_CHANCE
    assert guess.check is None


def test_codes_without_a_check_digit_get_none_in_a_thousand_tries() -> None:
    """Of 1,000 sets of two to six random numbers, no more get a check digit than the bound says."""
    rng = random.Random(11)
    given = 0
    for _ in range(1_000):
        number = rng.randrange(LEAST_VALUES, 7)
        given += guess_shape([str(rng.randrange(10**9, 10**10)) for _ in range(number)]).check is not None
    assert given <= 3
