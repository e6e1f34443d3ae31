"""Firmware versions compared as versions, not as text: 2.9 < 2.10, 2.1 = 2.1.0.

The rule, from the first digit on (`V`, `Ver.` or a maker's prefix ahead of it says nothing):

1. Runs of digits are numbers, compared one after the other; a missing one is nought: 2.1 = 2.1.0 < 2.1.1.
2. Words for what came before the release (alpha, beta, rc and their kin) make a version earlier: 2.10 beta < 2.10.
3. Any other letters make it later than the bare numbers, in the order of the alphabet: 2.10 < 2.10a < 2.10b < 2.11.
   A single `b` is a revision, not a beta: common practice for firmware, no source. (PEP 440 reads it as a beta.)
4. A number behind letters counts as a number: 2.10 rc 2 < 2.10 rc 10, 2.10b < 2.10b2.
"""

from __future__ import annotations

import re
import unicodedata

#: A part of what is compared: rank (before the release, its end, letters, number), number, letters.
_Part = tuple[int, int, str]
VersionKey = tuple[tuple[int, ...], tuple[_Part, ...]]

_EARLY = {"dev": 0, "test": 0, "alpha": 1, "beta": 2, "pre": 3, "preview": 3, "rc": 4}
_BEFORE, _END, _LETTERS, _NUMBER = -1, 0, 1, 2
_RELEASE = re.compile(r"\d+(?:[^a-z0-9]+\d+)*")
_TOKEN = re.compile(r"\d+|[a-z]+")
#: No machine shows a longer one; bounds the work on a stranger's text.
_LONGEST_CHARS = 64


def version_key(text: str) -> VersionKey | None:
    """Return what a version is compared by; None where the text holds no number.

    Args:
        text: the version as written.
    """
    plain = unicodedata.normalize("NFKC", text)[:_LONGEST_CHARS].lower()
    found = _RELEASE.search(plain)
    if found is None:
        return None
    numbers = [int(n) for n in re.findall(r"\d+", found.group())]
    while numbers and numbers[-1] == 0:
        numbers.pop()
    parts = [_part(token) for token in _TOKEN.findall(plain[found.end() :])]
    return tuple(numbers), (*parts, (_END, 0, ""))


def _part(token: str) -> _Part:
    if token[0].isdigit():
        return _NUMBER, int(token), ""
    if token in _EARLY:
        return _BEFORE, _EARLY[token], ""
    return _LETTERS, 0, token
