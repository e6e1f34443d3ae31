"""A commit of the index, opened: only what its files were found to be as it left them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from whoosh.filedb.filestore import RamStorage
from whoosh.index import TOC, FileIndex

from counterfoil.index import files
from counterfoil.index.build import DurableStorage
from counterfoil.index.files import Doubtful, Manifest
from counterfoil.index.layout import SCHEMA
from counterfoil.index.mapped import MappedReader
from counterfoil.index.reading import Leaf
from counterfoil.index.scoring import Segments

#: whoosh's name of the index, at the beginning of every file.
NAME = "MAIN"


@dataclass(slots=True)
class View:
    """An opened commit: what it left, and its segments by their name and their deleted messages."""

    manifest: Manifest
    leaves: dict[tuple[str, frozenset[int]], Leaf]
    segments: Segments


class Commit(FileIndex):  # type: ignore[misc]
    """whoosh's index over one commit whose files were found good."""

    def __init__(self, storage: DurableStorage, manifest: Manifest) -> None:
        # Not the constructor of FileIndex: that would unpickle what nobody has checked.
        self.storage, self._schema, self.indexname, self._manifest = storage, SCHEMA, NAME, manifest

    def _read_toc(self) -> TOC:
        return contents(self.storage.path, self._manifest)


def contents(folder: Path, manifest: Manifest) -> TOC:
    """Return whoosh's table of contents of a commit; the bytes unpickled are the bytes that were hashed.

    Raises:
        Doubtful: it is not what the commit left.
    """
    generation = manifest.generation
    if generation < 0:
        return TOC(SCHEMA, [], generation)
    name = files.toc_name(generation)
    ram = RamStorage()
    try:
        files.check_owner(folder / name)
        ram.files[name] = (folder / name).read_bytes()
        if files.digest(ram.files[name]) != manifest.files[name][1]:
            raise Doubtful(f"{name} is not as it was written")
        return TOC.read(ram, NAME, gen=generation, schema=SCHEMA)
    except Doubtful:
        raise
    # whoosh raises whatever comes along where its table of contents is not one.
    except Exception as error:
        raise Doubtful(f"{name} cannot be read: {error}") from error


def load(folder: Path, generation: int, former: View | None, checked: Mapping[str, tuple[int, str, int]]) -> View:
    """Return a commit, opened; what it shares with one opened before stays open, the rest of that one is closed.

    Args:
        folder: the index folder.
        generation: the number of the commit.
        former: what was opened before.
        checked: the files found good before, as their manifest describes them.

    Raises:
        Doubtful: the files are not what the commit left.
    """
    files.check_owner(folder)
    manifest = files.read_manifest(folder, generation)
    unknown = {name: entry for name, entry in manifest.files.items() if checked.get(name) != entry}
    wrong = files.doubts(folder, Manifest(generation, files=unknown))
    if wrong:
        raise Doubtful(" ".join(wrong).removesuffix("."))
    storage, before = DurableStorage(folder), former.leaves if former else {}
    leaves: dict[tuple[str, frozenset[int]], Leaf] = {}
    lengths = {"body": 0, "stem": 0}
    try:
        for segment in contents(folder, manifest).segments:
            # Unchanged segments stay open; one with other deletions must not, its reader would not know of them.
            key = (segment.segment_id(), frozenset(segment.deleted_docs()))
            leaves[key] = before.get(key) or Leaf(MappedReader(storage, SCHEMA, segment))
            for field in lengths:
                lengths[field] += leaves[key].reader.field_length(field)
    except Doubtful:
        raise
    # Reading a damaged segment may raise anything.
    except Exception as error:
        raise Doubtful(f"a segment cannot be opened: {type(error).__name__}: {error}") from error
    for key, leaf in before.items():
        if key not in leaves:
            leaf.reader.close()
    return View(manifest, leaves, Segments(list(leaves.values()), lengths))
