"""Dates as mail programs print them in the header block of a forward, in the languages of forward_words.toml.

Read: ISO 8601 (2025-03-04), a month by its name (4 March 2025, March 4, 2025, 4. März 2025, 4 de marzo de 2025),
day.month.year with dots (the order of the countries that write dots), and numbers in another form only where one
reading is possible. Anything else is None: a wrong date is worse than none.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone

from counterfoil.documents.words import months

#: Characters of a date that are looked at.
_LONGEST = 120
_ISO = re.compile(r"(?<!\d)(\d{4})[-/.年] ?(\d{1,2})[-/.月] ?(\d{1,2})(?!\d)")
_DAY_MONTH = re.compile(
    r"(?<!\d)(\d{1,2})(?:st|nd|rd|th|er|º|ª)?[.]? ?(?:de |of |d')?[- ]?"
    r"([^\W\d_]{3,12})[.]?,?[- ]?(?:de |del )?(\d{4})(?!\d)"
)
_MONTH_DAY = re.compile(r"(?<!\w)([^\W\d_]{3,12})[.]? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})(?!\d)")
_NUMBERS = re.compile(r"(?<!\d)(\d{1,2})([./-]) ?(\d{1,2})\2 ?(\d{4}|\d{2})(?!\d)")
_TIME = re.compile(
    r"(?<![\d:.+-])(\d{1,2})(?:[:.]|h| ?時)(\d{2})(?:[:.](\d{2}))?(?: ?([ap])[.]? ?m\b[.]?)?", re.IGNORECASE
)
_OFFSET = re.compile(r"(?:UTC|GMT)? ?([+-])(\d{1,2}):?(\d{2})?(?!\d)", re.IGNORECASE)
#: Hours from UTC. RFC 5322 section 4.3 for the North American names; the others from memory.
_ZONES = {
    "UTC": 0.0, "GMT": 0.0, "Z": 0.0, "WET": 0.0, "WEZ": 0.0, "BST": 1.0, "WEST": 1.0, "CET": 1.0, "MEZ": 1.0,
    "CEST": 2.0, "MESZ": 2.0, "EET": 2.0, "EEST": 3.0, "EST": -5.0, "EDT": -4.0, "CST": -6.0, "CDT": -5.0,
    "MST": -7.0, "MDT": -6.0, "PST": -8.0, "PDT": -7.0,
}  # fmt: skip


def read_when(text: str, *, day_first: bool = False) -> datetime | None:
    """Read a date with its time.

    Args:
        text: what stands after Date: or Sent:.
        day_first: read 3/4/2025 as the third of April, because the language around it writes it so.

    Returns:
        The moment with its offset from UTC, UTC where none is given, midnight where no time is; None where
        there is no date or more than one reading of it.
    """
    text = " ".join(text[:_LONGEST].lower().split())
    found = _date(text, day_first)
    if found is None:
        return None
    year, month, day, rest = found
    hour, minute, second, rest = _time(rest)
    try:
        return datetime(year, month, day, hour, minute, second, tzinfo=_zone(rest))
    except (ValueError, OverflowError):
        return None


def _date(text: str, day_first: bool) -> tuple[int, int, int, str] | None:
    if match := _ISO.search(text):
        return int(match[1]), int(match[2]), int(match[3]), _without(text, match)
    names = months()
    for match in _DAY_MONTH.finditer(text):
        if month := names.get(match[2]):
            return int(match[3]), month, int(match[1]), _without(text, match)
    for match in _MONTH_DAY.finditer(text):
        if month := names.get(match[1]):
            return int(match[3]), month, int(match[2]), _without(text, match)
    if match := _NUMBERS.search(text):
        first, second, year = int(match[1]), int(match[3]), int(match[4])
        year += 2000 if year < 100 else 0
        rest = _without(text, match)
        if match[2] == "." or day_first or first > 12 or first == second:
            return year, second, first, rest
        if second > 12:
            return year, first, second, rest
    return None


def _without(text: str, match: re.Match[str]) -> str:
    return f"{text[: match.start()]} {text[match.end() :]}"


def _time(text: str) -> tuple[int, int, int, str]:
    match = _TIME.search(text)
    if match is None:
        return 0, 0, 0, text
    hour = int(match[1])
    if match[4]:
        hour = hour % 12 + (12 if match[4] == "p" else 0)
    return hour, int(match[2]), int(match[3] or 0), text[match.end() :]


def _zone(text: str) -> timezone:
    if match := _OFFSET.search(text):
        hours, minutes = int(match[2]), int(match[3] or 0)
        if hours <= 14 and minutes < 60:
            offset = timedelta(hours=hours, minutes=minutes)
            return timezone(-offset if match[1] == "-" else offset)
    for word in text.replace("(", " ").replace(")", " ").upper().split():
        if word in _ZONES:
            return timezone(timedelta(hours=_ZONES[word]))
    return UTC
