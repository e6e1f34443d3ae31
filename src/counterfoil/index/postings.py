"""Lists of postings as whoosh 2.7.4 keeps them: written whole, read whole, merged.

whoosh writes every word of every message through a sorting pool with a size check for each, and every list of
postings through two pickles and zlib, however short. Here lists are written at once, and the short ones (most are of
one message) go into the table of words, a form that whoosh reads and would write but for a misspelt name.
Private parts of whoosh are used: hence the exact version in the requirements, and tests that compare all of it.
"""

from __future__ import annotations

import heapq
import struct
import zlib
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from operator import itemgetter
from pickle import dumps
from typing import Any

from whoosh.codec.whoosh3 import (
    WHOOSH3_HEADER_MAGIC,
    W3Codec,
    W3FieldWriter,
    W3LeafMatcher,
    W3Segment,
    W3TermInfo,
)
from whoosh.util.numlists import delta_encode

from counterfoil.index.layout import SHORT_FIELDS

#: Field, word, document numbers (rising), weights, encoded positions or frequencies.
Postings = tuple[str, bytes, list[int], list[float], list[bytes]]

#: Lists of up to this many messages stand in the table of words itself.
INLINE_POSTINGS = 8
BLOCK_POSTINGS = 128
#: Below this size in bytes zlib gains nothing worth its time.
COMPRESS_BYTES = 200
_pack_uint = struct.Struct("!I").pack
_pack_extent = struct.Struct("!qi").pack
_ONCE = _pack_uint(1)
_FREQUENCIES = [_pack_uint(n) for n in range(64)]
#: Most words stand once in a message: their positions are encoded beforehand.
PLACES_KEPT = 2_048
PLACES = [_ONCE + dumps([n], 2) for n in range(PLACES_KEPT)]


def encode_places(places: list[int]) -> bytes:
    """Return the positions of a word in a message as whoosh's ``Positions`` format has them."""
    if len(places) == 1 and places[0] < PLACES_KEPT:
        return PLACES[places[0]]
    steps = [b - a for a, b in zip([0, *places], places, strict=False)]
    return _pack_uint(len(steps)) + dumps(steps, 2)


def encode_frequency(count: int) -> bytes:
    """Return how often a word is in a field as whoosh's ``Frequency`` format has it."""
    return _FREQUENCIES[count] if count < len(_FREQUENCIES) else _pack_uint(count)


class FastFieldWriter(W3FieldWriter):  # type: ignore[misc]
    """Writes whole lists of postings instead of posting by posting."""

    def add_lists(self, lists: Iterable[Postings], lengths: dict[str, bytes]) -> None:
        """Write lists of postings in the order of field and word.

        Args:
            lists: the postings; lists without a document are passed over.
            lengths: whoosh's length byte of each document, by field that has lengths.
        """
        for field, word, numbers, weights, values in lists:
            if not numbers:
                continue
            identity = self._fieldmap.setdefault(field, len(self._fieldmap))
            measure = lengths.get(field)
            sizes = [s for s in map(measure.__getitem__, numbers) if s] if measure else []
            shortest, longest = (min(sizes), max(sizes)) if sizes else (0, 0)
            inline = len(numbers) <= INLINE_POSTINGS
            information = W3TermInfo._struct.pack(
                inline, sum(weights), len(numbers), shortest, longest, max(weights), numbers[0], numbers[-1]
            )
            if inline:
                information += dumps((tuple(numbers), tuple(weights), tuple(values)), 2)
            else:
                start = self._postfile.tell()
                self._write_blocks(numbers, weights, values, measure, fixed=field in SHORT_FIELDS)
                information += _pack_extent(start, self._postfile.tell() - start)
            self._tindex.add(identity.to_bytes(2, "big") + word, information)

    def _write_blocks(
        self, numbers: list[int], weights: list[float], values: list[bytes], measure: bytes | None, *, fixed: bool
    ) -> None:
        out = self._postfile
        out.write(WHOOSH3_HEADER_MAGIC)
        for at in range(0, len(numbers), BLOCK_POSTINGS):
            part, heavy = numbers[at : at + BLOCK_POSTINGS], weights[at : at + BLOCK_POSTINGS]
            some = values[at : at + BLOCK_POSTINGS]
            same = None if heavy.count(1.0) == len(heavy) else heavy[0] if heavy.count(heavy[0]) == len(heavy) else 0
            data = dumps(
                (
                    tuple(delta_encode(part)),
                    tuple(heavy) if same == 0 else same,
                    b"".join(some) if fixed else tuple(some),
                ),
                2,
            )
            level = 3 if len(data) > COMPRESS_BYTES else 0
            if level:
                data = zlib.compress(data, level)
            sizes = [s for s in map(measure.__getitem__, part) if s] if measure else []
            shortest, longest = (min(sizes), max(sizes)) if sizes else (0, 0)
            head = dumps((len(part), part[-1], max(heavy), level, shortest, longest), 2)
            size = len(head) + len(data)
            out.write_int(-size if at + BLOCK_POSTINGS >= len(numbers) else size)
            out.write(head)
            out.write(data)


