"""Text to words."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterfoil.index.words import fold, is_sign, left_out, stretches, words, written_words


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Müller, Straße!", ["muller", "strasse"]),
        ("key* (VELA-300)", ["key", "vela", "300"]),
        ("l'activation d’été", ["l", "activation", "d", "ete"]),
        ("Ærøskov Łódź ﬁn", ["aeroskov", "lodz", "fin"]),
        ("cafe\u0301s", ["cafes"]),
        ("Garan\u00adtie", ["garantie"]),
        ("保証期間", ["保証", "証期", "期間", "間"]),
        ("ガイド", ["ガイ", "イド", "ド"]),
        ("ｶﾞｲﾄﾞ", ["ガイ", "イド", "ド"]),
        ("針はABC-12針", ["針は", "は", "abc", "12", "針"]),
        ("snake_case a.b@c.example", ["snake", "case", "a", "b", "c", "example"]),
    ],
)
def test_words_are_letters_and_digits_folded(text: str, expected: list[str]) -> None:
    """Words are runs of letters and digits without case, accents and invisible characters."""
    assert words(text) == expected


@pytest.mark.parametrize("word", ["ab12cd", "hg123456k", "1a2b3c4d5e", "x" * 65, "9" * 65])
def test_codes_and_endless_words_are_left_out(word: str) -> None:
    """Letters and digits mixed, six or more, are a code; more than 64 characters are no word."""
    assert left_out(word)


@pytest.mark.parametrize("word", ["nx90", "v2", "garantie", "2026114501", "firmware"])
def test_words_and_numbers_stay(word: str) -> None:
    """Plain words, plain numbers and short mixtures are words."""
    assert not left_out(word)


@given(st.text(max_size=60).filter(lambda text: not any(is_sign(c) for c in fold(text))))
def test_folding_twice_changes_nothing(text: str) -> None:
    """A folded text is folded: what is indexed and what is asked for meet."""
    assert words(" ".join(words(text))) == words(text)


@given(st.text(alphabet=st.characters(codec="latin-1"), max_size=60))
def test_composed_and_decomposed_are_the_same(text: str) -> None:
    """Unicode's equivalent spellings (UAX 15, forms C and D) give the same words."""
    assert words(unicodedata.normalize("NFC", text)) == words(unicodedata.normalize("NFD", text))


@given(st.text(alphabet="aé ñZ9-.ß\u0301", max_size=40))
def test_written_words_are_where_they_say(text: str) -> None:
    """Each word as written stands at its span, and folds to the form given."""
    for start, end, form in written_words(text):
        assert fold(text[start:end]) == form


@given(st.text(alphabet="保証期間ミシンの aＡ1ガ、", max_size=30))
def test_pairs_hold_the_whole_stretch(text: str) -> None:
    """The first signs of the words of each stretch without spaces, in a row, are the stretch."""
    firsts = "".join(word[0] if is_sign(word) else word for word in words(text))
    assert firsts == "".join(stretches(text))
