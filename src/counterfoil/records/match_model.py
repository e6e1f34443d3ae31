"""The probability that two people are one (Fellegi and Sunter 1969), its weights learned without examples (EM).

Every level of every field has two chances: ``m``, that two records of one person agree so, and ``u``, that those of two
people do. log2(m/u) is the level's evidence in bits; the fields' evidence is added up, and the odds before looking are
those of a pair that shares a blocking key. EM (Dempster, Laird and Rubin 1977; for linkage Winkler 1988) finds m, u and
the odds from pairs of which nobody says who is who; chances known beforehand count as so many pairs seen already.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from counterfoil.records.match_compare import FIELDS, LEVELS, MISSING, Comparer, Person, Vector

#: field -> chance of each level.
Chances = Mapping[str, tuple[float, ...]]
_ROUNDS = 60
_STEADY = 1e-6
#: Pairs that every level of a field counts as seen with, so that none is impossible.
_FLOOR = 0.5


@dataclass(frozen=True)
class Model:
    """Weights, and what they say of two people.

    Args:
        m: chances of the levels between two records of one person.
        u: chances between two people who share a blocking key.
        share: share of pairs with a shared blocking key that are one person, 0 to 1.
    """

    m: Chances
    u: Chances
    share: float
    weights: Mapping[str, tuple[float, ...]] = field(init=False)
    prior: float = field(init=False)
    comparer: Comparer = field(init=False)

    def __post_init__(self) -> None:
        weights = {
            name: (*(math.log2(m / u) for m, u in zip(self.m[name], self.u[name], strict=True)), 0.0) for name in FIELDS
        }
        object.__setattr__(self, "weights", weights)
        object.__setattr__(self, "prior", math.log2(self.share / (1 - self.share)))
        object.__setattr__(self, "comparer", Comparer(weights))

    def compare(self, a: Person, b: Person) -> Vector:
        """Return the levels at which two people agree."""
        return self.comparer.compare(a, b)

    def bits(self, vector: Vector) -> float:
        """Return the evidence of a comparison that both are one person, in bits, the odds beforehand included."""
        return self.prior + sum(self.weights[name][level] for name, level in zip(FIELDS, vector, strict=True))

    def match(self, a: Person, b: Person) -> float:
        """Return the evidence that two people are one, in bits."""
        return self.bits(self.compare(a, b))


def probability(bits: float) -> float:
    """Return the probability, 0 to 1, of evidence in bits."""
    return 1 / (1 + math.exp2(-max(-1000.0, min(1000.0, bits))))


def learned(start: Model, vectors: Iterable[Vector], strength: float) -> Model:
    """Return a model whose chances fit the vectors best (EM), beginning from those of ``start``.

    Args:
        start: the model that EM begins with, and whose chances count as pairs seen already.
        vectors: comparisons of pairs that share a blocking key.
        strength: as how many pairs of each sort the chances of ``start`` count; few vectors change little.
    """
    counts = Counter(vectors)
    total = sum(counts.values())
    if not total:
        return start
    model, last = start, float("-inf")
    for _ in range(_ROUNDS):
        model, likelihood = _round(model, counts, total, start, strength)
        if abs(likelihood - last) < _STEADY * abs(likelihood):
            break
        last = likelihood
    return model


def _round(model: Model, counts: Counter[Vector], total: int, start: Model, strength: float) -> tuple[Model, float]:
    """Return the model after one round of EM, and the log-likelihood before it, short of a constant."""
    weights = [model.weights[name] for name in FIELDS]
    logs = [[*(math.log2(u) for u in model.u[name]), 0.0] for name in FIELDS]
    same = [[0.0] * (len(LEVELS[name]) + 1) for name in FIELDS]
    other = [[0.0] * (len(LEVELS[name]) + 1) for name in FIELDS]
    matches = likelihood = 0.0
    for vector, count in counts.items():
        bits, base = model.prior, 0.0
        for weight, log, level in zip(weights, logs, vector, strict=True):
            bits += weight[level]
            base += log[level]
        p = probability(bits)
        mine = p * count
        likelihood += count * (base + max(bits, 0.0) + math.log2(1 + 2.0 ** -abs(bits)))
        matches += mine
        rest = count - mine
        for own, their, level in zip(same, other, vector, strict=True):
            own[level] += mine
            their[level] += rest
    likelihood += total * math.log2(1 - model.share)
    m = {name: _chances(seen, start.m[name], strength) for name, seen in zip(FIELDS, same, strict=True)}
    u = {name: _chances(seen, start.u[name], strength) for name, seen in zip(FIELDS, other, strict=True)}
    share = (matches + strength * start.share) / (total + strength)
    return Model(m, u, min(max(share, 1e-6), 1 - 1e-6)), likelihood


def _chances(seen: list[float], before: tuple[float, ...], strength: float) -> tuple[float, ...]:
    """Return the chances of levels seen so often, the last place (missing) left out."""
    known = [n + strength * chance + _FLOOR for n, chance in zip(seen[:MISSING], before, strict=True)]
    whole = sum(known)
    return tuple(n / whole for n in known)


#: Chances for an archive too small to learn from, chosen by hand for a shop's customers: half the pairs that share a
#: blocking key live together or bear like names. No source; tests hold them against relatives and published sets.
SHIPPED = Model(
    m={
        "given_name": (0.86, 0.05, 0.015, 0.01, 0.02, 0.02, 0.01, 0.015),
        "family_name": (0.89, 0.05, 0.02, 0.01, 0.015, 0.015),
        "name_order": (0.95, 0.05),
        "email_address": (0.75, 0.05, 0.2),
        "phone_number": (0.75, 0.03, 0.22),
        "street": (0.6, 0.08, 0.02, 0.3),
        "house_number": (0.64, 0.06, 0.3),
        "address_line": (0.6, 0.08, 0.04, 0.28),
        "postcode": (0.7, 0.04, 0.03, 0.23),
        "town": (0.72, 0.06, 0.02, 0.2),
        "region": (0.93, 0.07),
        "birth_date": (0.94, 0.03, 0.01, 0.02),
        "number": (0.93, 0.04, 0.03),
    },
    u={
        "given_name": (0.006, 0.0004, 0.05, 0.06, 0.004, 0.002, 0.03, 0.8476),
        "family_name": (0.12, 0.001, 0.005, 0.04, 0.024, 0.81),
        "name_order": (0.5, 0.5),
        "email_address": (0.003, 0.007, 0.99),
        "phone_number": (0.004, 0.02, 0.976),
        "street": (0.12, 0.015, 0.035, 0.83),
        "house_number": (0.14, 0.11, 0.75),
        "address_line": (0.02, 0.01, 0.03, 0.94),
        "postcode": (0.15, 0.02, 0.08, 0.75),
        "town": (0.2, 0.02, 0.04, 0.74),
        "region": (0.25, 0.75),
        "birth_date": (0.0005, 0.001, 0.01, 0.9885),
        "number": (0.00005, 0.0005, 0.99945),
    },
    share=0.02,
)
