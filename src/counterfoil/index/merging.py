"""Which segments are merged, and when: a question costs a little for every segment, a merge a lot.

The newest messages are in the last segments. A commit takes the last few messages along into its own segment, so that
single messages do not leave a segment each. Afterwards, when the new messages can be found already, segments that
are not much larger than all that came later, or than all that is new, are merged with these: every segment then is
several times as large as what follows it, their number grows with the logarithm of the messages, and a message is
merged that often.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

#: A commit takes along so many messages at most: some 2 ms each.
ALONG_MESSAGES = 16
#: A segment is merged with what follows it unless it is more than so many times as large.
TIMES_LARGER = 3
#: After few new messages no more are merged at once than this (some ten seconds), after many so many times as many.
MERGED_MESSAGES = 20_000
MERGED_TIMES = 10
#: So many segments are merged even in the middle of taking in many messages.
MOST_SEGMENTS = 48


def taken_along(segments: Sequence[Any]) -> list[Any]:
    """Return the last segments, oldest first, that a commit merges with its new messages."""
    return _last(segments, lambda size, later: later + size <= ALONG_MESSAGES)


def merged_after(segments: Sequence[Any], new: int) -> list[Any]:
    """Return the last segments, oldest first, that are merged after so many new messages; empty for none."""
    most = max(MERGED_MESSAGES, MERGED_TIMES * new)

    def wanted(size: int, later: int) -> bool:
        return later + size <= most and (not later or size <= max(TIMES_LARGER * later, new))

    chosen = _last(segments, wanted)
    half_gone = any(2 * segment.deleted_count() > segment.doc_count_all() for segment in chosen)
    return chosen if len(chosen) > 1 or half_gone else []


def _last(segments: Sequence[Any], wanted: Callable[[int, int], bool]) -> list[Any]:
    chosen: list[Any] = []
    later = 0
    for segment in reversed(segments):
        size = segment.doc_count_all() - segment.deleted_count()
        if not wanted(size, later):
            break
        chosen.insert(0, segment)
        later += size
    return chosen
