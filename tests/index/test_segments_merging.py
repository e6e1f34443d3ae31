"""How many segments there are, and what merging costs."""

from __future__ import annotations

import random
from dataclasses import dataclass
from math import log

from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.index.merging import ALONG_MESSAGES, MERGED_MESSAGES, TIMES_LARGER, merged_after, taken_along


@dataclass(eq=False)
class Segment:
    """Stands for whoosh's segment: what merging asks of it."""

    size: int
    gone: int = 0

    def doc_count_all(self) -> int:
        """All messages."""
        return self.size

    def deleted_count(self) -> int:
        """Those deleted."""
        return self.gone


def grow(segments: list[Segment], new: int) -> int:
    """Take in so many messages as the index does; return how many others were written again."""
    again = 0
    for chosen, more in ((taken_along(segments), new), (None, 0)):
        last = merged_after(segments, new) if chosen is None else chosen
        if last or more:
            again += sum(s.size for s in last)
            segments[len(segments) - len(last) :] = [Segment(sum(s.size for s in last) + more)]
    return again


def test_single_messages_leave_few_segments() -> None:
    """Of 20,000 messages one by one there are never more than 12 segments, and few are written again."""
    segments: list[Segment] = []
    again = most = 0
    for _ in range(20_000):
        again += grow(segments, 1)
        most = max(most, len(segments))
    assert sum(s.size for s in segments) == 20_000
    assert most <= 12
    # Taken along with some of the messages that came next, then once for every time what followed was as large.
    assert again <= 20_000 * (ALONG_MESSAGES / 2 + log(20_000, 1 + 1 / TIMES_LARGER) / 2)


def test_many_at_once_become_one_segment() -> None:
    """What came in batches in one run is one segment at its end, the last batch however small."""
    segments = [Segment(2_000) for _ in range(40)]
    segments.append(Segment(7))
    assert merged_after(segments, 80_007) == segments


def test_a_single_message_never_merges_a_large_archive() -> None:
    """After one message no more are merged at once than the limit allows, whatever the sizes."""
    segments = [Segment(MERGED_MESSAGES // 2) for _ in range(4)]
    assert sum(s.size for s in merged_after(segments, 1)) <= MERGED_MESSAGES


def test_what_is_mostly_deleted_is_written_again() -> None:
    """A last segment of which more than half is deleted is written again, another alone is not."""
    assert merged_after([Segment(100, gone=51)], 1) != []
    assert merged_after([Segment(100, gone=50)], 1) == []


@settings(max_examples=100, deadline=None)
@given(st.lists(st.integers(1, 300), min_size=1, max_size=40), st.randoms())
def test_every_size_of_batch(sizes: list[int], source: random.Random) -> None:
    """Whatever comes, in batches of any size, no message is lost and the segments stay few."""
    segments: list[Segment] = []
    for size in sizes:
        grow(segments, size if source.random() < 0.5 else 1 + size % 3)
        assert len(segments) <= 12
