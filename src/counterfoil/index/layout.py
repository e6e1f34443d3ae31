"""What the index holds of a message, in whoosh's terms, and dates as numbers.

``body`` holds the text, the subject and the sender: one field to ask instead of three. Nothing is stored but the
number of the message and the day, as columns of 32-bit numbers. Positions are kept for ``body`` only (phrases).

The schema is always passed in, never taken from the files, and segments name stock classes only; so files stay
readable whatever becomes of the classes here. Any change to them raises :data:`counterfoil.index.files.VERSION`.
"""

from __future__ import annotations

import calendar
import re
import struct
from collections.abc import Iterator
from datetime import date
from typing import Any

from whoosh import columns, fields, formats, matching, query
from whoosh.analysis import Token
from whoosh.qparser.common import QueryParserError

from counterfoil.index.words import fold, left_out, words

#: Fields whose words are kept without positions and lengths.
SHORT_FIELDS = ("subject", "sender", "maker", "model", "lang")


class Words:
    """whoosh's analyser over :func:`counterfoil.index.words.words`; codes are left out unless ``codes``.

    Args:
        codes: keep words shaped like codes (the names of models).
    """

    def __init__(self, codes: bool = False) -> None:
        self.codes = codes

    def __call__(self, value: str, mode: str = "", tokenize: bool = True, **wanted: Any) -> Iterator[Any]:
        """Yield whoosh's (one, reused) token for each word; with ``tokenize`` False for the folded text as it is."""
        token = Token(wanted.get("positions", False), wanted.get("chars", False), mode=mode, boost=1.0)
        token.stopped, token.startchar, token.endchar = False, 0, 0
        for place, word in enumerate(words(value) if tokenize else [fold(value)]):
            if tokenize and not self.codes and left_out(word):
                continue
            token.text, token.original, token.boost = word, word, 1.0
            token.pos = place + wanted.get("start_pos", 0)
            yield token

    def has_morph(self) -> bool:
        """Say that words are not reduced to stems."""
        return False


class ShortText(fields.FieldType):  # type: ignore[misc]
    """A few words without positions, lengths or stored value."""

    analyzer: Any
    format: Any
    scorable = False
    stored = False
    unique = False
    vector = None
    column_type = None
    spelling = False
    multitoken_query = "and"

    def __init__(self, codes: bool = False) -> None:
        self.analyzer = Words(codes)
        self.format = formats.Frequency()


class DayField(fields.COLUMN):  # type: ignore[misc]
    """The day a message was received, as a column of proleptic Gregorian ordinals; 0: not known."""

    def __init__(self) -> None:
        super().__init__(columns.NumericColumn("I", default=0))

    def self_parsing(self) -> bool:
        """Say that queries on this field are read here."""
        return True

    def parse_query(self, fieldname: str, qstring: str, boost: float = 1.0) -> query.Query:
        """Read ``2026``, ``2026-03``, ``202603``, ``2026-03-14`` or ``20260314``."""
        return DayRange(*days_of(qstring))

    def parse_range(
        self, fieldname: str, start: str | None, end: str | None, startexcl: bool, endexcl: bool, boost: float = 1.0
    ) -> query.Query:
        """Read ``[... TO ...]``: both ends as above, either may be left out; braces leave the end itself out."""
        low = days_of(start)[1 if startexcl else 0] + int(startexcl) if start else 1
        high = days_of(end)[0 if endexcl else 1] - int(endexcl) if end else date.max.toordinal()
        return DayRange(low, high)


_DAY = re.compile(r"(\d{4})(?:-?(\d{2})(?:-?(\d{2}))?)?")


def days_of(text: str) -> tuple[int, int]:
    """Return the first and last day, as ordinals, of a year, month or day in the forms of ISO 8601.

    Raises:
        QueryParserError: the text is none of them.
    """
    match = _DAY.fullmatch(text.strip())
    try:
        if match is None:
            raise ValueError
        year, month, day = (int(part) if part else 0 for part in match.groups())
        first = date(year, month or 1, day or 1)
        last_month = month or 12
        last = date(year, last_month, day or calendar.monthrange(year, last_month)[1])
    except ValueError as error:
        raise QueryParserError(f"{text!r} is no year, month or day") from error
    return first.toordinal(), last.toordinal()


class DayRange(query.Query):  # type: ignore[misc]
    """Messages received from one day to another, both included; adds nothing to the score.

    Args:
        low: first day, as ordinal.
        high: last day, as ordinal.
    """

    def __init__(self, low: int, high: int) -> None:
        self.fieldname, self.low, self.high, self.boost = "date", max(low, 1), high, 1.0

    def __repr__(self) -> str:
        return f"DayRange({self.low}, {self.high})"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, DayRange) and (self.low, self.high) == (other.low, other.high)

    def __hash__(self) -> int:
        return hash((self.low, self.high))

    def is_leaf(self) -> bool:
        """Say that there is no query inside."""
        return True

    def estimate_size(self, ixreader: Any) -> int:
        """Return the most messages this can match."""
        return int(ixreader.doc_count())

    def documents(self, reader: Any) -> list[int]:
        """Return the matching document numbers of one segment, deleted ones left out."""
        deleted = frozenset(reader._perdoc.deleted_docs())
        return [n for n, day in enumerate(column(reader, "date")) if self.low <= day <= self.high and n not in deleted]

    def matcher(self, searcher: Any, context: Any = None) -> Any:
        """Return whoosh's matcher for one segment."""
        found = self.documents(searcher.reader())
        return matching.ListMatcher(found, all_weights=0.0) if found else matching.NullMatcher()


def column(reader: Any, name: str) -> list[int]:
    """Return a column of one segment as numbers, one a document; kept with the reader once read."""
    kept: dict[str, list[int]] = reader.__dict__.setdefault("_counterfoil_columns", {})
    if name not in kept:
        # The raw numbers in one go: asking the column reader for each costs 30 times as much.
        raw = reader.column_reader(name, SCHEMA[name].column_type, translate=False)
        count = raw._count
        numbers = list(struct.unpack(f"!{count}I", raw._dbfile.get(raw._basepos, 4 * count)))
        kept[name] = numbers + [0] * (reader.doc_count_all() - count)
    return kept[name]


SCHEMA = fields.Schema(
    number=fields.COLUMN(columns.NumericColumn("I", default=0)),
    date=DayField(),
    body=fields.TEXT(analyzer=Words(), phrase=True, multitoken_query="and"),
    subject=ShortText(),
    sender=ShortText(),
    maker=ShortText(),
    model=ShortText(codes=True),
    lang=ShortText(),
)
