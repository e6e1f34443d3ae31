"""Dates: spellings, readings, and the rule that chooses."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterfoil.patterns.dates import NEAR_DAYS, find_dates, is_date, month_names, order_in, read_date

THIRD_OF_APRIL = date(2026, 4, 3)


@pytest.mark.parametrize(
    "text",
    [
        "2026-04-03",
        "2026/4/3",
        "2026-04-03T12:30:00Z",
        "3 April 2026",
        "April 3rd, 2026",
        "Friday, 3 April 2026, 10:15",
        "3-Apr-2026",
        "3. April 2026",
        "Freitag, den 3. Apr. 2026",
        "3 avril 2026",
        "le 3 avr. 2026",
        "3 april 2026",
        "3 de abril de 2026",
        "3 abr 2026",
        "3 aprile 2026",
        "den 3 april 2026",
    ],
)
def test_unambiguous_spellings(text: str) -> None:
    """ISO 8601 and month names in every language give one reading."""
    assert read_date(text).readings == (THIRD_OF_APRIL,)


@pytest.mark.parametrize("text", ["03/04/2026", "3.4.2026", "03-04-2026", "3. 4. 2026", "03/04/26"])
def test_numbers_have_two_readings(text: str) -> None:
    """Day and month in numbers keep both readings while nothing decides."""
    assert read_date(text).readings == (THIRD_OF_APRIL, date(2026, 3, 4))


@pytest.mark.parametrize("text", ["23/04/2026", "04/23/2026", "23.4.26"])
def test_a_day_above_twelve_decides(text: str) -> None:
    """A number above twelve can only be the day."""
    assert read_date(text).readings == (date(2026, 4, 23),)


@pytest.mark.parametrize(
    "text",
    ["12.2026", "April 2026", "31/02/2026", "2026-13-01", "10.12.345", "1.2.3", "192.168.10.12", "03/04/2026/7", ""],
)
def test_what_is_no_date(text: str) -> None:
    """Months alone, impossible days and other numbers give nothing."""
    assert read_date(text).best is None and read_date(text).readings == ()


def test_the_nearest_reading_within_twenty_days() -> None:
    """Of two readings the one near the message's day is taken, up to a day after it."""
    assert read_date("03/04/2026", near=date(2026, 4, 5)).readings == (THIRD_OF_APRIL,)
    assert read_date("03/04/2026", near=date(2026, 4, 2)).readings == (THIRD_OF_APRIL,)
    assert read_date("03/04/2026", near=date(2026, 3, 20)).readings == (date(2026, 3, 4),)


def test_far_from_the_message_the_document_decides_or_nobody() -> None:
    """More than twenty days before the message, the order of another date decides, else both readings stay."""
    far = date(2027, 1, 1)
    assert len(read_date("03/04/2026", near=far).readings) == 2
    assert read_date("03/04/2026", near=far, order="mdy").readings == (date(2026, 3, 4),)
    assert order_in("from 25/12/2025 on") == "dmy" and order_in("12/25/2025") == "mdy"
    assert order_in("25/12/2025 and 12/25/2025") is None and order_in("03/04/2026") is None


@given(st.dates(date(2001, 1, 1), date(2089, 12, 31)), st.integers(-1, NEAR_DAYS - 1), st.booleans())
def test_a_reading_chosen_near_the_message_is_always_possible(day: date, after: int, month_first: bool) -> None:
    """Whatever the order, the date written on the day or up to nineteen days before is among the readings kept."""
    text = f"{day:%m/%d/%Y}" if month_first else f"{day:%d/%m/%Y}"
    reading = read_date(text, near=day + timedelta(days=after))
    assert reading.best is not None
    assert day in reading.readings or abs((reading.best - day).days) < 2 * NEAR_DAYS


def test_spans_tell_where_a_date_stands() -> None:
    """The span of a date found is the date as written."""
    text = "from 2026-04-03 to 5 May 2026"
    assert sorted(text[f.start : f.end] for f in find_dates(text)) == ["2026-04-03", "5 May 2026"]


def test_codes_are_not_dates_and_dates_no_codes() -> None:
    """Only a text that is a date from end to end counts as one; eight digits alone are a number."""
    assert is_date("2026-04-03") and is_date("3.4.2026") and not is_date("20260403") and not is_date("2026-04-03-77")


def test_no_month_name_means_two_months() -> None:
    """A name that several languages share means the same month in all of them."""
    seen: dict[str, int] = {}
    for names in month_names().values():
        for name, number in names.items():
            assert seen.setdefault(name, number) == number
