"""What comes in, in groups: synced together, and read ahead while the group before is filed."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence

from counterfoil.archive import Archive
from counterfoil.sandbox.reader import Task
from counterfoil.sources import Found, Received

#: Messages, and their bytes, whose originals are synced together. More gained nothing; the bytes bound the memory.
BATCH_MESSAGES = 64
BATCH_BYTES = 32_000_000


def batches(items: Iterable[Found]) -> Iterator[list[Found]]:
    """Group what comes in, so that its syncs to disk can share the work; bounded in number and bytes."""
    batch: list[Found] = []
    size = 0
    for item in items:
        batch.append(item)
        size += len(item.data) if isinstance(item, Received) else 0
        if len(batch) >= BATCH_MESSAGES or size >= BATCH_BYTES:
            yield batch
            batch, size = [], 0
    if batch:
        yield batch


def read_ahead(archive: Archive, items: Iterable[Found]) -> Iterator[list[Found]]:
    """Group what comes in; while one batch is filed, the reading processes are at work on the next one already.

    Only for mail that is there at once: a mail server may be waited for, and what came from it is not to wait as well.
    """
    before: list[Found] | None = None
    for batch in batches(items):
        if before is not None:
            # The first of all is begun with the second: a single batch may be small enough to be read in this process.
            for coming in (before, batch):
                _begin(archive, coming)
            yield before
        before = batch
    if before is not None:
        yield before


def _begin(archive: Archive, batch: Sequence[Found]) -> None:
    """Have those of a batch that are not known read already; what was begun is not begun again."""
    new = {hashlib.sha256(item.data).hexdigest(): item for item in batch if isinstance(item, Received)}
    known = archive.store.known_among(new)
    archive.reader.ahead([Task(sha256, item.data) for sha256, item in new.items() if sha256 not in known])
