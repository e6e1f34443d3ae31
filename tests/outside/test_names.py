"""Name similarity against published values.

Source: William E. Winkler, "String Comparator Metrics and Enhanced Decision Rules in the Fellegi-Sunter Model of Record
Linkage", Proceedings of the Section on Survey Research Methods, American Statistical Association, 1990, pp. 354-359;
the table of comparator values there, to three places.
"""

from __future__ import annotations

import pytest

from counterfoil.records.linkage import same_part, similarity

WINKLER_1990 = [
    ("MARTHA", "MARHTA", 0.961),
    ("DIXON", "DICKSONX", 0.813),
    ("SHACKLEFORD", "SHACKELFORD", 0.982),
    ("JONES", "JOHNSON", 0.832),
    ("DWAYNE", "DUANE", 0.840),
]


@pytest.mark.parametrize(("a", "b", "published"), WINKLER_1990)
def test_similarity_as_published(a: str, b: str, published: float) -> None:
    """The similarity that filing goes by has the published values."""
    assert similarity(a, b) == pytest.approx(published, abs=0.0006)
    assert similarity(a, b) == similarity(b, a)


@pytest.mark.parametrize(("a", "b", "published"), WINKLER_1990)
def test_agreement_needs_the_published_similarity(a: str, b: str, published: float) -> None:
    """Of the published pairs, exactly those above .92 agree: both are swaps of neighbouring letters."""
    assert same_part(a.lower(), b.lower(), 0.92) is (published > 0.92)
