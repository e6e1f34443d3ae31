"""The sentences of a warranty answer: what holds and from what, what is doubtful, what is missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from counterfoil.answers.coverage import PROOF_WORDS, Proof, Start, Term, length_words
from counterfoil.answers.durations import add_to_date
from counterfoil.answers.provenance import KIND_WORDS, is_message, origin
from counterfoil.answers.warranty_cover import Length, Outcome, covered_apart
from counterfoil.answers.warranty_dates import Dates, Starts
from counterfoil.model import Kind, Noted
from counterfoil.records.extensions import Extension

NO_DATE = "Neither a purchase date nor a registration date is on record."
CANNOT_TELL = "Whether it is covered cannot be told from these records: compare them with the invoice."


@dataclass(frozen=True, slots=True)
class Judged:
    """What was worked out for one part class under one term, for the sentences."""

    term: Term
    starts: Starts
    dates: Dates
    outcomes: tuple[Outcome, ...]
    lengths: tuple[Length, ...]
    extensions: tuple[Extension, ...]
    covered: bool | None


def why(judged: Judged) -> str:
    """Put the judgement into sentences: what holds, from what, and what is doubtful about it."""
    starts, term = judged.starts, judged.term
    said = [*_verdict(judged), *_length(judged)]
    handover = judged.dates.handover if term.first_holder else None
    if handover is not None:
        last = handover.last_day
        when = f"after {last}" if last is not None else "on a day that is not on record"
        said.append(
            f"The term is for the first holder only; the machine changed hands {when} ({handover.holding.source})."
        )
    if starts.stands_in:
        said.append(f"The {starts.start_from} date stands in: no {starts.wanted} date is on record.")
    if starts.later is not None:
        said.append(f"The date {starts.later.fact.normal} is a later holder's ({origin(starts.later)}): not used.")
    if starts.only_later:
        said.append("The only date on record is a later holder's: the machine was sold first on an earlier day.")
    elif not starts.sure and len(starts.days) == 1 and not starts.stands_in:
        said.append("Nobody confirmed this date, and it was read without certainty.")
    if judged.covered is None:
        said.append(CANNOT_TELL)
    return " ".join([*said, term.note] if term.note else said)


def extension_words(extension: Extension) -> str:
    """Say what an extension adds, for example ``2 years more by the extension J12, number X-204``."""
    said = f"{length_words(extension.months)} more by the extension {extension.id}"
    said += f", number {extension.number}" if extension.number else ""
    said += f", from {extension.since}" if extension.since is not None else ""
    return said + (", as long as its buyer has the machine" if extension.with_buyer else "")


def answer_words(outcome: Outcome) -> str:
    """Say one of several answers in a sentence."""
    state = {True: "Covered", False: "Not covered", None: "Cannot be told"}[outcome.covered]
    day = f", last day {outcome.ends}" if outcome.ends else ""
    return f"{state}{day}: {outcome.because}."


def missing(judged: Judged | None, dates: Dates, term: Term, certain: bool) -> Iterator[str]:
    """Say what would make an answer surer, each as a sentence.

    Args:
        judged: what was worked out, None where no date is on record.
        dates: the machine's dates.
        term: the term.
        certain: whether the term itself is certain: maker and model are on record, or do not matter.
    """
    machine = dates.machine
    if not certain:
        absent = [KIND_WORDS[kind] for kind in (Kind.MAKER, Kind.MODEL) if machine.latest(kind) is None]
        yield f"The {' and '.join(absent)} of the machine."
    starts = None if judged is None else judged.starts
    if starts is None or starts.stands_in or starts.only_later:
        yield _wanted(term.start)
    elif not starts.sure:
        yield "A person's word which of the dates is right: settle it from the invoice."
    if judged is not None and any(not length.sure for length in judged.lengths):
        yield f"Proof of a registration within {term.register_days} days of the purchase."
    handover = dates.handover if term.first_holder else None
    if handover is not None and handover.last_day is None:
        yield "The day on which the machine changed hands."
    if starts is not None and term.proof and not proven(dates, term.proof, starts.days[0][1]):
        yield f"The proof that the term asks for: {' or '.join(PROOF_WORDS[proof] for proof in term.proof)}."


def proven(dates: Dates, proofs: Sequence[Proof], start: Noted) -> bool:
    """Tell whether the records hold one of the proofs a term asks for; a former or later holder's counts as well."""
    kinds = {n.fact.kind for n in dates.machine.facts if n.chosen or n.confirmed}
    held: dict[Proof, bool] = {
        "invoice": Kind.INVOICE_NUMBER in kinds,
        "registration": Kind.REGISTRATION_DATE in kinds,
        "confirmation": is_message(start.source),
        "pdf": is_message(start.source) and start.fact.place.document.startswith("pdf:"),
    }
    return any(held[proof] for proof in proofs)


