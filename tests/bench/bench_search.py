"""The full-text index beside SQLite FTS5 and a plain scan: same messages, same words, same answers, in one run.

    python tests/bench/bench_search.py [--messages 100000] [--queries 100] [--keep FOLDER]

FTS5 is given the words and stems that the index is given, one table each (asking one table by columns is slower). Both
are given a question as typed: FTS5 has no stems of its own for most languages, so making its question takes the same
stems, none remembered from before, and counts; how long that takes is printed by itself too. FTS5 returns its best 20
by bm25. Of several ways to put a question the one that is fastest for five others is taken. The scan goes through all
texts in memory and returns the newest 20. That all find the same messages is checked for each question. With ``--keep``
what was built stays for the next run.
"""

from __future__ import annotations

import argparse
import gc
import random
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from pathlib import Path

from search_corpus import FIRST_DAY, SEED, by_frequency, entries, one_more, world
from sqlcipher3 import dbapi2

from counterfoil.index import Index
from counterfoil.index.stems import stems
from counterfoil.index.words import left_out, words
from counterfoil.model import IndexEntry

LIMIT = 20
#: The scan takes so long that it is asked fewer questions.
SCANNED = 10
#: Questions of each kind that only warm up.
WARMING = 5
SEPARATOR = " xseparatorx "


@dataclass(frozen=True, slots=True)
class Question:
    """One question as typed, whether it asks for words to the letter, and its days."""

    text: str
    to_the_letter: bool = False
    days: tuple[date, date] | None = None

    @property
    def table(self) -> str:
        """The table of FTS5 that is asked."""
        return "word" if self.to_the_letter else "stem"

    def match(self) -> str:
        """Return the question as FTS5 takes it."""
        if self.to_the_letter:
            return self.text.replace("*", " *")
        forms = (stems(word) for word in words(self.text))
        return " AND ".join("(" + " OR ".join(f'"{stem}"' for stem in some) + ")" for some in forms)

    def pieces(self) -> list[tuple[str, ...]]:
        """Return what the scan looks for: of each, one of some."""
        if self.to_the_letter:
            return [(f" {self.text[:-1]}",)] if self.text.endswith("*") else [(f" {self.text.strip(chr(34))} ",)]
        return [tuple(f" {stem} " for stem in stems(word)) for word in words(self.text)]


class Bare:
    """SQLite FTS5 over the same words and stems, and the texts themselves for the scan."""

    def __init__(self, path: Path, made: Sequence[IndexEntry]) -> None:
        new = not path.exists()
        self.base = dbapi2.connect(str(path))
        self.base.execute("pragma journal_mode=wal")
        self.base.execute("pragma synchronous=full")
        self.texts = {"word": [" "], "stem": [" "]}
        self.days = [0]
        for entry in made:
            self._keep(entry)
        start = time.perf_counter()
        if new:
            self.base.execute("create table day (message integer primary key, day integer)")
            self.base.execute("create index by_day on day (day, message)")
            for table in self.texts:
                self.base.execute(f"create virtual table {table} using fts5(text, content='', tokenize='ascii')")
            for number in range(1, len(made) + 1):
                self._insert(number)
            self.base.commit()
        self.seconds = time.perf_counter() - start
        self.bytes = path.stat().st_size

    def _keep(self, entry: IndexEntry) -> None:
        parts = [[w for w in words(part) if not left_out(w)] for part in (entry.body, entry.subject, entry.sender)]
        self.texts["word"].append(" " + SEPARATOR.join(" ".join(part) for part in parts) + " ")
        self.texts["stem"].append(" " + " ".join(stem for part in parts for w in part for stem in stems(w)) + " ")
        self.days.append(entry.received.toordinal() if entry.received else 0)

    def _insert(self, number: int) -> None:
        for table, texts in self.texts.items():
            self.base.execute(f"insert into {table} (rowid, text) values (?, ?)", (number, texts[number]))
        self.base.execute("insert into day values (?, ?)", (number, self.days[number]))

    def add(self, entry: IndexEntry) -> None:
        """Take in one more message, durably."""
        self._keep(entry)
        self._insert(len(self.days) - 1)
        self.base.commit()

    def ways(self, question: Question) -> dict[str, Callable[[], list[int]]]:
        """Return the ways to put a question to FTS5."""
        table = question.table
        begun = f"select {table}.rowid from {table} "
        matched = f"where {table} match ?"
        values: list[object] = []
        spans = {"": ""}
        if question.days is not None:
            values += [question.days[0].toordinal(), question.days[1].toordinal()]
            spans = {
                "joined ": f"and exists (select 1 from day where message = {table}.rowid and day between ? and ?)",
                "in ": "and rowid in (select message from day where day between ? and ?)",
                # Only right because messages come in the order of their days, which FTS5 is granted here.
                "between ": "and rowid between (select min(message) from day where day >= ?)"
                " and (select max(message) from day where day <= ?)",
            }
        asked = {
            f"{span}{order}": f"{begun} {matched} {limits} order by {order.format(table)} limit {LIMIT}"
            for span, limits in spans.items()
            for order in ("rank", "bm25({})")
        }
        return {name: partial(self._numbers, text, question, values) for name, text in asked.items()}

    def _numbers(self, text: str, question: Question, values: list[object]) -> list[int]:
        return [number for (number,) in self.base.execute(text, [question.match(), *values])]

    def all(self, question: Question) -> set[int]:
        """Return every message FTS5 finds."""
        rows = self.base.execute(
            f"select rowid from {question.table} where {question.table} match ?", (question.match(),)
        )
        return {n for (n,) in rows if self._within(n, question)}

    def _within(self, number: int, question: Question) -> bool:
        low, high = question.days or (date.min, date.max)
        return low.toordinal() <= self.days[number] <= high.toordinal()

    def scan(self, question: Question) -> list[int]:
        """Look through every text; return the newest that answer."""
        texts = self.texts[question.table]
        numbers = list(range(len(texts) - 1, 0, -1))
        if question.days is not None:
            numbers = [n for n in numbers if self._within(n, question)]
        for some in question.pieces():
            if len(some) == 1:
                numbers = [n for n in numbers if some[0] in texts[n]]
            else:
                numbers = [n for n in numbers if any(piece in texts[n] for piece in some)]
        return numbers[:LIMIT]


