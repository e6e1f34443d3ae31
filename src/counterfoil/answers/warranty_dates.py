"""From which days a term may run, who held the machine when, and what was registered: read off a machine's profile.

A day is the one that was written: where a time or a time zone stands beside it, the day is not converted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from counterfoil.answers.coverage import Start
from counterfoil.model import Holding, Kind, MachineProfile, Noted

#: Dates beyond this year are misreadings; it also keeps every sum inside the calendar.
_LAST_YEAR = 9000

_KIND_OF: dict[Start, Kind] = {
    "purchase": Kind.PURCHASE_DATE,
    "registration": Kind.REGISTRATION_DATE,
    "activation": Kind.REGISTRATION_DATE,
}
#: What stands in for a start that is not on record, best first.
_OTHERS: dict[Start, tuple[Start, ...]] = {
    "purchase": ("registration",),
    "registration": ("purchase",),
    "activation": ("registration", "purchase"),
}


@dataclass(frozen=True, slots=True)
class Asked:
    """The day asked for, the log-odds from which a date is certain, and the messages of later holders."""

    on: date
    certain_odds: float = 4.6
    later: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Starts:
    """The days from which a term may run, earliest first, each with the fact it was read from.

    ``start_from`` is what they are, ``wanted`` what the term asks for; where the two differ the one stands in.
    ``later`` is a date that a later holder brought and that starts no term; ``only_later`` is True where there is
    no other. ``registered_sooner`` is True where the first of the days is a registration before any purchase.
    """

    days: tuple[tuple[date, Noted], ...]
    start_from: Start
    wanted: Start
    sure: bool
    later: Noted | None = None
    only_later: bool = False
    registered_sooner: bool = False

    @property
    def stands_in(self) -> bool:
        """True where the days are not of the kind that the term asks for."""
        return self.start_from != self.wanted

    @property
    def first_from(self) -> Start:
        """What the earliest of the days is."""
        return "registration" if self.registered_sooner else self.start_from


@dataclass(frozen=True, slots=True)
class Handover:
    """The first change of hands: the last day of the first holder, None where it is not on record."""

    last_day: date | None
    holding: Holding


@dataclass(frozen=True, slots=True)
class Registration:
    """The earliest registration on record: its possible days, the fact, and whether it may be that of an upgrade.

    An activation confirmation proves that the machine was known to the maker on that day, not that it was not
    registered before.
    """

    days: tuple[date, ...] = ()
    noted: Noted | None = None
    of_upgrade: bool = False


@dataclass(frozen=True, slots=True)
class Dates:
    """All that a term needs to know of a machine's dates."""

    machine: MachineProfile
    asked: Asked
    handover: Handover | None = None
    registration: Registration = field(default_factory=Registration)


def dates_of(machine: MachineProfile, asked: Asked) -> Dates:
    """Gather the dates of a machine, its holders put in order of time."""
    ordered = replace(machine, holders=in_time(machine.holders))
    return Dates(ordered, asked, handover_of(ordered), _registration(ordered, asked.later))


def starts_of(dates: Dates, wanted: Start) -> Starts | None:
    """Find the days a term may run from: those of the kind it asks for, else those that stand in; None without any."""
    machine, asked = dates.machine, dates.asked
    for start in (wanted, *_OTHERS[wanted]):
        here = dated(machine, start)
        later = [noted for noted in here if noted.source in asked.later]
        facts = [noted for noted in here if noted not in later] or later
        days = possible_days(facts, start)
        if not days:
            continue
        sooner = _registered_before(machine, days[0][0], asked.later) if start == "purchase" else None
        days = days if sooner is None else (sooner, *days)
        certain = any(n.confirmed or n.fact.odds >= asked.certain_odds for n in facts)
        return Starts(
            days=days,
            start_from=start,
            wanted=wanted,
            sure=certain and len(days) == 1 and facts != later,
            later=later[0] if later and facts != later else None,
            only_later=facts == later and bool(later),
            registered_sooner=sooner is not None,
        )
    return None


def purchases(dates: Dates) -> tuple[date, ...]:
    """Return the days on which the machine may have been bought by its first holder, earliest first."""
    facts = [n for n in dated(dates.machine, "purchase") if n.source not in dates.asked.later]
    return tuple(day for day, _ in possible_days(facts, "purchase"))


def possible_days(facts: Sequence[Noted], start: Start) -> tuple[tuple[date, Noted], ...]:
    """Return the days that facts of one kind allow, earliest first.

    Purchase dates that differ are all possible. A machine is registered once, and each upgrade bought later again:
    of registration dates only the earliest is the machine's (common practice, no source), in all its readings.
    """
    if start != "purchase" and facts:
        facts = [min(facts, key=lambda noted: (min(readings(noted)), noted.id))]
    days: dict[date, Noted] = {}
    for noted in facts:
        for day in readings(noted):
            days.setdefault(day, noted)
    return tuple(sorted(days.items(), key=lambda item: item[0]))


