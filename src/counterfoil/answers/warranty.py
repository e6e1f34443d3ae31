"""Is the machine still covered? Coverage terms applied to the dates on record, with the evidence shown.

How long a term runs is worked out in :mod:`counterfoil.answers.warranty_cover`, from which days in
:mod:`counterfoil.answers.warranty_dates`, how it is said in :mod:`counterfoil.answers.warranty_words`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING

from counterfoil.answers.coverage import Start, Term, fold, terms_for
from counterfoil.answers.provenance import KIND_WORDS, evidence_json, is_message, machine_hidden, origin
from counterfoil.answers.warranty_cover import Outcome, extended_only, for_part, outcomes_of
from counterfoil.answers.warranty_dates import Asked, Dates, dated, dates_of, holder_on, later_sources, starts_of
from counterfoil.answers.warranty_words import NO_DATE, Judged, doubts, extension_words, missing, why
from counterfoil.model import DATE_KINDS, Kind, MachineProfile, Noted
from counterfoil.records.extensions import Extension, extensions
from counterfoil.settings import Settings

if TYPE_CHECKING:
    from counterfoil.records.store import Store

STANDING_NOTE = "These are the shop's own records; whether the machine is covered is for the maker to decide."


@dataclass(frozen=True, slots=True)
class Cover:
    """Whether one part class is covered on the day asked for.

    ``covered`` is None where the records cannot tell. ``start`` and ``ends`` (last day covered, inclusive) belong to
    the shortest cover the records allow, ``latest_start`` and ``latest_ends`` to the longest; they differ only where
    the records do. ``assumed`` is True where the start stands in for another date, nobody confirmed it, or the length
    is not certain. ``days_left`` counts the days after the one asked for, 0 on the last day and once cover has ended,
    None where it cannot be told. ``rule`` is the term in words, ``noted`` the fact that proves the start, ``missing``
    what would make the answer surer, ``answers`` all that the records allow: more than one wherever ``assumed``.
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
    rule: str = ""
    noted: Noted | None = None
    missing: tuple[str, ...] = ()
    answers: tuple[Outcome, ...] = ()
    extensions: tuple[Extension, ...] = ()

    def to_json(self, on: date) -> dict[str, object]:
        """Return the answer for this part with the keys of the machine-readable contract, and those that came later."""
        return {
            "part": self.part,
            "covered": self.covered,
            "start": _iso(self.start),
            "start_from": self.start_from,
            "assumed": self.assumed,
            "ends": _iso(self.ends),
            "days_left": self.days_left,
            "why": self.why,
            "rule": self.rule,
            "proof": None if self.noted is None else evidence_json(self.noted),
            "missing": list(self.missing),
            "answers": [answer.to_json(on) for answer in self.answers],
            "extensions": [extension.id for extension in self.extensions],
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
            "coverage": [cover.to_json(self.on) for cover in self.coverage],
            "evidence": [evidence_json(noted) for noted in self.evidence],
            "note": self.note,
        }


def warranty(
    store: Store, terms: Sequence[Term], machine_id: str, on: date, settings: Settings | None = None
) -> WarrantyAnswer:
    """Tell what of a machine is covered on a day.

    Args:
        store: the records.
        terms: the coverage terms, from :func:`counterfoil.answers.coverage_file.load_terms`.
        machine_id: the machine's id, M7.
        on: the day asked for.
        settings: where given, its ``filing_odds`` say from when on a date counts as certain.

    Raises:
        RecordUnknown: there is no such machine.
    """
    machine = store.machine(machine_id)
    odds = (settings or Settings()).filing_odds
    return assess(machine, terms, on, odds, owners_of(store, machine), extensions(store, machine.id))


def owners_of(store: Store, machine: MachineProfile) -> dict[str, str | None]:
    """Return the customer that each message with a date of a machine is filed to; empty where it had one holder."""
    if len(machine.holders) < 2:
        return {}
    sources = {n.source for n in machine.facts if n.fact.kind in DATE_KINDS and is_message(n.source)}
    return {ref: store.message(ref).customer for ref in sorted(sources)}


def assess(
    machine: MachineProfile,
    terms: Iterable[Term],
    on: date,
    certain_odds: float = 4.6,
    owners: Mapping[str, str | None] = MappingProxyType({}),
    bought: Sequence[Extension] = (),
) -> WarrantyAnswer:
    """Apply coverage terms to a machine's profile; see :func:`warranty`.

    Args:
        machine: the profile.
        terms: the coverage terms.
        on: the day asked for.
        certain_odds: natural log-odds from which a date nobody confirmed counts as certain.
        owners: the customer that each message with a date is filed to.
        bought: the extensions bought for the machine.
    """
    dates = dates_of(machine_hidden(machine), Asked(on, certain_odds))
    dates = dates_of(dates.machine, Asked(on, certain_odds, later_sources(dates.machine, owners)))
    machine = dates.machine
    maker, model = machine.latest(Kind.MAKER), machine.latest(Kind.MODEL)
    held = terms_for(terms, *(None if n is None else n.fact.value for n in (maker, model)))
    covers = [_part(dates, part, candidates, for_part(bought, part)) for part, candidates in held.items()]
    covers += _beyond_terms(dates, held, bought)
    evidence = (
        tuple(n for n in (maker, model) if n is not None) + dated(machine, "purchase") + dated(machine, "registration")
    )
    note = STANDING_NOTE
    if not held:
        note = f"No coverage term in coverage.toml holds for this machine. {STANDING_NOTE}"
    return WarrantyAnswer(machine.id, holder_on(machine, on), on, tuple(covers), evidence, note)


