"""Entries into the index: one commit a batch, in whoosh's own files, faster than its own writer.

whoosh writes every word of every message through a sorting pool with a size check for each, and every list of
postings through two pickles and zlib, however short. Here a batch is gathered by word at once, sorted by word only,
and the short lists (most are of one message) go into the table of words, a form that whoosh 2.7.4 reads and would
write but for a misspelt name. The tests compare the outcome, posting by posting, with what whoosh itself writes.
Private parts of whoosh are used for that: hence the exact version in the requirements.
"""

from __future__ import annotations

import heapq
import struct
import zlib
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from pickle import dumps
from typing import Any

from whoosh.codec.whoosh3 import (
    LENGTHS_COLUMN,
    WHOOSH3_HEADER_MAGIC,
    W3Codec,
    W3FieldWriter,
    W3LeafMatcher,
    W3Segment,
    W3TermInfo,
)
from whoosh.filedb.filestore import FileStorage
from whoosh.index import TOC
from whoosh.reading import SegmentReader
from whoosh.util.numlists import delta_encode
from whoosh.writing import SegmentWriter

from counterfoil.index import files
from counterfoil.index.layout import SHORT_FIELDS
from counterfoil.index.words import CODE_LENGTH, left_out, words
from counterfoil.model import IndexEntry

#: Field, word, document numbers (rising), weights, encoded positions or frequencies.
Postings = tuple[str, bytes, list[int], list[float], list[bytes]]

#: Lists of up to this many messages stand in the table of words itself.
INLINE_POSTINGS = 8
BLOCK_POSTINGS = 128
#: Below this size in bytes zlib gains nothing worth its time.
COMPRESS_BYTES = 200
#: Empty positions between text, subject and sender: a phrase must not reach from one into the other.
FIELD_GAP = 100
#: Segments of one size class that are merged into one of the next; each class is this many times the one before.
MERGE_WIDTH = 8
#: Up to this size a merged segment is put together in memory (some 60 MB), three times as fast as from streams.
GATHERED_MESSAGES = 4_000

_pack_uint = struct.Struct("!I").pack
_pack_extent = struct.Struct("!qi").pack
_ONCE = _pack_uint(1)
_FREQUENCIES = [_pack_uint(n) for n in range(64)]
#: Most words stand once in a message: their positions are encoded beforehand.
_PLACES_KEPT = 2_048
_PLACES = [_ONCE + dumps([n], 2) for n in range(_PLACES_KEPT)]


def encode_places(places: list[int]) -> bytes:
    """Return the positions of a word in a message as whoosh's ``Positions`` format has them."""
    if len(places) == 1 and places[0] < _PLACES_KEPT:
        return _PLACES[places[0]]
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


class Batch:
    """The postings of one batch, gathered by field and word."""

    def __init__(self) -> None:
        self.fields: dict[str, dict[str, tuple[list[int], list[float], list[bytes]]]] = {}

    def add(self, number: int, entry: IndexEntry) -> int:
        """Gather the words of an entry under a document number; return the length of its body in words."""
        subject, sender, body = words(entry.subject), words(entry.sender), words(entry.body)
        places: dict[str, list[int]] = {}
        start = 0
        for part in (body, subject, sender):
            for place, word in enumerate(part, start):
                if word in places:
                    places[word].append(place)
                else:
                    places[word] = [place]
            start += len(part) + FIELD_GAP
        length, known, once = 0, self.fields.setdefault("body", {}), _PLACES
        # The innermost loop of all adding: calls are spared here, and only here.
        for word, found in places.items():
            if len(word) >= CODE_LENGTH and left_out(word):
                continue
            count = len(found)
            length += count
            value = once[found[0]] if count == 1 and found[0] < _PLACES_KEPT else encode_places(found)
            if word in known:
                numbers, weights, values = known[word]
                numbers.append(number)
                weights.append(float(count))
                values.append(value)
            else:
                known[word] = ([number], [float(count)], [value])
        short = (subject, sender, words(entry.maker), words(entry.model), words(entry.language))
        for name, part in zip(SHORT_FIELDS, short, strict=True):
            known = self.fields.setdefault(name, {})
            for word in set(part):
                if name == "model" or not left_out(word):
                    count = part.count(word)
                    _note(known, word, number, float(count), encode_frequency(count))
        return length

    def add_lists(self, lists: Iterable[Postings]) -> None:
        """Gather the postings of a segment whose document numbers are all higher than those gathered before."""
        for field, word, numbers, weights, values in lists:
            known, text = self.fields.setdefault(field, {}), word.decode()
            if text in known:
                for whole, part in zip(known[text], (numbers, weights, values), strict=True):
                    whole.extend(part)  # type: ignore[arg-type]
            else:
                known[text] = (numbers, weights, values)

    def lists(self) -> Iterator[Postings]:
        """Yield all postings in the order of field and word."""
        for name in sorted(self.fields):
            known = self.fields[name]
            for word, key in sorted((word.encode(), word) for word in known):
                yield (name, word, *known[key])


