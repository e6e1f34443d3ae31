"""Words and their forms, in every language of the vocabulary."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from word_families import COMPOUNDS, FAMILIES

from counterfoil.index.stems import LANGUAGES, stems
from counterfoil.index.words import fold
from counterfoil.patterns.vocabulary import load_vocabularies


def families(language: str) -> Iterator[list[str]]:
    """Yield the families of a language as lists of forms."""
    for family in FAMILIES[language]:
        yield family.split()


def found(asked: str, written: str) -> bool:
    """Say whether somebody who asks for one word finds a text that has the other."""
    return not set(stems(fold(asked))).isdisjoint(stems(fold(written)))


def test_every_language_of_the_vocabulary_has_its_stems() -> None:
    """The languages stemmed are those of the vocabulary; Japanese is found to the sign instead."""
    assert {vocabulary.language for vocabulary in load_vocabularies()} - {"ja"} == set(LANGUAGES)
    assert set(FAMILIES) == set(LANGUAGES)


@pytest.mark.parametrize(
    ("word", "stem"),
    # From memory of the sample vocabularies beside each algorithm, https://snowballstem.org/algorithms/
    [
        ("consistency", "consist"), ("consistently", "consist"), ("knightly", "knight"),
        ("aufeinanderfolgende", "aufeinanderfolg"), ("kategorischen", "kategor"),
        ("continuellement", "continuel"), ("majestueusement", "majestu"),
        ("chicharrones", "chicharron"), ("abbandonata", "abbandon"),
        ("jaktkarlarna", "jaktkarl"), ("undersøgelserne", "undersøg"), ("havnedistriktene", "havnedistrikt"),
    ],
)  # fmt: skip
def test_stems_are_those_of_snowball(word: str, stem: str) -> None:
    """A word has among its stems the one that Snowball's algorithm for its language is published to give."""
    assert fold(stem) in stems(fold(word))


# The shares are measured: Snowball leaves some irregular forms apart.
@pytest.mark.parametrize(
    ("language", "least"),
    [("cs", 0.93), ("da", 1.0), ("de", 1.0), ("en", 1.0), ("es", 1.0), ("fi", 0.80), ("fr", 1.0), ("it", 0.96),
     ("nb", 0.93), ("nl", 1.0), ("pl", 0.95), ("pt", 0.95), ("sv", 0.94)],
)  # fmt: skip
def test_forms_find_one_another(language: str, least: float) -> None:
    """Of the forms of a word, asked for with accents or without, at least the measured share find one another."""
    pairs = [(a, b) for forms in families(language) for a in forms for b in forms if a != b]
    assert sum(found(a, b) for a, b in pairs) >= least * len(pairs)
    assert all(found(fold(a), b) == found(a, b) for a, b in pairs)


def test_other_words_are_not_found() -> None:
    """Of a word and those of other families of its language, at most one pair in 200 is taken for the same."""
    wrong = pairs = 0
    for language in FAMILIES:
        listed = list(families(language))
        for forms in listed:
            for other in listed:
                if other is not forms:
                    pairs += len(forms) * len(other)
                    wrong += sum(found(a, b) for a in forms for b in other)
    assert pairs > 15_000
    assert wrong <= pairs / 200


def test_compounds_stay_whole() -> None:
    """A compound is not found by a part of it; it is by its beginning and a star. So the README says."""
    for pairs in COMPOUNDS.values():
        for compound, part in pairs:
            assert not found(part, compound)
    begun = [fold(c).startswith(fold(p)) for pairs in COMPOUNDS.values() for c, p in pairs]
    assert 0 < sum(begun) < len(begun)


@pytest.mark.parametrize("word", ["2026", "nx90", "保証", "ミシ"])
def test_numbers_and_signs_have_no_stems(word: str) -> None:
    """What is not letters of an alphabet is asked for as it is."""
    assert stems(word) == ()


def test_every_word_has_a_stem() -> None:
    """No word is lost by stemming, however short."""
    for word in ("a", "e", "ee", "ees", "s", "ing", "ation", "en"):
        assert all(stems(word))
        assert stems(word)
