"""Looking up codes and words beside the bare libraries doing the same, in the same run.

    python tests/bench/bench_lookup.py [--messages 20000] [--queries 200]

Every message is a confirmation with four codes, written through the records' own writing functions, then the index
catches up. Beside it stand a bare SQLite table of the codes (same driver, indexed column) and a bare whoosh index
(stock fields, writer and parser). Near codes have no bare counterpart in either library: a scan of all codes with
rapidfuzz stands in. Deterministic: one seed, invented words and codes.
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
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from rapidfuzz.distance import OSA
from sqlcipher3 import dbapi2
from whoosh import fields, index
from whoosh.qparser import QueryParser

from counterfoil.answers.search import search
from counterfoil.index import Index
from counterfoil.model import Decision, Document, Fact, Kind, Layer, Mailbox, Message, Place, Reading, Standing
from counterfoil.patterns.normal import normal
from counterfoil.records.store import Store
from counterfoil.records.writing import write_message
from counterfoil.settings import Settings

SEED = 20260214
ALPHABET = "0123456789ABCDEFGHJKLMNPQRSTVWXYZ"
MODELS = ("Corvina 500", "Corvina 700", "Etude 12", "Etude 14")
FIRST_DAY = datetime(2024, 1, 1, 9, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Mail:
    """One generated confirmation."""

    number: int
    name: str
    address: str
    subject: str
    text: str
    when: datetime
    codes: dict[Kind, str]
    model: str


def mails(count: int) -> Iterator[Mail]:
    """Yield confirmations of 60 to 150 words, as unevenly spread as those of a language."""
    source = random.Random(SEED)
    syllables = [a + b for a in "bdfklmnprstvz" for b in ("a", "e", "i", "o", "u", "an", "el", "or")]
    known = list(dict.fromkeys("".join(source.choices(syllables, k=source.randint(2, 4))) for _ in range(6_000)))
    weights = [1 / (rank + 5) for rank in range(len(known))]
    family = ["".join(source.choices(syllables, k=3)).capitalize() for _ in range(4_000)]
    given = ["".join(source.choices(syllables, k=2)).capitalize() for _ in range(400)]
    for number in range(1, count + 1):
        name = f"{source.choice(given)} {source.choice(family)}"
        codes = {
            Kind.MACHINE_ID: f"VM-{source.randrange(10**6):06}-{source.choice('ABCDEFGHKLMNPRSTVWXYZ')}",
            Kind.SERIAL_NUMBER: f"{source.randrange(10**9):09}",
            Kind.PRODUCT_KEY: _groups(source, 3),
            Kind.ACTIVATION_CODE: _groups(source, 4),
        }
        words = source.choices(known, weights, k=source.randint(60, 150))
        yield Mail(
            number, name, f"{name.replace(' ', '.').lower()}{number}@post.example", " ".join(words[:3]),
            f"{' '.join(words)} {name}", FIRST_DAY + timedelta(minutes=37 * number), codes, source.choice(MODELS),
        )  # fmt: skip


def _groups(source: random.Random, count: int) -> str:
    return "-".join("".join(source.choices(ALPHABET, k=4)) for _ in range(count))


def write_records(store: Store, made: Sequence[Mail]) -> None:
    """File every mail as a new customer with a new machine."""
    decision = Decision(Standing.FILED, new_customer=True, new_machine=True)
    for start in range(0, len(made), 1_000):
        with store.write() as conn:
            for mail in made[start : start + 1_000]:
                values = {Kind.CUSTOMER_NAME: mail.name, Kind.EMAIL_ADDRESS: mail.address} | mail.codes
                values |= {Kind.MAKER: "Vellamar", Kind.MODEL: mail.model}
                facts = tuple(Fact(k, v, normal(k, v), Place("body"), "bench", odds=8.0) for k, v in values.items())
                layer = Layer("received", None, Mailbox(mail.name, mail.address), date=mail.when, subject=mail.subject)
                sha256 = hashlib.sha256(str(mail.number).encode()).hexdigest()
                body = Document("body", 0, mail.text, (), size=len(mail.text))
                reading = Reading(facts, {f.kind: f for f in facts}, confirmation=9.0, redacted={"body": mail.text})
                message = Message(sha256, len(mail.text), (layer,), (body,))
                write_message(conn, message, reading, f"bench/{mail.number}.eml", decision, frozenset(values))


def bare_sqlite(path: Path, made: Sequence[Mail]) -> Any:
    """Return a bare SQLite table of all codes, whole and reversed, each column indexed."""
    base = dbapi2.connect(str(path))
    base.execute("create table code (normal text, reversed text, message integer)")
    rows = [(n, n[::-1], m.number) for m in made for k, v in m.codes.items() for n in [normal(k, v)]]
    base.executemany("insert into code values (?, ?, ?)", rows)
    base.execute("create index by_normal on code (normal)")
    base.execute("create index by_reversed on code (reversed)")
    base.commit()
    return base


def bare_whoosh(folder: Path, made: Sequence[Mail]) -> tuple[Any, Any, float]:
    """Return searcher and parser of a bare whoosh index, one commit, and the seconds it took to build."""
    folder.mkdir()
    schema = fields.Schema(id=fields.ID(stored=True), body=fields.TEXT, date=fields.NUMERIC(sortable=True))
    start = time.perf_counter()
    found = index.create_in(str(folder), schema)
    writer = found.writer(limitmb=256)
    for mail in made:
        text = f"{mail.text} {mail.subject} {mail.name} {mail.address}"
        writer.add_document(id=str(mail.number), body=text, date=int(f"{mail.when:%Y%m%d}"))
    writer.commit()
    return found.searcher(), QueryParser("body", schema), time.perf_counter() - start


def timed(work: Callable[[str], object], questions: Sequence[str]) -> tuple[float, float]:
    """Return the median and the 95th percentile of the milliseconds a question takes, after a warm-up."""
    for question in questions[:5]:
        work(question)
    taken = []
    for question in questions:
        start = time.perf_counter()
        work(question)
        taken.append((time.perf_counter() - start) * 1_000)
    return statistics.median(taken), statistics.quantiles(taken, n=20)[18]


def report(name: str, ours: tuple[float, float], bare: tuple[float, float] | None) -> None:
    """Print one line."""
    line = f"{name:<34}{ours[0]:>10.3f}{ours[1]:>10.3f}"
    if bare is not None:
        line += f"{bare[0]:>12.3f}{bare[1]:>10.3f}{ours[0] / bare[0]:>9.2f}{ours[1] / bare[1]:>9.2f}"
    print(line)


def _open(folder: Path) -> float:
    """Return the milliseconds until a fresh index knows how far it got, every file hashed."""
    start = time.perf_counter()
    assert Index(folder).position() > 0
    return (time.perf_counter() - start) * 1_000


def bench_codes(store: Store, base: Any, made: Sequence[Mail], count: int) -> None:
    """Time the look-up of codes: whole, by the end, with two wrong characters."""
    source = random.Random(SEED + 1)
    chosen = [source.choice(list(source.choice(made).codes.items())) for _ in range(count)]
    whole = [normal(kind, value) for kind, value in chosen]
    ends = [code[-6:] for code in whole]
    near = [_with_slips(source, normal(k, v)) for k, v in chosen if k is not Kind.SERIAL_NUMBER]
    every = [row[0] for row in base.execute("select normal from code")]

    def bare_ending(end: str) -> object:
        low = end[::-1]
        high = low[:-1] + chr(ord(low[-1]) + 1)
        return base.execute("select message from code where reversed >= ? and reversed < ?", (low, high)).fetchall()

    def bare_whole(code: str) -> object:
        return base.execute("select message from code where normal = ?", (code,)).fetchall()

    def scan(code: str) -> object:
        return [c for c in every if OSA.distance(code, c, score_cutoff=2) <= 2]

    report("code, whole", timed(store.find_code, whole), timed(bare_whole, whole))
    report("code, last 6 characters", timed(store.find_code, ends), timed(bare_ending, ends))
    few = near[: max(20, count // 10)]
    report("code, 2 wrong characters (scan)", timed(store.find_code, few), timed(scan, few))
    missed = sum(not store.find_code(code) for code in near)
    print(f"  codes with 2 wrong characters not found: {missed} of {len(near)}")


def _with_slips(source: random.Random, code: str) -> str:
    letters = list(code)
    for place in source.sample(range(len(letters)), 2):
        letters[place] = source.choice(ALPHABET)
    return "".join(letters)


def bench_words(found: Index, searcher: Any, parser: Any, made: Sequence[Mail], count: int) -> None:
    """Time full-text queries of several kinds, each best 20."""
    source = random.Random(SEED + 2)
    ranked = _by_frequency(made)
    common, rare = ranked[:60], ranked[1_000:]
    kinds = {
        "a family name": [source.choice(made).name.split()[1] for _ in range(count)],
        "a rare word": [source.choice(rare) for _ in range(count)],
        "two common words": [" ".join(source.sample(common, 2)) for _ in range(count)],
        "either of two common words": [" OR ".join(source.sample(common, 2)) for _ in range(count)],
        "the beginning of a word": [f"{source.choice(rare)[:4]}*" for _ in range(count)],
        "a phrase": [_phrase(source, source.choice(made).text) for _ in range(count)],
        "a word in a month": [f"{source.choice(common)} date:[20240601 TO 20240630]" for _ in range(count)],
    }
    for name, questions in kinds.items():
        ours = timed(lambda q: found.search(q, 20), questions)
        report(name, ours, timed(lambda q: searcher.search(parser.parse(q), limit=20)[:], questions))


def _by_frequency(made: Sequence[Mail]) -> list[str]:
    counts: dict[str, int] = {}
    for mail in made:
        for word in mail.text.split():
            counts[word] = counts.get(word, 0) + 1
    return [word for word in sorted(counts, key=lambda w: (-counts[w], w)) if word.islower()]


def _phrase(source: random.Random, text: str) -> str:
    words = text.split()
    start = source.randrange(len(words) - 2)
    return f'"{words[start]} {words[start + 1]}"'


def bench_box(store: Store, found: Index, made: Sequence[Mail], count: int) -> None:
    """Time whole answers of the one box, profiles and snippets included."""
    source = random.Random(SEED + 3)
    some = [source.choice(made) for _ in range(count)]
    kinds = {
        "box: a code": [m.codes[Kind.MACHINE_ID] for m in some],
        "box: the end of a code": [m.codes[Kind.ACTIVATION_CODE][-4:] for m in some],
        "box: an e-mail address": [m.address for m in some],
        "box: a name": [m.name for m in some],
        "box: two words of a message": [" ".join(m.text.split()[:2]) for m in some],
    }
    for name, questions in kinds.items():
        report(name, timed(lambda q: search(store, found, q), questions), None)


def main() -> int:
    """Run everything and print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--messages", type=int, default=20_000)
    parser.add_argument("--queries", type=int, default=200)
    options = parser.parse_args()
    made = list(mails(options.messages))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        store = Store(folder / "records.db", create=True, settings=Settings())
        start = time.perf_counter()
        write_records(store, made)
        written = time.perf_counter()
        found = Index(folder / "index")
        found.catch_up(store.index_entries)
        caught = time.perf_counter()
        base = bare_sqlite(folder / "bare.db", made)
        searcher, query_parser, bare_seconds = bare_whoosh(folder / "bare", made)
        print(f"{options.messages} messages, {4 * options.messages} codes; written in {written - start:.1f} s, "
              f"index caught up in {caught - written:.1f} s, bare whoosh in {bare_seconds:.1f} s")  # fmt: skip
        print(f"{'milliseconds':<34}{'p50':>10}{'p95':>10}{'bare p50':>12}{'p95':>10}{'ratio':>9}{'p95':>9}")
        opening = [f"{_open(folder / 'index'):.1f}" for _ in range(5)]
        print(f"index opened and its files checked, ms: {', '.join(opening)}")
        bench_codes(store, base, made, options.queries)
        bench_words(found, searcher, query_parser, made, options.queries)
        bench_box(store, found, made, options.queries)
        store.close()
        base.close()
        searcher.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
