"""Folding text so that case and accents do not matter, and finding known phrases in one pass over its words."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from counterfoil.model import Kind

_WORD = re.compile(r"[^\W_]+")
_COMBINING = re.compile(r"[\u0300-\u036f]")
_LABEL_GAP = " -./'’°_&\u00a0"
_SINGLE = {"ß": "s", "ø": "o", "æ": "a", "œ": "o", "ł": "l", "đ": "d", "ı": "i", "’": "'", "\u2011": "-", "\u2010": "-"}


class _Folds(dict[int, str]):
    """Character -> its lower-case letter without accent, filled on demand; always one character for one."""

    def __missing__(self, code: int) -> str:
        char = chr(code)
        lowered = char.lower()
        base = _SINGLE.get(lowered) or unicodedata.normalize("NFKD", lowered)[:1] or char
        self[code] = base
        return base


_FOLDS = _Folds()


def fold(text: str) -> str:
    """Return text in lower case without accents, character for character: spans stay valid."""
    return text.lower() if text.isascii() else text.translate(_FOLDS)


def fold_with_offsets(text: str) -> tuple[str, Sequence[int] | None]:
    """Fold a text and leave combining accents out.

    Returns:
        The folded text, and for each of its characters (and its end) the offset in ``text``; None where they agree.
    """
    if text.isascii() or _COMBINING.search(text) is None:
        return fold(text), None
    kept = [i for i, char in enumerate(text) if not "\u0300" <= char <= "\u036f"]
    return fold("".join(text[i] for i in kept)), [*kept, len(text)]


class Role(StrEnum):
    """What a known phrase tells."""

    LABEL = "label"
    """Names a kind of fact."""
    OTHER_LABEL = "other label"
    """Names something else (order number, IBAN): a border, never a value for us."""
    VAGUE_LABEL = "vague label"
    """Names a code without saying which (code, key): a border, and what follows is masked."""
    CONFIRMATION = "confirmation"
    ATTACHMENT = "attachment"
    NOT_CONFIRMATION = "not confirmation"
    DOUBT = "doubt"
    SIGN_OFF = "sign-off"
    MAKER = "maker"
    MODEL = "model"
    UPGRADE = "upgrade"


_BORDERS = frozenset({Role.LABEL, Role.OTHER_LABEL, Role.VAGUE_LABEL})


@dataclass(frozen=True, slots=True)
class Sense:
    """One meaning of a phrase: its role, and as far as it has them kind, language, maker and canonical name."""

    role: Role
    kind: Kind | None = None
    language: str | None = None
    maker: str | None = None
    name: str = ""


@dataclass(frozen=True, slots=True)
class Hit:
    """A known phrase in a text: its span and its senses."""

    start: int
    end: int
    senses: tuple[Sense, ...]

    def has(self, role: Role) -> bool:
        """Tell whether one of the senses has the role."""
        return any(sense.role is role for sense in self.senses)


def split_words(text: str) -> tuple[str, ...]:
    """Return the folded words of a phrase."""
    return tuple(_WORD.findall(fold_with_offsets(text)[0]))


def spellings(text: str) -> set[tuple[str, ...]]:
    """Return the ways a phrase is spelled: as given, written in one word, umlauts and ß as two letters."""
    ways = {text}
    two = text.lower()
    for letter, pair in (("ä", "ae"), ("ö", "oe"), ("ü", "ue"), ("å", "aa"), ("ß", "ss"), ("ø", "oe"), ("æ", "ae")):
        two = two.replace(letter, pair)
    ways.add(two)
    ways.add(text.replace("ß", "ss"))
    found = {split_words(way) for way in ways}
    return found - {()}


class PhraseTable:
    """All known phrases by their first word. Labels are matched leftmost, longest, not overlapping; others all."""

    def __init__(self) -> None:
        self._labels: dict[str, dict[tuple[str, ...], list[Sense]]] = {}
        self._phrases: dict[str, dict[tuple[str, ...], list[Sense]]] = {}
        self._ready: dict[str, tuple[tuple[_Way, ...], tuple[_Way, ...]]] = {}

    def add(self, phrases: Iterable[str], sense: Sense) -> None:
        """Add phrases with one sense. Labels of several words are also known written in one word."""
        border = sense.role in _BORDERS
        table = self._labels if border else self._phrases
        for phrase in phrases:
            for words in spellings(phrase):
                ways = {words, ("".join(words),)} if border and len("".join(words)) > 3 else {words}
                for way in ways:
                    senses = table.setdefault(way[0], {}).setdefault(way[1:], [])
                    if sense not in senses:
                        senses.append(sense)
        self._ready = {}

    def _compiled(self) -> dict[str, tuple[tuple[_Way, ...], tuple[_Way, ...]]]:
        if not self._ready:
            for first in self._labels.keys() | self._phrases.keys():
                self._ready[first] = (_ways(self._labels.get(first)), _ways(self._phrases.get(first)))
        return self._ready

    def scan(self, folded: str, limit: int = 5_000) -> tuple[list[Hit], list[Hit]]:
        """Find the labels (of all three sorts) and the other phrases in a folded text.

        Args:
            folded: what :func:`fold_with_offsets` returned.
            limit: hits after which the search ends, against texts made to be slow.
        """
        table = self._compiled()
        words = [(m.group(), m.start(), m.end()) for m in _WORD.finditer(folded)]
        labels: list[Hit] = []
        phrases: list[Hit] = []
        free_from = 0
        for i, (word, start, _) in enumerate(words):
            ways = table.get(word)
            if ways is None:
                continue
            if ways[0] and start >= free_from:
                hit = _match(ways[0], words, i, folded, True)
                if hit is not None and not self._longer_later(hit, words, i, folded):
                    labels.append(hit)
                    free_from = hit.end
            if ways[1]:
                hit = _match(ways[1], words, i, folded, False)
                if hit is not None:
                    phrases.append(hit)
            if len(labels) + len(phrases) >= limit:
                break
        return labels, phrases

    def _longer_later(self, hit: Hit, words: list[tuple[str, int, int]], i: int, folded: str) -> bool:
        """Tell whether a label that starts inside a hit is longer than it: the longest label wins."""
        for k in range(i + 1, len(words)):
            if words[k][1] >= hit.end:
                return False
            ways = self._compiled().get(words[k][0])
            other = _match(ways[0], words, k, folded, True) if ways and ways[0] else None
            if other is not None and other.end - other.start > hit.end - hit.start:
                return True
        return False


_Way = tuple[tuple[str, ...], tuple[Sense, ...]]


def _ways(found: dict[tuple[str, ...], list[Sense]] | None) -> tuple[_Way, ...]:
    """Order the ways to go on after a first word, longest first."""
    ways = [(rest, tuple(senses)) for rest, senses in (found or {}).items()]
    return tuple(sorted(ways, key=lambda way: (-len(way[0]), -sum(map(len, way[0])), way[0])))


def _match(ways: tuple[_Way, ...], words: list[tuple[str, int, int]], i: int, folded: str, label: bool) -> Hit | None:
    for rest, senses in ways:
        if i + len(rest) >= len(words) and rest:
            continue
        end = words[i][2]
        for k, wanted in enumerate(rest, i + 1):
            word, start, after = words[k]
            if word != wanted or start - end > 3:
                break
            gap = folded[end:start]
            if label and gap.strip(_LABEL_GAP):
                break
            end = after
        else:
            return Hit(words[i][1], end, senses)
    return None
