"""Soundex held against the examples of the US National Archives' guide to the Soundex indexing system."""

from __future__ import annotations

import pytest

from counterfoil.records.match_blocking import soundex


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("kuhne", "K500"),
        ("ebelson", "E142"),
        ("buerck", "B620"),
        ("schaefer", "S160"),
        ("lloyd", "L300"),
        ("", ""),
    ],
)
def test_soundex_of_the_guide(name: str, code: str) -> None:
    """Names get the codes that the guide gives them."""
    assert soundex(name) == code
