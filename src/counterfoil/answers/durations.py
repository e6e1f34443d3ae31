"""Adding durations to dates as W3C XML Schema Part 2 (Second Edition), appendix E, lays down.

Source: https://www.w3.org/TR/xmlschema-2/#adding-durations-to-dateTimes. Years and months come first, the day is
then pinned to the end of the month it falls in, and only then days and smaller units are added. A term must
be added once, from its start: 31 January plus one month plus one month is 28 March, plus two months 31 March.

Durations here count forwards or backwards as a whole; the calendar is the proleptic Gregorian one of :mod:`datetime`.
"""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction

_DURATION = re.compile(
    r"""(?P<sign>-)?P
        (?=.)                                            # "P" alone says nothing
        (?:(?P<years>\d+)Y)?(?:(?P<months>\d+)M)?(?:(?P<days>\d+)D)?
        (?:T(?=\d)(?:(?P<hours>\d+)H)?(?:(?P<minutes>\d+)M)?(?:(?P<seconds>\d+(?:\.\d+)?)S)?)?""",
    re.VERBOSE,
)


@dataclass(frozen=True, slots=True)
class Duration:
    """A length of time in the parts of XML Schema: whole months (12 to a year), days, and exact seconds."""

    months: int = 0
    days: int = 0
    seconds: Fraction = Fraction(0)


def read_duration(text: str) -> Duration:
    """Read a duration in its lexical form, for example ``P1Y3M5DT7H10M3.3S`` or ``-P3M``.

    Args:
        text: the duration, XML Schema Part 2, section 3.2.6.

    Raises:
        ValueError: the text is no duration.
    """
    hit = _DURATION.fullmatch(text)
    if hit is None:
        raise ValueError(f"{text!r} is not a duration such as P2Y6M")
    part = {name: int(value or 0) for name, value in hit.groupdict().items() if name not in ("sign", "seconds")}
    sign = -1 if hit["sign"] else 1
    seconds = part["hours"] * 3600 + part["minutes"] * 60 + Fraction(hit["seconds"] or 0)
    return Duration(sign * (part["years"] * 12 + part["months"]), sign * part["days"], sign * seconds)


def add_to_month(year: int, month: int, months: int) -> tuple[int, int]:
    """Add months to a year and month (the appendix's modulo and quotient with bounds 1 and 13).

    Returns:
        The year and the month, 1 to 12.
    """
    carried, index = divmod(month - 1 + months, 12)
    return year + carried, index + 1


def add_to_date(start: date, *, years: int = 0, months: int = 0, days: int = 0) -> date:
    """Add years, months and days to a date, in this order, the day pinned to the month's end in between.

    Args:
        start: the first day.
        years, months, days: whole numbers, each may be negative.

    Raises:
        OverflowError: the result lies outside the years 1 to 9999.
    """
    year, month = add_to_month(start.year, start.month, years * 12 + months)
    if not 1 <= year <= 9999:
        raise OverflowError(f"{start} plus {years} years and {months} months lies outside the calendar")
    pinned = min(start.day, calendar.monthrange(year, month)[1])
    return date(year, month, pinned) + timedelta(days=days)


def add_to_datetime(start: datetime, duration: Duration) -> datetime:
    """Add a duration to a date and time; the zone stays as it is.

    The appendix adds the parts of the time first and carries into the days: the same as adding them to the
    pinned day, for which reason one exact addition does here. Seconds are exact to the microsecond.

    Args:
        start: date and time, with or without a zone.
        duration: what to add.

    Raises:
        OverflowError: the result lies outside the years 1 to 9999.
    """
    day = add_to_date(start.date(), months=duration.months)
    rest = timedelta(days=duration.days, microseconds=round(duration.seconds * 1_000_000))
    return datetime.combine(day, start.timetz()) + rest
