"""What the fast writer leaves is what whoosh itself would leave."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from index_entries import entries, entry, fetch_from, vocabulary
from whoosh import columns, fields, index, query
from whoosh.analysis import Token
from whoosh.scoring import BM25F

from counterfoil.index import Index
from counterfoil.index.build import FIELD_GAP
from counterfoil.index.layout import ShortText, StemText
from counterfoil.index.mapped import MappedReader
from counterfoil.index.nodes import Row, Word
from counterfoil.index.query import understand
from counterfoil.index.reading import Leaf
from counterfoil.index.stems import stems
from counterfoil.index.words import left_out, words
from counterfoil.model import IndexEntry


class Parts:
    """whoosh's analyser for a body of three parts, each so far from the next that no phrase reaches over.

    Args:
        stemmed: give the stems of each word.
    """

    def __init__(self, stemmed: bool = False) -> None:
        self.stemmed = stemmed

    def __call__(self, value: str, **wanted: Any) -> Iterator[Token]:
        """Yield a token a word."""
        token, start = Token(positions=True, boost=1.0), 0
        for part in value.split("\x1f"):
            found = words(part)
            for place, word in enumerate(found, start):
                for text in () if left_out(word) else stems(word) if self.stemmed else (word,):
                    token.text, token.pos, token.boost = text, place, 1.0
                    yield token
            start += len(found) + FIELD_GAP

    def has_morph(self) -> bool:
        """Say that words are not reduced to stems."""
        return False


STOCK = fields.Schema(
    number=fields.COLUMN(columns.NumericColumn("I", default=0)),
    date=fields.COLUMN(columns.NumericColumn("I", default=0)),
    body=fields.TEXT(analyzer=Parts(), phrase=True),
    subject=ShortText(),
    sender=ShortText(),
    maker=ShortText(),
    model=ShortText(codes=True),
    lang=ShortText(),
    stem=StemText(),
)
STOCK["stem"].analyzer = Parts(stemmed=True)


def stock_index(folder: Path, made: list[IndexEntry], *, merge: bool = True) -> Any:
    """Return whoosh's own index of the entries, written by its own writer."""
    folder.mkdir()
    found = index.create_in(str(folder), STOCK)
    writer = found.writer()
    for one in made:
        writer.add_document(
            number=int(one.message[1:]),
            date=one.received.toordinal() if one.received else 0,
            body="\x1f".join((one.body, one.subject, one.sender)),
            subject=one.subject,
            sender=one.sender,
            maker=one.maker,
            model=one.model,
            lang=one.language,
            stem="\x1f".join((one.body, one.subject, one.sender)),
        )
    writer.commit(merge=merge)
    return found


def contents(reader: Any) -> dict[tuple[str, bytes], list[tuple[int, float, Any]]]:
    """Return all postings by field and word: message number, weight, positions of the body."""
    numbers = list(reader.column_reader("number"))
    found = {}
    for field, word in reader.all_terms():
        matcher, form = reader.postings(field, word), reader.schema[field].format
        rows = []
        while matcher.is_active():
            places = form.decode_positions(matcher.value()) if field == "body" else None
            rows.append((numbers[matcher.id()], matcher.weight(), places))
            matcher.next()
        found[field, word] = rows
    return found


def our_contents(leaf: Leaf) -> dict[tuple[str, bytes], list[tuple[int, float, Any]]]:
    """Return all postings of one of our segments in the form of :func:`contents`; deleted messages left out."""
    messages = leaf.column("number")
    found: dict[tuple[str, bytes], list[tuple[int, float, Any]]] = {}
    for field, word, numbers, counts, places in leaf.lists():
        rows: list[tuple[int, float, Any]] = []
        at = 0
        for number, count in zip(numbers, counts, strict=True):
            here = places[at : at + count] if field == "body" else None
            at += count
            if number not in leaf.deleted:
                rows.append((messages[number], count, here))
        found[field, word] = rows
    return found


def statistics(reader: Any) -> dict[tuple[str, bytes], tuple[float, ...]]:
    """Return what whoosh keeps of each word: weight, number of messages, lengths, highest weight, first and last."""
    found: dict[tuple[str, bytes], tuple[float, ...]] = {}
    for field, word in reader.all_terms():
        info = reader.term_info(field, word)
        found[field, word] = (
            info.weight(), info.doc_frequency(), info.min_length(), info.max_length(), info.max_weight(),
            info.min_id(), info.max_id(),
        )  # fmt: skip
    return found


def leaves(found: Index) -> list[Leaf]:
    """Return the segments of an index."""
    found.count()
    assert found._view is not None
    return list(found._view.leaves.values())


@pytest.fixture(scope="module")
def made() -> list[IndexEntry]:
    """300 messages: lists of postings from one message up to several blocks."""
    return entries(300)


