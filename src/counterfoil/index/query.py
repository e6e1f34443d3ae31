"""What somebody typed, as whoosh's query, and the hits it gives.

The query language is whoosh's own: words (all must be there), ``OR``, ``NOT``, brackets, ``"phrases"``, ``word*``,
``field:word`` for subject, sender, body, maker, model, lang, and ``date:2026-03`` or ``date:[20260101 TO 20260301]``.
A question mark is a question mark, not a wildcard. What cannot be read is taken as plain words, never as an error.

Hits are gathered in bulk: whole blocks of postings at a time, intersected as sets, BM25 from a table of the 256
lengths whoosh knows; whatever has no short cut goes through whoosh's matcher. The scores are whoosh's.
"""

from __future__ import annotations

import heapq
import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from whoosh import qparser, query
from whoosh.codec.whoosh3 import LENGTHS_COLUMN
from whoosh.qparser import plugins
from whoosh.query.qcore import QueryError
from whoosh.reading import TermNotFound
from whoosh.scoring import BM25F
from whoosh.util.numeric import byte_to_length

from counterfoil.index.layout import SCHEMA, SHORT_FIELDS, DayRange, column
from counterfoil.index.postings import read_blocks
from counterfoil.index.words import left_out, words

#: Longer input is cut: nobody types it, and time must stay bounded.
QUERY_CHARS = 1_000

Scores = dict[int, float]

_FIELD_AND_SPACE = re.compile(rf"\b({'|'.join(SCHEMA.names())}):\s+(?=\S)")
_FIELD = re.compile(rf"\b(?:{'|'.join(SCHEMA.names())}):")


class _Prefix(plugins.PrefixPlugin.PrefixNode):  # type: ignore[misc]
    """``word*``, folded as words are."""

    def query(self, parser: Any) -> query.Query:
        """Return the query; with several words before the star, only the last is open."""
        field, parts = self.fieldname or parser.fieldname, words(self.text)
        if not parts:
            return query.NullQuery
        whole = [query.Term(field, word) for word in parts[:-1] if not left_out(word)]
        return query.And([*whole, query.Prefix(field, parts[-1])]) if whole else query.Prefix(field, parts[-1])


class _PrefixPlugin(plugins.PrefixPlugin):  # type: ignore[misc]
    nodetype = _Prefix


class _PhraseNode(plugins.PhrasePlugin.PhraseNode):  # type: ignore[misc]
    """A phrase; in fields without positions, all of its words."""

    def query(self, parser: Any) -> query.Query:
        """Return the query."""
        field = self.fieldname or parser.fieldname
        if field in SHORT_FIELDS:
            return query.And([query.Term(field, word) for word in words(self.text)])
        return super().query(parser)


class _PhrasePlugin(plugins.PhrasePlugin):  # type: ignore[misc]
    class PhraseTagger(plugins.PhrasePlugin.PhraseTagger):  # type: ignore[misc]
        def create(self, parser: Any, match: Any) -> _PhraseNode:
            return _PhraseNode(match.group("text"), match.start("text"), int(match.group("slop") or 1))


def _parser(any_word: bool) -> Any:
    group = qparser.OrGroup if any_word else qparser.AndGroup
    parts = [
        plugins.WhitespacePlugin(),
        plugins.FieldsPlugin(),
        _PrefixPlugin(),
        _PhrasePlugin(),
        plugins.RangePlugin(),
        plugins.GroupPlugin(),
        plugins.OperatorsPlugin(),
    ]
    return qparser.QueryParser("body", SCHEMA, plugins=parts, group=group)


_PARSERS: dict[bool, Any] = {}


