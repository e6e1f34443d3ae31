"""Firmware versions in their order, held against a reference library where its rule and ours are the same."""

from __future__ import annotations

import itertools
import random

import pytest
from packaging.version import Version

from counterfoil.records.versions import VersionKey, version_key


def key(text: str) -> VersionKey:
    """Return the key of a text that holds a version."""
    found = version_key(text)
    assert found is not None, text
    return found


#: Oldest first. Letters behind numbers as revisions: common practice for firmware, no source.
IN_ORDER = [
    "1.9",
    "2.9",
    "2.10 dev",
    "2.10 alpha",
    "2.10 beta",
    "2.10 rc 2",
    "2.10-rc10",
    "2.10",
    "2.10a",
    "2.10b",
    "2.10b2",
    "2.10b10",
    "2.10.1",
    "2.11",
    "10.0",
]


@pytest.mark.parametrize(("older", "newer"), list(itertools.combinations(IN_ORDER, 2)))
def test_versions_have_one_order(older: str, newer: str) -> None:
    """Each version is older than all that come after it in the list above."""
    assert key(older) < key(newer)


@pytest.mark.parametrize(
    "others", [("2.10", "V2.10", "Ver. 2.10", "FW 2.10.0", "2_10", "２.１０"), ("2.10B", "2.10 b")]
)
def test_spellings_of_one_version(others: tuple[str, ...]) -> None:
    """What stands ahead, noughts at the end, separators and case make no other version."""
    assert len({key(text) for text in others}) == 1


@pytest.mark.parametrize("text", ["", "new", "V", "—"])
def test_no_version(text: str) -> None:
    """A text without a number is no version, and never counts as an old one."""
    assert version_key(text) is None


def test_numbers_compare_as_the_reference_library_says() -> None:
    """Versions of numbers, and pre-releases written out, order as in PEP 440 (packaging, 2,000 random pairs)."""
    rng = random.Random(440)

    def made() -> str:
        numbers = ".".join(str(rng.choice((0, 1, 2, 9, 10, 11, 100))) for _ in range(rng.randint(1, 4)))
        return numbers + rng.choice(("", "", "", "alpha1", "alpha10", "beta2", "rc1", "rc10"))

    for _ in range(2000):
        one, other = made(), made()
        assert (key(one) < key(other)) is (Version(one) < Version(other)), (one, other)
        assert (key(one) == key(other)) is (Version(one) == Version(other)), (one, other)


def test_a_strangers_text_costs_nothing() -> None:
    """Thousands of digits are looked at no further than any machine would show."""
    assert key("9" * 100_000) == key("9" * 64)
