"""The lists the shop works from, in milliseconds, each beside its floor: the rows of all facts fetched bare.

    python tests/bench/bench_lists.py [--machines 5000]

The machines are invented and the same each time; each has a confirmation of its own. The floor is one SELECT of every
fact of a machine or customer through the same driver, without making anything of it. Median of five rounds that take
turns.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from statistics import median

import sqlalchemy as sa

sys.path[:0] = [str(Path(__file__).parent.parent / "records"), str(Path(__file__).parent.parent)]

from records_world import MARIT, SETTINGS, another, message, take

from counterfoil.answers.charts import svg
from counterfoil.answers.guides import EntryGuide, UpgradeGuide
from counterfoil.answers.lists_firmware import firmware, versions
from counterfoil.answers.lists_gaps import keys, proof, weeks
from counterfoil.answers.lists_upgrades import upgrades
from counterfoil.model import Kind
from counterfoil.records import schema
from counterfoil.records.store import Store

ROUNDS = 5


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--machines", type=int, default=5_000)
    number = parser.parse_args().machines
    with tempfile.TemporaryDirectory() as folder:
        store = Store(Path(folder) / "records.db", create=True, settings=SETTINGS)
        rng = random.Random(7)
        with store.grouped():
            for n in range(number):
                # A customer for each machine; every fourth without a version, in nine versions.
                version = None if n % 4 == 0 else f"2.{n % 9}"
                given, family = _word(rng), _word(rng)
                address = f"{given}.{family}@{_word(rng)}.example".lower()
                person = {"customer_name": f"{given} {family}", "email_address": address}
                mail = message(sender=address, name=f"{given} {family}", day=n % 500)
                take(store, another(n, firmware_version=version, **person), mail)
        print(f"{len(store.machines())} machines of {len(store.customers())} customers")
        _measure(store)
        store.close()
    return 0


def _word(rng: random.Random) -> str:
    """Return a name that nobody has."""
    return "".join(rng.choice("bdfghklmnprstvz") + rng.choice("aeiou") for _ in range(4)).capitalize()


def _measure(store: Store) -> None:
    model, today = MARIT[Kind.MODEL], date(2026, 7, 1)
    guides = (EntryGuide(MARIT[Kind.MAKER], upgrades=(UpgradeGuide("Stitch Garden"), UpgradeGuide("Hem Atlas"))),)
    drawn = weeks(store, today=today, number=52).chart
    assert drawn is not None
    jobs: dict[str, Callable[[], object]] = {
        "floor": lambda: _floor(store),
        "firmware": lambda: firmware(store, model=model, below="2.5"),
        "versions": lambda: versions(store),
        "upgrades": lambda: upgrades(store, guides),
        "proof": lambda: proof(store),
        "keys": lambda: keys(store),
        "weeks": lambda: weeks(store, today=today, number=52),
        "chart of 52 weeks": lambda: svg(drawn),
    }
    times: dict[str, list[float]] = {name: [] for name in jobs}
    for _ in range(ROUNDS):
        for name, job in jobs.items():
            start = time.perf_counter()
            job()
            times[name].append(time.perf_counter() - start)
    floor = median(times["floor"])
    for name, found in times.items():
        print(f"{name:20} {1000 * median(found):8.1f} ms   {median(found) / floor:5.1f} times the floor")


def _floor(store: Store) -> int:
    fact = schema.fact
    owned = sa.or_(fact.c.machine_id.is_not(None), fact.c.customer_id.is_not(None))
    with store.reading() as conn:
        return len(conn.execute(sa.select(fact).where(owned)).all())


if __name__ == "__main__":
    sys.exit(main())
