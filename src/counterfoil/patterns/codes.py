"""Codes of makers nobody described: what looks like one code, and every reason to doubt it.

A code is groups of letters and digits tied by hyphens, dots or slashes, or set apart by single spaces; at least six
characters, at least one of them a digit. Whatever is tied to something else (an address, an amount, a mask) is none.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass

from counterfoil.patterns.checks import is_iban
from counterfoil.patterns.dates import is_date
from counterfoil.patterns.normal import normal_code

MIN_CHARS = 6
#: Longer runs are keys of programs, checksums or accidents.
MAX_CHARS = 40
#: Characters of a place that are looked at; a longer one is running text.
MAX_PLACE = 300

#: Hyphens and dashes that tie groups and stand where a code is broken.
HYPHENS = "-\u2010\u2011\u2012\u2013\u2014"
_TOKEN = re.compile(rf"[A-Za-z0-9]+(?:[{HYPHENS}./][A-Za-z0-9]+)*")
_GROUPS = re.compile(r"[A-Za-z0-9]+")
_ATTACHED = frozenset("_@+%&~•…€$£\\^?!§¢·×#")
_CUT = re.compile(r"\.{3}|…|\?{2,}|_{3,}|#{3,}|\[\.")
_NEAR = 12
"""Characters around a code within which marks of something left out are meant for it."""
_ATTACHED_BEFORE = _ATTACHED - {"#"} | set("*-./,")
_LINKS = re.compile(r"(?:[a-z]{2,8}://|www\.)\S+|[^\s@<>]{1,64}@[^\s@<>]{1,255}", re.IGNORECASE)
_DIGIT = re.compile(r"[0-9]")
_MASK = re.compile(r"([Xx])\1{2,}")
_DOTTED_NUMBER = re.compile(r"\d{1,3}(?:\.\d{1,3})+|\d+\.\d{1,2}")
_SPACED = re.compile(r"[ \u00a0]|[ \u00a0][-\u2010-\u2014][ \u00a0]")
_BROKEN_GAP = re.compile(rf"[{HYPHENS}][ \u00a0]")
_ENDS_BROKEN = re.compile(rf"[{HYPHENS}\u00ad]\s*$")
_REMARK = re.compile(r"\([^()\d]{0,60}\)")


@dataclass(frozen=True, slots=True)
class Run:
    """Something that looks like a code: its span in the text, the text, and the reasons to doubt it."""

    start: int
    end: int
    value: str
    doubts: tuple[str, ...] = ()
    broken: bool = False
    """True where a hyphen at the end of the place says that the rest stands elsewhere."""

    @property
    def groups(self) -> list[str]:
        """The groups of letters and digits."""
        return _GROUPS.findall(self.value)


def is_code(text: str) -> bool:
    """Tell whether a run of groups has the characters of a code and is no date, bank account or placeholder."""
    normal = normal_code(text)
    if not MIN_CHARS <= len(normal) <= MAX_CHARS or _DIGIT.search(normal) is None:
        return False
    if any(_MASK.search(group) for group in _GROUPS.findall(text)):
        return False
    return not is_iban(normal) and not is_date(text)


def find_runs(text: str, start: int, end: int, stop: Collection[str]) -> list[Run]:
    """Find the codes in a part of a text.

    Args:
        text: the document's text.
        start: where the part starts.
        end: where it ends; only the first :data:`MAX_PLACE` characters are read.
        stop: folded words that are no group of a code (please, keep, valid ...).
    """
    end = min(end, start + MAX_PLACE)
    if _DIGIT.search(text, start, end) is None and not ends_broken(text[start:end]):
        return []
    links = [m.span() for m in _LINKS.finditer(text, start, end)] if "@" in text or "." in text else []
    tokens = [
        (m.start(), m.end())
        for m in _TOKEN.finditer(text, start, end)
        if not any(s < m.end() and m.start() < e for s, e in links)
    ]
    runs = []
    i = 0
    while i < len(tokens):
        j = i + 1
        while j < len(tokens) and _tied(text, tokens[j - 1], tokens[j], stop):
            j += 1
        run = _make(text, tokens[i][0], tokens[j - 1][1], (start, end), j - i, stop)
        if run is not None:
            runs.append(run)
        elif j - i > 1:
            runs.extend(r for t in tokens[i:j] if (r := _make(text, *t, (start, end), 1, stop)))
        i = j
    return runs


def _tied(text: str, left: tuple[int, int], right: tuple[int, int], stop: Collection[str]) -> bool:
    """Tell whether two tokens are groups of one code written with spaces, or one code broken at a hyphen."""
    gap = text[left[1] : right[0]]
    first, second = text[slice(*left)], text[slice(*right)]
    if _BROKEN_GAP.fullmatch(gap):
        return _GROUPS.fullmatch(second) is None or _grouplike(second, stop)
    return _SPACED.fullmatch(gap) is not None and _grouplike(first, stop) and _grouplike(second, stop)


def _grouplike(token: str, stop: Collection[str]) -> bool:
    if not token.isalnum() or len(token) > 12 or (len(token) > 1 and token.lower() in stop):
        return False
    return token.isupper() or any(c.isdigit() for c in token)


def _make(text: str, start: int, end: int, place: tuple[int, int], tokens: int, stop: Collection[str]) -> Run | None:
    value = text[start:end]
    before = text[start - 1] if start > place[0] else " "
    after = text[end : min(end + 2, place[1])] or " "
    if before == after[0] and before in "*_" and after != before * 2:
        before = after = " "  # *bold* in mail turned into text
    if _is_attached(before, after):
        return None
    broken = after[0] in HYPHENS + "\u00ad" and text[end + 1 : place[1]].strip() == ""
    if broken:
        if len(normal_code(value)) < 2:
            return None
    elif after[0] in HYPHENS and after[1:].isalnum():
        return None
    if not is_code(value) and not (broken and normal_code(value).isalnum() and _may_go_on(value, stop)):
        return None
    doubts = _doubts(value, tokens, stop)
    if after in ("..", "…") or after[0] == "=" or (after[0] in HYPHENS and not broken and after[1:].strip()):
        doubts.append("cut off")
    elif _CUT.search(text, max(start - _NEAR, place[0]), min(end + _NEAR, place[1])):
        doubts.append("something left out beside it")
    if after[0] == ")" and "(" not in text[place[0] : start]:
        doubts.append("a bracket behind it that may belong to a remark")
    if text[start - 2 : start] in (") ", ")\u00a0"):
        doubts.append("something in brackets before it")
    return Run(start, end, value, tuple(doubts), broken)


def _is_attached(before: str, after: str) -> bool:
    if before.isalnum() or after[0].isalnum():
        return True  # letters outside ASCII: a look-alike or a word
    if before in _ATTACHED_BEFORE:
        return True
    if after[0] == "…" or after == "..":
        return False  # cut off: told as a doubt
    return after[0] in _ATTACHED or after[0] in "*" or (after[0] in ":,'" and after[1:].isalnum())


def _may_go_on(value: str, stop: Collection[str]) -> bool:
    """Tell whether the first part of a broken code looks like one: capitals or digits, no word."""
    groups = _GROUPS.findall(value)
    return all(_grouplike(group, stop) for group in groups) and not any(_MASK.fullmatch(g) for g in groups)


def _doubts(value: str, tokens: int, stop: Collection[str]) -> list[str]:
    """Return the reasons why a run may hold more or less than one code."""
    groups = _GROUPS.findall(value)
    doubts = []
    if any(len(g) > 2 and g.lower() in stop for g in groups):
        doubts.append("a word in it")
    if any(g.isalpha() and not g.isupper() and len(g) > 2 for g in groups) and any(g.isupper() for g in groups):
        doubts.append("a word in it")
    if not (value.isupper() or value.islower()) and any(c.islower() for c in value):
        doubts.append("small letters and capitals")
    if tokens > 1 and any(c in value for c in "-./") and not _BROKEN_GAP.search(value) and " - " not in value:
        doubts.append("groups tied in two ways")
    if _DOTTED_NUMBER.fullmatch(value):
        doubts.append("looks like a number with dots")
    kinds = {c for c in value if not c.isalnum()}
    for separator in "/.":
        parts = value.split(separator)
        if len(kinds) > 1 and sum(is_code(part) for part in parts) > 1:
            doubts.append("two codes in one")
    if tokens > 1:
        doubts.extend(_spaced_doubts(value, groups))
    return doubts


def _spaced_doubts(value: str, groups: list[str]) -> list[str]:
    """Return the reasons to doubt a code written in groups with spaces."""
    lengths = {len(group) for group in groups}
    last_digits = all(group.isdigit() for group in groups)
    if _BROKEN_GAP.search(value):
        return [] if len({len(g) for g in groups[:-1]}) == 1 or len(groups[-1]) <= 8 else ["broken in two"]
    if last_digits and groups[0].startswith("0") and 9 <= sum(map(len, groups)) <= 12:
        return ["looks like a telephone number"]
    if len(lengths) == 1 and max(lengths) < MIN_CHARS:
        return []
    if len(groups) > 3 and len({len(group) for group in groups[1:-1]}) > 1:
        return ["uneven groups"]
    if len(groups) == 2 and (len(groups[0]) == 1 or (len(groups[0]) >= MIN_CHARS and len(groups[1]) <= 4)):
        return ["a few characters beside it"]
    whole = [group for group in groups if len(group) >= MIN_CHARS and any(c.isdigit() for c in group)]
    if len(whole) > 1:
        return ["two codes side by side"]
    if groups[-1].isalpha() and len(groups[-1]) > 1:
        return ["a word behind it"]
    if groups[0].isalpha() and len(groups[0]) > 3:
        return ["a word before it"]
    return []


def leftover(text: str, start: int, end: int, used: Collection[tuple[int, int]]) -> str:
    """Return what stands in a place beside the codes, without punctuation and remarks in brackets."""
    pieces = []
    at = start
    for piece_start, piece_end in sorted(used):
        pieces.append(text[at:piece_start])
        at = max(at, piece_end)
    pieces.append(text[at:end])
    rest = _REMARK.sub(" ", " ".join(pieces))
    return " ".join(word for word in rest.split() if any(c.isalnum() for c in word))


def ends_broken(text: str) -> bool:
    """Tell whether a piece of text ends in a hyphen, so that the rest must stand elsewhere."""
    return _ENDS_BROKEN.search(text) is not None


def surely_joined(first: str, second: str) -> bool:
    """Tell whether a code ending in a hyphen and a fragment surely are one (short, or in like groups)."""
    head, tail = _GROUPS.findall(first), _GROUPS.findall(second)
    if not tail or any(not group.isupper() and not any(c.isdigit() for c in group) for group in tail):
        return False
    if len(tail) == 1 and len(tail[0]) <= 8:
        return True
    lengths = {len(group) for group in head}
    return len(lengths) == 1 and all(len(group) in lengths for group in tail[:-1]) and len(tail[-1]) <= max(lengths)
