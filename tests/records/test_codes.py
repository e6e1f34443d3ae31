"""Codes: near misses by pieces, distances, masking."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rapidfuzz.distance import Levenshtein

from counterfoil.model import Kind
from counterfoil.patterns.normal import fold_code
from counterfoil.records.codes import is_near, masked, probes, shown, stored_pieces, weighted_distance

ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ01IO"
some_codes = st.text(ALPHABET, min_size=8, max_size=20)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(some_codes, st.randoms(use_true_random=False))
def test_two_wrong_characters_share_a_piece(code: str, rng: random.Random) -> None:
    """Whatever two characters are replaced, left out or put in, a look-up still meets one of the stored pieces.

    The guarantee of Pass-Join, theorem 1 with its multi-match-aware selection (PVLDB 5(3), 2011).
    """
    wrong = list(code)
    for _ in range(2):
        at = rng.randrange(len(wrong))
        match rng.randrange(3):
            case 0:
                wrong[at] = rng.choice(ALPHABET)
            case 1:
                wrong.insert(at, rng.choice(ALPHABET))
            case _:
                del wrong[at]
    typed = "".join(wrong)
    assert Levenshtein.distance(fold_code(code), fold_code(typed)) <= 2
    assert set(probes(typed)) & set(stored_pieces(code))
    assert is_near(code, typed)


def test_any_number_of_keys_stays_small() -> None:
    """A code has three pieces, and a look-up asks for nineteen at most, as the paper's selection promises.

    On top come the forms of a running number: one for each character of its last piece.
    """
    assert len(stored_pieces("9KDW4HPX77RAB2NE")) == 3
    assert len(stored_pieces("202500000117", series=True)) == 3 + 4
    assert len([key for key in probes("9KDW4HPX77RAB2NE") if ":-" not in key]) <= 19


@pytest.mark.parametrize("code", ["", "A", "12345", "7" * 65])
def test_short_and_endless_codes_have_no_pieces(code: str) -> None:
    """Codes too short to say anything, and absurdly long ones, are not looked up with wrong characters."""
    assert stored_pieces(code) == probes(code) == []


def test_look_alikes_are_near() -> None:
    """Four look-alikes mixed up are still the same code; two other characters wrong are near, three are not."""
    assert is_near("O0I1B8S5", "00118855")
    assert is_near("ABCDEFGH", "ABXDEFXH")
    assert not is_near("ABCDEFGH", "AXXDEFXH")


def test_distance_ranks_what_people_do() -> None:
    """A look-alike is nearer than a swap, a swap nearer than a gap, a gap nearer than another character."""
    code = "9KDW4HPX"
    ranked = [weighted_distance(code, other) for other in (code, "9KDW4HPX".replace("D", "0"), "9KWD4HPX", "9KD4HPX")]
    ranked.append(weighted_distance(code, "9KDW4HPM"))
    assert ranked == sorted(ranked) == [0, 0.25, 0.6, 0.9, 1.0]
    assert weighted_distance("AB", "") == pytest.approx(1.8)


def test_masking() -> None:
    """Keys and codes show their last four characters, short ones nothing, other kinds are not masked."""
    assert masked("SPQ4-7RTW-M2XA") == "••••-••••-M2XA"
    assert masked("M2XA") == "••••"
    assert shown(Kind.ACTIVATION_CODE, "9KDW4HPX") == "••••4HPX"
    assert shown(Kind.MACHINE_ID, "HG-204518-K") == "HG-204518-K"
