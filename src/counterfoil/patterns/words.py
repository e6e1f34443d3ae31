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
    SOMEONE_ELSE = "someone else"
    """Says that the writer speaks for another person (my mother's)."""
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
class Meaning:
    """All senses of one phrase.

    ``kind`` is the kind it is a label of as far as no maker gives it another one, None where languages disagree;
    ``of_makers`` is true where a maker file names it.
    """

    senses: tuple[Sense, ...]
    roles: frozenset[Role]
    kind: Kind | None
    kinds: frozenset[Kind]
    of_makers: bool

    @classmethod
    def of(cls, senses: Iterable[Sense]) -> Meaning:
        """Put senses together."""
        every = tuple(senses)
        labels = [s for s in every if s.role is Role.LABEL]
        plain = {s.kind for s in labels if s.maker is None}
        kinds = frozenset(s.kind for s in every if s.kind is not None)
        of_makers = any(s.maker is not None for s in labels)
        return cls(every, frozenset(s.role for s in every), plain.pop() if len(plain) == 1 else None, kinds, of_makers)


NO_MEANING = Meaning.of(())


@dataclass(frozen=True, slots=True)
class Hit:
    """A known phrase in a text: its span and what it means."""

    start: int
    end: int
    meaning: Meaning

    def has(self, role: Role) -> bool:
        """Tell whether one of the senses has the role."""
        return role in self.meaning.roles


def split_words(text: str) -> tuple[str, ...]:
    """Return the folded words of a phrase."""
    if not text or text.isspace():
        return ()
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
    """All known phrases by their first and second word. Labels are matched leftmost and longest; others all."""

    def __init__(self) -> None:
        self._labels: _Raw = {}
        self._phrases: _Raw = {}
        self._ready: dict[str, _Entry] = {}

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

    def _compiled(self) -> dict[str, _Entry]:
        if not self._ready:
            for first in self._labels.keys() | self._phrases.keys():
                label, longer_labels = _by_second(self._labels.get(first, {}))
                phrase, longer_phrases = _by_second(self._phrases.get(first, {}))
                self._ready[first] = (label, longer_labels, phrase, longer_phrases)
        return self._ready

    def scan(self, folded: str, limit: int = 5_000) -> tuple[list[Hit], list[Hit]]:
        """Find the labels (of all three sorts) and the other phrases in a folded text.

        Args:
            folded: what :func:`fold_with_offsets` returned.
            limit: hits after which the search ends, against texts made to be slow.
        """
        table = self._compiled()
        found = list(_WORD.finditer(folded))
        words = [match.group() for match in found]
        labels: list[Hit] = []
        phrases: list[Hit] = []
        free_from = 0
        for i, word in enumerate(words):
            if word not in table:
                continue
            entry = table[word]
            following = words[i + 1] if i + 1 < len(words) else ""
            if i >= free_from and (entry[0] or following in entry[1]):
                match = _match(entry[0], entry[1].get(following, ()), words, found, i, folded, True)
                if match is not None and not _longer_later(table, match, words, found, i, folded):
                    labels.append(match[0])
                    free_from = match[1]
            if entry[2] or following in entry[3]:
                match = _match(entry[2], entry[3].get(following, ()), words, found, i, folded, False)
                if match is not None:
                    phrases.append(match[0])
            if len(labels) + len(phrases) >= limit:
                break
        return labels, phrases


_Raw = dict[str, dict[tuple[str, ...], list[Sense]]]
_Way = tuple[tuple[str, ...], Meaning]
_Entry = tuple[Meaning | None, dict[str, tuple[_Way, ...]], Meaning | None, dict[str, tuple[_Way, ...]]]
_Words = list[str]
_Found = list[re.Match[str]]


def _by_second(found: dict[tuple[str, ...], list[Sense]]) -> tuple[Meaning | None, dict[str, tuple[_Way, ...]]]:
    """Return the senses of the first word alone, and by second word the ways to go on, longest first."""
    ways: dict[str, list[_Way]] = {}
    for rest, senses in found.items():
        if rest:
            ways.setdefault(rest[0], []).append((rest, Meaning.of(senses)))
    ordered = {second: tuple(sorted(many, key=lambda way: (-len(way[0]), way[0]))) for second, many in ways.items()}
    alone = found.get(())
    return Meaning.of(alone) if alone else None, ordered


def _match(
    alone: Meaning | None, ways: tuple[_Way, ...], words: _Words, found: _Found, i: int, folded: str, label: bool
) -> tuple[Hit, int] | None:
    """Match the longest phrase that starts with word ``i``; return it and the number of the word behind it."""
    start, first_end = found[i].span()
    for rest, meaning in ways:
        last = i + len(rest)
        if last >= len(words) or tuple(words[i + 1 : last + 1]) != rest:
            continue
        end = first_end
        for k in range(i + 1, last + 1):
            next_start, next_end = found[k].span()
            if next_start - end > 3 or (label and folded[end:next_start].strip(_LABEL_GAP)):
                break
            end = next_end
        else:
            return Hit(start, end, meaning), last + 1
    return (Hit(start, first_end, alone), i + 1) if alone else None


def _longer_later(
    table: dict[str, _Entry], match: tuple[Hit, int], words: _Words, found: _Found, i: int, folded: str
) -> bool:
    """Tell whether a label that starts inside a match is longer than it: the longest label wins."""
    hit, behind = match
    for k in range(i + 1, min(behind, len(words) - 1)):
        entry = table.get(words[k])
        if entry is None or words[k + 1] not in entry[1]:
            continue
        other = _match(None, entry[1][words[k + 1]], words, found, k, folded, True)
        if other is not None and other[0].end - other[0].start > hit.end - hit.start:
            return True
    return False
