"""whoosh's reader of a segment over the mapped file itself.

whoosh 2.7.4 maps a segment and then copies each of its files into memory: as much memory as the index is large, and the
time to copy it on every opening.
"""

from __future__ import annotations

import io
from typing import Any

from whoosh.filedb.compound import CompoundStorage
from whoosh.filedb.structfile import BufferFile
from whoosh.reading import SegmentReader


class _Window(io.RawIOBase):
    """A file to read over a part of a mapped file."""

    def __init__(self, data: memoryview) -> None:
        super().__init__()
        self._data, self._at = data, 0

    def readable(self) -> bool:
        """Say that it can be read."""
        return True

    def seekable(self) -> bool:
        """Say that any place can be read."""
        return True

    def readinto(self, buffer: Any) -> int:
        """Read as much as is there and the buffer holds."""
        some = self._data[self._at : self._at + len(buffer)]
        buffer[: len(some)] = some
        self._at += len(some)
        return len(some)

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Go to a place."""
        self._at = offset + (0, self._at, len(self._data))[whence]
        return self._at

    def tell(self) -> int:
        """Return the place."""
        return self._at


class _MappedFile(BufferFile):  # type: ignore[misc]
    """whoosh's file over a part of a mapped file, without its copy."""

    def __init__(self, data: memoryview, name: str) -> None:
        self._buf, self._name, self.file = data, name, _Window(data)
        self.onclose, self.is_real, self.is_closed = None, False, False


class _MappedStorage(CompoundStorage):  # type: ignore[misc]
    """The files inside a segment's file."""

    def open_file(self, name: str, *args: Any, **kwargs: Any) -> Any:
        """Open one of them."""
        if self._source is None or self.is_closed:
            return super().open_file(name, *args, **kwargs)
        offset, length = self.range(name)
        return _MappedFile(memoryview(self._source)[offset : offset + length], name)


class MappedReader(SegmentReader):  # type: ignore[misc]
    """whoosh's reader of one segment.

    Args:
        storage: the folder of the index.
        schema: the fields.
        segment: which one, from the table of contents.
    """

    def __init__(self, storage: Any, schema: Any, segment: Any) -> None:
        # As whoosh's, which names its own storage and looks into the folder for files added later: there are none.
        self.schema, self.is_closed = schema, False
        self._segment, self._segid, self._gen = segment, segment.segment_id(), None
        self._storage = _MappedStorage(storage.open_file(segment.make_filename(segment.COMPOUND_EXT)))
        self._codec = segment.codec()
        self._terms = self._codec.terms_reader(self._storage, segment)
        self._perdoc = self._codec.per_document_reader(self._storage, segment)
