"""One segment, read in bulk from the mapped file: words found in its table, lists of postings whole blocks at a time.

whoosh's own readers go posting by posting through several objects; a question costs them ten times what it costs here.
The files are those of whoosh 2.7.4 (private parts of it are used: hence the exact version in the requirements), with
the head of each block of postings at a fixed size, see :mod:`counterfoil.index.postings`. whoosh's pickles in them are
opened only where size, time of change or hash of the file are as this program left them, in a folder of its own.
"""

from __future__ import annotations

import struct
import sys
from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from itertools import accumulate
from pickle import loads
from typing import Any

from whoosh.codec.whoosh3 import LENGTHS_COLUMN, W3TermInfo

from counterfoil.index.layout import FIELD_NUMBERS, SCHEMA
from counterfoil.index.postings import BLOCK_HEAD, HEAD_BYTES, Postings, unpacked
from counterfoil.index.rows import Places

#: Lists over this share of a segment's messages are kept as one byte a message.
DENSE_SHARE = 16
#: Lists decoded stay until this many bytes are held by one segment.
KEPT_BYTES = 8_000_000

#: How often a word is in each message: by number where few have it, one byte (at most 255) a message where many have.
Counts = dict[int, int] | bytes

_pointer = struct.Struct("!Iq").unpack_from
_two_lengths = struct.Struct("!ii").unpack_from
_information = struct.Struct("!B4xI").unpack_from
INFORMATION_BYTES = W3TermInfo._struct.size
_extent = struct.Struct("!qi").unpack_from
_block_size = struct.Struct("!i").unpack_from


#: What the table of words says of one: in how many messages it is, its postings where they are few, and where they are.
Entry = tuple[int, tuple[Sequence[int], Sequence[int], Sequence[int]] | None, int]


def _bytes_of(file: Any) -> memoryview:
    """Return what is in a file of a segment, mapped, not copied."""
    mapped = getattr(file, "_buf", None)
    if isinstance(mapped, memoryview):
        return mapped
    file.seek(0)
    return memoryview(file.read())