def doubts(judged: Judged) -> Iterator[Outcome]:
    """Yield the answers that hang on what is not on record: what holds if the assumed date is not the right one."""
    starts, on = judged.starts, judged.dates.asked.on
    handover = judged.dates.handover if judged.term.first_holder else None
    if handover is not None and handover.last_day is None:
        yield Outcome(
            None, None, None, "the machine changed hands on a day that is not on record: cover ended that day"
        )
    if starts.only_later:
        yield Outcome(None, None, None, "the first sale was earlier: cover ends earlier by as much")
    elif starts.stands_in and starts.wanted == "purchase":
        # Over the longest length that may hold, and what extensions add: cover has then ended whichever holds.
        months = max(length.months for length in judged.lengths)
        months += sum(extension.months for extension in judged.extensions if extension.since is None)
        limit = _latest_start_ended(on, months)
        if covered_apart(judged.dates, judged.extensions):
            return
        if judged.covered is not False and limit is not None:
            yield Outcome(None, None, None, f"if it was bought on {limit} or before, cover has ended")
        elif on < starts.days[0][0]:
            yield Outcome(None, None, None, "if it was bought by that day, cover had begun")
    elif starts.stands_in:
        yield Outcome(None, None, None, f"with a {starts.wanted} on another day the last day moves with it")
    elif not starts.sure and len(starts.days) == 1:
        yield Outcome(None, None, None, "if the date was misread, it cannot be told")


def _latest_start_ended(on: date, months: int) -> date | None:
    """Return the latest start from which a term has ended before a day."""
    if not months:
        return None
    try:
        day = add_to_date(on, months=-months) + timedelta(days=3)
        while add_to_date(day, months=months) >= on:
            day -= timedelta(days=1)
    except OverflowError:
        return None
    return day


def _wanted(start: Start) -> str:
    return {
        "purchase": "The purchase date: an invoice or a till receipt of the first sale.",
        "registration": "The registration date: the maker's confirmation of the registration.",
        "activation": "The first activation: a confirmation that holds an activation code.",
    }[start]


def _verdict(judged: Judged) -> Iterator[str]:
    """Say what holds on the day asked for, and from what."""
    starts, outcomes, on = judged.starts, judged.outcomes, judged.dates.asked.on
    start, noted = starts.days[0]
    length = judged.lengths[0].months
    basis = f"{length_words(length) or 'no cover'} from the {starts.first_from} on {start} ({origin(noted)})"
    for extension in judged.extensions:
        basis += f", {extension_words(extension)}"
    ends = [outcome.ends for outcome in outcomes]
    if len(starts.days) > 1:
        kind = "date" if starts.registered_sooner else f"{starts.start_from} date"
        other = f"{starts.days[-1][0]} ({origin(starts.days[-1][1])})"
        yield f"The records allow more than one {kind}: earliest {start} ({origin(noted)}), latest {other}."
        if starts.registered_sooner:
            yield "The machine was registered before that purchase, which may be that of an upgrade."
    if len(outcomes) > 1:
        lead = f"With {length_words(length)} cover" if len(judged.lengths) == 1 and length else "Cover"
        first, last = ends[0], ends[-1]
        early = "there is none by the shorter rule" if first is None else f"ends on {first} at the earliest"
        yield f"{lead} {early} and on {last} at the latest."
        return
    outcome = outcomes[0]
    handover = judged.dates.handover if judged.term.first_holder else None
    if outcome.ends is None or outcome.start is None:
        yield f"There is no cover: {basis}."
    elif on < outcome.start:
        yield f"Cover starts only on {outcome.start}: {basis}."
    elif handover is not None and outcome.ends == handover.last_day:
        yield f"Cover ended with the first holder on {outcome.ends}; else it would have been {basis}."
    elif on <= outcome.ends:
        yield f"Covered up to and including {outcome.ends}: {basis}."
    else:
        yield f"Cover ended on {outcome.ends}: {basis}."


def _length(judged: Judged) -> Iterator[str]:
    """Say why the length holds, where the term knows two."""
    for text in dict.fromkeys(length.because for length in judged.lengths if length.because):
        unsure = any(not length.sure for length in judged.lengths)
        yield f"Two lengths are possible: {text}." if unsure else f"{text[:1].upper()}{text[1:]}."
