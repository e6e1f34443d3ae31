"""The query language, and the order of hits."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from index_entries import entry, fetch_from

from counterfoil.index import Index
from counterfoil.index.layout import days_of

MADE = [
    entry(1, "The embroidery unit was activated.", subject="Fwd: activation", sender="Marit Solvang marit@post.example",
          received=date(2026, 1, 31), maker="Hartgold", model="Vela 300", language="en"),
    entry(2, "Das Stickmodul wurde aktiviert, Frau Müller.", subject="Wg: Freischaltung", sender="Ilse Brückwald",
          received=date(2026, 2, 28), maker="Nadelwerk", model="NX9000A", language="de"),
    entry(3, "The sewing unit was not activated, the embroidery was.", subject="unit", sender="Teun Duinhoven",
          received=date(2026, 3, 14), maker="Hartgold", model="Vela 200", language="en"),
    entry(4, "nothing of that", received=None),
    entry(5, "保証期間は購入日から２年間です。ミシンの針 key HG1234K9 of card", received=None, subject="保証書",
          language="ja"),
    entry(6, "Bonjour, voici la mail du fabricant: your guarantees were extended. Cordialement", received=None,
          sender="Odile Chantrelle", language="fr"),
]  # fmt: skip


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Index:
    """An index of four messages in two segments."""
    made = Index(tmp_path_factory.mktemp("query") / "index")
    made.catch_up(fetch_from(MADE), batch=2)
    return made


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("embroidery unit", {"E1", "E3"}),
        ("EMBROIDERY", {"E1", "E3"}),
        ("muller", {"E2"}),
        ("Mu\u0308ller", {"E2"}),
        ("marit", {"E1"}),
        ("activation", {"E1", "E3"}),
        ('"activation"', {"E1"}),
        ("aktivieren", {"E2"}),
        ("AKTIVIERTEN Stickmodule", {"E2"}),
        ("guarantee", {"E6"}),
        ('"guarantee"', set()),
        ("guarantee extending", {"E6"}),
        ("保証", {"E5"}),
        ("購入日", {"E5"}),
        ("入日か", {"E5"}),
        ("ミシン", {"E5"}),
        ("シン", {"E5"}),
        ("ミンシ", set()),
        ("針", {"E5"}),
        ("書", {"E5"}),
        ("購入 針", {"E5"}),
        ('"ミシンの針"', {"E5"}),
        ('"保証書"', {"E5"}),
        ('"間は購入"', {"E5"}),
        ("2年間", {"E5"}),
        ('"key of card"', set()),
        ('"key HG1234K9 of card"', {"E5"}),
        ('"unit activated"', set()),
        ('"unit activated"~2', {"E1"}),
        ('"unit activated"~3', {"E1", "E3"}),
        ("embroidery ANDNOT sewing", {"E1"}),
        ("embroidery ANDMAYBE sewing", {"E1", "E3"}),
        ("embroidery REQUIRE sewing", {"E3"}),
        ("activ*", {"E1", "E3"}),
        ("AKTIV*", {"E2"}),
        ("aktiv* OR sewing", {"E2", "E3"}),
        ("embroidery NOT sewing", {"E1"}),
        ("embroidery AND (sewing OR nothing)", {"E3"}),
        ('"embroidery unit"', {"E1"}),
        ('"unit was not"', {"E3"}),
        ('"activated fwd"', set()),
        ("subject:unit", {"E3"}),
        ("subject: unit", {"E3"}),
        ("subject:stickmodul", set()),
        ('subject:"fwd activation"', {"E1"}),
        ("sender:post.example", {"E1"}),
        ("maker:hartgold embroidery", {"E1", "E3"}),
        ("model:vela", {"E1", "E3"}),
        ("model:300", {"E1"}),
        ("model:nx9000a", {"E2"}),
        ("lang:de", {"E2"}),
        ("date:2026", {"E1", "E2", "E3"}),
        ("date:2026-02", {"E2"}),
        ("date:202602", {"E2"}),
        ("date:2026-03-14", {"E3"}),
        ("date:20260314", {"E3"}),
        ("date:[20260131 TO 20260228]", {"E1", "E2"}),
        ("date:{20260131 TO 20260228]", {"E2"}),
        ("date:[2026-02 TO 2026-03]", {"E2", "E3"}),
        ("date:[2026-02 TO]", {"E2", "E3"}),
        ("date:[TO 2026-01]", {"E1"}),
        ("embroidery date:2026-03", {"E3"}),
        ("embroidery NOT date:2026-03", {"E1"}),
        ("was it activated?", set()),
        ("embroidery?", {"E1", "E3"}),
        ("", set()),
    ],
)
def test_the_query_language(found: Index, text: str, expected: set[str]) -> None:
    """Words, OR, NOT, brackets, phrases, beginnings, fields and dates find what they say and nothing else."""
    assert {hit.message for hit in found.search(text)} == expected


@pytest.mark.parametrize("text", ['"embroidery unit', "(embroidery unit", "embroidery unit)))", "date:soon embroidery",
                                  "embroidery:unit", "[unit TO", "AND embroidery unit", "^ embroidery ~ unit \\",
                                  "embroidery - unit + *", "date:2026-13 embroidery"])  # fmt: skip
def test_a_slip_is_no_error(found: Index, text: str) -> None:
    """What is not in the query language is taken as plain words."""
    assert isinstance(found.search(text), list)
    if "date" not in text and "AND" not in text and "TO" not in text:
        assert {hit.message for hit in found.search(text)} == {"E1", "E3"}


@settings(max_examples=250, deadline=None)
@given(
    st.one_of(
        st.text(alphabet="ab*\"'()[]{}:^~?\\ANDORTto12-. \x00subjectdate", max_size=40),
        st.text(max_size=60),
        st.lists(
            st.sampled_from(
                [
                    "unit",
                    "aktiv*",
                    '"',
                    "(",
                    ")",
                    " AND ",
                    " OR ",
                    " NOT ",
                    "subject:",
                    "date:",
                    "[",
                    "TO",
                    "]",
                    "~3",
                    "保証",
                    "*",
                    "-",
                    "2026",
                    "\ud800",
                    "½",
                    "lang:",
                    "ﬁ",
                    "𠮷",
                    "stem:",
                    "number:",
                    "\u0301",
                    "ss" * 300,
                ]
            ),
            max_size=12,
        ).map("".join),
    )
)
def test_no_input_raises(found: Index, text: str) -> None:
    """Whatever is typed gives a list of hits and a snippet."""
    assert isinstance(found.search(text), list)
    assert isinstance(found.snippets("a text about subject ab", text), str)


def test_since_and_until_are_included(found: Index) -> None:
    """A search restricted to days takes in both of them, and nothing of unknown date."""
    hits = found.search("embroidery OR stickmodul OR nothing", since=date(2026, 1, 31), until=date(2026, 2, 28))
    assert {hit.message for hit in hits} == {"E1", "E2"}


def test_any_word_finds_some(found: Index) -> None:
    """Asked for any of the words, messages with more of them come first."""
    hits = found.search("embroidery sewing stickmodul", any_word=True)
    assert hits[0].message == "E3"
    assert {hit.message for hit in hits} == {"E1", "E2", "E3"}


def test_best_first_and_newest_first_on_ties(tmp_path: Path) -> None:
    """A message with the word twice comes before one with it once; equals come newest first, across segments."""
    made = [entry(n, "needle plate", received=date(2026, 1, day)) for n, day in ((1, 5), (2, 9), (3, 9), (4, 1))]
    made.append(entry(5, "needle needle plate", received=date(2020, 1, 1)))
    index = Index(tmp_path / "index")
    index.catch_up(fetch_from(made), batch=2)
    assert [hit.message for hit in index.search("needle")] == ["E5", "E3", "E2", "E1", "E4"]
    assert [hit.message for hit in index.search("needle", limit=2)] == ["E5", "E3"]
    assert [hit.message for hit in index.search("date:2026")] == ["E3", "E2", "E1", "E4"]


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2026", date(2026, 1, 1), date(2026, 12, 31)),
        ("2024-02", date(2024, 2, 1), date(2024, 2, 29)),
        ("2023-02", date(2023, 2, 1), date(2023, 2, 28)),
        ("20240229", date(2024, 2, 29), date(2024, 2, 29)),
    ],
)
def test_years_months_and_days(text: str, first: date, last: date) -> None:
    """The forms of ISO 8601-1:2019, 5.2.2, complete and with reduced precision, give their first and last day."""
    assert days_of(text) == (first.toordinal(), last.toordinal())
