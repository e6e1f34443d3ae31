"""How the weights of signs are estimated from messages of known content, and how far odds can be believed.

A sign is a name in ``counterfoil/patterns/odds.py``. Every value that the reader finds is a sum of signs; it is
right or wrong by what was put into the message. The weights are those of a logistic regression on the signs (Newton's
method), kept from certainty by one right and one wrong value put in for each sign, as by Laplace's rule of succession.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import exp

from calibration_mail import Sent, patterns_for

from counterfoil.documents.message import read_message
from counterfoil.model import Kind
from counterfoil.patterns import odds
from counterfoil.settings import Settings

SETTINGS = Settings(shop_addresses=("help@threadworks.example",))
#: 999 in 1,000.
MOST = 6.9
#: Bounds by decision. What is called doubtful, or has no label of its own, stays below the filing threshold of
#: 4.6; a code in running text stays below what counts as clear in confirmation.py. What a person is to look at at all
#: stays at even odds, a doubtful value at what counts as a contradiction, whatever so dark a set says.
MOST_OF = {"DOUBTFUL": 4.0, "VERY_DOUBTFUL": 1.0, "CODE_IN_PROSE": 3.4, "CODE_FAR_IN_PROSE": 1.0, "CODE_BY_SHAPE": 3.4,
           "CODE_BY_DIGITS_CHECKED": 4.0, "CODE_BY_SHAPE_ALONE": 4.0, "CODE_LABELLED_LOOSELY": 4.0, "IN_PROSE": 4.0,
           "LABELLED_LOOSELY": 4.0, "SENDER_UNSURE": 4.0}  # fmt: skip
LEAST_OF = {"DOUBTFUL": 2.0, "VERY_DOUBTFUL": 0.0, "CODE_FAR_IN_PROSE": 0.0}
#: Fewer values than this say nothing: the weight stays as it was set by hand.
FEWEST = 20
#: A check digit that is wrong is proof, not one sign among others: it stays as it was set, and says nothing of others.
PROOF = "CHECK_FAILED"
#: Lower bounds of the bins of the table, in parts of a hundred.
BINS = (99.9, 99.0, 95.0, 80.0, 50.0, 20.0, 0.0)
Signs = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Judged:
    """One value the reader found: its odds and what they rest on, whether it is right, and what it is of."""

    signs: Signs
    odds: float
    right: bool
    kind: Kind
    noise: str


def judged(messages: Iterable[Sent], *, held_out: bool) -> list[Judged]:
    """Read messages and hold every value found against what was put in."""
    patterns = patterns_for(held_out)
    out = []
    for sent in messages:
        reading = patterns.read(read_message(sent.data, SETTINGS.limits), SETTINGS)
        for fact in reading.facts:
            right = sent.says(fact.kind, fact.normal)
            out.append(Judged(odds.signs_of(fact.odds), float(fact.odds), right, fact.kind, sent.noise))
    return out


# --- estimates ------------------------------------------------------------------------------------------------------


def estimate(values: Iterable[Judged]) -> dict[str, float]:
    """Return each sign's weight in log-odds; values that stand against others say nothing about their own signs."""
    counts: Counter[tuple[Signs, bool]] = Counter()
    for value in values:
        if odds.CONFLICT not in value.signs and PROOF not in value.signs:
            counts[value.signs, value.right] += 1
    seen: Counter[str] = Counter()
    for (signs, _), number in counts.items():
        seen.update(dict.fromkeys(signs, number))
    names = sorted(seen)
    for name in names:
        counts[(name,), True] += 1
        counts[(name,), False] += 1
    weights = _fitted(counts, names)
    return {
        name: round(max(min(weights[name], MOST_OF.get(name, MOST)), LEAST_OF.get(name, -MOST)), 1)
        for name in names
        if seen[name] >= FEWEST
    }


def _fitted(counts: Mapping[tuple[Signs, bool], int], names: list[str]) -> dict[str, float]:
    """Maximise the likelihood by Newton's method, each step held to what keeps it from running away."""
    at = {name: n for n, name in enumerate(names)}
    weights = [0.0] * len(names)
    for _ in range(200):
        slope = [0.0] * len(names)
        bend = [[1e-9 * (i == j) for j in range(len(names))] for i in range(len(names))]
        for (signs, right), number in counts.items():
            own = [at[name] for name in signs]
            p = 1 / (1 + exp(-sum(weights[i] for i in own)))
            for i in own:
                slope[i] += number * (right - p)
                for j in own:
                    bend[i][j] += number * p * (1 - p)
        step = _solved(bend, slope)
        size = max(map(abs, step))
        weights = [w + s * min(1.0, 1.0 / size) for w, s in zip(weights, step, strict=True)] if size else weights
        if size < 1e-6:
            break
    return dict(zip(names, weights, strict=True))


def _solved(matrix: list[list[float]], right: list[float]) -> list[float]:
    """Solve linear equations by elimination with pivots."""
    rows = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    for i in range(len(rows)):
        pivot = max(range(i, len(rows)), key=lambda r: abs(rows[r][i]))
        rows[i], rows[pivot] = rows[pivot], rows[i]
        for r in range(len(rows)):
            if r != i and rows[r][i]:
                factor = rows[r][i] / rows[i][i]
                rows[r] = [a - factor * b for a, b in zip(rows[r], rows[i], strict=True)]
    return [row[-1] / row[i] for i, row in enumerate(rows)]


# --- the table ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Bin:
    """Values whose odds fall between two bounds: how many, how many right, and how many the odds promised."""

    least: float
    number: int
    right: int
    promised: float


def table(values: Iterable[Judged]) -> list[Bin]:
    """Return the bins, surest first; empty ones left out."""
    bins: dict[float, list[Judged]] = {least: [] for least in BINS}
    for value in values:
        bins[next(least for least in BINS if 100 * chance(value.odds) >= least)].append(value)
    return [
        Bin(least, len(inside), sum(v.right for v in inside), sum(chance(v.odds) for v in inside))
        for least, inside in bins.items()
        if inside
    ]


def chance(worth: float) -> float:
    """Return the probability that log-odds mean."""
    return 1 / (1 + exp(-worth))
