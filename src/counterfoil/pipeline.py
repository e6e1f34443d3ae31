"""The whole flow on one screen: what happens to a message from its arrival to its answer.

    sources  ->  originals  ->  documents  ->  patterns  ->  records.filing  ->  records.store  ->  index
    bytes        kept first     text+places    facts         customer, machine,  one               catches up
                                                             standing            transaction

A kill between any two steps loses nothing and doubles nothing: an original without a record is read again at the
next start, and the index knows by itself how far it got.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import BinaryIO

from counterfoil.archive import Archive
from counterfoil.batches import BATCH_MESSAGES, batches, read_ahead
from counterfoil.errors import ArchiveBusy, ArchiveDamaged, SettlementRefused
from counterfoil.model import (
    Fact,
    JournalEntry,
    Kind,
    Message,
    MessageRecord,
    Reading,
    Rule,
    Standing,
)
from counterfoil.model.ingest import IngestReport as IngestReport
from counterfoil.patterns.normal import normal_code
from counterfoil.records.bench import record as _record
from counterfoil.records.filing import file_message
from counterfoil.records.grouping import GroupSettled
from counterfoil.records.grouping import settle_from as _settle_from
from counterfoil.records.rules import remove_rule as _remove_rule
from counterfoil.records.settling import settle as _settle
from counterfoil.records.undoing import undo as _undo
from counterfoil.sandbox.reader import Task
from counterfoil.sources import Found, Received, Unreadable, collect

#: Called after each batch with the number done so far.
Progress = Callable[[int], None]


def ingest(
    archive: Archive,
    paths: Sequence[str] = (),
    *,
    stdin: BinaryIO | None = None,
    mail: Iterable[Found] | None = None,
    kept: Callable[[Sequence[Found]], None] | None = None,
    progress: Progress | None = None,
) -> IngestReport:
    """Take in every message found under ``paths``; what is there already is passed over.

    Args:
        archive: the archive.
        paths: files, folders, Maildirs, mbox files, zip files, or ``-`` for one message on ``stdin``.
        stdin: the stream read for ``-``.
        mail: messages from elsewhere, in place of ``paths``.
        kept: called with each batch as soon as all of it is durable; the archive's lock is held.
        progress: called after each batch.

    Raises:
        SourceUnreadable: a path does not exist.
        ArchiveBusy: another run holds the archive.
        StorageFull: an original or a record could not be written; what was reported as done is kept.
    """
    report, start = IngestReport(), time.monotonic()
    with archive.lock():
        recover(archive, report)
    found = collect(paths, archive.settings.limits, stdin) if mail is None else mail
    try:
        for batch in read_ahead(archive, found) if mail is None else batches(found):
            for item in batch:
                if isinstance(item, Unreadable):
                    report.unreadable += 1
                    report.problems.append(f"{item.source}: {item.reason}")
            with archive.lock():
                # Held for a batch at a time, so that nobody at the desk waits for the end of a long ingest.
                recover(archive, report)
                archive.mark_unfinished()
                take_in(archive, [item for item in batch if isinstance(item, Received)], report)
                if kept is not None:
                    kept(batch)
                archive.unfinished.unlink(missing_ok=True)
            report.received += len(batch)
            if progress is not None:
                progress(report.received)
    finally:
        archive.reader.forget()
    catch_up(archive)
    report.seconds = round(time.monotonic() - start, 3)
    return report


def take_in(archive: Archive, items: Sequence[Received], report: IngestReport) -> None:
    """Keep messages, then read and file each in a transaction of its own; those known already are passed over.

    All originals of the batch are durable before the first is filed; the transactions become durable together, at the
    end. A power cut in between leaves originals without a record, which :func:`recover` files.
    """
    kept = archive.originals.keep_many([item.data for item in items])
    known = archive.store.known_among({sha256 for sha256, _ in kept})
    new: dict[str, Received] = {}
    for item, (sha256, _) in zip(items, kept, strict=True):
        if sha256 in new or sha256 in known:
            report.already_kept += 1
        else:
            new[sha256] = item
    _read_and_file(archive, new, report)


def _read_and_file(archive: Archive, new: Mapping[str, Received], report: IngestReport, *, apart: bool = False) -> None:
    """Read and file messages that are kept and not known, by hash; ``apart``: read all in processes of their own."""
    reads = archive.reader.read([Task(sha256, item.data) for sha256, item in new.items()], apart=apart)
    found: Iterable[tuple[Received, tuple[Message, Reading]]] = zip(new.values(), reads, strict=True)
    if apart:
        # Found by hash: filed in the order in which they were sent, so that what came first is there first.
        found = sorted(found, key=lambda item: _sent(item[1][0]))
    with archive.store.grouped():
        for item, (message, reading) in found:
            _file(archive, item, message, reading, report)


def _sent(message: Message) -> tuple[float, str]:
    """Return what orders messages by the moment they were sent, those that do not say it last."""
    return message.head.date.timestamp() if message.head.date else float("inf"), message.sha256


def _file(archive: Archive, item: Received, message: Message, reading: Reading, report: IngestReport) -> None:
    """File one message."""
    # A file's name may be bytes that are no text; the records take text only.
    source = item.source.encode("utf-8", "backslashreplace").decode("utf-8")
    ref, decision = file_message(archive.store, message, reading, source, archive.settings)
    report.new += 1
    report.messages.append(ref)
    report.count(decision.standing)


def recover(archive: Archive, report: IngestReport | None = None) -> int:
    """File every original that has no record, as a run that was killed leaves them; return their number.

    Costs nothing after a run that ended in order: only the mark of an unfinished run starts the comparison.
    """
    if not archive.unfinished.exists():
        return 0
    archive.originals.sweep()
    missing = sorted(set(archive.originals.hashes()) - archive.store.hashes())
    for start in range(0, len(missing), BATCH_MESSAGES):
        found: dict[str, Received] = {}
        for sha256 in missing[start : start + BATCH_MESSAGES]:
            try:
                found[sha256] = Received(archive.originals.read(sha256), "kept by an earlier run")
            except ArchiveDamaged as error:
                if report is not None:
                    report.problems.append(str(error))
        # One of them may have ended that run: no message is read in this process a second time.
        _read_and_file(archive, found, IngestReport(), apart=True)
        if report is not None:
            report.recovered += len(found)
    archive.unfinished.unlink(missing_ok=True)
    return len(missing)


def catch_up(archive: Archive, progress: Progress | None = None, *, wait_seconds: float | None = None) -> int:
    """Bring the full-text index up to the records; return the number of messages taken in.

    While another run writes to the index, for longer than is waited, nothing is done: that run, or the next search,
    takes in what is left.
    """
    fetch, batch = archive.store.index_entries, archive.settings.index_batch
    try:
        return archive.index.catch_up(fetch, batch=batch, progress=progress, wait_seconds=wait_seconds)
    except ArchiveBusy:
        return 0


@dataclass(frozen=True, slots=True)
class Settled:
    """A settled message and the line of the journal that can be undone."""

    message: MessageRecord
    journal: str


def settle(
    archive: Archive,
    message: str,
    *,
    customer: str | None = None,
    machine: str | None = None,
    values: Sequence[tuple[Kind, str]] = (),
    drop: Sequence[Kind] = (),
    aside: bool = False,
    sure: bool = False,
    only_open: bool = False,
    who: str,
    why: str,
) -> Settled:
    """Settle an open message with what a person decided.

    Args:
        archive: the archive.
        message: the message's id, E5.
        customer: a customer's id, ``new``, or None to leave that to the rules.
        machine: a machine's id, ``new``, or None.
        values: values to correct or add, as typed; they go through the same checks as values read from mail.
        drop: kinds whose value was read wrongly.
        aside: it is no confirmation.
        sure: file it against a failed check or a contradiction.
        only_open: leave it alone where somebody else has settled it meanwhile.
        who, why: the person and the reason, for the journal.

    Raises:
        RecordUnknown: there is no such message, customer or machine.
        SettlementRefused: a value fails a check or contradicts the records, or the message is filed elsewhere; with
            ``only_open``, it is not open any more.
    """
    with archive.lock():
        record = archive.store.message(message)
        if only_open and record.standing is not Standing.OPEN:
            raise SettlementRefused(f"{record.id} is not open any more.", f"Look at it with `triage show {record.id}`.")
        _refuse_moving(archive, record, customer, machine, sure=sure)
        facts = _typed_for(archive, record, values, machine)
        settled = _settle(
            archive.store,
            archive.settings,
            record.id,
            customer=customer,
            machine=machine,
            facts=facts,
            drop=drop,
            aside=aside,
            sure=sure,
            who=who,
            why=why,
        )
        entry = archive.store.journal(subject=record.id)[-1]
    catch_up(archive, wait_seconds=0.0)
    return Settled(settled, entry.id)


def _refuse_moving(
    archive: Archive, record: MessageRecord, customer: str | None, machine: str | None, *, sure: bool
) -> None:
    """Refuse to move what is filed: one mistyped number would give codes to a wrong customer."""
    if record.customer is None or sure:
        return
    if customer is not None and customer.lower() != "new":
        # An id that was merged into another means that one.
        customer = archive.store.customer(customer).id
    for chosen, filed in ((customer, record.customer), (machine, record.machine)):
        if chosen is not None and chosen.upper() != filed:
            raise SettlementRefused(
                f"{record.id} is filed to {filed} already.",
                "Check the id; add --sure if it is really to be moved there.",
            )


def settle_from(
    archive: Archive,
    address: str,
    *,
    customer: str | None = None,
    aside: bool = False,
    from_now_on: bool = False,
    sure: bool = False,
    who: str,
    why: str,
) -> GroupSettled:
    """Settle every open message from one address alike; see :func:`counterfoil.records.grouping.settle_from`."""
    with archive.lock():
        done = _settle_from(
            archive.store,
            archive.settings,
            address,
            customer=customer,
            aside=aside,
            from_now_on=from_now_on,
            sure=sure,
            who=who,
            why=why,
        )
    catch_up(archive, wait_seconds=0.0)
    return done


def remove_rule(archive: Archive, rule: str, *, who: str, why: str) -> tuple[Rule, str]:
    """Remove a rule; see :func:`counterfoil.records.rules.remove_rule`."""
    with archive.lock():
        return _remove_rule(archive.store, rule, who=who, why=why)


def undo(archive: Archive, journal: str, *, who: str, why: str) -> JournalEntry:
    """Take back what one line of the journal did; see :func:`counterfoil.records.settling.undo`."""
    with archive.lock():
        entry = _undo(archive.store, archive.settings, journal, who=who, why=why)
    catch_up(archive, wait_seconds=0.0)
    return entry


def record(
    archive: Archive,
    *,
    customer: str | None,
    values: Sequence[tuple[Kind, str]],
    firmware_before: str | None = None,
    firmware_after: str | None = None,
    sure: bool = False,
    accepted: Collection[str] = (),
    who: str,
    why: str,
) -> tuple[str, str, str]:
    """Enter a machine at the bench; return the ids of customer, machine and journal line.

    Args and errors: see :func:`counterfoil.records.bench.record`; ``values`` are as typed.
    """
    with archive.lock():
        facts = typed(archive, values, None, None, date.today())
        return _record(
            archive.store,
            archive.settings,
            customer=customer,
            facts=facts,
            firmware_before=firmware_before,
            firmware_after=firmware_after,
            sure=sure,
            accepted=accepted,
            who=who,
            why=why,
        )


def _typed_for(
    archive: Archive, record: MessageRecord, values: Sequence[tuple[Kind, str]], machine: str | None
) -> list[Fact]:
    """Make facts of what was typed for a message: its maker and its day help to read them."""
    near = datetime.fromisoformat(record.received).date() if record.received else None
    maker = next((n.fact.value for n in record.facts if n.chosen and n.fact.kind is Kind.MAKER), None)
    return typed(archive, values, maker, machine, near)


def typed(
    archive: Archive, values: Sequence[tuple[Kind, str]], maker: str | None, machine: str | None, near: date | None
) -> list[Fact]:
    """Make facts of what was typed, held against the shapes and check digits of the maker typed, read or on record."""
    typed = dict(values)
    maker = typed.get(Kind.MAKER) or maker or _maker_on_record(archive, typed, machine)
    region = archive.settings.region
    return [archive.patterns.make_fact(kind, v, maker=maker, near=near, region=region) for kind, v in values]


def _maker_on_record(archive: Archive, typed: Mapping[Kind, str], machine: str | None) -> str | None:
    """Return the maker of the machine named, or of the one machine that a typed machine ID or serial number is of."""
    refs: set[str | None] = set() if machine == "new" else {machine}
    for kind in (Kind.MACHINE_ID, Kind.SERIAL_NUMBER):
        for hit in archive.store.find_code(normal_code(typed.get(kind, "")), endings=False, near=False):
            if hit.noted.fact.kind is kind:
                refs.add(hit.machine)
    makers = {
        noted.fact.value
        for ref in refs
        if ref is not None and (noted := archive.store.machine(ref).latest(Kind.MAKER)) is not None
    }
    return makers.pop() if len(makers) == 1 else None
