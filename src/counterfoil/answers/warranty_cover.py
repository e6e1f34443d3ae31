"""How long a part is covered: every answer that the records allow, each with its first and last day.

A term is added once, from its start, by :mod:`counterfoil.answers.durations`. The day with the start's own number in
the last month is the last one covered, to its end; where the month has no such day, its last day is. Source: BGB (the
German civil code) sections 187(1), 188(2) and 188(3), which leave the day of the event itself uncounted:
https://www.gesetze-im-internet.de/bgb/__188.html. The same number of days counts for "registered within N days".
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from counterfoil.answers.coverage import Term, fold
from counterfoil.answers.durations import add_to_date
from counterfoil.answers.warranty_dates import Dates, Handover, Starts, handover_of, holder_on, holdings_on, purchases
from counterfoil.model import Noted
from counterfoil.records.extensions import Extension

_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Span:
    """Days covered without a gap, first and last included."""

    first: date
    last: date


@dataclass(frozen=True, slots=True)
class Outcome:
    """One answer the records allow.

    ``start`` and ``ends`` are the first and the last day of the cover that counts on the day asked for: the one that
    holds, else the one that ended last, else the one to come. ``covered`` is None where it hangs on what is not on
    record; ``because`` says what it rests on, ``noted`` the fact its start was read from. ``full`` is where the term
    would have ended without a change of hands.
    """

    covered: bool | None
    start: date | None
    ends: date | None
    because: str
    noted: Noted | None = None
    full: date | None = None

    def days_left(self, on: date) -> int | None:
        """Return the days after the one asked for; 0 once cover has ended, None where it cannot be told."""
        if self.covered is None:
            return None
        return (self.ends - on).days if self.covered and self.ends is not None else 0

    def to_json(self, on: date) -> dict[str, object]:
        """Return the answer as a dictionary."""
        return {
            "covered": self.covered,
            "start": None if self.start is None else self.start.isoformat(),
            "ends": None if self.ends is None else self.ends.isoformat(),
            "days_left": self.days_left(on),
            "because": self.because,
        }


@dataclass(frozen=True, slots=True)
class Length:
    """A length that may hold, in months (0: no cover), and why; ``sure`` is False where another one may hold too."""

    months: int
    because: str = ""
    sure: bool = True


def outcomes_of(
    term: Term, starts: Starts, dates: Dates, extensions: Sequence[Extension]
) -> tuple[tuple[Outcome, ...], tuple[Length, ...]]:
    """Work out every answer for a term.

    Args:
        term: the term.
        starts: the days it may run from.
        dates: the machine's other dates.
        extensions: those bought for its part class.

    Returns:
        The answers that differ, the shortest cover first, and the lengths that may hold.
    """
    handover = dates.handover if term.first_holder else None
    found: dict[tuple[date | None, date | None, bool | None], Outcome] = {}
    lengths: dict[Length, None] = {}
    for day, noted in starts.days:
        for length in lengths_of(term, starts, dates, day):
            lengths[length] = None
            for sold in _sold(extensions, dates):
                outcome = _outcome(day, noted, length, handover, dates, sold)
                found.setdefault((outcome.start, outcome.ends, outcome.covered), outcome)
    ordered = sorted(found.values(), key=lambda o: (o.ends or date.min, o.start or date.min))
    return tuple(ordered), tuple(lengths)


def lengths_of(term: Term, starts: Starts, dates: Dates, start: date) -> tuple[Length, ...]:
    """Return the lengths that may hold for a start: one where the records tell when the machine was registered."""
    within = term.register_days
    if within is None:
        return (Length(term.months),)
    bought = (start,) if starts.first_from == "purchase" else purchases(dates)
    registration = dates.registration
    long, short = term.months, term.else_months
    if not bought:
        why = "no purchase date is on record, from which the days to register are counted"
        return Length(short, why, False), Length(long, why, False)
    if not registration.days:
        last = add_to_date(bought[0], days=within)
        why = f"no registration is on record; it had to be made by {last}"
        return Length(short, why, False), Length(long, why, False)
    found: dict[Length, None] = {}
    for day in bought:
        last = add_to_date(day, days=within)
        for registered in registration.days:
            if registered <= last:
                found[Length(long, f"registered on {registered}, by {last} as the term asks")] = None
            elif registration.of_upgrade:
                why = f"the first activation on record is of {registered}, after {last}"
                why += "; the registration itself is not on record"
                found[Length(short, why, False)] = None
                found[Length(long, why, False)] = None
            else:
                found[Length(short, f"registered on {registered}, after {last}: the shorter term")] = None
    return tuple(found)


def _sold(extensions: Sequence[Extension], dates: Dates) -> Iterator[Sequence[Extension]]:
    """Yield the extensions that may hold: without those whose buyer parted with the machine on an unknown day, too."""
    yield extensions
    sure = [e for e in extensions if (parted := _parted(e, dates)) is None or parted.last_day is not None]
    if len(sure) < len(extensions):
        yield sure


def extended_only(dates: Dates, extensions: Sequence[Extension]) -> Outcome | None:
    """Return the answer that extensions with a first day of their own give without any term; None without one."""
    spans = [span for extension in extensions for span in _own_span(extension, dates)]
    return _at(spans, dates.asked.on, "by the extension alone", None, None) if spans else None


def covered_apart(dates: Dates, extensions: Sequence[Extension]) -> bool:
    """Tell whether an extension with a first day of its own covers the day asked for, whatever the term says."""
    spans = [span for extension in extensions for span in _own_span(extension, dates)]
    return any(span.first <= dates.asked.on <= span.last for span in spans)


def for_part(extensions: Sequence[Extension], part: str) -> tuple[Extension, ...]:
    """Return the extensions that are for a part class."""
    return tuple(e for e in extensions if any(fold(name) == fold(part) for name in e.parts))


def _outcome(
    day: date,
    noted: Noted,
    length: Length,
    handover: Handover | None,
    dates: Dates,
    extensions: Sequence[Extension],
) -> Outcome:
    """Work out the cover from one start over one length, and what extensions add to it."""
    on = dates.asked.on
    full = add_to_date(day, months=length.months) if length.months else None
    spans: list[Span] = []
    if full is not None:
        cut = handover.last_day if handover is not None else None
        last = full if cut is None else min(full, cut)
        if last >= day:
            spans.append(Span(day, last))
    months = length.months
    for extension in extensions:
        if extension.since is not None:
            spans += _own_span(extension, dates)
            continue
        # Added once from the start as well: two additions could lose a day at a month's end.
        first = add_to_date(day, months=months) + _DAY if months else day
        months += extension.months
        spans += _cut(Span(first, add_to_date(day, months=months)), extension, dates)
    because = f"counted from {day}" + (f", {length.because}" if length.because else "")
    return _at(spans, on, because, noted, full, day)


def _at(
    spans: Sequence[Span], on: date, because: str, noted: Noted | None, full: date | None, start: date | None = None
) -> Outcome:
    """Pick the span that counts on a day."""
    merged = list(_merged(spans))
    if not merged:
        return Outcome(False, start, None, because, noted, full)
    holds = [span for span in merged if span.first <= on <= span.last]
    past = [span for span in merged if span.last < on]
    span = (holds or past[-1:] or merged)[0]
    return Outcome(bool(holds), span.first, span.last, because, noted, full)


def _merged(spans: Sequence[Span]) -> Iterator[Span]:
    """Join spans that meet or overlap."""
    held: Span | None = None
    for span in sorted(spans, key=lambda s: (s.first, s.last)):
        if held is not None and span.first <= held.last + _DAY:
            held = Span(held.first, max(held.last, span.last))
            continue
        if held is not None:
            yield held
        held = span
    if held is not None:
        yield held


def _own_span(extension: Extension, dates: Dates) -> list[Span]:
    """Return the days of an extension that has a first day of its own, none for others."""
    if extension.since is None:
        return []
    return _cut(Span(extension.since, add_to_date(extension.since, months=extension.months)), extension, dates)


def _cut(span: Span, extension: Extension, dates: Dates) -> list[Span]:
    """Cut an extension that goes with its buyer where they parted with the machine."""
    parted = _parted(extension, dates)
    if parted is None or parted.last_day is None:
        return [span]
    if parted.last_day < span.first:
        return []
    return [Span(span.first, min(span.last, parted.last_day))]


def _parted(extension: Extension, dates: Dates) -> Handover | None:
    """Return when the buyer of an extension that goes with them parted with the machine, None where it is no matter."""
    if not extension.with_buyer:
        return None
    may = holdings_on(dates.machine, extension.bought)
    if len({holding.customer for holding in may}) > 1:
        # Nobody can tell which of them bought it, nor when they parted with the machine.
        return Handover(None, may[0])
    return handover_of(dates.machine, holder_on(dates.machine, extension.bought))
