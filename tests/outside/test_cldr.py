"""Dates as the locales of the world write them.

Source: Unicode Common Locale Data Repository (CLDR), as packaged in Babel (BSD): its full, long, medium and short date
formats and its names of months in the fourteen languages of the vocabulary.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Literal

import pytest
from babel.dates import format_date, get_month_names

from counterfoil.documents.when import read_when
from counterfoil.patterns.dates import read_date
from counterfoil.patterns.vocabulary import load_vocabularies

LANGUAGES = [vocabulary.language for vocabulary in load_vocabularies()]
#: Each month at three days, of which two can only be a day.
DAYS = [date(2025, month, day) for month in range(1, 13) for day in (4, 17, 28)]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("style", ["full", "long", "medium"])
def test_written_dates_are_read(language: str, style: str) -> None:
    """Every month in the locale's own written formats is read as that day, in mails' texts and in forwards' headers."""
    for day in DAYS:
        text = format_date(day, style, locale=language)
        assert day in read_date(text, language, near=day + timedelta(days=2)).readings, text
        moment = read_when(text, day_first=True)
        assert moment is not None and moment.date() == day, text


@pytest.mark.parametrize("language", LANGUAGES)
def test_short_dates_are_read_near_the_message(language: str) -> None:
    """A date in the locale's short form, all numbers, is read as that day where the message is two days younger."""
    for day in DAYS:
        text = format_date(day, "short", locale=language)
        assert read_date(text, language, near=day + timedelta(days=2)).best == day, text


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("width", ["wide", "abbreviated"])
@pytest.mark.parametrize("context", ["format", "stand-alone"])
def test_month_names_are_known(
    language: str, width: Literal["wide", "abbreviated"], context: Literal["format", "stand-alone"]
) -> None:
    """Every name and short form of a month, inside a date and by itself, is known in its language."""
    for number, name in get_month_names(width, context, locale=language).items():
        text = f"{number}月17日" if language == "ja" else f"17. {name} 2025"
        text = f"2025年{text}" if language == "ja" else text
        assert read_date(text, language).readings == (date(2025, number, 17),), text
