"""What somebody typed, as whoosh's query.

The query language is whoosh's own: words (all must be there), ``OR``, ``NOT``, brackets, ``"phrases"``, ``word*``,
``field:word`` for subject, sender, body, maker, model, lang, and ``date:2026-03`` or ``date:[20260101 TO 20260301]``.
A question mark is a question mark, not a wildcard. What cannot be read is taken as plain words, never as an error.

A word finds its other forms too; a word in quotes is meant to the letter, and so are beginnings and fields.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from whoosh import qparser, query
from whoosh.fields import Schema
from whoosh.qparser import plugins

from counterfoil.index.layout import SCHEMA, SHORT_FIELDS, days_of
from counterfoil.index.nodes import DayRange, Row, Word
from counterfoil.index.stems import stems
from counterfoil.index.words import fold, in_pairs, is_sign, left_out, stretches, words

#: The fields that may be named in a query.
FIELDS = ("body", *SHORT_FIELDS, "date")
#: Longer input is cut: nobody types it, and time must stay bounded.
QUERY_CHARS = 1_000

#: What people type most is words, words in quotes and beginnings of words, one after the other.
_PARTS = re.compile(r"""\s*(?:"([^"]*)"(?=\s|$)|([^\W_]+)\*(?=\s|$)|([\w.,;!?/@'’-]+)(?=\s|$))""")
_OPERATORS = frozenset({"AND", "OR", "NOT", "ANDNOT", "ANDMAYBE", "REQUIRE"})
_FIELD_AND_SPACE = re.compile(rf"\b({'|'.join(FIELDS)}):\s+(?=\S)")
_FIELD = re.compile(rf"\b(?:{'|'.join(FIELDS)}):")


_OPEN = Schema(**{name: SCHEMA[name] for name in FIELDS})


class _Prefix(plugins.PrefixPlugin.PrefixNode):  # type: ignore[misc]
    """``word*``, folded as words are."""

    def query(self, parser: Any) -> query.Query:
        """Return the query; with several words before the star, only the last is open."""
        field, parts = self.fieldname or parser.fieldname, words(self.text)
        if field == "date":
            return days(self.text)
        if not parts:
            return query.NullQuery
        whole = [query.Term(field, word) for word in parts[:-1] if not left_out(word)]
        return query.And([*whole, query.Prefix(field, parts[-1])]) if whole else query.Prefix(field, parts[-1])


class _PrefixPlugin(plugins.PrefixPlugin):  # type: ignore[misc]
    nodetype = _Prefix


class _PhraseNode(plugins.PhrasePlugin.PhraseNode):  # type: ignore[misc]
    """A phrase; in fields without positions, all of its words."""

    def query(self, parser: Any) -> query.Query:
        """Return the query."""
        field = self.fieldname or parser.fieldname
        if field == "date":
            return days(self.text)
        if field in SHORT_FIELDS:
            return query.And([query.Term(field, word) for word in words(self.text)])
        return row(self.text, self.slop)


class _PhrasePlugin(plugins.PhrasePlugin):  # type: ignore[misc]
    class PhraseTagger(plugins.PhrasePlugin.PhraseTagger):  # type: ignore[misc]
        def create(self, parser: Any, match: Any) -> _PhraseNode:
            return _PhraseNode(match.group("text"), match.start("text"), int(match.group("slop") or 1))


def _parser(any_word: bool) -> Any:
    group = qparser.OrGroup if any_word else qparser.AndGroup
    parts = [
        plugins.WhitespacePlugin(),
        plugins.FieldsPlugin(),
        _PrefixPlugin(),
        _PhrasePlugin(),
        plugins.RangePlugin(),
        plugins.GroupPlugin(),
        plugins.OperatorsPlugin(),
    ]
    return qparser.QueryParser("body", _OPEN, plugins=parts, group=group)


_PARSERS: dict[bool, Any] = {}


@lru_cache(maxsize=64)
def understand(text: str, *, any_word: bool = False) -> query.Query:
    """Return whoosh's query for what somebody typed; plain words where it is not in the query language.

    Args:
        text: as typed.
        any_word: take messages that have any of the words, not all.
    """
    text = text[:QUERY_CHARS].replace("\x00", " ")
    simple = _one_after_the_other(text)
    if simple is not None:
        return _together(simple, any_word)
    text = _FIELD_AND_SPACE.sub(r"\1:", text)
    if any_word not in _PARSERS:
        _PARSERS[any_word] = _parser(any_word)
    try:
        found = _PARSERS[any_word].parse(text)
        faulty = not (all(map(_answerable, found.leaves())) and _shallow(found))
        found = _in_all_forms(found).normalize()
    except Exception:  # noqa: BLE001 - whatever whoosh's parser stumbles over, the words themselves can be looked for
        faulty, found = True, query.NullQuery
    if faulty or (found == query.NullQuery and not _FIELD.search(text)):
        return plain(text, any_word=any_word)
    return found


