"""Hits and scores, against a search through the texts that is as plain as can be."""

from __future__ import annotations

import math
import tempfile
from datetime import date, timedelta
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from index_entries import entry, fetch_from
from whoosh.util.numeric import byte_to_length, length_to_byte

from counterfoil.index import Index
from counterfoil.index.stems import stems
from counterfoil.model import IndexEntry

WORDS = ("needle", "needles", "hoop", "hoops", "faden", "fadens", "plate", "2026", "aiguille", "rare")
FIRST = date(2026, 1, 1)


def plainly(made: list[IndexEntry], text: str, since: date | None, until: date | None) -> set[str]:
    """Return the messages that have all parts of a question of words, phrases in quotes and beginnings with a star."""
    found = set()
    for one in made:
        words = one.body.split()
        forms = {stem for word in words for stem in stems(word) or (word,)}
        there = one.received is not None and (since or date.min) <= one.received <= (until or date.max)
        if since is None and until is None:
            there = True
        for part in text.replace('" "', '"|"').replace(" ", "|").split("|"):
            asked = part.strip('"').split("_")
            if part.startswith('"'):
                rows = (words[at : at + len(asked)] for at in range(len(words)))
                there = there and asked in rows
            elif part.endswith("*"):
                there = there and any(word.startswith(part[:-1]) for word in words)
            else:
                there = there and not forms.isdisjoint(stems(part) or (part,))
        if there:
            found.add(one.message)
    return found


BODIES = st.lists(st.sampled_from(WORDS), max_size=12).map(" ".join)
PARTS = st.one_of(
    st.sampled_from(WORDS),
    st.sampled_from([word[:3] + "*" for word in WORDS]),
    st.lists(st.sampled_from(WORDS), min_size=1, max_size=3).map(lambda some: f'"{"_".join(some)}"'),
)
DAYS = st.none() | st.integers(0, 6).map(lambda n: FIRST + timedelta(days=n))


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(BODIES, DAYS), min_size=1, max_size=40),
    st.lists(st.tuples(st.integers(1, 40), BODIES), max_size=6),
    st.integers(1, 15),
    st.lists(st.tuples(st.lists(PARTS, min_size=1, max_size=3, unique=True), DAYS, DAYS), min_size=1, max_size=12),
)
def test_the_hits_are_those_of_a_plain_search(
    texts: list[tuple[str, date | None]],
    changes: list[tuple[int, str]],
    batch: int,
    asked: list[tuple[list[str], date | None, date | None]],
) -> None:
    """Words, phrases, beginnings and days find what a walk through the texts finds, whatever was changed or merged."""
    made = [entry(n, body, received=day) for n, (body, day) in enumerate(texts, 1)]
    forms = {one.message: one for one in made}
    revision = len(made)
    for number, body in changes:
        if number <= len(texts):
            revision += 1
            made.append(entry(number, body, revision=revision, again=True, received=FIRST))
            forms[f"E{number}"] = made[-1]
    with tempfile.TemporaryDirectory() as name:
        index = Index(Path(name) / "index")
        for end in range(batch, len(made) + batch, batch):
            index.catch_up(fetch_from(made[:end]))
        for parts, since, until in asked:
            text = " ".join(parts)
            hits = index.search(text.replace("_", " "), limit=100, since=since, until=until)
            assert {hit.message for hit in hits} == plainly(list(forms.values()), text, since, until), text
            assert len({hit.message for hit in hits}) == len(hits)
            order = [(hit.score, forms[hit.message].received or date.min, int(hit.message[1:])) for hit in hits]
            assert order == sorted(order, reverse=True)
            assert index.search(text.replace("_", " "), limit=3, since=since, until=until) == hits[:3]


def test_the_score_of_a_word_is_bm25(tmp_path: Path) -> None:
    """A word in all its forms is scored as one: as often there as its commonest form, and as rare as that form.

    BM25 with K1 1.2 and B .75: Robertson and Zaragoza, The Probabilistic Relevance Framework (2009), 3.4.2; the idf
    is whoosh's.
    """
    bodies = ["needle needles plate", "plate hoop hoop hoop", "needles", "plate " * 40, "rare"]
    index = Index(tmp_path / "index")
    index.catch_up(fetch_from([entry(n, body) for n, body in enumerate(bodies, 1)]))
    lengths = [sum(len(stems(word)) for word in body.split()) for body in bodies]
    kept = [byte_to_length(length_to_byte(length)) for length in lengths]
    average = sum(lengths) / len(lengths)
    idf = math.log(len(bodies) / (2 + 1)) + 1
    for hit in index.search("needle"):
        at = int(hit.message[1:]) - 1
        count = bodies[at].count("needle")
        expected = idf * count * 2.2 / (count + 1.2 * (0.25 + 0.75 * kept[at] / average))
        assert math.isclose(hit.score, expected, rel_tol=1e-9)
    assert [hit.message for hit in index.search("needle")] == ["E1", "E3"]
