"""Is the machine still covered? Coverage terms applied to the dates on record, with the evidence shown.

How the last day is told: a term of two years from 15 January 2024 covers up to and including 15 January 2026, a
term from 31 August over six months up to the end of February. That the day with the start's own number still
counts is common practice, no source; the arithmetic is that of :mod:`counterfoil.answers.durations`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from types import MappingProxyType
from typing import TYPE_CHECKING

from counterfoil.answers.coverage import Start, Term, terms_for
from counterfoil.answers.durations import add_to_date
from counterfoil.answers.provenance import KIND_WORDS, evidence_json, is_message, origin
from counterfoil.model import DATE_KINDS, Holding, Kind, MachineProfile, Noted
from counterfoil.settings import Settings

if TYPE_CHECKING:
    from counterfoil.records.store import Store

STANDING_NOTE = "These are the shop's own records; whether the machine is covered is for the maker to decide."

_KIND_OF: dict[Start, Kind] = {"purchase": Kind.PURCHASE_DATE, "registration": Kind.REGISTRATION_DATE}
_OTHER: dict[Start, Start] = {"purchase": "registration", "registration": "purchase"}
#: Dates beyond this year are misreadings; it also keeps every sum inside the calendar.
_LAST_YEAR = 9000


@dataclass(frozen=True, slots=True)
class Cover:
    """Whether one part class is covered on the day asked for.

    ``covered`` is None where the records cannot tell. ``start`` and ``ends`` (last day covered, inclusive; common
    practice, no source) belong to the earliest start on record, ``latest_start`` and ``latest_ends`` to the latest;
    they differ only where the records do. ``assumed`` is True where the start stands in for another date or
    nobody confirmed it. ``days_left`` counts the days after the one asked for, 0 on the last day and once cover
    has ended, None where it cannot be told.
    """

    part: str
    covered: bool | None
    start: date | None
    start_from: Start | None
    assumed: bool
    ends: date | None
    days_left: int | None
    why: str
    latest_start: date | None = None
    latest_ends: date | None = None

    def to_json(self) -> dict[str, object]:
        """Return the answer for this part with the keys of the machine-readable contract."""
        return {
            "part": self.part,
            "covered": self.covered,
            "start": _iso(self.start),
            "start_from": self.start_from,
            "assumed": self.assumed,
            "ends": _iso(self.ends),
            "days_left": self.days_left,
            "why": self.why,
        }


@dataclass(frozen=True, slots=True)
class WarrantyAnswer:
    """Coverage of one machine on one day, each part class, with the facts it rests on.

    ``customer`` is who held the machine on that day, ``note`` a sentence that belongs under every such answer.
    """

    machine: str
    customer: str | None
    on: date
    coverage: tuple[Cover, ...]
    evidence: tuple[Noted, ...] = ()
    note: str = STANDING_NOTE

    def to_json(self) -> dict[str, object]:
        """Return the answer as the machine-readable contract has it, with evidence and note."""
        return {
            "machine": self.machine,
            "customer": self.customer,
            "on": self.on.isoformat(),
            "coverage": [cover.to_json() for cover in self.coverage],
            "evidence": [evidence_json(noted) for noted in self.evidence],
            "note": self.note,
        }


@dataclass(frozen=True, slots=True)
class _Starts:
    """The days from which a term may run, earliest first, each with the fact it was read from.

    ``later`` is a date that a later holder brought and that starts no term; ``only_later`` is True where there is
    no other. ``registered_sooner`` is True where the first of the days is a registration before any purchase.
    """

    days: tuple[tuple[date, Noted], ...]
    start_from: Start
    stands_in: bool
    sure: bool
    later: Noted | None = None
    only_later: bool = False
    registered_sooner: bool = False


#: The day asked for, the odds of certainty, and the messages of later holders.
_Asked = tuple[date, float, frozenset[str]]


@dataclass(frozen=True, slots=True)
class _Handover:
    """The first change of hands: the last day of the first holder, None where it is not on record."""

    last_day: date | None
    holding: Holding


def warranty(
    store: Store, terms: Sequence[Term], machine_id: str, on: date, settings: Settings | None = None
) -> WarrantyAnswer:
    """Tell what of a machine is covered on a day.

    Args:
        store: the records.
        terms: the coverage terms, from :func:`counterfoil.answers.coverage.load_terms`.
        machine_id: the machine's id, M7.
        on: the day asked for.
        settings: where given, its ``filing_odds`` say from when on a date counts as certain.

    Raises:
        RecordUnknown: there is no such machine.
    """
    machine = store.machine(machine_id)
    dated = {n.source for n in machine.facts if n.fact.kind in DATE_KINDS and is_message(n.source)}
    owners = {ref: store.message(ref).customer for ref in dated}
    return assess(machine, terms, on, (settings or Settings()).filing_odds, owners)


def assess(
    machine: MachineProfile,
    terms: Iterable[Term],
    on: date,
    certain_odds: float = 4.6,
    owners: Mapping[str, str | None] = MappingProxyType({}),
) -> WarrantyAnswer:
    """Apply coverage terms to a machine's profile; see :func:`warranty`.

    Args:
        machine: the profile.
        terms: the coverage terms.
        on: the day asked for.
        certain_odds: natural log-odds from which a date nobody confirmed counts as certain.
        owners: the customer that each message with a date is filed to.
    """
    machine = replace(machine, holders=_in_time(machine.holders))
    later = _later_sources(machine, owners)
    maker, model = machine.latest(Kind.MAKER), machine.latest(Kind.MODEL)
    held = terms_for(terms, *(None if n is None else n.fact.value for n in (maker, model)))
    covers = tuple(_part(machine, part, candidates, (on, certain_odds, later)) for part, candidates in held.items())
    dates = [n for kind in (Kind.PURCHASE_DATE, Kind.REGISTRATION_DATE) for n in _dated(machine, kind)]
    evidence = tuple(n for n in (maker, model) if n is not None) + tuple(dates)
    note = STANDING_NOTE
    if not covers:
        note = f"No coverage term in coverage.toml holds for this machine. {STANDING_NOTE}"
    return WarrantyAnswer(machine.id, holder_on(machine, on), on, covers, evidence, note)


def holder_on(machine: MachineProfile, on: date) -> str | None:
    """Return the id of the customer who held the machine on a day, the first holder for days before any on record."""
    held: str | None = None
    for holding in machine.holders:
        since, until = _day(holding.since), _day(holding.until)
        if (since is None or since <= on) and (until is None or on < until):
            held = holding.customer
    if held is None and machine.holders:
        first = _day(machine.holders[0].since)
        return machine.holders[0].customer if first is not None and on < first else machine.holder
    return held


def _part(machine: MachineProfile, part: str, terms: tuple[Term, ...], asked: _Asked) -> Cover:
    """Judge one part class; where maker or model are not on record, under every term that may hold."""
    covers = [_cover(machine, term, asked) for term in terms]
    first = replace(covers[0], part=part)
    if _sure_term(machine, terms[0]) and len(covers) == 1:
        return first
    missing = [KIND_WORDS[kind] for kind in (Kind.MAKER, Kind.MODEL) if machine.latest(kind) is None]
    doubt = f"The {' and '.join(missing)} of the machine is not on record, and the terms differ by it."
    if not _sure_term(machine, terms[0]) or len({cover.covered for cover in covers}) > 1:
        return replace(first, covered=None, days_left=None, assumed=True, why=f"{doubt} {first.why}")
    return replace(first, assumed=True, why=f"{first.why} {doubt}")


def _sure_term(machine: MachineProfile, term: Term) -> bool:
    return not (term.maker and machine.latest(Kind.MAKER) is None) and not (
        term.model and machine.latest(Kind.MODEL) is None
    )


def _cover(machine: MachineProfile, term: Term, asked: _Asked) -> Cover:
    """Judge one part class under one term, from every start the records allow."""
    on = asked[0]
    starts = _starts(machine, term.start, asked)
    if starts is None:
        why = "Neither a purchase date nor a registration date is on record."
        return Cover(term.part, None, None, None, False, None, None, why)
    handover = _handover(machine) if term.first_holder else None
    spans = [(day, _last_day(day, term, handover)) for day, _ in starts.days]
    told = {day <= on <= last for day, last in spans}
    covered = told.pop() if len(told) == 1 else None
    if covered and (starts.only_later or (handover is not None and handover.last_day is None)):
        covered = None
    start, ends = spans[0]
    days_left = None if covered is None else max(0, (ends - on).days) if covered else 0
    return Cover(
        part=term.part,
        covered=covered,
        start=start,
        start_from="registration" if starts.registered_sooner else starts.start_from,
        assumed=starts.stands_in or not starts.sure,
        ends=ends,
        days_left=days_left,
        why=_why(term, starts, spans, on, covered, handover),
        latest_start=spans[-1][0],
        latest_ends=spans[-1][1],
    )


def _last_day(start: date, term: Term, handover: _Handover | None) -> date:
    full = add_to_date(start, months=term.months)
    if handover is None or handover.last_day is None:
        return full
    return min(full, handover.last_day)


def _starts(machine: MachineProfile, wanted: Start, asked: _Asked) -> _Starts | None:
    """Find the days a term may run from: those of the kind it asks for, else those of the other kind."""
    _, certain_odds, later_sources = asked
    for start in (wanted, _OTHER[wanted]):
        noted_here = _dated(machine, _KIND_OF[start])
        later = [noted for noted in noted_here if noted.source in later_sources]
        facts = [noted for noted in noted_here if noted not in later] or later
        days = _possible(facts, start)
        if days:
            sooner = _registered_before(machine, days[0][0], later_sources) if start == "purchase" else None
            if sooner is not None:
                days = (sooner, *days)
            certain = any(n.confirmed or n.fact.odds >= certain_odds for n in facts)
            return _Starts(
                days=days,
                start_from=start,
                stands_in=start != wanted,
                sure=certain and len(days) == 1 and facts != later,
                later=later[0] if later and facts != later else None,
                only_later=facts == later and bool(later),
                registered_sooner=sooner is not None,
            )
    return None


def _possible(facts: Sequence[Noted], start: Start) -> tuple[tuple[date, Noted], ...]:
    """Return the days that facts of one kind allow, earliest first.

    Purchase dates that differ are all possible. A machine is registered once, and each upgrade bought later again:
    of registration dates only the earliest is the machine's (common practice, no source), in all its readings.
    """
    if start == "registration" and facts:
        facts = [min(facts, key=lambda noted: (min(_readings(noted)), noted.id))]
    days: dict[date, Noted] = {}
    for noted in facts:
        for day in _readings(noted):
            days.setdefault(day, noted)
    return tuple(sorted(days.items(), key=lambda item: item[0]))


def _registered_before(machine: MachineProfile, bought: date, later: frozenset[str]) -> tuple[date, Noted] | None:
    """Return a registration before the purchase: the purchase may then be that of an upgrade, not of the machine."""
    facts = [noted for noted in _dated(machine, Kind.REGISTRATION_DATE) if noted.source not in later]
    found = _possible(facts, "registration")
    return found[0] if found and all(day < bought for day, _ in found) else None


def _later_sources(machine: MachineProfile, owners: Mapping[str, str | None]) -> frozenset[str]:
    """Return the messages of later holders, by which they came to the machine or that are filed to them.

    A purchase or registration date in them is that of a used machine; a maker's term counts from the first sale
    (common practice, no source).
    """
    later = {h.customer for h in machine.holders} - {h.customer for h in machine.holders[:1]}
    filed = {source for source, customer in owners.items() if customer in later}
    return frozenset(filed | {holding.source for holding in machine.holders if holding.customer in later})


def _in_time(holders: tuple[Holding, ...]) -> tuple[Holding, ...]:
    """Sort holdings by their first day; as on record where one of these is not known."""
    if any(holding.since is None for holding in holders):
        return holders
    return tuple(sorted(holders, key=lambda holding: holding.since or ""))


def _dated(machine: MachineProfile, kind: Kind) -> tuple[Noted, ...]:
    """Return the facts a start may be read from: the one a person confirmed last, else all that were chosen."""
    facts = [n for n in machine.facts if n.fact.kind is kind and _readings(n)]
    confirmed = [n for n in facts if n.confirmed]
    if confirmed:
        return (max(confirmed, key=lambda n: (n.at, n.id)),)
    return tuple(n for n in facts if n.chosen)


def _readings(noted: Noted) -> tuple[date, ...]:
    """Return the days a date fact can mean; one only where a person confirmed it."""
    texts = (noted.fact.normal,) if noted.confirmed else noted.fact.readings or (noted.fact.normal,)
    days = (_day(text) for text in texts)
    return tuple(day for day in days if day is not None and day.year <= _LAST_YEAR)


def _handover(machine: MachineProfile) -> _Handover | None:
    """Find the first change of hands; None where the first holder still has the machine."""
    if not machine.holders:
        return None
    first = machine.holders[0]
    later = next((h for h in machine.holders if h.customer != first.customer), None)
    if later is not None:
        since = _day(later.since)
        return _Handover(since - timedelta(days=1) if since is not None else _day(first.until), later)
    return _Handover(_day(first.until), first) if first.until is not None else None


def _why(
    term: Term,
    starts: _Starts,
    spans: Sequence[tuple[date, date]],
    on: date,
    covered: bool | None,
    handover: _Handover | None,
) -> str:
    """Put the judgement into sentences: what holds, from what, and what is doubtful about it."""
    (start, ends), (latest, latest_ends) = spans[0], spans[-1]
    noted = starts.days[0][1]
    basis = f"{term.length} from the {starts.start_from} on {start} ({origin(noted)})"
    cut = handover is not None and handover.last_day is not None and ends == handover.last_day
    said: list[str] = []
    if len(spans) > 1:
        kind = "date" if starts.registered_sooner else KIND_WORDS[_KIND_OF[starts.start_from]]
        other = f"{latest} ({origin(starts.days[-1][1])})"
        said.append(f"The records allow more than one {kind}: earliest {start} ({origin(noted)}), latest {other}.")
        if starts.registered_sooner:
            said.append("The machine was registered before that purchase, which may be that of an upgrade.")
        said.append(f"With {term.length} cover ends on {ends} at the earliest and on {latest_ends} at the latest.")
    elif on < start:
        said.append(f"Cover starts only on {start}: {basis}.")
    elif cut:
        said.append(f"Cover ended with the first holder on {ends}; else it would have been {basis}.")
    elif on <= ends:
        said.append(f"Covered up to and including {ends}: {basis}.")
    else:
        said.append(f"Cover ended on {ends}: {basis}.")
    if handover is not None:
        last = handover.last_day
        when = f"after {last}" if last is not None else "on a day that is not on record"
        said.append(
            f"The term is for the first holder only; the machine changed hands {when} ({handover.holding.source})."
        )
    if starts.stands_in:
        said.append(f"The {starts.start_from} date stands in: no {_OTHER[starts.start_from]} date is on record.")
    if starts.later is not None:
        said.append(f"The date {starts.later.fact.normal} is a later holder's ({origin(starts.later)}): not used.")
    if starts.only_later:
        said.append("The only date on record is a later holder's: the machine was sold first on an earlier day.")
    elif not starts.sure and len(spans) == 1 and not starts.stands_in:
        said.append("Nobody confirmed this date, and it was read without certainty.")
    if covered is None:
        said.append("Whether it is covered cannot be told from these records: compare them with the invoice.")
    return " ".join([*said, term.note] if term.note else said)


def _day(text: str | None) -> date | None:
    """Read the date part of an ISO 8601 text, None where there is none."""
    try:
        return date.fromisoformat((text or "")[:10])
    except ValueError:
        return None


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