def readings(noted: Noted) -> tuple[date, ...]:
    """Return the days a date fact can mean; one only where a person confirmed it."""
    texts = (noted.fact.normal,) if noted.confirmed else noted.fact.readings or (noted.fact.normal,)
    days = (day_of(text) for text in texts)
    return tuple(day for day in days if day is not None and day.year <= _LAST_YEAR)


def later_sources(machine: MachineProfile, owners: Mapping[str, str | None]) -> frozenset[str]:
    """Return the messages of later holders, by which they came to the machine or that are filed to them.

    A purchase or registration date in them is that of a used machine; a maker's term counts from the first sale
    (common practice, no source).
    """
    later = {h.customer for h in machine.holders} - {h.customer for h in machine.holders[:1]}
    filed = {source for source, customer in owners.items() if customer in later}
    return frozenset(filed | {holding.source for holding in machine.holders if holding.customer in later})


def in_time(holders: tuple[Holding, ...]) -> tuple[Holding, ...]:
    """Sort holdings by their first day; as on record where one of these is not known."""
    if any(holding.since is None for holding in holders):
        return holders
    return tuple(sorted(holders, key=lambda holding: holding.since or ""))


def handover_of(machine: MachineProfile, holder: str | None = None) -> Handover | None:
    """Find when a holder parted with the machine; None where they still have it.

    Args:
        machine: the profile, its holders in order of time.
        holder: the customer; the first holder where left out.
    """
    if not machine.holders:
        return None
    own = [n for n, h in enumerate(machine.holders) if holder is None or h.customer == holder]
    if not own:
        return None
    first = machine.holders[own[0]]
    later = next((h for h in machine.holders[own[0] :] if h.customer != first.customer), None)
    if later is not None:
        since = day_of(later.since)
        return Handover(since - timedelta(days=1) if since is not None else day_of(first.until), later)
    return Handover(day_of(first.until), first) if first.until is not None else None


def holder_on(machine: MachineProfile, on: date) -> str | None:
    """Return the id of the customer who held the machine on a day, the first holder for days before any on record."""
    may = holdings_on(machine, on)
    held = may[-1].customer if may else None
    if held is None and machine.holders:
        first = day_of(machine.holders[0].since)
        return machine.holders[0].customer if first is not None and on < first else machine.holder
    return held


def holdings_on(machine: MachineProfile, on: date) -> tuple[Holding, ...]:
    """Return who may have held the machine on a day: of several customers where their days are not on record."""
    days = [(holding, day_of(holding.since), day_of(holding.until)) for holding in machine.holders]
    return tuple(h for h, since, until in days if (since is None or since <= on) and (until is None or on < until))


def day_of(text: str | None) -> date | None:
    """Read the day of an ISO 8601 text as it is written there, whatever its time zone; None where there is none."""
    try:
        return date.fromisoformat((text or "")[:10])
    except ValueError:
        return None


def dated(machine: MachineProfile, start: Start) -> tuple[Noted, ...]:
    """Return the facts a start may be read from: the one a person confirmed last, else all that were chosen."""
    facts = [n for n in machine.facts if n.fact.kind is _KIND_OF[start] and readings(n)]
    if start == "activation":
        activated = _activating(machine)
        facts = [n for n in facts if n.source in activated]
    confirmed = [n for n in facts if n.confirmed]
    if confirmed:
        return (max(confirmed, key=lambda n: (n.at, n.id)),)
    return tuple(n for n in facts if n.chosen)


def _activating(machine: MachineProfile) -> frozenset[str]:
    """Return the messages and entries that hold an activation code: what they date is the activation of an upgrade."""
    return frozenset(n.source for n in machine.facts if n.fact.kind is Kind.ACTIVATION_CODE)


def _registered_before(machine: MachineProfile, bought: date, later: frozenset[str]) -> tuple[date, Noted] | None:
    """Return a registration before the purchase: the purchase may then be that of an upgrade, not of the machine."""
    facts = [noted for noted in dated(machine, "registration") if noted.source not in later]
    found = possible_days(facts, "registration")
    return found[0] if found and all(day < bought for day, _ in found) else None


def _registration(machine: MachineProfile, later: frozenset[str]) -> Registration:
    facts = [noted for noted in dated(machine, "registration") if noted.source not in later]
    found = possible_days(facts, "registration")
    if not found:
        return Registration()
    noted = found[0][1]
    return Registration(tuple(day for day, _ in found), noted, noted.source in _activating(machine))
