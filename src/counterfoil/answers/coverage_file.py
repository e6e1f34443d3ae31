"""Reads coverage.toml: terms, and worked examples that prove them. Every fault is named with its line and its reason.

[[term]]
maker = "Name"               # left out: every maker
model = "Model"              # left out: every model
part = "electronics"         # the part class, in the shop's own words
years = 2                    # years and months, added once, from the start
months = 0
start = "purchase"           # or "registration", or "activation": the earliest confirmation of an activation
holder = "any"               # stays with the machine; or "first": ends when it changes hands
register_within_days = 30    # registered so soon after the purchase, or the shorter term:
else_years = 1               # both left out: no cover at all
else_months = 0
proof = ["invoice"]          # what proves the start date, any one: invoice, confirmation, pdf, registration
note = "A sentence for the desk."

[[example]]
maker = "Name"
model = "Model"
part = "electronics"
purchase = 2024-02-29        # also registration, activation, changed_hands: days, each may be left out
invoice = true               # an invoice number is on record
on = 2025-06-01
covered = true               # or false, or "unknown"
last_day = 2026-02-28        # may be left out
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any, get_args

from counterfoil.answers.coverage import Proof, Start, Term, fold
from counterfoil.answers.toml_lines import Lines
from counterfoil.errors import SettingsFaulty

#: Longest term taken for meant; 1,200 months is a slip of the pen.
LONGEST_MONTHS = 600
#: Longest time to register taken for meant, in days.
LONGEST_REGISTER_DAYS = 3_660
#: Faults that one message lists; the rest are counted.
_SHOWN_FAULTS = 5

_WHOLE = "a whole number"
_TEXT = "text"
_DAY = "a day such as 2026-11-25"


@dataclass(frozen=True, slots=True)
class Example:
    """A worked example: what is on record of an invented machine, and what the answer for one part class must be.

    ``covered`` is None where the records must not tell; ``last_day`` None: not asked for. ``number`` is its place
    among the examples, from 1; ``line`` where it begins, 0 where that cannot be told.
    """

    part: str
    on: date
    covered: bool | None
    last_day: date | None = None
    maker: str | None = None
    model: str | None = None
    days: Mapping[str, date] = field(default_factory=dict)
    invoice: bool = False
    number: int = 0
    line: int = 0


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong, in a sentence, and on which line; 0 where the line cannot be told."""

    line: int
    said: str


@dataclass(frozen=True, slots=True)
class CoverageFile:
    """A coverage file as read: its good terms and examples, and every fault, by line."""

    path: Path
    terms: tuple[Term, ...] = ()
    examples: tuple[Example, ...] = ()
    faults: tuple[Fault, ...] = ()


def load_terms(path: Path) -> tuple[Term, ...]:
    """Read the coverage terms of an archive.

    Args:
        path: the file, coverage.toml; where there is none, there are no terms.

    Returns:
        The terms in the order of the file.

    Raises:
        SettingsFaulty: the file is not TOML, or something in it is wrong; names the file, the lines and what is wrong.
    """
    read = read_coverage(path)
    if read.faults:
        said = [f"line {f.line}, {f.said}" if f.line else f.said for f in read.faults[:_SHOWN_FAULTS]]
        more = len(read.faults) - len(said)
        rest = f" And {more} more." if more else ""
        raise SettingsFaulty(
            f"{path}: {' '.join(said)}{rest}", "Mend the file named, then run `counterfoil coverage check`."
        )
    return read.terms