def questions(made: Sequence[IndexEntry], count: int) -> dict[str, list[Question]]:
    """Return the questions of each kind, the same for the same messages."""
    source = random.Random(SEED + 2)
    ranked = by_frequency(made)
    common, uncommon = ranked[:60], ranked[3_000:10_000]
    rare = world().rare
    month = FIRST_DAY + timedelta(days=1_247)
    days = (month, month + timedelta(days=30))
    phrases = []
    for _ in range(count):
        text = words(source.choice(made).body)
        start = source.randrange(40)
        phrases.append(f"{text[start]} {text[start + 1]}")
    alike = [" ".join(source.sample(common, 2)) for _ in range(count)]
    return {
        "a rare word": [Question(source.choice(rare)) for _ in range(count)],
        "an uncommon word": [Question(source.choice(uncommon)) for _ in range(count)],
        "a family name": [Question(source.choice(made).sender.split()[1]) for _ in range(count)],
        "a word in a month": [Question(source.choice(common), days=days) for _ in range(count)],
        "two common words": [Question(" ".join(source.sample(common, 2))) for _ in range(count)],
        "a phrase": [Question(f'"{text}"', to_the_letter=True) for text in phrases],
        "a phrase of common words": [Question(f'"{text}"', to_the_letter=True) for text in alike],
        "the beginning of a word": [
            Question(f"{source.choice(uncommon)[:4]}*", to_the_letter=True) for _ in range(count)
        ],
    }


def ask(index: Index, question: Question, limit: int = LIMIT) -> list[int]:
    """Return the numbers of the messages the index finds."""
    since, until = question.days or (None, None)
    return [int(hit.message[1:]) for hit in index.search(question.text, limit, since, until)]


def timed(work: Callable[[], object]) -> float:
    """Return the milliseconds of processor time it takes: what else the machine does meanwhile does not count."""
    start = time.thread_time_ns()
    work()
    return (time.thread_time_ns() - start) / 1e6


def spread(taken: Sequence[float]) -> tuple[float, float]:
    """Return the median and the 95th percentile."""
    return statistics.median(taken), statistics.quantiles(taken, n=20)[18]


def bench(index: Index, bare: Bare, name: str, asked: Sequence[Question]) -> None:
    """Put questions of one kind to all three and print one line."""
    ways: dict[str, list[float]] = {}
    for question in asked[:WARMING]:
        ask(index, question)
        for way, work in bare.ways(question).items():
            ways.setdefault(way, []).append(timed(work))
    way = min(ways, key=lambda way: statistics.median(ways[way]))
    ours, theirs, making = [], [], []
    for question in asked[WARMING:]:
        stems.cache_clear()
        ours.append(timed(partial(ask, index, question)))
        stems.cache_clear()
        theirs.append(timed(bare.ways(question)[way]))
        stems.cache_clear()
        making.append(timed(question.match))
    scans = [timed(partial(bare.scan, question)) for question in asked[-SCANNED:]]
    (p50, p95), (bare50, bare95), (scan, _) = spread(ours), spread(theirs), spread(scans)
    sets = [(set(ask(index, q, 1 << 30)), bare.all(q)) for q in asked]
    equal = sum(mine == theirs for mine, theirs in sets)
    hits = statistics.mean(len(mine) for mine, _ in sets)
    print(
        f"{name:<26}{p50:>9.3f}{p95:>9.3f}{bare50:>9.3f}{bare95:>9.3f}{p50 / bare50:>8.2f}{p95 / bare95:>8.2f}"
        f"{scan:>9.1f}{p50 / scan:>9.4f}{hits:>10.1f}{equal:>6} of {len(sets)}"
        f"{statistics.median(making):>9.3f}   {way}"
    )