def _note(
    known: dict[str, tuple[list[int], list[float], list[bytes]]], word: str, number: int, weight: float, value: bytes
) -> None:
    lists = known.get(word)
    if lists is None:
        known[word] = ([number], [weight], [value])
    else:
        lists[0].append(number)
        lists[1].append(weight)
        lists[2].append(value)


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
    postfile: Any, information: Any, form: Any, *, with_values: bool = True
) -> tuple[list[int], list[float], list[bytes]]:
    """Return document numbers, weights and, if wanted, values of a list of postings, whole blocks at a time."""
    matcher = W3LeafMatcher(postfile, *information.extent(), form)
    numbers: list[int] = []
    weights: list[float] = []
    values: list[bytes] = []
    while matcher.is_active():
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


class DurableStorage(FileStorage):  # type: ignore[misc]
    """A folder of files in which a table of contents gets its name only once all it refers to is durable."""

    def __init__(self, folder: Path) -> None:
        super().__init__(str(folder))
        self.path = folder
        self.manifest: files.Manifest | None = None

    def rename_file(self, oldname: str, newname: str, safe: bool = False) -> None:
        """Make file and manifest durable, then rename: the moment of the commit."""
        assert self.manifest is not None, "whoosh renames nothing but tables of contents"
        files.make_durable(self.path / oldname)
        self.manifest.files[newname] = files.describe(self.path / oldname)
        files.write_manifest(self.path, self.manifest)
        files.make_names_durable(self.path)
        super().rename_file(oldname, newname, safe=safe)
        files.make_names_durable(self.path)


class BatchWriter(SegmentWriter):  # type: ignore[misc]
    """Adds one batch of entries and commits them together with the mark.

    Args:
        ix: whoosh's index over a :class:`DurableStorage`.
        before: the manifest of the last commit.
    """

    def __init__(self, ix: Any, before: files.Manifest) -> None:
        self.batch = Batch()
        self.before = before
        self.mark, self.highest = before.mark, before.highest
        self._sources: list[tuple[Any, dict[int, int] | None, int]] = []
        super().__init__(ix, codec=FastCodec(compression=3), _lk=False)

    def add_entry(self, number: int, entry: IndexEntry) -> None:
        """Add one message under its number."""
        writer, schema = self.perdocwriter, self.schema
        writer.start_doc(self.docnum)
        length = self.batch.add(self.docnum, entry)
        writer.add_field("body", schema["body"], None, length)
        writer.add_column_value("number", schema["number"].column_type, number)
        day = entry.received.toordinal() if entry.received else 0
        writer.add_column_value("date", schema["date"].column_type, day)
        writer.finish_doc()
        self.docnum += 1
        self._added = True
        self.mark, self.highest = max(self.mark, entry.revision), max(self.highest, number)

    def add_reader(self, reader: Any) -> None:
        """Take in a segment that is to be merged; its postings are read when the new segment is written."""
        offset = self.docnum
        names = ("body", "number", "date")
        renumbered: dict[int, int] | None = self.write_per_doc(names, reader)
        self._sources.append((reader, renumbered, offset))
        self._added = True

    def _flush_segment(self) -> None:
        self.perdocwriter.close()
        documents = self.per_document_reader()
        raw = documents._cached_reader("_body_len", LENGTHS_COLUMN)
        lengths = {"body": bytes(raw)} if raw is not None else {}
        streams = [lists_of(*source) for source in self._sources]
        if self.docnum <= GATHERED_MESSAGES:
            for stream in streams:
                self.batch.add_lists(stream)
            streams = []
        self.fieldwriter.add_lists(joined([self.batch.lists(), *streams]), lengths)
        self.fieldwriter.close()
        documents.close()
        for reader, _, _ in self._sources:
            reader.close()

    def _commit_toc(self, segments: list[Any]) -> None:
        # Overrides whoosh's, which renames without fsync and deletes the former table of contents at once.
        folder = self.storage.path
        names = [f"{segment.segment_id()}.seg" for segment in segments]
        known = {name: self.before.files[name] for name in names if name in self.before.files}
        for name in names:
            if name not in known:
                files.make_durable(folder / name)
                known[name] = files.describe(folder / name)
        count = sum(s.doc_count_all() - s.deleted_count() for s in segments)
        manifest = files.Manifest(self.generation, self.mark, count, self.highest, known)
        self.storage.manifest = manifest
        TOC(self.schema, segments, self.generation).write(self.storage, self.indexname)
        files.sweep(folder, manifest)


def merge_alike(writer: Any, segments: Sequence[Any]) -> list[Any]:
    """Merge segments once :data:`MERGE_WIDTH` of one size class have come together; whoosh's merge policy.

    Every message is merged at most once a class, the number of segments stays small, and a single message costs no
    more than a commit. Segments of which more than half is deleted are merged as well.
    """
    classes: dict[int, list[Any]] = {}
    for segment in segments:
        alive = max(1, segment.doc_count_all() - segment.deleted_count())
        classes.setdefault((alive.bit_length() - 1) // 3, []).append(segment)
    merged: set[int] = {id(s) for s in segments if 2 * s.deleted_count() > s.doc_count_all()}
    for size in sorted(classes):
        if len(classes[size]) >= MERGE_WIDTH:
            merged |= {id(s) for s in classes[size]}
    for segment in segments:
        if id(segment) in merged:
            writer.add_reader(SegmentReader(writer.storage, writer.schema, segment))
    return [s for s in segments if id(s) not in merged]