def read_coverage(path: Path) -> CoverageFile:
    """Read a coverage file and collect all that is wrong with it.

    Raises:
        SettingsFaulty: the file cannot be opened or is not TOML.
    """
    if not path.exists():
        return CoverageFile(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
        raw = tomllib.loads(text)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingsFaulty(f"{path} cannot be read: {error}.") from error
    lines = Lines(text)
    faults: list[Fault] = []
    for name in raw:
        if name not in ("term", "example"):
            said = f"`{name}` is not known there; every term stands under [[term]], every example under [[example]]."
            faults.append(Fault(lines.of_name(name), said))
    terms = [_term(row) for row in _rows(raw, "term", lines, faults)]
    good = [term for term in terms if term is not None]
    examples = [_example(row) for row in _rows(raw, "example", lines, faults)]
    faults += _doubles(good, lines)
    faults.sort(key=lambda fault: fault.line)
    return CoverageFile(path, tuple(good), tuple(e for e in examples if e is not None), tuple(faults))


def _doubles(terms: list[Term], lines: Lines) -> Iterator[Fault]:
    """Find terms for the same: two of equal rank would leave the answer to chance."""
    seen: dict[tuple[str, str, str], int] = {}
    for term in terms:
        first = seen.setdefault((fold(term.maker), fold(term.model), fold(term.part)), term.number)
        if first != term.number:
            said = f"term {term.number}: maker, model and part are the same as in term {first}."
            yield Fault(lines.of_table("term", term.number), said)


@dataclass(slots=True)
class _Row:
    """One table of the file, and where its faults go."""

    what: str
    number: int
    values: dict[str, Any]
    lines: Lines
    faults: list[Fault]
    bad: bool = False

    def fault(self, key: str, said: str) -> None:
        """Note what is wrong with a key, or with the table where there is no such key."""
        self.bad = True
        line = self.lines.of_key(self.what, self.number, key)
        self.faults.append(Fault(line, f"{self.what} {self.number}: {said}"))

    def take(self, key: str, kind: str, good: Callable[[Any], bool], default: Any) -> Any:
        """Take a value out; what is not of its kind is a fault, and the default stands in."""
        value = self.values.get(key, default)
        if key in self.values and not good(value):
            self.fault(key, f"`{key}` must be {kind}, not {value!r}.")
            return default
        return value

    def text(self, key: str) -> str:
        """Take a text out, without blanks around it."""
        return str(self.take(key, _TEXT, lambda v: isinstance(v, str), "")).strip()

    def whole(self, key: str, default: int | None = 0) -> int | None:
        """Take a whole number out."""
        found: int | None = self.take(key, _WHOLE, lambda v: type(v) is int, default)
        return found

    def one_of(self, key: str, words: tuple[str, ...], default: str) -> Any:
        """Take one of some words out."""
        value = self.take(key, " or ".join(words), lambda v: isinstance(v, str), default)
        if value not in words:
            self.fault(key, f"`{key}` must be {' or '.join(words)}, not {value!r}.")
            return default
        return value

    def day(self, key: str) -> date | None:
        """Take a day out, as TOML writes it or as a text."""
        value = self.take(key, _DAY, _is_day, None)
        return date.fromisoformat(value) if isinstance(value, str) else value

    def strangers(self, known: tuple[str, ...]) -> None:
        """Note keys that are none of those known."""
        for key in self.values:
            if key not in known:
                self.fault(key, f"`{key}` is not known; {_article(self.what)} has {', '.join(known)}.")


def _is_day(value: object) -> bool:
    if isinstance(value, str):
        try:
            date.fromisoformat(value)
        except ValueError:
            return False
        return len(value) == len("2026-11-25")
    return isinstance(value, date) and not isinstance(value, datetime)


def _article(what: str) -> str:
    return f"an {what}" if what[0] in "aeiou" else f"a {what}"


def _rows(raw: dict[str, Any], what: str, lines: Lines, faults: list[Fault]) -> list[_Row]:
    rows = raw.get(what, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        said = f"{what}s are written as [[{what}]] tables, with double brackets."
        faults.append(Fault(lines.of_name(what), said))
        return []
    return [_Row(what, number, row, lines, faults) for number, row in enumerate(rows, start=1)]


_TERM_KEYS = (
    "maker", "model", "part", "years", "months", "start", "holder", "register_within_days", "else_years", "else_months",
    "proof", "note",
)  # fmt: skip


def _term(row: _Row) -> Term | None:
    """Check one [[term]] table and return it as a value, None where it is wrong."""
    row.strangers(_TERM_KEYS)
    part = row.text("part")
    if not part and "part" not in row.values:
        row.fault("part", "`part` is missing: name the part class, for example machine.")
    elif not part and not row.bad:
        row.fault("part", "`part` is empty: name the part class, for example machine.")
    months = _months(row, "years", "months", least=1)
    within, shorter = _registered(row, months)
    term = Term(
        part=part,
        months=months,
        maker=row.text("maker"),
        model=row.text("model"),
        start=row.one_of("start", get_args(Start), "purchase"),
        first_holder=row.one_of("holder", ("first", "any"), "any") == "first",
        note=row.text("note"),
        number=row.number,
        register_days=within,
        else_months=shorter,
        proof=_proof(row),
    )
    return None if row.bad else term


def _months(row: _Row, years_key: str, months_key: str, *, least: int) -> int:
    """Take a length out; a wrong one is a fault."""
    before = len(row.faults)
    years, months = row.whole(years_key) or 0, row.whole(months_key) or 0
    total = years * 12 + months
    if before == len(row.faults) and (years < 0 or months < 0 or not least <= total <= LONGEST_MONTHS):
        said = (
            f"`{years_key}` and `{months_key}` must give a length from {least} month to {LONGEST_MONTHS // 12} years."
        )
        row.fault(years_key if years_key in row.values else months_key, said)
    return total


def _registered(row: _Row, months: int) -> tuple[int | None, int]:
    """Take out within how many days a machine must be registered, and the shorter term."""
    within = row.whole("register_within_days", None)
    if within is not None and not 0 <= within <= LONGEST_REGISTER_DAYS:
        row.fault("register_within_days", f"`register_within_days` must be from 0 to {LONGEST_REGISTER_DAYS:,} days.")
    shorter = _months(row, "else_years", "else_months", least=0)
    if within is None and shorter:
        key = "else_years" if "else_years" in row.values else "else_months"
        row.fault(key, f"`{key}` says what holds for machines registered late: `register_within_days` is missing.")
    elif within is not None and shorter >= months and not row.bad:
        key = "else_years" if "else_years" in row.values else "else_months"
        row.fault(key, "the term for machines registered late must be the shorter one.")
    return within, shorter


def _proof(row: _Row) -> tuple[Proof, ...]:
    known = get_args(Proof)
    kind = f"a list of {', '.join(known)}"
    found: list[Proof] = row.take("proof", kind, lambda v: isinstance(v, list) and all(p in known for p in v), [])
    return tuple(dict.fromkeys(found))


#: Days of an example that put something on record.
EXAMPLE_DAYS = ("purchase", "registration", "activation", "changed_hands")
_EXAMPLE_KEYS = ("maker", "model", "part", *EXAMPLE_DAYS, "invoice", "on", "covered", "last_day")


def _example(row: _Row) -> Example | None:
    """Check one [[example]] table and return it as a value, None where it is wrong."""
    row.strangers(_EXAMPLE_KEYS)
    part, on = row.text("part"), row.day("on")
    for key in ("part", "on", "covered"):
        if key not in row.values:
            row.fault(key, f"`{key}` is missing.")
    covered = row.take("covered", 'true, false or "unknown"', lambda v: isinstance(v, bool) or v == "unknown", False)
    days = {key: day for key in EXAMPLE_DAYS if (day := row.day(key)) is not None}
    last_day = row.day("last_day")
    maker, model = row.text("maker") or None, row.text("model") or None
    invoice = row.take("invoice", "true or false", lambda v: isinstance(v, bool), False)
    if row.bad or on is None:
        return None
    line = row.lines.of_table("example", row.number)
    told = None if covered == "unknown" else covered
    return Example(part, on, told, last_day, maker, model, days, invoice, row.number, line)
