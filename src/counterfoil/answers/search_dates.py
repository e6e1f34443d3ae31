"""Days, months and years typed into the one box: ISO 8601, or as written in any language of the vocabulary."""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from counterfoil.patterns.dates import find_dates, month_names
from counterfoil.patterns.names import fold_name

_YEAR = re.compile(r"(?:19|20)\d\d")
_MAY_BE_DATE = re.compile(r"(?<!\d)(?:19|20)\d\d(?!\d)|\d[./-]\d")
_ISO_MONTH = re.compile(r"((?:19|20)\d\d)[-./](\d{1,2})")
_MONTH_YEAR = re.compile(r"(\d{1,2})[-./]((?:19|20)\d\d)")
#: Words between a month and its year: "marzo de 2025".
_JOINING = frozenset(("de", "del", "of", "anno", "år", "van"))


@dataclass(frozen=True, slots=True)
class Period:
    """Days typed, both included, what they are called, and the words from ``start`` up to ``end``."""

    first: date
    last: date
    said: str
    start: int
    end: int

    def __contains__(self, day: object) -> bool:
        """Tell whether a day, given as ISO 8601, lies in it."""
        return isinstance(day, str) and self.first.isoformat() <= day[:10] <= self.last.isoformat()


def periods(words: Sequence[str]) -> list[Period]:
    """Return the days, months and years among words, in their order; of a day with two readings, both.

    Args:
        words: as typed.
    """
    if not _MAY_BE_DATE.search(" ".join(words)):
        return []
    taken: set[int] = set()
    found: list[Period] = []
    for period in (*_days(words), *_months(words), *_years(words)):
        places = set(range(period.start, period.end))
        # The two readings of one day lie at the same place.
        twin = any((p.start, p.end) == (period.start, period.end) and p.first == p.last for p in found)
        if taken.isdisjoint(places) or (twin and period.first == period.last):
            taken |= places
            found.append(period)
    return sorted(found, key=lambda period: (period.start, period.first))


def _days(words: Sequence[str]) -> Iterator[Period]:
    text = " ".join(words)
    for found in find_dates(text):
        start = text.count(" ", 0, found.start)
        end = text.count(" ", 0, found.end) + 1
        whole = "".join(words[start:end])
        if whole.isdigit():
            # Eight digits are a serial number more often than a day.
            continue
        for day, _ in found.readings:
            yield Period(day, day, f"the day {day.isoformat()}", start, end)


def _months(words: Sequence[str]) -> Iterator[Period]:
    for at, word in enumerate(words):
        if match := _ISO_MONTH.fullmatch(word):
            yield from _month(int(match[1]), int(match[2]), at, at + 1)
        elif match := _MONTH_YEAR.fullmatch(word):
            yield from _month(int(match[2]), int(match[1]), at, at + 1)
        elif number := _month_number(word):
            after = at + 2 if at + 1 < len(words) and words[at + 1].casefold() in _JOINING else at + 1
            if after < len(words) and _YEAR.fullmatch(words[after]):
                yield from _month(int(words[after]), number, at, after + 1)
            elif at and _YEAR.fullmatch(words[at - 1]):
                yield from _month(int(words[at - 1]), number, at - 1, at + 1)


def _month_number(word: str) -> int | None:
    folded = "".join(fold_name(word))
    return next((names[folded] for names in month_names().values() if folded in names), None)


def _month(year: int, month: int, start: int, end: int) -> Iterator[Period]:
    if 1 <= month <= 12:
        last = calendar.monthrange(year, month)[1]
        yield Period(date(year, month, 1), date(year, month, last), f"the month {year}-{month:02}", start, end)


def _years(words: Sequence[str]) -> Iterator[Period]:
    for at, word in enumerate(words):
        if _YEAR.fullmatch(word):
            year = int(word)
            yield Period(date(year, 1, 1), date(year, 12, 31), f"the year {year}", at, at + 1)
