"""Dates plus durations against the W3C's own examples and a reference library.

Source: W3C XML Schema Part 2: Datatypes, Second Edition, appendix E "Adding durations to dateTimes",
https://www.w3.org/TR/xmlschema-2/#adding-durations-to-dateTimes. Reference library: python-dateutil, relativedelta.
"""

from __future__ import annotations

import calendar
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from random import Random

import pytest
from dateutil.relativedelta import relativedelta  # type: ignore[import-untyped]

from counterfoil.answers.durations import Duration, add_to_date, add_to_datetime, add_to_month, read_duration


def test_appendix_e_full_example() -> None:
    """The appendix's first example, with every part of a duration, comes out to the tenth of a second."""
    start = datetime(2000, 1, 12, 12, 13, 14, tzinfo=UTC)
    expected = datetime(2001, 4, 17, 19, 23, 17, 300_000, tzinfo=UTC)
    assert add_to_datetime(start, read_duration("P1Y3M5DT7H10M3.3S")) == expected


def test_appendix_e_month_minus_three() -> None:
    """The appendix's example 2000-01 minus three months is 1999-10."""
    assert add_to_month(2000, 1, read_duration("-P3M").months) == (1999, 10)


def test_appendix_e_hours_carry_into_the_day() -> None:
    """The appendix's example 2000-01-12 plus 33 hours is 2000-01-13."""
    start = datetime(2000, 1, 12)
    assert add_to_datetime(start, read_duration("PT33H")).date() == date(2000, 1, 13)


def test_appendix_e_order_matters() -> None:
    """The appendix's two orders of a day and a month give 30 April and 1 May."""
    start = date(2000, 3, 30)
    assert add_to_date(add_to_date(start, days=1), months=1) == date(2000, 4, 30)
    assert add_to_date(add_to_date(start, months=1), days=1) == date(2000, 5, 1)


def test_lexical_forms_of_section_3_2_6() -> None:
    """Durations that section 3.2.6 of the same standard calls right are read, those it calls wrong are refused."""
    assert read_duration("P1347Y") == Duration(months=1347 * 12)
    assert read_duration("P1347M") == Duration(months=1347)
    assert read_duration("P1Y2MT2H") == Duration(months=14, seconds=Fraction(7200))
    assert read_duration("P0Y1347M0D") == Duration(months=1347)
    assert read_duration("-P1347M") == Duration(months=-1347)
    for wrong in ("P-1347M", "P1Y2MT", "P", "1Y", "", "P1.5Y"):
        with pytest.raises(ValueError, match="is not a duration"):
            read_duration(wrong)


def test_once_from_the_start() -> None:
    """Two months at once and one month twice differ at a month's end: terms are added once."""
    start = date(2025, 1, 31)
    assert add_to_date(add_to_date(start, months=1), months=1) == date(2025, 3, 28)
    assert add_to_date(start, months=2) == date(2025, 3, 31)


def test_leap_day() -> None:
    """A term from 29 February ends on 28 February of common years, on the 29th of leap years."""
    assert add_to_date(date(2024, 2, 29), years=1) == date(2025, 2, 28)
    assert add_to_date(date(2024, 2, 29), years=4) == date(2028, 2, 29)


def test_agrees_with_dateutil_on_random_cases() -> None:
    """Python-dateutil's relativedelta gives the same day in 5,000 random cases."""
    random = Random(20_001)
    for _ in range(5_000):
        year, month = random.randint(1900, 2200), random.randint(1, 12)
        start = date(year, month, random.randint(1, calendar.monthrange(year, month)[1]))
        years, months, days = random.randint(-40, 40), random.randint(-30, 30), random.randint(-400, 400)
        expected = start + relativedelta(years=years, months=months) + timedelta(days=days)
        assert add_to_date(start, years=years, months=months, days=days) == expected


def test_outside_the_calendar_is_refused() -> None:
    """A sum beyond the year 9999 raises instead of wrapping around."""
    with pytest.raises(OverflowError, match="outside the calendar"):
        add_to_date(date(9998, 1, 1), years=2)
