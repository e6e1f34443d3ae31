"""Masking: the one rule by which codes are hidden."""

from __future__ import annotations

from answers_world import fact
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.answers.masking import mask, mask_in, mask_value, secrets_of
from counterfoil.model import Fact, Kind, Place


def test_separators_stay_and_the_last_four_of_a_long_code_are_seen() -> None:
    """A code of eight or more characters shows its printed form and its last four characters."""
    assert mask("AB12-CD34-1234") == "••••-••••-1234"
    assert mask("AB12 C3D4") == "•••• C3D4"
    assert mask("AB12-CD3456") == "••••-••3456"


def test_short_codes_are_hidden_whole() -> None:
    """A code of fewer than eight characters shows none of them."""
    assert mask("AB1-C2D4") == "•••-••••"
    assert mask("1234") == "••••"


@settings(database=None, derandomize=True)
@given(st.text(alphabet="ABZ019-. /é", max_size=40))
def test_never_more_than_four_characters_are_seen(code: str) -> None:
    """Whatever the code, its length stays, at most four letters or digits are seen, and never half of it or more."""
    hidden = mask(code)
    total, seen = sum(c.isalnum() for c in code), sum(c.isalnum() for c in hidden)
    assert len(hidden) == len(code)
    assert seen <= 4 and seen * 2 <= total


def test_only_secret_kinds_are_masked() -> None:
    """Machine IDs and names stay readable, product keys and activation codes do not."""
    assert mask_value(Kind.MACHINE_ID, "VM-204817-K") == "VM-204817-K"
    assert mask_value(Kind.PRODUCT_KEY, "AB12CD34") == "••••CD34"
    assert mask_value(Kind.ACTIVATION_CODE, "AB12CD34", reveal=True) == "AB12CD34"


def test_codes_inside_a_sentence_are_found_in_any_spelling() -> None:
    """A secret is hidden in running text whatever its case and separators, and nothing else is."""
    secrets = secrets_of([fact(Kind.ACTIVATION_CODE, "AB12-CD34-EF56"), fact(Kind.MACHINE_ID, "VM-204817-K")])
    text = "Code ab12 cd34 ef56 (AB12CD34EF56) for VM-204817-K, not XAB12CD34EF56."
    assert mask_in(text, secrets) == "Code •••• •••• ef56 (••••••••EF56) for VM-204817-K, not XAB12CD34EF56."


def test_every_reading_of_a_secret_is_hidden() -> None:
    """Other readings of a doubtful code are as secret as the likeliest one."""
    doubtful = Fact(
        Kind.PRODUCT_KEY, "8B8B-1111", "8B8B1111", Place("body"), "label", readings=("8B8B1111", "8B8BIIII")
    )
    assert mask_in("8B8B-1111 or 8B8BIIII", secrets_of([doubtful])) == "••••-1111 or ••••IIII"
