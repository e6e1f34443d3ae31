"""The hits of a query, best first: BM25 as whoosh reckons it, gathered in bulk.

A word in its forms counts as one word: a message has it as often as its commonest form, and it is as rare as that form
is. Long lists are one byte a message, so that two common words meet in a few operations on whole segments; short ones
are dictionaries.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from itertools import compress
from math import log
from operator import itemgetter

from whoosh import query
from whoosh.scoring import BM25F
from whoosh.util.numeric import byte_to_length

from counterfoil.index.layout import SCHEMA
from counterfoil.index.nodes import DayRange, Row, Word
from counterfoil.index.postings import key_of
from counterfoil.index.reading import Counts, Entry, Leaf
from counterfoil.index.rows import Places, in_a_row

#: Score by number of the message in its segment.
Scores = dict[int, float]

#: What was found in the tables of words is kept for so many words.
WORDS_KEPT = 2_000
#: Up to here sorting all scores is faster than keeping a heap of the best.
_SORTED = 4_000
_K1, _B = BM25F().K1, BM25F().B
_IS_THERE = bytes([0]) + bytes([1]) * 255


class Segments:
    """All segments of one commit, and what is known of all of them together.

    Args:
        leaves: the segments.
        lengths: the number of words of all messages, by field.
    """

    def __init__(self, leaves: Sequence[Leaf], lengths: dict[str, int]) -> None:
        self.leaves = leaves
        self.messages = sum(leaf.size for leaf in leaves)
        self._averages = {field: length / (self.messages or 1) or 1.0 for field, length in lengths.items()}
        self._norms: dict[str, list[float]] = {}
        self._entries: dict[tuple[str, ...], tuple[list[tuple[Entry, ...]], float]] = {}

    def look_up(self, field: str, words: tuple[str, ...]) -> tuple[list[tuple[Entry, ...]], float]:
        """Return the entries of words in the table of each segment, and their weight (BM25's idf) as one word."""
        key = (field, *words)
        known = self._entries.get(key)
        if known is not None:
            return known
        keys = [key_of(field, word.encode()) for word in words]
        entries: list[tuple[Entry, ...]] = []
        messages = [0] * len(words)
        for leaf in self.leaves:
            some = []
            for at, (encoded, hashed) in enumerate(keys):
                entry = leaf.find(encoded, hashed)
                if entry is not None:
                    messages[at] += entry[0]
                    some.append(entry)
            entries.append(tuple(some))
        if len(self._entries) >= WORDS_KEPT:
            self._entries.clear()
        self._entries[key] = found = (entries, log(self.messages / (max(messages) + 1)) + 1)
        return found

    def norms(self, field: str) -> list[float]:
        """Return what BM25 adds to the count below the line, by whoosh's length byte."""
        if field not in self._norms:
            slope = _K1 * _B / self._averages[field]
            self._norms[field] = [_K1 * (1 - _B) + slope * byte_to_length(size) for size in range(256)]
        return self._norms[field]


def best(
    segments: Segments, found: query.Query, limit: int, low: int | None, high: int | None
) -> list[tuple[int, float]]:
    """Return number and score of the best messages; on equal scores the newest first.

    Args:
        segments: the segments asked.
        found: the query.
        limit: the most hits returned.
        low: first day of receipt, as ordinal; None: from the beginning.
        high: last day of receipt, as ordinal; None: to the end.
    """
    if low is not None or high is not None:
        days = DayRange(low or 1, high or 1 << 31)
        found = query.And([*(found.subqueries if type(found) is query.And else [found]), days])
    hits: list[tuple[float, int, int]] = []
    for at, leaf in enumerate(segments.leaves):
        documents, scores = _gather_lists(segments, at, found)
        if leaf.deleted and documents:
            kept = [n not in leaf.deleted for n in documents]
            documents, scores = list(compress(documents, kept)), list(compress(scores, kept))
        if len(documents) > 2 * limit:
            # Most are worse than the best: only those that may be among them get their day looked up.
            least = _best_of(scores, limit)
            kept = [score >= least for score in scores]
            documents, scores = list(compress(documents, kept)), list(compress(scores, kept))
        if documents:
            received, numbers = leaf.column("date"), leaf.column("number")
            hits += [(score, received[n], numbers[n]) for n, score in zip(documents, scores, strict=True)]
    hits.sort(reverse=True)
    return [(number, score) for score, _, number in hits[:limit]]


def _best_of(scores: Sequence[float], count: int) -> float:
    """Return the score that so many reach."""
    return sorted(scores)[-count] if len(scores) < _SORTED else heapq.nlargest(count, scores)[-1]


def _gather_lists(segments: Segments, at: int, found: query.Query) -> tuple[list[int], list[float]]:
    """Return the matching messages of one segment and their scores."""
    if type(found) is Word:
        return _all_words(segments, at, [found], None)
    if type(found) is query.And and all(type(part) in (Word, DayRange) for part in found.subqueries):
        words = [part for part in found.subqueries if type(part) is Word]
        days = [part for part in found.subqueries if type(part) is DayRange]
        return _all_words(segments, at, words, _days(segments.leaves[at], days))
    scores = gather(segments, at, found)
    return list(scores), list(scores.values())


def gather(segments: Segments, at: int, found: query.Query) -> Scores:
    """Return the score of each matching message of one segment, by number in the segment."""
    leaf = segments.leaves[at]
    match found:
        case Word():
            return dict(zip(*_all_words(segments, at, [found], None), strict=True))
        case DayRange():
            return dict.fromkeys(leaf.days(found.low, found.high), 0.0)
        case Row():
            return _row(segments, at, found)
        case query.Prefix():
            return _beginning(leaf, found)
        case query.Term() if found.fieldname in SCHEMA and SCHEMA[found.fieldname].indexed:
            return _term(leaf, found)
        case query.And():
            return _all(segments, at, found.subqueries)
        case query.Or():
            return _any(segments, at, found.subqueries)
        case query.Not():
            without = gather(segments, at, found.query)
            return {n: 0.0 for n in range(leaf.size) if n not in without}
        case query.AndNot():
            return _all(segments, at, [found.a, query.Not(found.b)])
        case query.Require():
            return _all(segments, at, [found.a, found.b])
        case query.AndMaybe():
            more = gather(segments, at, found.b)
            return {n: score + more.get(n, 0.0) for n, score in gather(segments, at, found.a).items()}
        case _:
            # An empty query: nothing else comes out of the parser.
            return {}


def _days(leaf: Leaf, ranges: Sequence[DayRange]) -> list[int] | None:
    if not ranges:
        return None
    return leaf.days(max(part.low for part in ranges), min(part.high for part in ranges))


def _all_words(
    segments: Segments, at: int, words: Sequence[Word], among: list[int] | None
) -> tuple[list[int], list[float]]:
    """Intersect words, the rarest first, and add up their scores.

    Args:
        segments: the segments.
        at: which of them.
        words: the words.
        among: rising numbers of the only messages asked about; None for all.
    """
    looked_up = []
    for place, word in enumerate(words):
        entries, idf = segments.look_up(word.fieldname, word.asked)
        if not entries[at]:
            return [], []
        looked_up.append((max(entry[0] for entry in entries[at]), place, word, entries[at], idf * (_K1 + 1)))
    if among is not None and not among:
        return [], []
    if not looked_up:
        return among or [], [0.0] * len(among or [])
    leaf, norms = segments.leaves[at], segments.norms("stem")
    if among is None and len(looked_up) == 1 and all(entry[1] is not None for entry in looked_up[0][3]):
        return _rare(looked_up[0][3], looked_up[0][4], norms, leaf.lengths("stem"))
    lists: list[tuple[int, Counts, float]] = []
    for _, place, word, entries_here, top in sorted(looked_up, key=itemgetter(0)):
        counts = leaf.counts((word.fieldname, *word.asked), entries_here, among)
        if isinstance(counts, dict):
            among = [n for n in among if n in counts] if among is not None else sorted(counts)
            if not among:
                return [], []
        lists.append((place, counts, top))
    # Added up in the order asked, whatever the segment: equal messages get equal scores to the last bit.
    lists.sort(key=itemgetter(0))
    if among is None:
        return _all_dense([(counts, top) for _, counts, top in lists if isinstance(counts, bytes)], leaf, norms)
    for _, counts, _ in lists:
        if isinstance(counts, bytes):
            among = [n for n in among if counts[n]]
    lengths = leaf.lengths("stem")
    below = [norms[lengths[n]] for n in among]
    scores = [0.0] * len(among)
    for _, counts, top in lists:
        scores = [s + top * counts[n] / (counts[n] + k) for s, n, k in zip(scores, among, below, strict=True)]
    return among, scores


def _rare(
    entries: Iterable[Entry], top: float, norms: Sequence[float], lengths: bytes
) -> tuple[list[int], list[float]]:
    """Return the messages of a word that has few, all of them in the table of words, and their scores."""
    counts: dict[int, int] = {}
    for _, inline, _ in entries:
        for number, count in zip(inline[0], inline[1], strict=True) if inline else ():
            if counts.get(number, 0) < count:
                counts[number] = count
    return list(counts), [top * count / (count + norms[lengths[n]]) for n, count in counts.items()]


def _all_dense(
    lists: Sequence[tuple[bytes, float]], leaf: Leaf, norms: Sequence[float]
) -> tuple[list[int], list[float]]:
    """Intersect lists of one byte a message as whole numbers."""
    mask = lists[0][0]
    if len(lists) > 1:
        together = -1
        for counts, _ in lists:
            together &= int.from_bytes(counts.translate(_IS_THERE), "little")
        mask = together.to_bytes(leaf.size, "little")
    below = [norms[length] for length in compress(leaf.lengths("stem"), mask)]
    counts, top = lists[0]
    scores = [top * count / (count + k) for count, k in zip(compress(counts, mask), below, strict=True)]
    for counts, top in lists[1:]:
        some = compress(counts, mask)
        scores = [s + top * count / (count + k) for s, count, k in zip(scores, some, below, strict=True)]
    return list(compress(range(leaf.size), mask)), scores


def _all(segments: Segments, at: int, parts: Sequence[query.Query]) -> Scores:
    """Intersect; what must not be there is taken away at the end."""
    wanted = [part for part in parts if not isinstance(part, query.Not)]
    words = [part for part in wanted if type(part) is Word]
    days = [part for part in wanted if type(part) is DayRange]
    scores: Scores | None = None
    if words or days:
        among = _days(segments.leaves[at], days)
        scores = dict(zip(*_all_words(segments, at, words, among), strict=True))
    for part in wanted:
        if type(part) in (Word, DayRange):
            continue
        if scores is not None and not scores:
            return {}
        other = gather(segments, at, part)
        scores = other if scores is None else {n: s + other[n] for n, s in scores.items() if n in other}
    if scores is None:
        scores = dict.fromkeys(range(segments.leaves[at].size), 0.0)
    for part in parts:
        if isinstance(part, query.Not) and scores:
            for number in gather(segments, at, part.query):
                scores.pop(number, None)
    return scores


def _any(segments: Segments, at: int, parts: Iterable[query.Query]) -> Scores:
    scores: Scores = {}
    for part in parts:
        more = gather(segments, at, part)
        if not scores:
            scores = dict(more)
            continue
        for number, score in more.items():
            scores[number] = scores.get(number, 0.0) + score
    return scores


def _term(leaf: Leaf, term: query.Term) -> Scores:
    """Return how often a word is in a short field."""
    entry = leaf.find(*key_of(term.fieldname, term.text.encode()))
    if entry is None:
        return {}
    numbers, counts = leaf.postings(entry)
    return dict(zip(numbers, map(float, counts), strict=True))


def _beginning(leaf: Leaf, found: query.Prefix) -> Scores:
    numbers: set[int] = set()
    for entry in leaf.beginning(found.fieldname, found.text.encode()):
        numbers.update(leaf.postings(entry)[0])
    return dict.fromkeys(numbers, 1.0)


def _row(segments: Segments, at: int, row: Row) -> Scores:
    """Return the messages that have words in a row; the scores of the words are added up."""
    leaf, norms, lengths = segments.leaves[at], segments.norms("body"), segments.leaves[at].lengths("body")
    looked_up = []
    for place, word in row.words:
        entries, idf = segments.look_up("body", (word,))
        if not entries[at]:
            return {}
        looked_up.append((entries[at][0], place, idf * (_K1 + 1)))
    lists: dict[int, Places] = {}
    among: Sequence[int] | None = None
    for entry, place, _ in sorted(looked_up, key=lambda found: found[0][0]):
        lists[place] = leaf.places(entry, among)
        # The fewest of all tell which parts of the longer lists need not be read.
        among = lists[place].numbers if among is None else among
        if not lists[place].numbers:
            return {}
    tops = [top for _, _, top in looked_up]
    scores: Scores = {}
    for number, counts in in_a_row([(place, lists[place]) for _, place, _ in looked_up], row.slop):
        below = norms[lengths[number]]
        scores[number] = sum(top * count / (count + below) for top, count in zip(tops, counts, strict=True))
    return scores
