"""The worked examples of a coverage file, run: an invented machine each, whose answer must be the one written down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from counterfoil.answers.coverage import Term, fold
from counterfoil.answers.coverage_file import CoverageFile, Example
from counterfoil.answers.warranty import Cover, assess
from counterfoil.model import Fact, Holding, Kind, MachineProfile, Noted, Place

_MACHINE = "M1"
_FIRST, _SECOND = "C1", "C2"
#: Odds of a date that leaves no doubt.
_CERTAIN = 20.0


@dataclass(frozen=True, slots=True)
class Miss:
    """An example whose answer is another one: which, on which line, and what came out instead."""

    number: int
    line: int
    said: str


def run_examples(read: CoverageFile) -> list[Miss]:
    """Return the examples of a coverage file that do not come out as written; none where all do."""
    return [miss for example in read.examples if (miss := _miss(example, read.terms)) is not None]


def _miss(example: Example, terms: Sequence[Term]) -> Miss | None:
    covers = [c for c in assess(_machine(example), terms, example.on).coverage if fold(c.part) == fold(example.part)]
    if not covers:
        return Miss(example.number, example.line, f"no term for the part {example.part!r} holds for this machine.")
    cover = covers[0]
    wrong = []
    if cover.covered is not example.covered:
        wrong.append(f"covered is {_told(cover.covered)}, not {_told(example.covered)}")
    if example.last_day is not None and example.last_day not in _last_days(cover):
        days = " or ".join(str(day) for day in _last_days(cover)) or "not known"
        wrong.append(f"the last day is {days}, not {example.last_day}")
    said = f"{' and '.join(wrong)}. {cover.why}"
    return Miss(example.number, example.line, said[:1].upper() + said[1:]) if wrong else None


def _last_days(cover: Cover) -> list[object]:
    return list(dict.fromkeys(day for day in (cover.ends, cover.latest_ends) if day is not None))


def _told(covered: bool | None) -> str:
    return {True: "true", False: "false", None: '"unknown"'}[covered]


def _machine(example: Example) -> MachineProfile:
    """Make the machine that an example describes; each date comes from a message of its own."""
    facts: list[Noted] = []

    def add(kind: Kind, value: str | None, source: str) -> None:
        if value is not None:
            fact = Fact(kind, value, value, Place("pdf:example.pdf", 1), "example", odds=_CERTAIN)
            facts.append(Noted(fact, source, f"{example.on}T00:00:00+00:00", len(facts) + 1))

    days = {key: day.isoformat() for key, day in example.days.items()}
    add(Kind.MAKER, example.maker, "E1")
    add(Kind.MODEL, example.model, "E1")
    add(Kind.PURCHASE_DATE, days.get("purchase"), "E1")
    add(Kind.REGISTRATION_DATE, days.get("registration"), "E2")
    add(Kind.REGISTRATION_DATE, days.get("activation"), "E3")
    if "activation" in days:
        add(Kind.ACTIVATION_CODE, "example", "E3")
    if example.invoice:
        add(Kind.INVOICE_NUMBER, "example", "E1")
    changed = example.days.get("changed_hands")
    since = min(example.days.values(), default=example.on)
    if changed is not None and since == changed:
        since = changed - timedelta(days=1)
    holders = [Holding(_FIRST, _MACHINE, since.isoformat(), changed.isoformat() if changed else None, "E1")]
    if changed is not None:
        holders.append(Holding(_SECOND, _MACHINE, changed.isoformat(), None, "E4"))
    return MachineProfile(_MACHINE, tuple(facts), (), (), tuple(holders), ("E1", "E2", "E3", "E4"))
