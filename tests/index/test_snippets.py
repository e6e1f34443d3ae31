"""Pieces of text around hits."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from counterfoil.index.snippets import CONTEXT_CHARS, PIECES, snippets

LONG = "filler " * 60


def test_hits_stand_between_marks() -> None:
    """Each word asked for stands between U+0002 and U+0003, as written, however it was asked for."""
    shown = snippets("Frau Müller hat das Stickmodul aktiviert.", "muller AKTIV* lang:de")
    assert shown == "Frau \x02Müller\x03 hat das Stickmodul \x02aktiviert\x03."


def test_only_the_surroundings_are_shown() -> None:
    """Of a long text only the words around hits are shown, cut at spaces, gaps marked."""
    shown = snippets(f"{LONG}the needle plate {LONG}and the hoop {LONG}", "needle hoop")
    assert shown.count("\x02") == 2
    assert shown.startswith("… ") and shown.endswith(" …")
    assert "\x02needle\x03 plate" in shown
    assert len(shown) < 8 * CONTEXT_CHARS


def test_at_most_three_pieces_the_fullest_first() -> None:
    """Pieces with more different hits are chosen, shown in the order of the text."""
    text = f"needle {LONG}" * 4 + f"needle and hoop {LONG}"
    shown = snippets(text, "needle hoop")
    assert "\x02needle\x03 and \x02hoop\x03" in shown
    assert shown.count(" … ") <= PIECES


def test_without_a_hit_the_beginning_is_shown() -> None:
    """A text that has none of the words is shown by its beginning."""
    assert snippets("Hello there", "needle") == "Hello there"
    assert snippets(LONG, "needle").endswith(" …")


def test_other_forms_are_marked() -> None:
    """Of a word asked for, its other forms are marked; of one in quotes, only itself."""
    assert snippets("Two needles, one needle", "needle") == "Two \x02needles\x03, one \x02needle\x03"
    assert snippets("Two needles, one needle", '"needle"') == "Two needles, one \x02needle\x03"


def test_signs_without_spaces_are_marked_together() -> None:
    """A stretch asked for is marked as one where it stands in a longer one."""
    assert snippets("保証期間は購入日から", "購入日") == "保証期間は\x02購入日\x03から"


def test_what_must_not_be_there_is_not_marked() -> None:
    """Words after NOT are no hits."""
    assert "\x02" not in snippets("the hoop", "NOT hoop")


def test_marks_of_the_text_itself_are_taken_out() -> None:
    """Control characters of a message cannot pass for marks or escape sequences."""
    shown = snippets("\x1b[31mred \x02fake\x03 needle\x9b", "needle")
    assert shown.count("\x02") == 1
    assert not any(ord(c) < 32 and c not in "\x02\x03" for c in shown)


@given(
    st.text(max_size=300) | st.text(alphabet="保証期間a ", max_size=60),
    st.text(max_size=20) | st.text(alphabet="保証期a", max_size=4),
)
def test_marks_are_always_paired(text: str, query: str) -> None:
    """Marks open and close in turn, and without them and ellipses all shown stands in the text."""
    shown = snippets(text, query)
    inside = False
    for character in shown:
        if character in "\x02\x03":
            assert (character == "\x02") is not inside
            inside = not inside
    assert not inside
