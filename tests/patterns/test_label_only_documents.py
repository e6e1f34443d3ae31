"""Codes of makers nobody described, read by labels alone."""

from __future__ import annotations

from collections import Counter

import pytest
from pattern_layouts import forwarded
from pattern_makers import SETTINGS
from pattern_samples import LANGUAGES, Sample, samples

from counterfoil.model import CODE_KINDS, Reading
from counterfoil.patterns import Patterns
from counterfoil.patterns.normal import normal_code

PATTERNS = Patterns.load(None)


@pytest.fixture(scope="module")
def read() -> list[tuple[Sample, Reading]]:
    """Sixteen layouts in five languages, three samples each, read once."""
    return [(sample, PATTERNS.read(forwarded(sample.document), SETTINGS)) for sample in samples(2026, 3)]


@pytest.mark.parametrize("language", LANGUAGES)
def test_at_least_99_in_100_codes_are_read_with_odds_that_file(
    read: list[tuple[Sample, Reading]], language: str
) -> None:
    """In each language at least 98 %, over all layouts, of the codes are chosen with odds of 4.6 or more."""
    tally: Counter[bool] = Counter()
    for sample, reading in read:
        if sample.language == language:
            for kind, code in sample.truth.items():
                chosen = reading.chosen.get(kind)
                good = chosen is not None and chosen.normal == normal_code(code) and chosen.odds >= SETTINGS.filing_odds
                tally[good] += 1
    assert tally[True] >= 0.98 * tally.total()


def test_no_wrong_code_is_certain(read: list[tuple[Sample, Reading]]) -> None:
    """No fact of a code kind has odds that file and another value than the one printed."""
    wrong = [
        (sample.layout, fact)
        for sample, reading in read
        for fact in reading.facts
        if fact.kind in CODE_KINDS
        and fact.odds >= SETTINGS.filing_odds
        and fact.normal != normal_code(sample.truth[fact.kind])
    ]
    assert wrong == []


def test_every_sample_is_a_confirmation_in_its_language(read: list[tuple[Sample, Reading]]) -> None:
    """Each sample is judged a confirmation, and its language is told from its labels in at least 95 %."""
    assert all(reading.confirmation > 0 for _, reading in read)
    assert sum(reading.language == sample.language for sample, reading in read) >= 0.95 * len(read)


def test_no_key_or_code_is_left_in_the_redacted_text(read: list[tuple[Sample, Reading]]) -> None:
    """The redacted text has the length of the text, and no product key or activation code stands in it."""
    for sample, reading in read:
        masked = reading.redacted[sample.document.name]
        assert len(masked) == len(sample.document.text)
        for kind in ("product_key", "activation_code"):
            assert normal_code(sample.truth[kind]) not in normal_code(masked)  # type: ignore[index]


def test_certain_codes_stand_where_their_fact_says(read: list[tuple[Sample, Reading]]) -> None:
    """The span of a fact, or on a page its box, holds the value: the way back to the original is right."""
    for sample, reading in read:
        for kind in CODE_KINDS & reading.chosen.keys():
            place = reading.chosen[kind].place
            assert place.document == sample.document.name
            if place.span is not None:
                assert normal_code(sample.document.text[slice(*place.span)]) == reading.chosen[kind].normal
            else:
                assert place.box is not None and place.page == 1
                inside = "".join(
                    char
                    for char, (x0, y0, x1, y1) in zip(sample.document.text, sample.document.marks, strict=True)
                    if x1 > x0
                    and place.box.x0 <= x0
                    and x1 <= place.box.x1
                    and place.box.y0 <= y0
                    and y1 <= place.box.y1
                )
                assert reading.chosen[kind].normal in normal_code(inside)


def test_damaged_confirmations_give_no_wrong_code() -> None:
    """With a value or label missing, cut off or doubled, no code of another label is taken for certain."""
    for sample in samples(404, 5, spoilt=True):
        reading = PATTERNS.read(forwarded(sample.document), SETTINGS)
        for fact in reading.facts:
            if fact.kind in CODE_KINDS and fact.odds >= SETTINGS.filing_odds:
                assert fact.normal == normal_code(sample.truth[fact.kind]), (sample.layout, sample.document.text)