class FastCodec(W3Codec):  # type: ignore[misc]
    """Writes with :class:`FastFieldWriter`; its segments name the stock codec, which reads them."""

    def field_writer(self, storage: Any, segment: Any) -> FastFieldWriter:
        """Return the writer of words and postings."""
        return FastFieldWriter(self, storage, segment)

    def new_segment(self, storage: Any, indexname: str) -> W3Segment:
        """Return an empty segment that whoosh reads without this module."""
        return W3Segment(W3Codec(), indexname)


def lists_of(reader: Any, renumbered: dict[int, int] | None, offset: int) -> Iterator[Postings]:
    """Yield the postings of a segment in order, its documents numbered anew.

    Args:
        reader: whoosh's reader of the segment.
        renumbered: new numbers by old where documents were deleted; None where none was.
        offset: what is added to the old numbers where none was deleted.
    """
    terms = reader._terms
    for (field, word), information in terms.items():
        if information.is_inlined():
            numbers, weights, values = map(list, information.inlined_postings())
        else:
            numbers, weights, values = read_blocks(terms._postfile, information, reader.schema[field].format)
        if renumbered is None:
            yield field, word, [n + offset for n in numbers], weights, values
        else:
            kept = [i for i, n in enumerate(numbers) if n in renumbered]
            yield (
                field,
                word,
                [renumbered[numbers[i]] for i in kept],
                [weights[i] for i in kept],
                [values[i] for i in kept],
            )


def read_blocks(
    postfile: Any, information: Any, form: Any, *, with_values: bool = True, among: Sequence[int] | None = None
) -> tuple[list[int], list[float], list[bytes]]:
    """Return document numbers, weights and values of a list of postings, whole blocks at a time.

    Args:
        postfile: whoosh's file of postings.
        information: whoosh's information on the word.
        form: the format of the field.
        with_values: read the values (positions) too.
        among: rising document numbers; blocks that hold none of them are passed over unread.
    """
    matcher = W3LeafMatcher(postfile, *information.extent(), form)
    numbers: list[int] = []
    weights: list[float] = []
    values: list[bytes] = []
    before, at = -1, 0
    while matcher.is_active():
        if among is not None:
            at = bisect_right(among, before, at)
            if at == len(among):
                break
            before = matcher._maxid
            if among[at] > before:
                matcher._next_block()
                continue
        matcher._read_ids()
        numbers.extend(matcher._ids)
        matcher._read_weights()
        weights.extend(matcher._weights)
        if with_values:
            matcher._read_values()
            values.extend(matcher._values)
        matcher._next_block()
    return numbers, weights, values


def joined(sources: Sequence[Iterator[Postings]]) -> Iterator[Postings]:
    """Merge sorted postings; later sources hold higher document numbers."""
    if len(sources) == 1:
        yield from sources[0]
        return
    for (field, word), group in groupby(heapq.merge(*sources, key=itemgetter(0, 1)), key=itemgetter(0, 1)):
        numbers: list[int] = []
        weights: list[float] = []
        values: list[bytes] = []
        for _, _, some, heavy, encoded in group:
            numbers += some
            weights += heavy
            values += encoded
        yield field, word, numbers, weights, values
