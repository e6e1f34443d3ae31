"""The last day of a warranty against worked cases that others published, and against a reference library at random.

Sources of the cases, by the short name in the table:

- W3C: XML Schema Part 2 (Second Edition), appendix E, https://www.w3.org/TR/xmlschema-2/#adding-durations-to-dateTimes
- BGB 188: German civil code, sections 187(1), 188(2) and 188(3): the day with the number of the event's day, the last
  day of the month where there is none, https://www.gesetze-im-internet.de/bgb/__188.html (the rule is published, the
  dates are ours)
- Dodds: Dodds v Walker [1981] 1 WLR 1027 (House of Lords), the corresponding date rule: four months from 30 September
  1978 ended on 30 January 1979, the 31st was a day too late
- Riley: E J Riley Investments Ltd v Eurostile Holdings Ltd: two months from 23 March 1983 ended on 23 May 1983
- Guild: landlordsguild.com, "The corresponding date rule": two months from 30 November end on 30 January
- dateutil: documentation of python-dateutil, "relativedelta examples", months and years at the ends of months
- java.time: API documentation of LocalDate.plusMonths and plusYears, and the worked list of its month rule
- time_machine: API documentation of LocalDate.addMonths of the package time_machine on pub.dev
"""

from __future__ import annotations

import calendar
import time
from datetime import date, timedelta
from random import Random

import pytest
from dateutil.relativedelta import relativedelta  # type: ignore[import-untyped]

from counterfoil.answers.coverage import Term
from counterfoil.answers.durations import add_to_date, read_duration
from counterfoil.answers.warranty import Cover, assess
from counterfoil.model import Fact, Holding, Kind, MachineProfile, Noted, Place

#: source | first day | length | last day
CASES = [
    line.split("|")
    for line in """\
W3C, P1Y3M of the first example|2000-01-12|P1Y3M|2001-04-12
W3C, the months of the order example|2000-03-30|P1M|2000-04-30
W3C, the day before the order example's months|2000-03-31|P1M|2000-04-30
BGB 188(2)|2024-01-15|P2Y|2026-01-15
BGB 188(2)|2023-12-31|P1Y|2024-12-31
BGB 188(2), into a leap year|2023-02-28|P1Y|2024-02-28
BGB 188(3), no 30 February|2025-01-30|P1M|2025-02-28
BGB 188(3), no 31 February|2025-08-31|P6M|2026-02-28
BGB 188(3), no 31 February in a leap year|2027-08-31|P6M|2028-02-29
BGB 188(3), no 29 February|2024-02-29|P2Y|2026-02-28
BGB 188(2), 29 February again|2024-02-29|P4Y|2028-02-29
BGB 188(3), no 29 February in 2100|2096-02-29|P4Y|2100-02-28
BGB 188(3), no 31 April|2026-03-31|P1M|2026-04-30
Dodds|1978-09-30|P4M|1979-01-30
Riley|1983-03-23|P2M|1983-05-23
Guild|2025-11-30|P2M|2026-01-30
dateutil|2003-01-27|P1M|2003-02-27
dateutil|2003-01-31|P1M|2003-02-28
dateutil|2003-01-31|P2M|2003-03-31
dateutil|2000-02-28|P1Y|2001-02-28
dateutil|1999-02-28|P1Y|2000-02-28
dateutil|1999-03-01|P1Y|2000-03-01
java.time plusMonths|2007-03-31|P1M|2007-04-30
java.time, worked list|2011-01-15|P1M|2011-02-15
java.time, worked list|2011-01-31|P1M|2011-02-28
java.time, worked list|2012-01-31|P1M|2012-02-29
java.time, worked list|2013-03-31|P1M|2013-04-30
java.time, worked list|2013-10-31|P4M|2014-02-28
java.time plusYears, worked list|2012-02-29|P1Y|2013-02-28
time_machine addMonths|2011-01-30|P1M|2011-02-28""".splitlines()
]
#: Sources that work a duration with days or backwards, which no term has: checked on the arithmetic itself.
ARITHMETIC = [
    ("W3C, the first example's days after its months", date(2000, 1, 12), "P1Y3M5D", date(2001, 4, 17)),
    ("W3C, (2000-03-30 + P1M) + P1D", date(2000, 3, 30), "P1M1D", date(2000, 5, 1)),
    ("dateutil, 2001-02-28 less a year", date(2001, 2, 28), "-P1Y", date(2000, 2, 28)),
    ("dateutil, 2001-03-01 less a year", date(2001, 3, 1), "-P1Y", date(2000, 3, 1)),
]