def bench_new(folder: Path, bare: Bare, count: int, rounds: int) -> None:
    """Time how long after the records have a new message a reader opened before finds it, merges included."""
    writer, reader = Index(folder), Index(folder)
    reader.search("nothing")
    found: list[float] = []
    whole: list[float] = []
    theirs: list[float] = []
    for number in range(count + 1, count + rounds + 1):
        word = "zq" + "".join(chr(97 + int(digit)) for digit in str(number))
        entry = one_more(number, word)
        start = time.perf_counter()

        def there(done: int, entry: IndexEntry = entry, word: str = word, start: float = start) -> None:
            assert entry.message in {hit.message for hit in reader.search(word)}
            found.append((time.perf_counter() - start) * 1_000)

        def fetch(after: int, limit: int, entry: IndexEntry = entry) -> list[IndexEntry]:
            return [entry] if after < entry.revision else []

        writer.catch_up(fetch, progress=there)
        whole.append((time.perf_counter() - start) * 1_000)
        start = time.perf_counter()
        bare.add(entry)
        assert bare.base.execute("select rowid from word where word match ?", (word,)).fetchall()
        theirs.append((time.perf_counter() - start) * 1_000)
    for name, taken in (("searchable", found), ("segments merged as well", whole), ("FTS5", theirs)):
        p50, p95 = spread(taken)
        print(
            f"one new message, {rounds} one after the other, ms, {name}: {p50:.1f}, {p95:.1f}, longest {max(taken):.1f}"
        )


def build(folder: Path, made: Sequence[IndexEntry]) -> Index:
    """Return the index of the messages, built unless it is there."""
    index = Index(folder)
    start, cpu = time.perf_counter(), time.process_time()
    taken = index.catch_up(lambda after, limit: made[after : after + limit])
    if taken:
        seconds, cpu = time.perf_counter() - start, time.process_time() - cpu
        print(f"index built in {seconds:.1f} s, {cpu:.1f} s of processor: {taken / cpu:.0f} messages a second of it")
    size = sum(path.stat().st_size for path in folder.iterdir())
    opening = statistics.median(timed(lambda: Index(folder).position()) for _ in range(5))
    print(f"index: {size / len(made):.0f} bytes a message, opened and its files checked in {opening:.1f} ms")
    return index


def run(folder: Path, count: int, asked: int) -> None:
    """Build both, compare, print."""
    made = list(entries(count))
    # The generated messages are no part of a search: collecting garbage must not go through them.
    gc.freeze()
    print(f"{count} messages")
    index = build(folder / "index", made)
    bare = Bare(folder / "fts5.db", made)
    print(f"FTS5: {bare.bytes / count:.0f} bytes a message" + (f", {bare.seconds:.1f} s" if bare.seconds > 1 else ""))
    print(
        f"{'milliseconds':<26}{'p50':>9}{'p95':>9}{'FTS5 p50':>9}{'p95':>9}{'ratio':>8}{'p95':>8}{'scan':>9}"
        f"{'ratio':>9}{'hits':>10}{'same hits':>10}{'making':>9}   fastest way for FTS5"
    )
    for name, some in questions(made, asked + WARMING).items():
        bench(index, bare, name, some)
    bare.base.close()
    with tempfile.TemporaryDirectory() as name:
        shutil.copytree(folder / "index", Path(name) / "index", copy_function=shutil.copy2)
        shutil.copy(folder / "fts5.db", name)
        bench_new(Path(name) / "index", Bare(Path(name) / "fts5.db", made), count, 200)


def main() -> int:
    """Run the comparison and print it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--messages", type=int, default=20_000)
    parser.add_argument("--queries", type=int, default=100)
    parser.add_argument("--keep", type=Path, help="folder in which index and database stay for the next run")
    options = parser.parse_args()
    if options.keep is not None:
        folder = options.keep / str(options.messages)
        folder.mkdir(parents=True, exist_ok=True)
        run(folder, options.messages, options.queries)
        return 0
    with tempfile.TemporaryDirectory() as name:
        run(Path(name), options.messages, options.queries)
    return 0


if __name__ == "__main__":
    sys.exit(main())
