"""Codes: near misses by pieces, distances, masking."""

from __future__ import annotations

import random
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rapidfuzz.distance import Levenshtein

from counterfoil.model import Kind
from counterfoil.patterns.normal import fold_code
from counterfoil.records.codes import (
    MOST_PROBES,
    is_near,
    masked,
    probes,
    shown,
    stored_pieces,
    variants,
    weighted_distance,
)

ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ01IO"
some_codes = st.text(ALPHABET, min_size=8, max_size=24)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(some_codes, st.randoms(use_true_random=False))
def test_two_wrong_characters_share_a_piece(code: str, rng: random.Random) -> None:
    """Whatever two characters are replaced, left out or put in, a look-up still meets two of the stored pieces.

    The guarantee of Pass-Join (PVLDB 5(3), 2011) for two whole pieces of four in place of one of three.
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
    """A code is kept under six keys, two pieces of four each, and a look-up asks for a bounded number of them."""
    assert len(stored_pieces("9KDW4HPX77RAB2NE")) == 6
    assert max(len(probes("9KDW4HPX77RAB2NE9KDW4HPX77RAB2NE"[:size])) for size in range(6, 33)) == MOST_PROBES


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
    """A look-alike is nearer than what was misheard, that nearer than a swap, a gap, and any other character."""
    code = "9KDW4HPX"
    others = (code, "9K0W4HPX", "9KBW4HPX", "9KWD4HPX", "9KD4HPX", "9KDW4HPM")
    assert [weighted_distance(code, other) for other in others] == [0, 0.25, 0.5, 0.6, 0.9, 1.0]
    assert weighted_distance("AB", "") == pytest.approx(1.8)


def plainly(a: str, b: str) -> float:
    """Return the weighted distance by its definition: the least cost of all ways from one code to the other."""

    @cache
    def rest(i: int, j: int) -> float:
        if i == len(a) or j == len(b):
            return 0.9 * (len(a) - i + len(b) - j)
        same = 0.0 if a[i] == b[j] else weighted_distance(a[i], b[j])
        ways = [rest(i + 1, j + 1) + same, rest(i + 1, j) + 0.9, rest(i, j + 1) + 0.9]
        if a[i : i + 2] == b[j : j + 2][::-1] and a[i] != b[j] and len(a) > i + 1:
            ways.append(rest(i + 2, j + 2) + 0.6)
        return min(ways)

    return rest(0, 0)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.text("0OB8DTPMNQ5", min_size=1, max_size=8), st.text("0OB8DTPMNQ5", min_size=1, max_size=8))
def test_the_distance_is_the_least(one: str, other: str) -> None:
    """Short cuts for replaced characters and the table of costs give what the definition gives."""
    assert weighted_distance(one, other) == pytest.approx(plainly(one, other))


@pytest.mark.parametrize("pair", ["BD", "PT", "VZ", "FS", "MN", "59"])
def test_what_is_misheard(pair: str) -> None:
    """Letters that are taken for one another on the telephone are nearer than others, both ways; common practice."""
    one, other = pair[0], pair[1]
    assert weighted_distance(f"Q{one}4K", f"Q{other}4K") == weighted_distance(f"Q{other}4K", f"Q{one}4K") == 0.5


def test_variants_of_an_ending() -> None:
    """What an ending may be is made of its look-alikes and of what sounds like it, with their costs added up."""
    found = variants("7Q4K", 1)
    assert found["7O4K"] == 0.25 and found["7U4K"] == 0.5 and found["7Q4J"] == 0.5 and "7Q4K" not in found
    assert "7O4J" not in found and variants("7Q4K", 2)["7O4J"] == 0.75


def test_masking() -> None:
    """Keys and codes show their last four characters, short ones nothing, other kinds are not masked."""
    assert masked("SPQ4-7RTW-M2XA") == "••••-••••-M2XA"
    assert masked("M2XA") == "••••"
    assert shown(Kind.ACTIVATION_CODE, "9KDW4HPX") == "••••4HPX"
    assert shown(Kind.MACHINE_ID, "HG-204518-K") == "HG-204518-K"