@lru_cache(maxsize=64)
def understand(text: str, *, any_word: bool = False) -> query.Query:
    """Return whoosh's query for what somebody typed; plain words where it is not in the query language.

    Args:
        text: as typed.
        any_word: take messages that have any of the words, not all.
    """
    text = _FIELD_AND_SPACE.sub(r"\1:", text[:QUERY_CHARS].replace("\x00", " "))
    if any_word not in _PARSERS:
        _PARSERS[any_word] = _parser(any_word)
    try:
        found = _PARSERS[any_word].parse(text)
        faulty = any(getattr(leaf, "error", None) for leaf in found.leaves()) or not _shallow(found)
        found = found.normalize()
    except Exception:  # noqa: BLE001 - whatever whoosh's parser stumbles over, the words themselves can be looked for
        faulty, found = True, query.NullQuery
    if faulty or (found == query.NullQuery and not _FIELD.search(text)):
        return plain(text, any_word=any_word)
    return found


def plain(text: str, *, any_word: bool = False) -> query.Query:
    """Return the query for the words of a text, all signs taken as spaces."""
    terms = [query.Term("body", word) for word in dict.fromkeys(words(text)) if not left_out(word)]
    return (query.Or(terms) if any_word else query.And(terms)).normalize()


def _shallow(found: query.Query, depth: int = 0) -> bool:
    """Say whether a query is nested no deeper than people nest; whoosh recurses."""
    return depth < 20 and all(_shallow(child, depth + 1) for child in found.children())


@lru_cache(maxsize=64)
def asked_words(text: str) -> tuple[frozenset[str], tuple[str, ...]]:
    """Return the words a query asks for in the text, and the beginnings (``word*``); for highlighting."""
    found = understand(text)
    whole: set[str] = set()
    beginnings: list[str] = []
    for leaf in _wanted(found):
        if isinstance(leaf, query.Prefix):
            beginnings.append(leaf.text)
        elif isinstance(leaf, query.Phrase):
            whole.update(leaf.words)
        elif isinstance(leaf, query.Term) and leaf.fieldname not in ("lang", "maker"):
            whole.add(leaf.text)
    return frozenset(whole), tuple(beginnings)


def _wanted(found: query.Query) -> Iterable[query.Query]:
    """Yield the leaves that a hit must or may have, not those it must not have."""
    if isinstance(found, query.Not):
        return
    if isinstance(found, query.AndNot):
        yield from _wanted(found.a)
    elif found.is_leaf():
        yield found
    else:
        for child in found.children():
            yield from _wanted(child)


def best(searcher: Any, found: query.Query, limit: int, low: int | None, high: int | None) -> list[tuple[int, float]]:
    """Return number and score of the best messages; on equal scores the newest first.

    Args:
        searcher: whoosh's searcher over all segments.
        found: the query.
        limit: the most hits returned.
        low: first day of receipt, as ordinal; None: from the beginning.
        high: last day of receipt, as ordinal; None: to the end.
    """
    hits: list[tuple[float, int, int]] = []
    for leaf, _ in searcher.leaf_searchers():
        scores = gather(leaf, found)
        if not scores:
            continue
        days, numbers = column(leaf.reader(), "date"), column(leaf.reader(), "number")
        if low is not None or high is not None:
            first, last = low or 1, high or 1 << 31
            scores = {n: s for n, s in scores.items() if first <= days[n] <= last}
        # Rounded, so that sums that differ in their last bit only count as equal.
        hits += [(round(score, 6), days[n], numbers[n]) for n, score in scores.items()]
    return [(number, score) for score, _, number in heapq.nlargest(limit, hits)]


def gather(leaf: Any, found: query.Query) -> Scores:
    """Return the score of each matching document of one segment, by document number."""
    kind = type(found)
    if _is_word(found):
        return _term(leaf, found)
    if kind is DayRange:
        return dict.fromkeys(found.documents(leaf.reader()), 0.0)
    if kind is query.And and found.boost == 1.0:
        return _all(leaf, found.subqueries)
    if kind is query.Or and found.boost == 1.0 and not found.minmatch:
        return _any(leaf, found.subqueries)
    return by_matcher(leaf, found)


