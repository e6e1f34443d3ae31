"""Lists of postings as whoosh 2.7.4 keeps them: written whole, read whole, merged.

whoosh writes every word of every message through a sorting pool with a size check for each, and every list of
postings through two pickles and zlib, however short. Here lists are written at once, and the short ones (most are of
one message) go into the table of words, a form that whoosh reads and would write but for a misspelt name.
Private parts of whoosh are used: hence the exact version in the requirements, and tests that compare all of it.
"""

from __future__ import annotations

import heapq
import struct
import sys
from array import array
from collections.abc import Iterable, Iterator, Sequence
from hashlib import md5
from itertools import accumulate, groupby
from operator import itemgetter
from pickle import dumps
from typing import Any

from whoosh.codec.whoosh3 import (
    WHOOSH3_HEADER_MAGIC,
    W3Codec,
    W3FieldWriter,
    W3Segment,
    W3TermInfo,
)
from whoosh.util.numlists import delta_encode

from counterfoil.index.layout import FIELD_NUMBERS

#: Field, word, document numbers (rising), how often each has it, all its positions one document after the other (empty:
#: the field has none).
Postings = tuple[str, bytes, list[int], list[int], list[int]]

#: Lists of up to this many messages stand in the table of words itself.
INLINE_POSTINGS = 64
#: Postings a block, with positions and without: large enough that whole lists are read fast, small enough to pass over.
BLOCK_POSTINGS = 128
SMALL_POSTINGS = 512
#: The head of a block is a pickle of six values, as whoosh reads it, of opcodes with operands of fixed size, so that
#: it can be read without unpickling: number of postings, last document, highest weight, compression, lengths.
BLOCK_HEAD = struct.Struct("<4xixi9xxixixi2x")
HEAD_BYTES = BLOCK_HEAD.size
_pack_int, _pack_double = struct.Struct("<i").pack, struct.Struct(">d").pack
_pack_lengths = struct.Struct("!ii").pack
_pack_extent = struct.Struct("!qi").pack


def key_of(field: str, word: bytes) -> tuple[bytes, int]:
    """Return the key of a word in the table of any segment, and whoosh's hash of it."""
    key = FIELD_NUMBERS[field].to_bytes(2, "big") + word
    return key, int.from_bytes(md5(key, usedforsecurity=False).digest()[-4:], "big")


def _head(count: int, last: int, heaviest: int, shortest: int, longest: int) -> bytes:
    parts = (
        b"\x80\x02(J", _pack_int(count), b"J", _pack_int(last), b"G", _pack_double(heaviest),
        b"J", _pack_int(0), b"J", _pack_int(shortest), b"J", _pack_int(longest), b"t.",
    )  # fmt: skip
    return b"".join(parts)


class FastFieldWriter(W3FieldWriter):  # type: ignore[misc]
    """Writes whole lists of postings instead of posting by posting."""

    def __init__(self, codec: Any, storage: Any, segment: Any) -> None:
        super().__init__(codec, storage, segment)
        self._fieldmap.update(FIELD_NUMBERS)

    def add_lists(self, lists: Iterable[Postings], lengths: dict[str, bytes]) -> None:
        """Write lists of postings in the order of field and word.

        Args:
            lists: the postings; lists without a document are passed over.
            lengths: whoosh's length byte of each document, by field that has lengths.
        """
        # whoosh's own way to add a word asks the file where it is three times, and hashes into hexadecimal and back.
        table, keep = self._tindex, self._tindex.index.append
        out, buckets, at = table.dbfile, table.buckets, table.dbfile.tell()
        for field, word, numbers, weights, places in lists:
            if not numbers:
                continue
            information = self._information(numbers, weights, places, lengths.get(field))
            key, hashed = key_of(field, word)
            if key <= table.lastkey:
                raise ValueError(f"words out of order: {key!r} after {table.lastkey!r}")
            out.write(_pack_lengths(len(key), len(information)) + key + information)
            keep(at)
            buckets[hashed & 255].append((hashed, at))
            table.lastkey = key
            at += 8 + len(key) + len(information)

    def _information(self, numbers: list[int], weights: list[int], places: list[int], measure: bytes | None) -> bytes:
        """Return what stands in the table for a word; write its postings unless they stand there too."""
        shortest, longest = _shortest_and_longest(numbers, measure)
        inline = len(numbers) <= INLINE_POSTINGS
        information: bytes = W3TermInfo._struct.pack(
            inline, sum(weights), len(numbers), shortest, longest, max(weights), numbers[0], numbers[-1]
        )
        if inline:
            return information + dumps((tuple(numbers), tuple(weights), tuple(places)), 2)
        start = self._postfile.tell()
        self._write_blocks(numbers, weights, places, measure)
        return information + _pack_extent(start, self._postfile.tell() - start)

    def _write_blocks(self, numbers: list[int], weights: list[int], places: list[int], measure: bytes | None) -> None:
        # Not compressed: it saves a third of the room and takes most of the time of reading.
        out = self._postfile
        out.write(WHOOSH3_HEADER_MAGIC)
        many, first = BLOCK_POSTINGS if places else SMALL_POSTINGS, 0
        for at in range(0, len(numbers), many):
            part, heavy = numbers[at : at + many], weights[at : at + many]
            heaviest, after = max(heavy), first + sum(heavy)
            some = _packed(places[first:after]) if places else None
            first = after
            data = dumps((tuple(delta_encode(part)), _weights(heavy, heaviest), some), 4)
            shortest, longest = _shortest_and_longest(part, measure)
            size = HEAD_BYTES + len(data)
            out.write_int(-size if at + many >= len(numbers) else size)
            out.write(_head(len(part), part[-1], heaviest, shortest, longest))
            out.write(data)


