"""Words in a row."""

from __future__ import annotations

from array import array

from hypothesis import given
from hypothesis import strategies as st

from counterfoil.index.rows import Places, in_a_row

TEXTS = st.lists(st.text(alphabet="abc.", max_size=12), max_size=12)


def places_of(letter: str, texts: list[str]) -> Places:
    """Return where a letter stands in texts of letters; the number of a text is ten times its place."""
    found = Places()
    for number, text in enumerate(texts):
        here = array("H", [at for at, other in enumerate(text) if other == letter])
        if here:
            found.add([10 * number], [len(here)], here)
    return found


@given(TEXTS, st.lists(st.sampled_from("abc"), min_size=1, max_size=4))
def test_rows_are_those_that_stand_there(texts: list[str], asked: list[str]) -> None:
    """Words in a row are found where their text holds them side by side, with how often each is in it."""
    found = in_a_row([(at, places_of(letter, texts)) for at, letter in enumerate(asked)], 1)
    expected = [
        (10 * number, [text.count(letter) for letter in asked])
        for number, text in enumerate(texts)
        if "".join(asked) in text
    ]
    assert found == expected


@given(TEXTS)
def test_a_place_left_free_holds_anything(texts: list[str]) -> None:
    """Between words whose places are two apart stands exactly one other."""
    found = in_a_row([(0, places_of("a", texts)), (2, places_of("b", texts))], 1)
    expected = [10 * n for n, t in enumerate(texts) if any(t[i : i + 1] + t[i + 2 : i + 3] == "ab" for i in range(11))]
    assert [number for number, _ in found] == expected


@given(TEXTS, st.integers(2, 5))
def test_slop_allows_words_to_come_later(texts: list[str], slop: int) -> None:
    """With slop n the second of two words may stand up to n places after the first."""
    found = in_a_row([(0, places_of("a", texts)), (1, places_of("b", texts))], slop)
    expected = [
        10 * number
        for number, text in enumerate(texts)
        if any(one == "a" and "b" in text[at + 1 : at + 1 + slop] for at, one in enumerate(text))
    ]
    assert [number for number, _ in found] == expected


def test_places_beyond_16_bits() -> None:
    """The 70,000th word of a text is as well in a row as the third."""
    first, second = Places(), Places()
    for places, step in ((first, 0), (second, 1)):
        places.add([1], [1], array("H", [3 + step]))
        places.add([2], [2], array("I", [9, 70_000 + step]))
        places.add([3], [1], array("H", [5 + 2 * step]))
    assert in_a_row([(0, first), (1, second)], 1) == [(1, [1, 1]), (2, [2, 2])]