def plain(text: str, *, any_word: bool = False) -> query.Query:
    """Return the query for the words of a text, all signs taken as spaces."""
    return _together(list(_each_word(text)), any_word)


def _together(parts: list[query.Query], any_word: bool) -> query.Query:
    if len(parts) < 2:
        return parts[0] if parts else query.NullQuery
    return query.Or(parts) if any_word else query.And(parts)


def _each_word(text: str) -> Iterator[query.Query]:
    for stretch in dict.fromkeys(stretches(text)):
        if not left_out(stretch) or is_sign(stretch):
            yield _word(stretch)


def _word(stretch: str) -> query.Query:
    """Return the query for a word in all its forms, or for a stretch of signs wherever it stands."""
    if not is_sign(stretch):
        return Word(stretch, stems(stretch))
    if len(stretch) == 1:
        return query.Prefix("body", stretch)
    return Row(tuple(enumerate(in_pairs(stretch))))


def _one_after_the_other(text: str) -> list[query.Query] | None:
    """Return the parts of a text that has no signs of the query language but quotes and stars; None for another."""
    parts: list[query.Query] = []
    at, text = 0, text.rstrip()
    while at < len(text):
        match = _PARTS.match(text, at)
        if match is None or match[3] in _OPERATORS:
            return None
        at = match.end()
        if match[1] is not None:
            parts.append(row(match[1]))
        elif match[2] is not None:
            parts.append(query.Prefix("body", fold(match[2])))
        else:
            parts.extend(_each_word(match[3]))
    return [part for part in dict.fromkeys(parts) if part != query.NullQuery]


def row(text: str, slop: int = 1) -> query.Query:
    """Return the query for the words of a text in a row."""
    asked: list[str] = []
    parts = stretches(text)
    for at, part in enumerate(parts, 1):
        # The last sign stands alone only where its stretch ends; what is asked for may go on.
        asked += in_pairs(part, last=at < len(parts))
    places = tuple((place, word) for place, word in enumerate(asked) if not left_out(word))
    if len(places) == 1 and len(places[0][1]) == 1 and is_sign(places[0][1]):
        return query.Prefix("body", places[0][1])
    return Row(places, slop) if places else query.NullQuery


def days(text: str) -> query.Query:
    """Return the query for a year, month or day.

    Raises:
        QueryParserError: the text is none.
    """
    return DayRange(*days_of(text))


def _in_all_forms(found: query.Query) -> query.Query:
    """Return a query in which each word of the text is asked for in all its forms."""
    if type(found) is query.Term and found.fieldname == "body":
        return _word(found.text)
    return found.apply(_in_all_forms)


def _answerable(leaf: query.Query) -> bool:
    """Say whether a part of a query was understood, and is one that scoring.py answers: ranges are, of days only."""
    if getattr(leaf, "error", None):
        return False
    if type(leaf) in (query.Term, query.Prefix):
        return bool(SCHEMA[leaf.fieldname].indexed)
    return type(leaf) in (Word, Row, DayRange, query.NullQuery.__class__)


def _shallow(found: query.Query, depth: int = 0) -> bool:
    """Say whether a query is nested no deeper than people nest; whoosh recurses."""
    return depth < 20 and all(_shallow(child, depth + 1) for child in found.children())


@dataclass(frozen=True, slots=True)
class Asked:
    """What a query asks for in the text, for highlighting."""

    words: frozenset[str]
    """Words to the letter, folded."""
    stems: frozenset[str]
    """Stems of the words asked for in all their forms."""
    beginnings: tuple[str, ...]

    def has(self, form: str) -> bool:
        """Say whether a word of a text, folded, is asked for."""
        if form in self.words or (self.beginnings and form.startswith(self.beginnings)):
            return True
        return any(not self.stems.isdisjoint(stems(word)) for word in ((form,) if form.isalnum() else words(form)))


@lru_cache(maxsize=64)
def asked_words(text: str) -> Asked:
    """Return the words a query asks for in the text, and the beginnings (``word*``)."""
    whole: set[str] = set()
    forms: set[str] = set()
    beginnings: list[str] = []
    for leaf in _wanted(understand(text)):
        if isinstance(leaf, query.Prefix):
            beginnings.append(leaf.text)
        elif isinstance(leaf, Word):
            (forms if leaf.stems else whole).update(leaf.asked)
        elif isinstance(leaf, Row):
            whole.update(word for _, word in leaf.words)
        elif isinstance(leaf, query.Term) and leaf.fieldname not in ("lang", "maker"):
            whole.add(leaf.text)
    return Asked(frozenset(whole), frozenset(forms), tuple(beginnings))


def _wanted(found: query.Query) -> Iterable[query.Query]:
    """Yield the leaves that a hit must or may have, not those it must not have."""
    if isinstance(found, query.Not):
        return
    if isinstance(found, query.AndNot):
        yield from _wanted(found.a)
    elif found.is_leaf():
        yield found
    else:
        for child in found.children():
            yield from _wanted(child)