def test_postings_are_those_of_whoosh(tmp_path: Path, made: list[IndexEntry]) -> None:
    """Every word of every field has the same messages, weights, positions and statistics as whoosh 2.7.4 writes."""
    ours = Index(tmp_path / "ours")
    ours.catch_up(fetch_from(made))
    (leaf,) = leaves(ours)
    reader, stock = leaf.reader, stock_index(tmp_path / "stock", made).reader()
    assert our_contents(leaf) == contents(stock)
    assert statistics(reader) == statistics(stock)
    assert reader.field_length("body") == stock.field_length("body")
    assert max(len(rows) for rows in contents(stock).values()) > 128


def test_whoosh_reads_what_it_can(tmp_path: Path, made: list[IndexEntry]) -> None:
    """whoosh's own readers find the messages and weights of every word; positions are packed in a way of our own."""
    ours = Index(tmp_path / "ours")
    ours.catch_up(fetch_from(made))
    (leaf,) = leaves(ours)
    numbers = list(leaf.reader.column_reader("number"))
    for (field, word), rows in our_contents(leaf).items():
        matcher = leaf.reader.postings(field, word)
        found = []
        while matcher.is_active():
            found.append((numbers[matcher.id()], matcher.weight()))
            matcher.next()
        assert found == [(number, count) for number, count, _ in rows], word


def test_our_merges_change_nothing(tmp_path: Path, made: list[IndexEntry]) -> None:
    """After many small batches, merged, some messages changed, the postings are those of the last forms."""
    changed = [entry(n, "quite other words", revision=1000 + n, again=True) for n in range(5, 200, 3)]
    ours = Index(tmp_path / "ours")
    ours.catch_up(fetch_from([*made, *changed]), batch=10)
    assert len(leaves(ours)) < 10
    last = {e.message: e for e in [*made, *changed]}
    expected = contents(stock_index(tmp_path / "stock", list(last.values())).reader())
    found: dict[tuple[str, bytes], list[tuple[int, float, Any]]] = {}
    for leaf in leaves(ours):
        for key, rows in our_contents(leaf).items():
            found.setdefault(key, []).extend(rows)
    assert {k: sorted(v) for k, v in found.items() if v} == {k: sorted(v) for k, v in expected.items()}


def as_whoosh_asks(found: query.Query) -> query.Query:
    """Return a query of whoosh's own parts only, for words of one stem."""
    if isinstance(found, Word):
        assert len(found.stems) == 1
        return query.Term("stem", found.stems[0])
    if isinstance(found, Row):
        return query.Phrase("body", [word for _, word in found.words])
    return found.apply(as_whoosh_asks)


def test_scores_are_those_of_whoosh(tmp_path: Path, made: list[IndexEntry]) -> None:
    """The bulk reading gives the scores of whoosh's own search with BM25F, to 4 decimals."""
    known = [word for word in vocabulary() if len(stems(word)) == 1]
    queries = [known[0], f"{known[0]} {known[5]}", f"{known[1]} OR {known[40]}", f"{known[2]} NOT {known[3]}"]
    queries += [f"({known[0]} OR {known[7]}) {known[1]}", f"{known[9][:3]}*", f"subject:{known[0]} {known[1]}"]
    queries += [f'"{known[0]} {known[1]}"', f'{known[0]} "{known[2]}"', f"{known[3]} ANDNOT {known[0]}", known[-1]]
    ours = Index(tmp_path / "ours")
    ours.catch_up(fetch_from(made))
    stock = stock_index(tmp_path / "stock", made)
    answered = 0
    with stock.searcher(weighting=BM25F()) as searcher:
        numbers = list(searcher.reader().column_reader("number"))
        for text in queries:
            results = searcher.search(as_whoosh_asks(understand(text)), limit=None)
            # whoosh adds 1 for a word that is not there, to every hit alike; here it adds nothing.
            plus = 1.0 if " NOT " in text else 0.0
            expected = {f"E{numbers[n]}": round(s - plus, 4) for s, n in results.top_n}
            found = {hit.message: round(hit.score, 4) for hit in ours.search(text, limit=1000)}
            assert found == pytest.approx(expected, abs=2e-4), text
            answered += bool(expected)
    assert answered == len(queries)


def test_nothing_of_a_text_is_stored(tmp_path: Path) -> None:
    """Neither codes nor sentences are in the index files."""
    ours = Index(tmp_path / "ours")
    ours.catch_up(fetch_from([entry(1, "the secret K4TZ9QWX7B of the machine", subject="K4TZ9QWX7B")]))
    data = b"".join(p.read_bytes() for p in (tmp_path / "ours").iterdir())
    assert b"k4tz9qwx7b" not in data.lower()
    assert b"of the machine" not in data
    assert b"machine" in data


def test_segments_need_no_module_of_ours(tmp_path: Path, made: list[IndexEntry]) -> None:
    """The table of contents names whoosh's own classes for segments: it stays readable when ours change."""
    ours = Index(tmp_path / "ours")
    ours.catch_up(fetch_from(made[:5]))
    (leaf,) = leaves(ours)
    assert type(leaf.reader) is MappedReader
    assert type(leaf.reader.codec()).__module__ == "whoosh.codec.whoosh3"
