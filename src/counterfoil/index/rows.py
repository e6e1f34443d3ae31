"""Words in a row: where each word stands in the messages that have all of them.

Plain numbers in lists and no object for each message: a common word has tens of thousands.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Sequence
from itertools import accumulate, compress, pairwise


class Places:
    """The messages that have a word, rising, how often each has it, and all its places, one message after the other."""

    __slots__ = ("counts", "flat", "numbers")

    def __init__(self) -> None:
        self.numbers: list[int] = []
        self.counts: list[int] = []
        self.flat: array[int] = array("H")

    def add(self, numbers: Iterable[int], counts: Sequence[int], flat: array[int]) -> None:
        """Take in more messages, later than those before."""
        self.numbers.extend(numbers)
        self.counts.extend(counts)
        if flat.typecode != self.flat.typecode:
            # Beyond the 65,535th word of a text.
            self.flat, flat = array("I", self.flat), array("I", flat)
        self.flat.extend(flat)


class InMessages:
    """The places of a word in the messages that have all words of a row: begin and number by message.

    Args:
        places: those in all messages that have the word.
        common: the messages that have all words.
    """

    __slots__ = ("counts", "flat", "starts")

    def __init__(self, places: Places, common: set[int]) -> None:
        # Step by step over whole lists: as fast as Python goes through many numbers.
        there = list(map(common.__contains__, places.numbers))
        self.starts = list(compress(accumulate(places.counts, initial=0), there))
        self.counts = list(compress(places.counts, there))
        self.flat = places.flat

    def of(self, row: int) -> array[int]:
        """Return the places in one of the messages."""
        return self.flat[self.starts[row] : self.starts[row] + self.counts[row]]

    def followed_by(self, other: InMessages, step: int, among: Iterable[int]) -> list[int]:
        """Return those of some messages in which the other word is once so many places after this one."""
        starts, counts, flat = self.starts, self.counts, self.flat
        starts2, counts2, flat2 = other.starts, other.counts, other.flat
        kept = []
        for row in among:
            at, at2, count, count2 = starts[row], starts2[row], counts[row], counts2[row]
            if count == 1 == count2:
                there = flat2[at2] == flat[at] + step
            elif count == 1:
                there = flat[at] + step in flat2[at2 : at2 + count2]
            else:
                some = flat[at : at + count]
                there = any(place - step in some for place in flat2[at2 : at2 + count2])
            if there:
                kept.append(row)
        return kept


def in_a_row(words: Sequence[tuple[int, Places]], slop: int) -> list[tuple[int, list[int]]]:
    """Return the messages in which words follow one another, each with how often it has each word.

    Args:
        words: of each word its place in the row, rising, and its places in the messages.
        slop: how much later than it should a word may come; 1 for not at all.
    """
    common = set(words[0][1].numbers).intersection(*(places.numbers for _, places in words[1:]))
    if not common:
        return []
    numbers = sorted(common)
    aligned = [(place, InMessages(places, common)) for place, places in words]
    among: Iterable[int] = range(len(numbers))
    if slop == 1:
        # Most messages that have all words have no two of them in a row: that is found out first, and fast.
        for (place, first), (later, second) in pairwise(aligned):
            among = first.followed_by(second, later - place, among)
    return [(numbers[row], [word.counts[row] for _, word in aligned]) for row in among if _follow(row, aligned, slop)]


def _follow(row: int, aligned: Sequence[tuple[int, InMessages]], slop: int) -> bool:
    """Say whether all words follow one another in one of the messages."""
    before, word = aligned[0]
    ends: Sequence[int] = word.of(row)
    for place, word in aligned[1:]:
        there, step = word.of(row), place - before
        if slop == 1:
            ends = [n for n in there if n - step in ends]
        else:
            ends = [n for n in there if any(step <= n - end < step + slop for end in ends)]
        before = place
    return len(ends) > 0
