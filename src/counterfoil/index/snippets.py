"""The lines of a text that answer a query, hits between U+0002 and U+0003."""

from __future__ import annotations

import re
from collections.abc import Iterable

from counterfoil.index.query import asked_words
from counterfoil.index.words import written_words

START, END = "\x02", "\x03"
#: Characters around a hit, and the most hits shown apart.
CONTEXT_CHARS = 60
PIECES = 3
#: Only the beginning of a very long text is looked through.
TEXT_CHARS = 200_000

_SPACES = re.compile(r"\s+")
_CONTROLS = dict.fromkeys((*range(32), 127, *range(128, 160)), " ")


def snippets(text: str, query: str) -> str:
    """Return up to :data:`PIECES` pieces of ``text`` around words the query asks for, joined by " … ".

    Args:
        text: the text as the records keep it, codes masked.
        query: as typed.

    Returns:
        One line, each hit between U+0002 and U+0003, no other control characters; the beginning of the text where
        nothing of it was asked for.
    """
    # One character for one: the positions of the words stay those of the text.
    text = text[:TEXT_CHARS].translate(_CONTROLS)
    asked = asked_words(query)
    hits = _joined((start, end) for start, end, form in written_words(text) if asked.has(form))
    if not hits:
        return _tidy(text[: 2 * CONTEXT_CHARS], cut=len(text) > 2 * CONTEXT_CHARS)
    pieces = _pieces(text, hits)
    chosen = sorted(sorted(pieces, key=lambda p: (-p[2], p[0]))[:PIECES])
    shown = []
    for start, end, _ in chosen:
        piece, at = "", start
        for hit_start, hit_end in hits:
            if start <= hit_start and hit_end <= end:
                piece += text[at:hit_start] + START + text[hit_start:hit_end] + END
                at = hit_end
        shown.append(_tidy(piece + text[at:end]))
    line = " … ".join(shown)
    return ("… " if chosen[0][0] > 0 else "") + line + (" …" if chosen[-1][1] < len(text) else "")


def _joined(hits: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return spans of which those that overlapped are one."""
    joined: list[tuple[int, int]] = []
    for start, end in hits:
        if joined and start < joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined


def _pieces(text: str, hits: list[tuple[int, int]]) -> list[tuple[int, int, int]]:
    """Return start, end and number of different hits of each stretch of text around hits that stand close."""
    groups: list[list[tuple[int, int]]] = []
    for hit in hits:
        if groups and hit[0] - groups[-1][-1][1] <= CONTEXT_CHARS and hit[1] - groups[-1][0][0] <= 4 * CONTEXT_CHARS:
            groups[-1].append(hit)
        else:
            groups.append([hit])
    pieces = []
    before = 0
    for group in groups:
        start, end = max(before, group[0][0] - CONTEXT_CHARS), min(len(text), group[-1][1] + CONTEXT_CHARS)
        # Not in the middle of a word: on to the next space, unless that would cut into a hit.
        if start > 0 and (space := text.find(" ", start, group[0][0])) >= 0:
            start = space + 1
        if end < len(text) and (space := text.rfind(" ", group[-1][1], end)) >= 0:
            end = space
        pieces.append((start, end, len({text[a:b].casefold() for a, b in group})))
        before = end
    return pieces


def _tidy(piece: str, cut: bool = False) -> str:
    return _SPACES.sub(" ", piece).strip() + (" …" if cut else "")
