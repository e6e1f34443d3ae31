"""Looking up codes among 200,000, beside a bare SQLite statement and a plain scan in the same run.

    python tests/bench/bench_codes.py [--codes 200000] [--queries 400]

Every fourth code is a machine ID of one maker (the same two letters in front), a serial number of a running series, a
product key of 12 and an activation code of 16 random characters: the first two crowd under the same beginnings. Floor
of whole codes and of endings: one indexed SELECT in a bare table of the codes. Nothing bare looks up a code with wrong
characters: a scan of all by rapidfuzz does the same, and tells which codes must be found. Deterministic: one seed.
"""

from __future__ import annotations

import argparse
import hashlib
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from rapidfuzz import process
from rapidfuzz.distance import OSA
from sqlcipher3 import dbapi2

from counterfoil.model import Decision, Document, Fact, Kind, Layer, Mailbox, Message, Place, Reading, Standing
from counterfoil.patterns.normal import fold_code, normal
from counterfoil.records.store import Store
from counterfoil.records.writing import write_message
from counterfoil.settings import Settings

SEED = 20260311
ALPHABET = "0123456789ABCDEFGHJKLMNPQRSTVWXYZ"
KINDS = (Kind.MACHINE_ID, Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
FIRST_DAY = datetime(2024, 1, 1, 9, tzinfo=UTC)
Codes = dict[Kind, str]


def made(count: int) -> Iterator[Codes]:
    """Yield the four codes of each confirmation."""
    source = random.Random(SEED)
    for number in range(count):
        yield {
            Kind.MACHINE_ID: f"VM{source.randrange(10**6):06}{source.choice('ABCDEFGHKLMNPRSTVWXYZ')}",
            Kind.SERIAL_NUMBER: f"70{2_000_000 + 37 * number:07}",
            Kind.PRODUCT_KEY: "".join(source.choices(ALPHABET, k=12)),
            Kind.ACTIVATION_CODE: "".join(source.choices(ALPHABET, k=16)),
        }


def write_records(store: Store, confirmations: Sequence[Codes]) -> None:
    """File each confirmation as a new customer with a new machine."""
    decision = Decision(Standing.FILED, new_customer=True, new_machine=True)
    for start in range(0, len(confirmations), 2_000):
        with store.write() as conn:
            for number, codes in enumerate(confirmations[start : start + 2_000], start):
                values = {Kind.CUSTOMER_NAME: f"Customer {number}"} | codes
                facts = tuple(Fact(k, v, normal(k, v), Place("body"), "bench", odds=8.0) for k, v in values.items())
                sha256 = hashlib.sha256(str(number).encode()).hexdigest()
                sender = Mailbox("", f"{number}@post.example")
                layer = Layer("received", None, sender, date=FIRST_DAY + timedelta(minutes=number), subject="bench")
                message = Message(sha256, 1, (layer,), (Document("body", 0, "x", (), size=1),))
                reading = Reading(facts, {f.kind: f for f in facts}, confirmation=9.0, redacted={"body": "x"})
                write_message(conn, message, reading, f"bench/{number}.eml", decision, frozenset(values))


def bare_table(path: Path, every: Sequence[str]) -> Any:
    """Return a bare SQLite table of all codes, whole and reversed, each column indexed."""
    base = dbapi2.connect(str(path))
    base.execute("create table code (normal text, reversed text)")
    base.executemany("insert into code values (?, ?)", [(code, code[::-1]) for code in every])
    base.execute("create index by_normal on code (normal)")
    base.execute("create index by_reversed on code (reversed)")
    base.commit()
    return base


def spoiled(source: random.Random, code: str) -> str:
    """Return a code with two wrong characters: replaced, left out or put in."""
    letters = list(code)
    for _ in range(2):
        at = source.randrange(len(letters))
        match source.randrange(4):
            case 0:
                letters.insert(at, source.choice(ALPHABET))
            case 1:
                del letters[at]
            case _:
                letters[at] = source.choice(ALPHABET)
    return "".join(letters)


def timed(work: Callable[[str], object], questions: Sequence[str]) -> list[float]:
    """Return the milliseconds each question takes, after a warm-up."""
    for question in questions[:5]:
        work(question)
    taken = []
    for question in questions:
        start = time.perf_counter()
        work(question)
        taken.append((time.perf_counter() - start) * 1_000)
    return taken


def report(name: str, ours: list[float], bare: list[float]) -> None:
    """Print one line: median, 95th percentile and longest, the floor's median, the ratio of the medians."""
    p50, p95, floor = statistics.median(ours), statistics.quantiles(ours, n=20)[18], statistics.median(bare)
    print(f"{name:<34}{p50:>9.3f}{p95:>9.3f}{max(ours):>9.2f}{floor:>12.3f}{p50 / floor:>10.3f}")


def bench_exact(store: Store, base: Any, chosen: Sequence[str]) -> None:
    """Time whole codes and their ends."""

    def whole(code: str) -> object:
        return base.execute("select rowid from code where normal = ?", (code,)).fetchall()

    def ending(end: str) -> object:
        low = end[::-1]
        high = low[:-1] + chr(ord(low[-1]) + 1)
        return base.execute("select rowid from code where reversed >= ? and reversed < ?", (low, high)).fetchall()

    report("whole", timed(store.find_code, chosen), timed(whole, chosen))
    for size in (6, 4):
        ends = [code[-size:] for code in chosen]
        report(f"last {size} characters", timed(store.find_code, ends), timed(ending, ends))


def bench_near(store: Store, every: Sequence[str], questions: dict[Kind, list[str]], scans: int) -> None:
    """Time codes with two wrong characters, all and by kind; count those that a scan finds and the look-up does not."""
    folded = [fold_code(code) for code in every]

    def scan(code: str) -> set[str]:
        hits = process.extract_iter(fold_code(code), folded, scorer=OSA.distance, score_cutoff=2)
        near = {every[at] for _, distance, at in hits if distance <= 2}
        return {other for other in near if OSA.distance(code, other, score_cutoff=4) <= 4}

    taken = {kind: timed(store.find_code, typed) for kind, typed in questions.items()}
    scanned = {kind: timed(scan, typed[:scans]) for kind, typed in questions.items()}
    together = [time for times in taken.values() for time in times]
    report("2 wrong characters, all (scan)", together, [time for times in scanned.values() for time in times])
    for kind in KINDS:
        report(f"  {kind.value.replace('_', ' ')}", taken[kind], scanned[kind])


def missed(store: Store, spoilt: Sequence[tuple[str, str]]) -> list[str]:
    """Return the codes that are not found by what became of them."""
    lost = []
    for code, typed in spoilt:
        hits = store.find_code(typed, limit=1_000)
        # What became of it may be another code, or the end of one: then that is the answer.
        surer = bool(hits) and hits[0].how in ("whole", "ending")
        if not surer and code not in [hit.noted.fact.normal for hit in hits]:
            lost.append(f"{code} as {typed}")
    return lost


def main() -> int:
    """Run everything and print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--codes", type=int, default=200_000)
    parser.add_argument("--queries", type=int, default=400)
    options = parser.parse_args()
    confirmations = list(made(options.codes // len(KINDS)))
    every = [code for codes in confirmations for code in codes.values()]
    source = random.Random(SEED + 1)
    chosen = {kind: [source.choice(confirmations)[kind] for _ in range(options.queries)] for kind in KINDS}
    spoilt = {kind: [(code, spoiled(source, code)) for code in codes] for kind, codes in chosen.items()}
    with tempfile.TemporaryDirectory() as name:
        store = Store(Path(name) / "records.db", create=True, settings=Settings())
        start = time.perf_counter()
        write_records(store, confirmations)
        size = (Path(name) / "records.db").stat().st_size / 1_000_000
        base = bare_table(Path(name) / "bare.db", every)
        print(f"{len(every)} codes, written in {time.perf_counter() - start:.0f} s, records of {size:.0f} MB")
        print(f"{'milliseconds':<34}{'p50':>9}{'p95':>9}{'longest':>9}{'floor p50':>12}{'ratio':>10}")
        mixed = [code for kind in KINDS for code in chosen[kind][: options.queries // 2]]
        bench_exact(store, base, mixed)
        bench_near(store, every, {kind: [typed for _, typed in spoilt[kind]] for kind in KINDS}, 10)
        lost = missed(store, [pair for kind in KINDS for pair in spoilt[kind]])
        print(
            f"not found with 2 wrong characters: {len(lost)} of {len(KINDS) * options.queries}", *lost[:10], sep="\n  "
        )
        store.close()
        base.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
