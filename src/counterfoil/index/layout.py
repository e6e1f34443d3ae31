"""What the index holds of a message, in whoosh's terms, and dates as numbers.

``body`` holds the text, the subject and the sender: one field to ask instead of three; ``stem`` the stems of the same
words. Words are asked for in ``stem``, phrases and beginnings of words in ``body``, which alone has positions. Nothing
is stored but the number of the message and the day, as columns of 32-bit numbers.

The schema is always passed in, never taken from the files, and segments name stock classes only; so files stay
readable whatever becomes of the classes here. Any change to them raises :data:`counterfoil.index.files.VERSION`.
"""

from __future__ import annotations

import calendar
import re
from collections import Counter
from collections.abc import Iterator
from datetime import date
from typing import Any

from whoosh import columns, fields, formats, query
from whoosh.analysis import Token
from whoosh.qparser.common import QueryParserError

from counterfoil.index.nodes import DayRange
from counterfoil.index.stems import stems
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


class Stems(Words):
    """whoosh's analyser for the stems of the words that :class:`Words` gives."""

    def __call__(self, value: str, mode: str = "", tokenize: bool = True, **wanted: Any) -> Iterator[Any]:
        """Yield whoosh's (one, reused) token for each stem of each word."""
        for token in super().__call__(value, mode, tokenize, **wanted):
            for stem in stems(token.text):
                token.text = token.original = stem
                yield token

    def has_morph(self) -> bool:
        """Say that words are reduced to stems."""
        return True


class Counted(formats.Existence):  # type: ignore[misc]
    """How often a word is in a field, kept as whoosh's weight alone: no value beside it."""

    def word_values(self, value: str, analyzer: Any, **kwargs: Any) -> Iterator[tuple[str, int, float, bytes]]:
        """Yield word, number, weight and (empty) value."""
        counts = Counter(token.text for token in formats.tokens(value, analyzer, kwargs))
        return ((word, count, float(count), b"") for word, count in counts.items())


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
        self.format = Counted()


class StemText(ShortText):
    """The stems of a text: no positions, but lengths, for the score."""

    scorable = True

    def __init__(self) -> None:
        super().__init__()
        self.analyzer = Stems()


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


SCHEMA = fields.Schema(
    number=fields.COLUMN(columns.NumericColumn("I", default=0)),
    date=DayField(),
    body=fields.TEXT(analyzer=Words(), phrase=True, multitoken_query="and"),
    subject=ShortText(),
    sender=ShortText(),
    maker=ShortText(),
    model=ShortText(codes=True),
    lang=ShortText(),
    stem=StemText(),
)
#: The number of each indexed field in the keys of words, the same in every segment.
FIELD_NUMBERS = {name: number for number, name in enumerate(n for n in SCHEMA.names() if SCHEMA[n].indexed)}
