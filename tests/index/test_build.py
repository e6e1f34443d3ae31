"""What the fast writer leaves is what whoosh itself would leave."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from index_entries import entries, entry, fetch_from, vocabulary
from whoosh import columns, fields, index
from whoosh.analysis import Token
from whoosh.reading import SegmentReader
from whoosh.scoring import BM25F

from counterfoil.index import Index
from counterfoil.index.build import FIELD_GAP
from counterfoil.index.layout import ShortText
from counterfoil.index.query import understand
from counterfoil.index.words import left_out, words
from counterfoil.model import IndexEntry


class Parts:
    """whoosh's analyser for a body of three parts, each so far from the next that no phrase reaches over."""

    def __call__(self, value: str, **wanted: Any) -> Iterator[Token]:
        """Yield a token a word."""
        token, start = Token(positions=True, boost=1.0), 0
        for part in value.split("\x1f"):
            found = words(part)
            for place, word in enumerate(found, start):
                if not left_out(word):
                    token.text, token.pos, token.boost = word, place, 1.0
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
)


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
        )
    writer.commit(merge=merge)
    return found


def contents(reader: Any) -> dict[tuple[str, bytes], list[tuple[int, float, Any]]]:
    """Return all postings by field and word: message number, weight, positions or frequency."""
    numbers = list(reader.column_reader("number"))
    found = {}
    for field, word in reader.all_terms():
        matcher = reader.postings(field, word)
        form = reader.schema[field].format
        decode = form.decode_positions if field == "body" else form.decode_frequency
        rows = []
        while matcher.is_active():
            rows.append((numbers[matcher.id()], matcher.weight(), decode(matcher.value())))
            matcher.next()
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


def readers(found: Index) -> list[Any]:
    """Return whoosh's readers of an index's segments."""
    found.count()
    assert found._view is not None
    return list(found._view.readers.values())


@pytest.fixture(scope="module")
def made() -> list[IndexEntry]:
    """300 messages: lists of postings from one message up to several blocks."""
    return entries(300)


def test_postings_are_those_of_whoosh(tmp_path: Path, made: list[IndexEntry]) -> None:
    """Every word of every field has the same messages, weights, positions and statistics as whoosh 2.7.4 writes."""
    ours = Index(tmp_path / "ours")
    ours.catch_up(fetch_from(made))
    (reader,) = readers(ours)
    stock = stock_index(tmp_path / "stock", made).reader()
    assert contents(reader) == contents(stock)
    assert statistics(reader) == statistics(stock)
    assert reader.field_length("body") == stock.field_length("body")
    assert max(len(rows) for rows in contents(stock).values()) > 128


def test_whoosh_merges_our_segments(tmp_path: Path, made: list[IndexEntry]) -> None:
    """whoosh's own writer, given our segments to merge, comes to the postings it would have written itself."""
    ours = Index(tmp_path / "ours")
    ours.catch_up(fetch_from(made), batch=100)
    merged = index.create_in(str(_folder(tmp_path / "merged")), STOCK)
    writer = merged.writer()
    for reader in readers(ours):
        writer.add_reader(reader)
    writer.commit()
    assert contents(merged.reader()) == contents(stock_index(tmp_path / "stock", made).reader())


def test_our_merges_change_nothing(tmp_path: Path, made: list[IndexEntry]) -> None:
    """After many small batches, merged, some messages changed, the postings are those of the last forms."""
    changed = [entry(n, "quite other words", revision=1000 + n, again=True) for n in range(5, 200, 3)]
    ours = Index(tmp_path / "ours")
    ours.catch_up(fetch_from([*made, *changed]), batch=10)
    assert len(readers(ours)) < 20
    last = {e.message: e for e in [*made, *changed]}
    expected = contents(stock_index(tmp_path / "stock", list(last.values())).reader())
    found: dict[tuple[str, bytes], list[tuple[int, float, Any]]] = {}
    for reader in readers(ours):
        for key, rows in contents(reader).items():
            found.setdefault(key, []).extend(rows)
    assert {k: sorted(v) for k, v in found.items() if v} == {k: sorted(v) for k, v in expected.items()}


def test_scores_are_those_of_whoosh(tmp_path: Path, made: list[IndexEntry]) -> None:
    """The bulk reading gives the scores of whoosh's own search with BM25F, to 4 decimals."""
    known = vocabulary()
    queries = [known[0], f"{known[0]} {known[5]}", f"{known[1]} OR {known[40]}", f"{known[2]} NOT {known[3]}"]
    queries += [f"({known[0]} OR {known[7]}) {known[1]}", f'"{known[0]} {known[1]}"', f"{known[9][:3]}*", "solvang"]
    ours = Index(tmp_path / "ours")
    ours.catch_up(fetch_from(made))
    stock = stock_index(tmp_path / "stock", made)
    answered = 0
    with stock.searcher(weighting=BM25F()) as searcher:
        numbers = list(searcher.reader().column_reader("number"))
        for text in queries:
            results = searcher.search(understand(text), limit=None)
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
    (reader,) = readers(ours)
    assert type(reader) is SegmentReader
    assert type(reader.codec()).__module__ == "whoosh.codec.whoosh3"


def _folder(path: Path) -> Path:
    path.mkdir()
    return path
