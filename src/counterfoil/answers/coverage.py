"""Coverage terms as values, and which of them hold for a machine.

For each part class the most specific term holds: one that names the model before one that names the maker
only, before one that names neither. How they are written is told in :mod:`counterfoil.answers.coverage_file`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Start = Literal["purchase", "registration", "activation"]
Proof = Literal["invoice", "confirmation", "pdf", "registration"]

#: What a proof asks for, in words.
PROOF_WORDS: dict[Proof, str] = {
    "invoice": "an invoice number",
    "confirmation": "a confirmation by mail that says the start date",
    "pdf": "a PDF that says the start date",
    "registration": "a registration",
}


@dataclass(frozen=True, slots=True)
class Term:
    """One coverage term.

    ``months`` is the whole length in months (12 to a year); ``maker`` and ``model`` are empty where the term
    holds for all; ``first_holder`` is True where it ends with the first change of hands; ``number`` is its place
    in the file, from 1. Where ``register_days`` is set, the length holds only for a machine registered at most that
    many days after its purchase, else ``else_months`` (0: no cover at all). ``proof`` lists what proves the start
    date, any one of them; empty: whatever is on record.
    """

    part: str
    months: int
    maker: str = ""
    model: str = ""
    start: Start = "purchase"
    first_holder: bool = False
    note: str = ""
    number: int = 0
    register_days: int | None = None
    else_months: int = 0
    proof: tuple[Proof, ...] = ()

    @property
    def rank(self) -> int:
        """How specific the term is: 3 model and maker, 2 model, 1 maker, 0 neither."""
        return 2 * bool(self.model) + bool(self.maker)

    @property
    def length(self) -> str:
        """The length in words, for example ``2 years 6 months``."""
        return length_words(self.months)

    @property
    def words(self) -> str:
        """The whole rule in a sentence."""
        said = f"{self.length} from the {self.start}"
        if self.register_days is not None:
            other = length_words(self.else_months) if self.else_months else "no cover"
            said += f" if registered within {counted(self.register_days, 'day')} of the purchase, else {other}"
        said += "; ends when the machine changes hands" if self.first_holder else "; stays with the machine"
        if self.proof:
            said += f"; proof: {' or '.join(PROOF_WORDS[proof] for proof in self.proof)}"
        return f"{said}."


def length_words(months: int) -> str:
    """Return a length in words, for example ``2 years 6 months``."""
    years, rest = divmod(months, 12)
    parts = [counted(years, "year")] * bool(years) + [counted(rest, "month")] * bool(rest)
    return " ".join(parts)


def counted(count: int, word: str) -> str:
    """Return a number with its noun, in the plural where there is not one of it."""
    return f"{count} {word}" + ("s" if count != 1 else "")


def fold(text: str) -> str:
    """Fold a name of a maker, model or upgrade for comparison: case, accents, spaces and signs are left aside."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return re.sub(r"[\W_]+", "", plain.casefold())


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