def _shortest_and_longest(numbers: list[int], measure: bytes | None) -> tuple[int, int]:
    sizes = [size for size in map(measure.__getitem__, numbers) if size] if measure else []
    return (min(sizes), max(sizes)) if sizes else (0, 0)


def _packed(places: list[int]) -> bytes:
    """Return positions as little-endian numbers of 16 or 32 bits; which, tells their number."""
    packed = array("H" if max(places) < 1 << 16 else "I", places)
    if sys.byteorder == "big":
        packed.byteswap()
    return packed.tobytes()


def unpacked(data: bytes, count: int) -> array[int]:
    """Return so many positions, packed as above."""
    found = array("H" if len(data) == 2 * count else "I", data)
    if sys.byteorder == "big":
        found.byteswap()
    return found


def _weights(heavy: list[int], heaviest: int) -> float | bytes | tuple[int, ...] | None:
    """Return the weights of a block as small as whoosh reads them."""
    if heavy.count(heaviest) == len(heavy):
        return None if heaviest == 1 else float(heaviest)
    return bytes(heavy) if heaviest < 256 else tuple(heavy)


class FastCodec(W3Codec):  # type: ignore[misc]
    """Writes with :class:`FastFieldWriter`; its segments name the stock codec, which reads them."""

    def field_writer(self, storage: Any, segment: Any) -> FastFieldWriter:
        """Return the writer of words and postings."""
        return FastFieldWriter(self, storage, segment)

    def new_segment(self, storage: Any, indexname: str) -> W3Segment:
        """Return an empty segment that whoosh reads without this module."""
        return W3Segment(W3Codec(), indexname)


def renumber(postings: Postings, renumbered: dict[int, int] | None, offset: int) -> Postings:
    """Return a list of postings whose documents are numbered anew, deleted ones left out.

    Args:
        postings: the list.
        renumbered: new numbers by old where documents were deleted; None where none was.
        offset: what is added to the old numbers where none was deleted.
    """
    field, word, numbers, weights, places = postings
    if renumbered is None:
        return field, word, [n + offset for n in numbers], weights, places
    kept = [i for i, n in enumerate(numbers) if n in renumbered]
    ends = [0, *accumulate(weights)]
    return (
        field,
        word,
        [renumbered[numbers[i]] for i in kept],
        [weights[i] for i in kept],
        [place for i in kept for place in places[ends[i] : ends[i + 1]]] if places else [],
    )


def joined(sources: Sequence[Iterator[Postings]]) -> Iterator[Postings]:
    """Merge sorted postings; later sources hold higher document numbers."""
    if len(sources) == 1:
        yield from sources[0]
        return
    for (field, word), group in groupby(heapq.merge(*sources, key=itemgetter(0, 1)), key=itemgetter(0, 1)):
        numbers: list[int] = []
        weights: list[int] = []
        places: list[int] = []
        for _, _, some, heavy, there in group:
            numbers += some
            weights += heavy
            places += there
        yield field, word, numbers, weights, places