def _is_word(found: query.Query) -> bool:
    return type(found) is query.Term and found.fieldname in SCHEMA and bool(SCHEMA[found.fieldname].indexed)


def by_matcher(leaf: Any, found: query.Query) -> Scores:
    """Return the scores of one segment as whoosh's own matcher gives them."""
    try:
        matcher = found.matcher(leaf, leaf.context())
    except (QueryError, TermNotFound):
        return {}
    scores: Scores = {}
    while matcher.is_active():
        scores[matcher.id()] = matcher.score()
        matcher.next()
    return scores


def _all(leaf: Any, parts: list[query.Query]) -> Scores:
    """Intersect, the rarest first; what must not be there is taken away at the end."""
    wanted = sorted((p for p in parts if not isinstance(p, query.Not)), key=lambda p: p.estimate_size(leaf.reader()))
    if not wanted:
        return by_matcher(leaf, query.And(parts))
    scores = gather(leaf, wanted[0])
    for part in wanted[1:]:
        if not scores:
            return {}
        other = _term(leaf, part, scores) if _is_word(part) else gather(leaf, part)
        scores = {n: scores[n] + other[n] for n in scores.keys() & other.keys()}
    for part in parts:
        if isinstance(part, query.Not) and scores:
            for number in gather(leaf, part.query):
                scores.pop(number, None)
    return scores


def _any(leaf: Any, parts: list[query.Query]) -> Scores:
    if any(isinstance(part, query.Not) for part in parts):
        return by_matcher(leaf, query.Or(parts))
    scores: Scores = {}
    for part in parts:
        for number, score in gather(leaf, part).items():
            scores[number] = scores.get(number, 0.0) + score
    return scores


def _term(leaf: Any, term: query.Term, among: Scores | None = None) -> Scores:
    """Return the scores of a word; with ``among``, of those documents only (and perhaps some of their neighbours)."""
    reader = leaf.reader()
    field = SCHEMA[term.fieldname]
    word = field.to_bytes(term.text)
    try:
        information = reader._terms.term_info(term.fieldname, word)
    except TermNotFound:
        return {}
    if information.is_inlined():
        numbers, weights, _ = information.inlined_postings()
    else:
        wanted = sorted(among) if among is not None else None
        postings = reader._terms._postfile
        numbers, weights, _ = read_blocks(postings, information, field.format, with_values=False, among=wanted)
    if field.scorable:
        scores = _bm25(leaf, term.fieldname, word, numbers, weights)
    else:
        scores = dict(zip(numbers, weights, strict=True))
    for number in reader._perdoc.deleted_docs():
        scores.pop(number, None)
    return scores if term.boost == 1.0 else {n: s * term.boost for n, s in scores.items()}


def _bm25(leaf: Any, field: str, word: bytes, numbers: Iterable[int], weights: Iterable[float]) -> Scores:
    """Score as whoosh's BM25F: B .75, K1 1.2, statistics of all segments."""
    whole = leaf.get_parent()
    model: BM25F = whole.weighting
    idf, average = whole.idf(field, word), whole.avg_field_length(field) or 1
    top, slope = idf * (model.K1 + 1), model.K1 * model.B / average
    table = [model.K1 * (1 - model.B) + slope * byte_to_length(size) for size in range(256)]
    lengths = _lengths(leaf.reader(), field)
    return {n: top * w / (w + table[lengths[n]]) for n, w in zip(numbers, weights, strict=True)}


def _lengths(reader: Any, field: str) -> bytes:
    """Return whoosh's length byte of each document of a segment; kept with the reader once read."""
    kept: dict[str, bytes] = reader.__dict__.setdefault("_counterfoil_lengths", {})
    if field not in kept:
        raw = reader._perdoc._cached_reader(f"_{field}_len", LENGTHS_COLUMN)
        count = reader.doc_count_all()
        data = bytes(raw._dbfile.get(raw._basepos, raw._count)) if raw is not None else b""
        kept[field] = data.ljust(count, b"\0")
    return kept[field]
