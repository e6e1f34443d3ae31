"""What is done to the records as a whole: a customer list taken in, old originals read anew with new patterns."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from counterfoil.archive import Archive
from counterfoil.batches import BATCH_MESSAGES
from counterfoil.errors import ArchiveDamaged
from counterfoil.model import CustomerList, Kind, Message, Reading, Standing
from counterfoil.pipeline import catch_up
from counterfoil.records.importing import ImportReport
from counterfoil.records.importing import import_customers as _import_customers
from counterfoil.records.rereading import MessageChange, Target, is_unchanged, renew_messages, targets
from counterfoil.sandbox import Reader
from counterfoil.sandbox.reader import UNREAD, Task

__all__ = ["RereadReport", "import_customers", "reread"]


def import_customers(
    archive: Archive,
    listed: CustomerList,
    *,
    region: str | None = None,
    answers: Mapping[int, str] | None = None,
    distinct: bool = False,
    write: bool = False,
    who: str,
    why: str,
) -> ImportReport:
    """Take in a customer list, or say what that would do; see :func:`counterfoil.records.importing.import_customers`.

    ``region`` reads telephone numbers of rows without a country; the shop's own when left out.
    """
    settings = replace(archive.settings, region=region) if region else archive.settings
    if not write:
        return _import_customers(archive.store, settings, listed, answers=answers, distinct=distinct)
    with archive.lock():
        return _import_customers(
            archive.store, settings, listed, answers=answers, distinct=distinct, write=True, who=who, why=why
        )


@dataclass(slots=True)
class RereadReport:
    """What reading old originals anew did, or would do. ``journal`` is None unless something was written.

    ``problems`` name messages that could not be read anew, and why: nothing about them is changed.
    """

    read: int = 0
    changes: list[MessageChange] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    journal: str | None = None
    seconds: float = 0.0

    @property
    def filed(self) -> int:
        """How many messages get filed."""
        return self._turned(Standing.FILED)

    @property
    def opened(self) -> int:
        """How many messages get open."""
        return self._turned(Standing.OPEN)

    def _turned(self, standing: Standing) -> int:
        return sum(change.after is standing and change.before is not standing for change in self.changes)

    def to_json(self) -> dict[str, object]:
        """Return everything as a dictionary."""
        seen = [change.to_json() for change in self.changes if change.seen]
        return {
            "read": self.read,
            "changed": seen,
            "text_only": [change.id for change in self.changes if not change.seen],
            "filed": self.filed,
            "opened": self.opened,
            "problems": self.problems,
            "journal": self.journal,
            "seconds": self.seconds,
        }


def reread(
    archive: Archive,
    *,
    since: date | None = None,
    maker: str | None = None,
    write: bool = False,
    who: str,
    why: str,
    progress: Callable[[int, int], None] | None = None,
    reader: Reader | None = None,
    seen: Callable[[Target, Message, Reading], None] | None = None,
) -> RereadReport:
    """Read old originals anew with the patterns of today, or say what that would change.

    What a person decided stands. A filed message stays filed; where a value of it would change, it gets a question.
    Messages that wait are decided anew by the ordinary rules. All is written in one transaction: after a kill every
    message is as it was before.

    Args:
        archive: the archive.
        since: only messages received on this day or later.
        maker: only messages of this maker, by the old reading or the new.
        write: write it; else nothing is changed.
        who: the person, for the journal.
        why: their reason.
        progress: called with the number of messages read and of all.
        reader: reads with other patterns than the archive's, for a dry run.
        seen: called with each message read and its new reading.

    Raises:
        ArchiveBusy: another run holds the archive.
        StorageFull: the records cannot be written.
    """
    report, start = RereadReport(), time.monotonic()
    name = _maker(archive, maker)
    wanted = targets(archive.store, since_day=None if since is None else since.isoformat(), maker=name)
    read: list[tuple[str, Message, Reading]] = []
    mails = _read(archive, wanted, report, reader or archive.reader)
    for done, (target, mail) in enumerate(zip(wanted, mails, strict=True), start=1):
        if mail is not None and mail[1] is UNREAD:
            report.problems.append(f"{target.id}: {mail[0].defects[-1]} It stays as it is.")
        elif mail is not None:
            report.read += 1
            if seen is not None:
                seen(target, *mail)
            found = _changed(archive, target, name, *mail)
            if found is not None:
                read.append((target.id, *found))
        if progress is not None:
            progress(done, len(wanted))
    scope = {"since": None if since is None else since.isoformat(), "maker": name}
    with archive.lock():
        report.changes, report.journal = renew_messages(
            archive.store, archive.settings, read, write=write, scope=scope, who=who, why=why
        )
        if write:
            catch_up(archive)
    report.seconds = round(time.monotonic() - start, 3)
    return report


def _maker(archive: Archive, name: str | None) -> str | None:
    """Return a maker's name as its file has it; as typed where no file describes it."""
    found = None if name is None else archive.patterns.maker(name)
    return name if found is None else found.name


def _read(
    archive: Archive, wanted: Sequence[Target], report: RereadReport, reader: Reader
) -> Iterator[tuple[Message, Reading] | None]:
    """Read messages anew, in order; None for one whose original is damaged. A few at a time are held in memory."""
    for start in range(0, len(wanted), BATCH_MESSAGES):
        tasks: list[Task | None] = []
        for target in wanted[start : start + BATCH_MESSAGES]:
            try:
                data = archive.originals.read(target.sha256)
                tasks.append(Task(target.sha256, data, customers=archive.concerned(target.sha256)))
            except ArchiveDamaged as error:
                report.problems.append(f"{target.id}: {error}")
                tasks.append(None)
        found = reader.read([task for task in tasks if task is not None])
        for task in tasks:
            yield None if task is None else next(found)


def _changed(
    archive: Archive, target: Target, maker: str | None, mail: Message, reading: Reading
) -> tuple[Message, Reading] | None:
    """Return a message and its new reading where something may change; its lines are left behind, they are large."""
    chosen = reading.chosen.get(Kind.MAKER)
    if maker is not None and target.maker is None and (chosen is None or chosen.normal.casefold() != maker.casefold()):
        return None
    if is_unchanged(archive.store, target, mail, reading):
        return None
    return replace(mail, documents=tuple(replace(d, lines=(), marks=()) for d in mail.documents)), reading