def cover_of(start: date, months: int, on: date) -> Cover:
    """Return the answer for a machine bought on a day, under a term of so many months."""
    fact = Fact(
        Kind.PURCHASE_DATE, start.isoformat(), start.isoformat(), Place("pdf:invoice.pdf", 1), "label", odds=9.0
    )
    holders = (Holding("C1", "M1", start.isoformat(), None, "E1"),)
    machine = MachineProfile("M1", (Noted(fact, "E1", "2026-11-25T08:00:00+00:00", 1),), (), (), holders, ("E1",))
    (cover,) = assess(machine, [Term("machine", months)], on).coverage
    return cover


@pytest.mark.parametrize(("source", "first", "length", "last"), CASES)
def test_worked_cases(source: str, first: str, length: str, last: str) -> None:
    """The last day is the published one: covered on it with no day left, not covered on the day after."""
    start, end = date.fromisoformat(first), date.fromisoformat(last)
    months = read_duration(length).months
    on_it, after = cover_of(start, months, end), cover_of(start, months, end + timedelta(days=1))
    assert (on_it.ends, on_it.covered, on_it.days_left) == (end, True, 0), source
    assert (after.ends, after.covered, after.days_left) == (end, False, 0), source


@pytest.mark.parametrize(("source", "start", "length", "end"), ARITHMETIC)
def test_worked_arithmetic(source: str, start: date, length: str, end: date) -> None:
    """Days come after months, and lengths count backwards, as the sources work them."""
    duration = read_duration(length)
    assert add_to_date(start, months=duration.months, days=duration.days) == end, source


def test_there_are_enough_cases() -> None:
    """At least 25 different cases are worked, of at least five sources."""
    assert len({tuple(case[1:]) for case in CASES}) >= 25
    assert len({case[0].split(",")[0].split(" ")[0] for case in CASES}) >= 5


def test_last_day_agrees_with_dateutil_on_random_dates() -> None:
    """Of 100,000 random starts and terms, each has the last day that python-dateutil's relativedelta gives."""
    random = Random(26_11_25)
    for _ in range(100_000):
        year, month = random.randint(1990, 2060), random.randint(1, 12)
        start = date(year, month, random.randint(1, calendar.monthrange(year, month)[1]))
        months = random.randint(1, 600)
        assert add_to_date(start, months=months) == start + relativedelta(months=months), (start, months)


def test_whole_answers_agree_with_dateutil_on_random_dates() -> None:
    """Of 1,000 random machines, terms and days asked for, the whole answer agrees: covered, last day, days left."""
    random = Random(4_711)
    for _ in range(1_000):
        start = date(2000, 1, 1) + timedelta(days=random.randint(0, 12_000))
        months, on = random.randint(1, 240), date(2000, 1, 1) + timedelta(days=random.randint(0, 16_000))
        expected = start + relativedelta(months=months)
        cover = cover_of(start, months, on)
        covered = start <= on <= expected
        left = (expected - on).days if covered else 0
        assert (cover.covered, cover.ends, cover.days_left) == (covered, expected, left), (start, months, on)


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Etc/GMT+12"])
def test_no_time_zone_moves_a_day(zone: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """At both ends of the world's time zones (UTC+14, UTC-12) the first and the last day are the same."""
    set_zone = getattr(time, "tzset", lambda: None)
    monkeypatch.setenv("TZ", zone)
    set_zone()
    try:
        cover = cover_of(date(2024, 2, 29), 24, date(2026, 2, 28))
    finally:
        monkeypatch.undo()
        set_zone()
    assert (cover.start, cover.ends, cover.covered) == (date(2024, 2, 29), date(2026, 2, 28), True)


@pytest.mark.parametrize("written", ["2024-01-15T23:59:59-11:00", "2024-01-15T00:00:00+14:00", "2024-01-15"])
def test_a_day_with_a_time_zone_is_the_day_written(written: str) -> None:
    """A date that carries a time and a zone counts as the day that is written, converted to no other zone."""
    fact = Fact(Kind.PURCHASE_DATE, written, written, Place("body", span=(0, 1)), "label", odds=9.0)
    machine = MachineProfile("M1", (Noted(fact, "E1", "2026-11-25T08:00:00+00:00", 1),), (), (), (), ("E1",))
    (cover,) = assess(machine, [Term("machine", 24)], date(2025, 1, 1)).coverage
    assert (cover.start, cover.ends) == (date(2024, 1, 15), date(2026, 1, 15))