class Leaf:
    """One segment.

    Args:
        reader: whoosh's reader of it.
    """

    def __init__(self, reader: Any) -> None:
        self.reader = reader
        terms = reader._terms
        self._table = terms._tindex
        self._words, self._postings = _bytes_of(self._table.dbfile), _bytes_of(terms._postfile)
        self._tables: list[tuple[int, int]] = self._table.tables
        assert all(FIELD_NUMBERS[name] == number for name, number in terms._fieldmap.items())
        self.size: int = reader.doc_count_all()
        self.deleted: frozenset[int] = frozenset(reader._perdoc.deleted_docs())
        self._columns: dict[str, array[int]] = {}
        self._lengths: dict[str, bytes] = {}
        self._order: tuple[list[int], Sequence[int]] | None = None
        self._kept: dict[tuple[str, ...], Counts] = {}
        self._kept_bytes = 0

    # --- the table of words ----------------------------------------------------------------------

    def find(self, key: bytes, hashed: int) -> Entry | None:
        """Return what the table says of a word; None where the segment has it not.

        Args:
            key: of the word, as from :func:`counterfoil.index.postings.key_of`.
            hashed: the hash of it.
        """
        start, slots = self._tables[hashed & 255]
        if not slots:
            return None
        words, at, end = self._words, start + (hashed >> 8) % slots * 12, start + slots * 12
        while True:
            found, item = _pointer(words, at)
            if found == hashed and item:
                length, size = _two_lengths(words, item)
                item += 8
                if words[item : item + length] == key:
                    return self._entry(item + length, size)
            elif not item:
                return None
            at += 12
            if at == end:
                at = start

    def _entry(self, at: int, size: int) -> Entry:
        words = self._words
        inline, messages = _information(words, at)
        if inline:
            return messages, loads(words[at + INFORMATION_BYTES : at + size]), 0  # noqa: S301 - see the top
        return messages, None, _extent(words, at + INFORMATION_BYTES)[0]

    def beginning(self, field: str, prefix: bytes) -> Iterator[Entry]:
        """Yield what the table says of each word that begins so, in the order of the words."""
        key = FIELD_NUMBERS[field].to_bytes(2, "big") + prefix
        at, end, words = self._table.closest_key_pos(key), self._table.endofdata, self._words
        while at is not None and at < end:
            length, size = _two_lengths(words, at)
            at += 8
            if words[at : at + len(key)] != key:
                return
            yield self._entry(at + length, size)
            at += length + size

    def lists(self) -> Iterator[Postings]:
        """Yield all lists of postings in the order of field and word."""
        at, end, words = self._table.startofdata, self._table.endofdata, self._words
        names = {number: name for name, number in FIELD_NUMBERS.items()}
        while at < end:
            length, size = _two_lengths(words, at)
            key, at = bytes(words[at + 8 : at + 8 + length]), at + 8 + length
            yield (names[int.from_bytes(key[:2], "big")], key[2:], *self._list(self._entry(at, size)))
            at += size

    def _list(self, entry: Entry) -> tuple[list[int], list[int], list[int]]:
        if entry[1] is not None:
            numbers, weights, places = entry[1]
            return list(numbers), list(weights), list(places)
        found: tuple[list[int], list[int], list[int]] = ([], [], [])
        for steps, counts, packed in self._blocks(entry[2], None):
            found[0].extend(accumulate(steps))
            found[1].extend(counts)
            if packed is not None:
                found[2].extend(unpacked(packed, sum(counts)))
        return found

    # --- postings --------------------------------------------------------------------------------

    def postings(self, entry: Entry, among: Sequence[int] | None = None) -> tuple[Sequence[int], Sequence[int]]:
        """Return the numbers of the messages of a list and how often each has the word.

        Args:
            entry: of the table of words.
            among: rising numbers; blocks that hold none of them are passed over unread.
        """
        if entry[1] is not None:
            return entry[1][0], entry[1][1]
        numbers: list[int] = []
        counts: list[int] = []
        for steps, weights, _ in self._blocks(entry[2], among):
            numbers.extend(accumulate(steps))
            counts.extend(weights)
        return numbers, counts

    def places(self, entry: Entry, among: Sequence[int] | None) -> Places:
        """Return the places of a word in the messages; arguments as for :meth:`postings`."""
        found = Places()
        if entry[1] is not None:
            numbers, counts, flat = entry[1]
            found.add(numbers, counts, array("I", flat))
            return found
        for steps, counts, packed in self._blocks(entry[2], among):
            found.add(accumulate(steps), counts, unpacked(packed, sum(counts)))
        return found

    def _blocks(self, at: int, among: Sequence[int] | None) -> Iterator[tuple[Any, Any, Any]]:
        """Yield the steps between numbers, the counts and the packed places of each block."""
        data, at = self._postings, at + 4
        place, past, more = 0, -1, True
        while more:
            size = _block_size(data, at)[0]
            more = size > 0
            start, at = at + 4, at + 4 + abs(size)
            count, last, _, _, _ = BLOCK_HEAD.unpack_from(data, start)
            if among is not None:
                place = bisect_right(among, past, place)
                past = last
                if place == len(among):
                    return
                if among[place] > last:
                    continue
            steps, weights, packed = loads(data[start + HEAD_BYTES : at])  # noqa: S301 - see the top
            if weights is None:
                weights = (1,) * count
            elif isinstance(weights, float):
                weights = (int(weights),) * count
            yield steps, weights, packed

    def counts(self, key: tuple[str, ...], entries: Sequence[Entry], among: Sequence[int] | None = None) -> Counts:
        """Return how often a word, in the form of any of its stems, is in each message.

        Args:
            key: field and stems; what was decoded once is kept under it.
            entries: those of the stems that the segment has.
            among: rising numbers of the messages asked about; others may be missing from the answer.
        """
        kept = self._kept.get(key)
        if kept is not None:
            return kept
        expected = max(entry[0] for entry in entries)
        if among is not None and expected > 2 * len(among):
            few: dict[int, int] = {}
            for entry in entries:
                _merge(few, *self.postings(entry, among))
            return few
        found = self._all_counts(entries, expected)
        size = len(found) if isinstance(found, bytes) else 100 * len(found)
        if self._kept_bytes + size > KEPT_BYTES:
            self._kept.clear()
            self._kept_bytes = 0
        self._kept[key] = found
        self._kept_bytes += size
        return found

    def _all_counts(self, entries: Sequence[Entry], expected: int) -> Counts:
        if expected * DENSE_SHARE < self.size:
            few: dict[int, int] = {}
            for entry in entries:
                _merge(few, *self.postings(entry))
            return few
        many = bytearray(self.size)
        for entry in entries:
            for number, count in zip(*self.postings(entry), strict=True):
                if many[number] < count:
                    many[number] = count if count < 256 else 255
        return bytes(many)

    # --- columns ---------------------------------------------------------------------------------

    def column(self, name: str) -> array[int]:
        """Return a column of numbers, one a message."""
        if name not in self._columns:
            raw = self.reader.column_reader(name, SCHEMA[name].column_type, translate=False)
            numbers = array("I", raw._dbfile.get(raw._basepos, 4 * raw._count))
            if sys.byteorder == "little":
                numbers.byteswap()
            numbers.extend([0] * (self.size - raw._count))
            self._columns[name] = numbers
        return self._columns[name]

    def lengths(self, field: str) -> bytes:
        """Return whoosh's length byte of each message."""
        if field not in self._lengths:
            raw = self.reader._perdoc._cached_reader(f"_{field}_len", LENGTHS_COLUMN)
            data = bytes(raw._dbfile.get(raw._basepos, raw._count)) if raw is not None else b""
            self._lengths[field] = data.ljust(self.size, b"\0")
        return self._lengths[field]

    def days(self, low: int, high: int) -> list[int]:
        """Return the numbers, rising, of the messages received from one day to another, both included."""
        if self._order is None:
            days = self.column("date").tolist()
            ordered = sorted(days)
            rising = ordered == days
            self._order = ordered, range(self.size) if rising else sorted(range(self.size), key=days.__getitem__)
        ordered, numbers = self._order
        return sorted(numbers[bisect_left(ordered, low) : bisect_right(ordered, high)])


def _merge(known: dict[int, int], numbers: Sequence[int], counts: Sequence[int]) -> None:
    """Add a list to others, of each message the highest count: forms of one word share postings."""
    if not known:
        known.update(zip(numbers, counts, strict=True))
        return
    for number, count in zip(numbers, counts, strict=True):
        if known.get(number, 0) < count:
            known[number] = count
