"""A folder or Maildir watched until told to stop: what is put there is taken in once it is whole.

Nothing is remembered between runs and nothing in the folder is changed: a new run reads all files again, and what is
kept already is known by its hash.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.errors import ArchiveBusy, SourceUnreadable
from counterfoil.mailbox import Waits
from counterfoil.sources.settled import SettledFolder


def watch_folder(
    archive: Archive,
    path: Path,
    *,
    stop: threading.Event,
    tell: Callable[[pipeline.IngestReport], None],
    warn: Callable[[str], None],
    every_seconds: float = 60.0,
    waits: Waits | None = None,
) -> None:
    """Take in what comes to a folder until told to stop.

    Args:
        archive: the archive.
        path: the folder or Maildir.
        stop: set to end: at once while waiting, after the batch at hand while messages are taken in.
        tell: called after each pass that took something in, or could not.
        warn: called with a sentence when the folder or the archive cannot be used for the moment.
        every_seconds: how often to look.
        waits: how long to wait after failures.

    Raises:
        SourceUnreadable: there is no such folder when the watch begins.
        StorageFull, ReadingImpossible: this machine cannot take anything in.
    """
    if not path.is_dir():
        raise SourceUnreadable(f"There is no folder {path}.", "Check its name; single files: counterfoil ingest")
    waits = waits or Waits()
    folder = SettledFolder(path, archive.settings.limits, quiet_seconds=archive.settings.watch_quiet_seconds)
    failures, told, first = 0, frozenset[str](), True
    while not stop.is_set():
        try:
            ready, wait = folder.look()
            # The first pass also takes up what a run that was killed left.
            if ready or first:
                report = pipeline.ingest(archive, mail=folder.messages(ready, stop.is_set))
                folder.finished()
                first = False
                # What cannot be taken in may be met again in each pass; it is told once.
                problems = frozenset(report.problems)
                if report.new or problems - told:
                    tell(report)
                told |= problems
            failures = 0
        except (SourceUnreadable, ArchiveBusy) as error:
            folder.failed()
            failures += 1
            wait = waits.after(failures)
            warn(f"{error.what} Trying again in {wait:.0f} s.")
        stop.wait(every_seconds if wait is None else min(wait, every_seconds))
