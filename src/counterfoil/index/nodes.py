"""What whoosh's queries have no word for: a word in all its forms, words in a row, a span of days.

They take their place in whoosh's trees of queries; :mod:`counterfoil.index.scoring` answers them.
"""

from __future__ import annotations

from whoosh import query


class _Leaf(query.Query):  # type: ignore[misc]
    """A query with nothing inside, equal to others of the same parts."""

    boost = 1.0
    fieldname: str

    @property
    def parts(self) -> tuple[object, ...]:
        """What the query is made of."""
        raise NotImplementedError

    def __repr__(self) -> str:
        return f"{type(self).__name__}{self.parts}"

    def __eq__(self, other: object) -> bool:
        return type(other) is type(self) and isinstance(other, _Leaf) and self.parts == other.parts

    def __hash__(self) -> int:
        return hash((type(self), self.parts))

    def is_leaf(self) -> bool:
        """Say that there is no query inside."""
        return True


class Word(_Leaf):
    """Messages that have a word in one of its forms.

    Args:
        text: the word, folded.
        stems: its stems; a message that has one of them has the word. A number has none and stands for itself.
    """

    def __init__(self, text: str, stems: tuple[str, ...]) -> None:
        self.text, self.stems = text, stems
        self.fieldname = "stem" if stems else "body"
        self.asked = stems or (text,)

    @property
    def parts(self) -> tuple[object, ...]:
        """What the query is made of."""
        return self.text, self.stems


class Row(_Leaf):
    """Messages that have words in a row, to the letter.

    Args:
        words: the words, folded, each with its place in the row; places left free (codes are not indexed) may hold
            anything.
        slop: how much later than it should a word may come; 1 for not at all.
    """

    fieldname = "body"

    def __init__(self, words: tuple[tuple[int, str], ...], slop: int = 1) -> None:
        self.words, self.slop = words, slop

    @property
    def parts(self) -> tuple[object, ...]:
        """What the query is made of."""
        return self.words, self.slop


class DayRange(_Leaf):
    """Messages received from one day to another, both included; adds nothing to the score.

    Args:
        low: first day, as ordinal.
        high: last day, as ordinal.
    """

    fieldname = "date"

    def __init__(self, low: int, high: int) -> None:
        self.low, self.high = max(low, 1), high

    @property
    def parts(self) -> tuple[object, ...]:
        """What the query is made of."""
        return self.low, self.high
