"""Entries into the index: one commit a batch, the mark in the same commit, in whoosh's own files.

A batch is gathered by word at once and sorted by word only, instead of posting by posting as whoosh's writer does. The
tests compare the outcome with what whoosh itself writes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from whoosh.codec.whoosh3 import LENGTHS_COLUMN
from whoosh.filedb.filestore import FileStorage
from whoosh.index import TOC
from whoosh.writing import SegmentWriter

from counterfoil.index import files
from counterfoil.index.layout import SHORT_FIELDS
from counterfoil.index.mapped import MappedReader
from counterfoil.index.postings import FastCodec, Postings, joined, renumber
from counterfoil.index.reading import Leaf
from counterfoil.index.stems import stems
from counterfoil.index.words import CODE_LENGTH, left_out, words
from counterfoil.model import IndexEntry

#: Empty positions between text, subject and sender: a phrase must not reach from one into the other.
FIELD_GAP = 100
#: Up to this size a merged segment is put together in memory (some 60 MB), three times as fast as from streams.
GATHERED_MESSAGES = 4_000


class Batch:
    """The postings of one batch, gathered by field and word."""

    def __init__(self) -> None:
        self.fields: dict[str, dict[str, tuple[list[int], list[int], list[int]]]] = {}

    def add(self, number: int, entry: IndexEntry) -> tuple[int, int]:
        """Gather the words of an entry under a document number; return the lengths of its body and its stems."""
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
        length, known = 0, self.fields.setdefault("body", {})
        forms: dict[str, int] = {}
        # The innermost loop of all adding: calls are spared here, and only here.
        for word, found in places.items():
            if len(word) >= CODE_LENGTH and left_out(word):
                continue
            count = len(found)
            length += count
            for stem in stems(word):
                forms[stem] = forms[stem] + count if stem in forms else count
            if word in known:
                numbers, weights, flat = known[word]
                numbers.append(number)
                weights.append(count)
                flat += found
            else:
                known[word] = ([number], [count], found)
        known = self.fields.setdefault("stem", {})
        for stem, count in forms.items():
            if stem in known:
                numbers, weights, _ = known[stem]
                numbers.append(number)
                weights.append(count)
            else:
                known[stem] = ([number], [count], [])
        short = (subject, sender, words(entry.maker), words(entry.model), words(entry.language))
        for name, part in zip(SHORT_FIELDS, short, strict=True):
            known = self.fields.setdefault(name, {})
            for word in set(part):
                if name == "model" or not left_out(word):
                    _note(known, word, number, part.count(word))
        return length, sum(forms.values())

    def add_lists(self, lists: Iterable[Postings]) -> None:
        """Gather the postings of a segment whose document numbers are all higher than those gathered before."""
        for field, word, numbers, weights, flat in lists:
            known, text = self.fields.setdefault(field, {}), word.decode()
            if text in known:
                known[text][0].extend(numbers)
                known[text][1].extend(weights)
                known[text][2].extend(flat)
            else:
                known[text] = (numbers, weights, flat)

    def lists(self) -> Iterator[Postings]:
        """Yield all postings in the order of field and word."""
        for name in sorted(self.fields):
            known = self.fields[name]
            for word, key in sorted((word.encode(), word) for word in known):
                yield (name, word, *known[key])


def _note(known: dict[str, tuple[list[int], list[int], list[int]]], word: str, number: int, count: int) -> None:
    lists = known.get(word)
    if lists is None:
        known[word] = ([number], [count], [])
    else:
        lists[0].append(number)
        lists[1].append(count)


class DurableStorage(FileStorage):  # type: ignore[misc]
    """A folder of files in which a table of contents gets its name only once all it refers to is durable."""

    def __init__(self, folder: Path) -> None:
        super().__init__(str(folder))
        self.path = folder
        self.manifest: files.Manifest | None = None

    def committed(self) -> files.Manifest:
        """Return what the last commit left."""
        assert self.manifest is not None, "nothing was committed"
        return self.manifest

    def rename_file(self, oldname: str, newname: str, safe: bool = False) -> None:
        """Make file and manifest durable, then rename: the moment of the commit."""
        assert self.manifest is not None, "whoosh renames nothing but tables of contents"
        files.make_durable(self.path / oldname)
        self.manifest.files[newname] = files.describe(self.path / oldname)
        files.write_manifest(self.path, self.manifest)
        files.sync_folder(self.path)
        super().rename_file(oldname, newname, safe=safe)
        files.sync_folder(self.path)


class BatchWriter(SegmentWriter):  # type: ignore[misc]
    """Adds one batch of entries and commits them together with the mark.

    Args:
        ix: whoosh's index over a :class:`DurableStorage`.
        before: the manifest of the last commit.
    """

    def __init__(self, ix: Any, before: files.Manifest) -> None:
        self.batch = Batch()
        self.before = before
        self.mark, self.marked, self.highest = before.mark, before.marked, before.highest
        self.testimony = before.testimony
        self._sources: list[tuple[Any, dict[int, int] | None, int]] = []
        super().__init__(ix, codec=FastCodec(compression=3), _lk=False)

    def add_entry(self, number: int, entry: IndexEntry) -> None:
        """Add one message under its number."""
        writer, schema = self.perdocwriter, self.schema
        writer.start_doc(self.docnum)
        length, forms = self.batch.add(self.docnum, entry)
        writer.add_field("body", schema["body"], None, length)
        writer.add_field("stem", schema["stem"], None, forms)
        writer.add_column_value("number", schema["number"].column_type, number)
        day = entry.received.toordinal() if entry.received else 0
        writer.add_column_value("date", schema["date"].column_type, day)
        writer.finish_doc()
        self.docnum += 1
        self._added = True
        self.highest = max(self.highest, number)
        if entry.revision > self.mark:
            self.mark, self.marked = entry.revision, number

    segments: list[Any]

    def take_along(self, segments: Sequence[Any]) -> None:
        """Merge segments into the new one; before entries are added, so that messages stay in the order they came."""
        for segment in segments:
            self.add_reader(MappedReader(self.storage, self.schema, segment))
        taken = {segment.segment_id() for segment in segments}
        self.segments = [segment for segment in self.segments if segment.segment_id() not in taken]

    def add_reader(self, reader: Any) -> None:
        """Take in a segment that is to be merged; its postings are read when the new segment is written."""
        offset = self.docnum
        names = {"body", "stem", "number", "date"}
        renumbered: dict[int, int] | None = self.write_per_doc(names, reader)
        self._sources.append((reader, renumbered, offset))
        self._added = True

    def _flush_segment(self) -> None:
        self.perdocwriter.close()
        documents = self.per_document_reader()
        raw = {name: documents._cached_reader(f"_{name}_len", LENGTHS_COLUMN) for name in ("body", "stem")}
        lengths = {name: bytes(column) for name, column in raw.items() if column is not None}
        streams = [*(_lists_of(*source) for source in self._sources), self.batch.lists()]
        if len(streams) > 1 and self.docnum <= GATHERED_MESSAGES:
            together = Batch()
            for stream in streams:
                together.add_lists(stream)
            streams = [together.lists()]
        self.fieldwriter.add_lists(joined(streams), lengths)
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
        mark = self.mark, self.marked, count, self.highest
        manifest = files.Manifest(self.generation, *mark, known, self.testimony)
        self.storage.manifest = manifest
        TOC(self.schema, segments, self.generation).write(self.storage, self.indexname)
        files.sweep(folder, manifest)


def _lists_of(reader: Any, renumbered: dict[int, int] | None, offset: int) -> Iterator[Postings]:
    """Yield the postings of a segment in order, its documents numbered anew; arguments as for :func:`renumber`."""
    for postings in Leaf(reader).lists():
        yield renumber(postings, renumbered, offset)
