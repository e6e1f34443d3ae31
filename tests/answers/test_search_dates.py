"""Days, months and years in a search."""

from __future__ import annotations

from datetime import date

import pytest

from counterfoil.answers.search_dates import periods
from counterfoil.patterns.vocabulary import load_vocabularies


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2025-03-21", "2025-03-21", "2025-03-21"),
        ("21.3.2025", "2025-03-21", "2025-03-21"),
        ("21 March 2025", "2025-03-21", "2025-03-21"),
        ("March 21, 2025", "2025-03-21", "2025-03-21"),
        ("march 2025", "2025-03-01", "2025-03-31"),
        ("2025 march", "2025-03-01", "2025-03-31"),
        ("MÄRZ 2025", "2025-03-01", "2025-03-31"),
        ("marzo de 2025", "2025-03-01", "2025-03-31"),
        ("2025-02", "2025-02-01", "2025-02-28"),
        ("02/2024", "2024-02-01", "2024-02-29"),
        ("2025", "2025-01-01", "2025-12-31"),
        ("bought in december 2024 I think", "2024-12-01", "2024-12-31"),
    ],
)
def test_one_period(text: str, first: str, last: str) -> None:
    """Days in ISO 8601 and as written, months by name or number, and years give their first and last day."""
    (found,) = periods(text.split())
    assert (found.first.isoformat(), found.last.isoformat()) == (first, last)


def test_month_names_of_every_language() -> None:
    """Every month name of every vocabulary is understood, with its year; the last day follows the calendar."""
    for vocabulary in load_vocabularies():
        for number, names in enumerate(vocabulary.months, 1):
            for name in names:
                found = periods([name, "2024"])
                assert (found[0].first, len(found)) == (date(2024, number, 1), 1), (vocabulary.language, name)


def test_two_readings_are_both_kept() -> None:
    """The third of April and the fourth of March are both looked for."""
    assert [p.first.isoformat() for p in periods(["03/04/2025"])] == ["2025-03-04", "2025-04-03"]


@pytest.mark.parametrize("text", ["", "march", "13/2025", "20250321", "1850", "x2025", "KX-2025-Q", "may I", "12.50"])
def test_what_is_no_period(text: str) -> None:
    """A month alone, a month that is none, eight digits in a row and pieces of codes are no dates."""
    assert periods(text.split()) == []


def test_where_it_stands_and_what_lies_in_it() -> None:
    """The words are told, and an ISO day or time lies in the period or not."""
    (found,) = periods(["maier", "march", "2025"])
    assert (found.start, found.end) == (1, 3)
    assert "2025-03-31T23:59:59+00:00" in found and "2025-04-01" not in found and None not in found
