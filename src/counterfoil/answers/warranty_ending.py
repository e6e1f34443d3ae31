"""Whose cover ends soon: a list with one row for each part class of each machine, by its last day."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from counterfoil.answers.coverage import Term
from counterfoil.answers.durations import add_to_date
from counterfoil.answers.lists import CONTACT_COLUMNS, MACHINE_COLUMNS, Listing, Part, People, Row, machine_cells
from counterfoil.answers.warranty import STANDING_NOTE, Cover, assess, owners_of
from counterfoil.records.extensions import Extension, extensions
from counterfoil.records.listing import ListedMachine, listed_machines
from counterfoil.settings import Settings

if TYPE_CHECKING:
    from counterfoil.records.store import Store

_WITHIN = re.compile(r"([0-9]{1,4})\s*(d|days?|w|weeks?|m|months?)?", re.IGNORECASE)

COLUMNS = (
    "last_day", "days_left", "part", "state", *MACHINE_COLUMNS, *CONTACT_COLUMNS, "start", "start_from", "why", "note",
)  # fmt: skip
SHOWN = ("last_day", "days_left", "part", "state", *MACHINE_COLUMNS, "customer", "name", "email", "phone")


def last_day_within(on: date, within: str) -> date:
    """Return the last day of a time from a day on.

    Args:
        on: the day it counts from.
        within: a number with d (days; may be left out), w (weeks) or m (months, to the day with the same number).

    Raises:
        ValueError: the text is no such time, or goes beyond the calendar.
    """
    found = _WITHIN.fullmatch(within.strip())
    if found is None:
        raise ValueError(f"{within!r} is no time such as 60d, 8w or 3m")
    count, unit = int(found[1]), (found[2] or "d")[0].lower()
    try:
        if unit == "m":
            return add_to_date(on, months=count)
        return on + timedelta(days=count * (7 if unit == "w" else 1))
    except OverflowError:
        raise ValueError(f"{within!r} goes beyond the calendar") from None


def ending(store: Store, terms: Sequence[Term], on: date, until: date, settings: Settings | None = None) -> Listing:
    """List the part classes whose cover ends, or may end, in a time.

    Args:
        store: the records.
        terms: the coverage terms.
        on: the first day; what is covered is told for this day.
        until: the last day, included.
        settings: the shop's; its ``filing_odds`` say from when on a date is certain.

    Returns:
        The rows by last day; those whose last day is assumed, or only one of several, are listed apart.
    """
    odds = (settings or Settings()).filing_odds
    bought: dict[str, list[Extension]] = {}
    for extension in extensions(store):
        bought.setdefault(extension.machine, []).append(extension)
    people = People(store)
    short = {machine.id: machine for machine in listed_machines(store)}
    sure: list[Row] = []
    assumed: list[Row] = []
    for machine in store.machines():
        answer = assess(machine, terms, on, odds, owners_of(store, machine), bought.get(machine.id, ()))
        for cover in answer.coverage:
            for day in _last_days(cover, on, until):
                row = _row(people, short[machine.id], cover, day, on)
                (assumed if cover.assumed or cover.covered is None else sure).append(row)
    parts = (
        Part("certain", f"Cover that ends from {on} to {until}", _by_day(sure)),
        Part("assumed", "The last day is assumed, or one of several: look at the answer", _by_day(assumed)),
    )
    empty = f"No cover ends for certain from {on} to {until}."
    return Listing("warranty", COLUMNS, SHOWN, parts, empty, (STANDING_NOTE,))


def _by_day(rows: list[Row]) -> tuple[Row, ...]:
    return tuple(sorted(rows, key=lambda row: (str(row["last_day"]), int(str(row["machine"])[1:]), str(row["part"]))))


def _row(people: People, machine: ListedMachine, cover: Cover, day: date, on: date) -> Row:
    state = "cannot tell" if cover.covered is None else "covered, assumed" if cover.assumed else "covered"
    return {
        "last_day": day.isoformat(),
        "days_left": (day - on).days,
        "part": cover.part,
        "state": state,
        **machine_cells(machine),
        **people.contact(machine.holder),
        "start": None if cover.start is None else cover.start.isoformat(),
        "start_from": cover.start_from,
        "why": cover.why,
        "note": STANDING_NOTE,
    }


def _last_days(cover: Cover, on: date, until: date) -> Iterator[date]:
    """Yield the last days in the time that a part class has or may have."""
    if cover.covered is not False:
        days = (answer.ends for answer in cover.answers if answer.covered)
        yield from sorted({day for day in days if day is not None and on <= day <= until})