def _part(dates: Dates, part: str, terms: tuple[Term, ...], bought: tuple[Extension, ...]) -> Cover:
    """Judge one part class; where maker or model are not on record, under every term that may hold."""
    machine = dates.machine
    certain = _sure_term(machine, terms[0])
    judged = [(_cover(dates, term, bought, certain and len(terms) == 1), term) for term in terms]
    # The shortest cover first, as with the answers of one term: no more than that is sure.
    judged.sort(key=lambda item: (item[0].ends or date.min, item[0].latest_ends or date.min))
    covers = [cover for cover, _ in judged]
    first = replace(covers[0], part=part)
    if certain and len(covers) == 1:
        return first
    longest = max(covers, key=lambda cover: cover.latest_ends or date.min)
    first = replace(first, latest_start=longest.latest_start, latest_ends=longest.latest_ends)
    absent = [KIND_WORDS[kind] for kind in (Kind.MAKER, Kind.MODEL) if machine.latest(kind) is None]
    doubt = f"The {' and '.join(absent)} of the machine is not on record, and the terms differ by it."
    every = [replace(a, because=f"{a.because} (term {t.number})") for c, t in judged for a in c.answers]
    first = replace(first, assumed=True, answers=tuple(every))
    if not certain or len({cover.covered for cover in covers}) > 1:
        return replace(first, covered=None, days_left=None, why=f"{doubt} {first.why}")
    return replace(first, why=f"{first.why} {doubt}")


def _sure_term(machine: MachineProfile, term: Term) -> bool:
    return not (term.maker and machine.latest(Kind.MAKER) is None) and not (
        term.model and machine.latest(Kind.MODEL) is None
    )


def _cover(dates: Dates, term: Term, bought: tuple[Extension, ...], certain: bool) -> Cover:
    """Judge one part class under one term, from every start and over every length the records allow."""
    on = dates.asked.on
    starts = starts_of(dates, term.start)
    if starts is None:
        return _undated(dates, term, bought, certain)
    outcomes, lengths = outcomes_of(term, starts, dates, bought)
    told = {outcome.covered for outcome in outcomes}
    covered = told.pop() if len(told) == 1 else None
    handover = dates.handover if term.first_holder else None
    if covered and (starts.only_later or (handover is not None and handover.last_day is None)):
        covered = None
    judged = Judged(term, starts, dates, outcomes, lengths, bought, covered)
    first, last = outcomes[0], outcomes[-1]
    return Cover(
        part=term.part,
        covered=covered,
        start=first.start,
        start_from=starts.first_from,
        assumed=starts.stands_in or not starts.sure or any(not length.sure for length in lengths),
        ends=first.ends,
        days_left=None if covered is None else first.days_left(on),
        why=why(judged),
        latest_start=last.start,
        latest_ends=last.ends,
        rule=term.words,
        noted=starts.days[0][1],
        missing=tuple(missing(judged, dates, term, certain)),
        answers=(*outcomes, *doubts(judged)),
        extensions=bought,
    )


def _undated(dates: Dates, term: Term, bought: tuple[Extension, ...], certain: bool) -> Cover:
    """Judge a part class of a machine without any date: an extension with a first day of its own may hold."""
    only = extended_only(dates, bought)
    absent = tuple(missing(None, dates, term, certain))
    blank = Cover(term.part, None, None, None, False, None, None, NO_DATE, rule=term.words, missing=absent)
    if only is None or not only.covered:
        return replace(blank, extensions=bought)
    said = (
        f"Covered up to and including {only.ends} by an extension: {'; '.join(map(extension_words, bought))}. {NO_DATE}"
    )
    left = only.days_left(dates.asked.on)
    return replace(
        blank, covered=True, start=only.start, ends=only.ends, days_left=left, why=said, latest_start=only.start,
        latest_ends=only.ends, answers=(only,), extensions=bought,
    )  # fmt: skip


def _beyond_terms(dates: Dates, held: Mapping[str, object], bought: Sequence[Extension]) -> list[Cover]:
    """Judge extensions for parts that no term names."""
    known = {fold(part) for part in held}
    parts = {fold(part): part for e in bought for part in e.parts if fold(part) not in known}
    covers = []
    for part in parts.values():
        own = for_part(bought, part)
        only = extended_only(dates, own)
        rule = "; ".join(map(extension_words, own))
        if only is None:
            said = f"The extension follows a term, and no term for this part holds for the machine: {rule}."
            covers.append(Cover(part, None, None, None, False, None, None, said, rule=f"{rule}.", extensions=own))
            continue
        state = "Covered up to and including" if only.covered else "Not covered by the extension, which ends on"
        left = only.days_left(dates.asked.on)
        said = f"{state} {only.ends}: {rule}."
        covers.append(
            Cover(part, only.covered, only.start, None, False, only.ends, left, said, only.start, only.ends,
                  f"{rule}.", None, (), (only,), own)
        )  # fmt: skip
    return covers


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


__all__ = ["STANDING_NOTE", "Cover", "WarrantyAnswer", "assess", "holder_on", "origin", "warranty"]
