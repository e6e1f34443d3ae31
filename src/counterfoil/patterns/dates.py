"""Dates as people and programs write them, with every reading kept until something decides between them.

The order: ISO 8601 first; then month names; then numbers, day first and month first. Of two readings the one
nearest to the message's date and at most a day after it is taken while it lies within twenty days (measured: never
wrong up to there, wrong in 9 % at ninety days); a reading in the future is none; else the order of an unambiguous
date in the same document decides; else both stay.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

from counterfoil.patterns.vocabulary import load_vocabularies, months_of
from counterfoil.patterns.words import fold

NEAR_DAYS = 20
AFTER_DAYS = 1

DAY_FIRST = "dmy"
MONTH_FIRST = "mdy"
YEAR_FIRST = "ymd"


@dataclass(frozen=True, slots=True)
class DateReading:
    """What a text may mean: the likeliest date and every possible one, likeliest first; both empty for no date."""

    best: date | None
    readings: tuple[date, ...]


@dataclass(frozen=True, slots=True)
class DateFound:
    """A date in a text: its span and its readings, each with the order of numbers that gives it ("" if none)."""

    start: int
    end: int
    readings: tuple[tuple[date, str], ...]


_ISO = re.compile(
    r"""(?<![\w.])(?:
      (?P<y>\d{4})(?P<s>[-./])(?P<m>\d{1,2})(?P=s)(?P<d>\d{1,2})   # 2026-04-03, also 2026/4/3 and 2026.04.03
      | (?P<week>\d{4}-?w\d{2}-?[1-7])                             # week date
      | (?P<ordinal>\d{4}-\d{3})                                   # day of the year
      | (?P<basic>\d{8})                                           # basic format
    )(?=t\d|[^\w]|$)(?![-/]\w|\.\d)""",
    re.VERBOSE,
)
_NUMBERS = re.compile(
    r"(?<![\w.,/-])(?P<a>\d{1,2})(?P<s>\s?[-./]\s?)(?P<b>\d{1,2})(?P=s)(?P<y>\d{4}|\d{2})(?![\w/-]|[.,]\d)",
)
_DAY_NAME = re.compile(
    r"(?<!\w)(?P<d>\d{1,2})(?:st|nd|rd|th|er|e|o|a|\u00ba)?\.?(?:\s|-|/|\s?de\s|\s?of\s|\s?d'|\s?den\s){1,3}"
    r"(?P<name>[^\W\d_]{3,12})\.?,?(?:\s|-|/|\s?de\s|\s?del\s){1,3}(?P<y>\d{4}|\d{2})(?!\w)"
)
_NAME_DAY = re.compile(
    r"(?<!\w)(?P<name>[^\W\d_]{3,12})\.?[\s-](?P<d>\d{1,2})(?:st|nd|rd|th)?,?[\s-]{1,2}(?P<y>\d{4})(?!\w)"
)
_YEAR_MONTH_DAY = re.compile(r"(?<!\d)(?P<y>\d{4})\s?年\s?(?P<m>\d{1,2})\s?月\s?(?P<d>\d{1,2})\s?日")


@cache
def month_names() -> Mapping[str, Mapping[str, int]]:
    """Return the packaged month names by language: folded name -> month number."""
    return {vocabulary.language: months_of(vocabulary) for vocabulary in load_vocabularies()}


@cache
def _all_months() -> Mapping[str, int]:
    merged: dict[str, int] = {}
    for names in month_names().values():
        for name, number in names.items():
            merged.setdefault(name, number)
    return merged


def _month(name: str, language: str | None) -> int | None:
    own = month_names().get(language or "", {})
    return own.get(name) or _all_months().get(name)


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _century(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _iso(found: re.Match[str]) -> date | None:
    if found["y"]:
        return _day(int(found["y"]), int(found["m"]), int(found["d"]))
    try:
        if found["ordinal"]:
            year, number = found["ordinal"].split("-")
            day = date(int(year), 1, 1) + timedelta(days=int(number) - 1)
            return day if day.year == int(year) and int(number) > 0 else None
        day = date.fromisoformat((found["week"] or found["basic"]).upper())
    except (ValueError, OverflowError):
        return None
    # Eight digits are more often a number than a date: only years a machine of ours can have been sold in.
    return day if found["week"] or 1980 <= day.year <= 2099 else None


def _numbers(found: re.Match[str]) -> tuple[tuple[date, str], ...]:
    a, b, year = int(found["a"]), int(found["b"]), _century(found["y"])
    tries = [(_day(year, b, a), DAY_FIRST), (_day(year, a, b), MONTH_FIRST)]
    if len(found["y"]) == 2 and found["s"].strip() == "-":
        tries.append((_day(2000 + a, b, int(found["y"])), YEAR_FIRST))
    readings: dict[date, str] = {}
    for day, order in tries:
        if day is not None:
            readings.setdefault(day, order if a != b or order == YEAR_FIRST else "")
    return tuple(readings.items())


def find_dates(text: str, language: str | None = None) -> Iterator[DateFound]:
    """Yield the dates in a text, in the order of the rule (ISO 8601, month names, numbers), not overlapping."""
    taken: list[tuple[int, int]] = []
    folded = fold(text)
    for pattern in (_ISO, _YEAR_MONTH_DAY, _DAY_NAME, _NAME_DAY, _NUMBERS):
        for found in pattern.finditer(folded):
            start, end = found.span()
            if any(start < e and s < end for s, e in taken):
                continue
            readings = _readings(pattern, found, language)
            if readings:
                taken.append((start, end))
                yield DateFound(start, end, readings)


def _readings(pattern: re.Pattern[str], found: re.Match[str], language: str | None) -> tuple[tuple[date, str], ...]:
    if pattern is _NUMBERS:
        return _numbers(found)
    if pattern is _ISO:
        day = _iso(found)
    elif pattern is _YEAR_MONTH_DAY:
        day = _day(int(found["y"]), int(found["m"]), int(found["d"]))
    else:
        month = _month(found["name"], language)
        day = _day(_century(found["y"]), month, int(found["d"])) if month else None
    return ((day, ""),) if day else ()


def decide(found: DateFound, near: date | None, order: str | None = None) -> DateReading:
    """Choose between the readings of one date by the rule at the top of this file.

    Args:
        found: the date.
        near: the day of the message it stands in.
        order: the order of numbers used elsewhere in the document (see :func:`order_in`).
    """
    days = [day for day, _ in found.readings]
    if near is not None and len(days) > 1:
        latest = near + timedelta(days=AFTER_DAYS)
        possible = sorted((day for day in days if day <= latest), key=lambda day: abs((near - day).days))
        if len(possible) == 1 or (possible and abs((near - possible[0]).days) <= NEAR_DAYS):
            return DateReading(possible[0], (possible[0],))
        days = possible or days
    if len(days) > 1 and order:
        fitting = [day for day, way in found.readings if way == order and day in days]
        if len(fitting) == 1:
            return DateReading(fitting[0], (fitting[0],))
    return DateReading(days[0], tuple(days))


def order_in(text: str) -> str | None:
    """Return the order of numbers that every unambiguous numeric date in a text uses, None if none or they differ."""
    orders = set()
    for found in _NUMBERS.finditer(text):
        readings = _numbers(found)
        if len(readings) == 1 and readings[0][1]:
            orders.add(readings[0][1])
    return orders.pop() if len(orders) == 1 else None


def read_date(
    text: str, language: str | None = None, near: date | None = None, order: str | None = None
) -> DateReading:
    """Read the first date in a text.

    Args:
        text: for example ``2026-04-03``, ``3. April 2026``, ``03/04/2026``.
        language: whose month names are tried first (ISO 639-1); all packaged ones are known.
        near: the day of the message the text stands in.
        order: the order of numbers used elsewhere in the document.

    Returns:
        One reading where the date is certain, several where a person must choose, none for no date.
    """
    found = next(iter(sorted(find_dates(text, language), key=lambda f: f.start)), None)
    return decide(found, near, order) if found else DateReading(None, ())


def is_date(text: str) -> bool:
    """Tell whether the whole text is one date (so it is no code); eight digits alone do not count as one."""
    stripped = text.strip()
    if stripped.isdigit():
        return False
    return any(f.start == 0 and f.end == len(stripped) for f in find_dates(stripped))
