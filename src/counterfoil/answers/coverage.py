"""Coverage terms: reads coverage.toml and finds the term that holds for a machine.

    [[term]]
    maker = "Name"            # left out: every maker
    model = "Model"           # left out: every model
    part = "electronics"      # the part class, in the shop's own words
    years = 2
    months = 0
    start = "purchase"        # or "registration"
    holder = "any"            # or "first": ends when the machine changes hands
    note = "A sentence for the desk."

For each part class the most specific term holds: one that names the model before one that names the maker
only, before one that names neither.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, cast

from counterfoil.errors import SettingsFaulty

Start = Literal["purchase", "registration"]

#: Longest term taken for meant; 1,200 months is a slip of the pen.
LONGEST_MONTHS = 600

_KEYS = ("maker", "model", "part", "years", "months", "start", "holder", "note")


@dataclass(frozen=True, slots=True)
class Term:
    """One coverage term.

    ``months`` is the whole length in months (12 to a year); ``maker`` and ``model`` are empty where the term
    holds for all; ``first_holder`` is True where it ends with the first change of hands; ``number`` is its place
    in the file, from 1.
    """

    part: str
    months: int
    maker: str = ""
    model: str = ""
    start: Start = "purchase"
    first_holder: bool = False
    note: str = ""
    number: int = 0

    @property
    def rank(self) -> int:
        """How specific the term is: 3 model and maker, 2 model, 1 maker, 0 neither."""
        return 2 * bool(self.model) + bool(self.maker)

    @property
    def length(self) -> str:
        """The length in words, for example ``2 years 6 months``."""
        years, months = divmod(self.months, 12)
        parts = [_counted(years, "year")] * bool(years) + [_counted(months, "month")] * bool(months)
        return " ".join(parts)


def fold(text: str) -> str:
    """Fold a name of a maker, model or upgrade for comparison: case, accents, spaces and signs are left aside."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return re.sub(r"[\W_]+", "", plain.casefold())


def load_terms(path: Path) -> tuple[Term, ...]:
    """Read the coverage terms of an archive.

    Args:
        path: the file, coverage.toml; where there is none, there are no terms.

    Returns:
        The terms in the order of the file.

    Raises:
        SettingsFaulty: the file is not TOML, or a term is wrong; names the file, the term and what is wrong.
    """
    if not path.exists():
        return ()
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingsFaulty(f"{path} cannot be read: {error}.") from error
    strangers = sorted(set(raw) - {"term"})
    if strangers:
        raise SettingsFaulty(f"{path}: `{strangers[0]}` is not known there; every term stands under [[term]].")
    rows = raw.get("term", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise SettingsFaulty(f"{path}: terms are written as [[term]] tables, with double brackets.")
    terms = tuple(_term(path, number, row) for number, row in enumerate(rows, start=1))
    seen: dict[tuple[str, str, str], int] = {}
    for term in terms:
        key = (fold(term.maker), fold(term.model), fold(term.part))
        if key in seen:
            raise SettingsFaulty(
                f"{path}, term {term.number}: maker, model and part are the same as in term {seen[key]}."
            )
        seen[key] = term.number
    return terms


def terms_for(terms: Iterable[Term], maker: str | None, model: str | None) -> dict[str, tuple[Term, ...]]:
    """Find the terms that hold for a machine.

    Args:
        terms: all terms.
        maker: the machine's maker, None where it is not on record.
        model: its model, likewise.

    Returns:
        For each part class, in the order of the file: the most specific term that holds, and after it those
        more specific ones that would hold if the unknown maker or model were the one they name.
    """
    found: dict[str, tuple[Term, ...]] = {}
    certain: dict[str, list[Term]] = {}
    possible: dict[str, list[Term]] = {}
    names: dict[str, str] = {}
    for term in terms:
        fits = (_fits(term.maker, maker), _fits(term.model, model))
        if False in fits:
            continue
        key = fold(term.part)
        names.setdefault(key, term.part)
        (possible if None in fits else certain).setdefault(key, []).append(term)
    for key, part in names.items():
        best = max(certain.get(key, []), key=lambda term: term.rank, default=None)
        rank = -1 if best is None else best.rank
        others = tuple(term for term in possible.get(key, []) if term.rank > rank)
        found[part] = (() if best is None else (best,)) + others
    return {part: held for part, held in found.items() if held}


def _fits(wanted: str, has: str | None) -> bool | None:
    """Tell whether a term's maker or model is the machine's; None where the machine's is not known."""
    if not wanted:
        return True
    return None if has is None else fold(wanted) == fold(has)


def _term(path: Path, number: int, row: dict[str, object]) -> Term:
    """Check one [[term]] table and return it as a value."""

    def faulty(what: str) -> SettingsFaulty:
        return SettingsFaulty(f"{path}, term {number}: {what}")

    for key, value in row.items():
        if key not in _KEYS:
            raise faulty(f"`{key}` is not known; a term has {', '.join(_KEYS)}.")
        good = type(value) is int if key in ("years", "months") else isinstance(value, str)
        if not good:
            raise faulty(
                f"`{key}` must be {'a whole number' if key in ('years', 'months') else 'text'}, not {value!r}."
            )
    text = {key: cast(str, row.get(key, "")).strip() for key in ("maker", "model", "part", "note")}
    if not text["part"]:
        raise faulty("`part` is missing: name the part class, for example machine.")
    years, months = cast(int, row.get("years", 0)), cast(int, row.get("months", 0))
    if years < 0 or months < 0 or not 0 < years * 12 + months <= LONGEST_MONTHS:
        raise faulty(f"`years` and `months` must give a length from 1 month to {LONGEST_MONTHS // 12} years.")
    start, holder = cast(Start, row.get("start", "purchase")), row.get("holder", "any")
    if start not in ("purchase", "registration"):
        raise faulty(f"`start` must be purchase or registration, not {start!r}.")
    if holder not in ("first", "any"):
        raise faulty(f"`holder` must be first or any, not {holder!r}.")
    return Term(
        part=text["part"],
        months=years * 12 + months,
        maker=text["maker"],
        model=text["model"],
        start=start,
        first_holder=holder == "first",
        note=text["note"],
        number=number,
    )


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" + ("s" if count != 1 else "")
