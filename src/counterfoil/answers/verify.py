"""Is the archive whole? Every original re-hashed, records checked, the index compared with them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from counterfoil.errors import ArchiveDamaged
from counterfoil.model import MessageRecord, Standing

if TYPE_CHECKING:
    from counterfoil.records.store import Store

#: Called with the number of things checked so far and the number to check.
Progress = Callable[[int, int], None]


class OriginalsLike(Protocol):
    """What is asked of the originals."""

    def hashes(self) -> Iterable[str]:
        """Return the hashes that the originals are named by."""

    def read(self, sha256: str) -> bytes:
        """Return the bytes of an original; raises ArchiveDamaged where they do not agree with its name."""


class IndexLike(Protocol):
    """What is asked of the full-text index."""

    def position(self) -> int:
        """Return the last revision taken in."""

    def count(self) -> int:
        """Return the number of messages taken in."""

    def check(self) -> list[str]:
        """Return what is wrong with the files of the index, each as a sentence."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong: a code, the record or original concerned, a sentence, and what to do next."""

    code: str
    ref: str
    sentence: str
    next_step: str

    def __str__(self) -> str:
        return f"{self.sentence} {self.next_step}"

    def to_json(self) -> dict[str, object]:
        """Return the finding as a dictionary."""
        return {"code": self.code, "ref": self.ref, "sentence": self.sentence, "next_step": self.next_step}


@dataclass(frozen=True, slots=True)
class VerifyReport:
    """What was checked, and all that was found wrong."""

    originals: int
    messages: int
    indexed: int
    findings: tuple[Finding, ...]
    journal: int = 0
    head: str = ""
    """The hash of the journal's last line: noted elsewhere, it proves later that no line before it was changed."""

    @property
    def good(self) -> bool:
        """True where nothing is wrong."""
        return not self.findings

    @property
    def summary(self) -> str:
        """What was checked and what came of it, in a sentence."""
        kept = f"{self.originals} originals, {self.messages} messages, {self.journal} lines of the journal"
        checked = f"{kept} and the full-text index were checked"
        return f"{checked}: " + ("all is in order." if self.good else f"{len(self.findings)} to be looked at.")

    def to_json(self) -> dict[str, object]:
        """Return the report as a dictionary."""
        figures = {"originals": self.originals, "messages": self.messages, "indexed": self.indexed, "good": self.good}
        journal = {"journal": self.journal, "journal_head": self.head}
        return figures | journal | {"findings": [finding.to_json() for finding in self.findings]}


def verify(store: Store, originals: OriginalsLike, index: IndexLike, progress: Progress | None = None) -> VerifyReport:
    """Check the whole archive; nothing is changed.

    Args:
        store: the records.
        originals: the messages as received.
        index: the full-text index.
        progress: called after each original.

    Returns:
        The report; an archive in order has no findings.
    """
    findings: list[Finding] = []
    kept = sorted(originals.hashes())
    messages = 0
    try:
        findings += [_damaged(line) for line in store.integrity()]
        findings += _journal(store)
        findings += _missing(kept, store.hashes())
        messages = store.message_count()
        findings += records_findings(store)
        findings += _index(store, index)
    except ArchiveDamaged as error:
        findings.append(_damaged(error.what))
    for done, sha256 in enumerate(kept, start=1):
        try:
            originals.read(sha256)
        except ArchiveDamaged as error:
            findings.append(Finding("original_damaged", sha256, error.what, _FROM_BACKUP))
        if progress is not None:
            progress(done, len(kept))
    try:
        head = store.journal_head()
    except ArchiveDamaged:
        return VerifyReport(len(kept), messages, index.count(), tuple(findings))
    return VerifyReport(len(kept), messages, index.count(), tuple(findings), head.lines, head.hash)


def records_findings(store: Store) -> Iterator[Finding]:
    """Check that standings, questions, profiles and holders of the records agree with one another.

    Args:
        store: the records.
    """
    for message in store.messages():
        yield from _standing(message)
    yield from _machines(store)


_FROM_BACKUP = "Restore it from a backup; do not delete anything before that."
_JOURNAL = "Compare it with a backup; do not delete anything before that."
_INDEX = "Delete the index folder: the next command that needs it builds it anew from the records."


def _damaged(what: str) -> Finding:
    return Finding("records_damaged", "records.db", f"The records are damaged: {what}", _FROM_BACKUP)


def _missing(kept: Iterable[str], known: Iterable[str]) -> Iterator[Finding]:
    """Compare the originals with the records, both ways."""
    have, listed = set(kept), set(known)
    for sha256 in sorted(listed - have):
        said = f"The original {sha256} of a message on record is missing."
        yield Finding("original_missing", sha256, said, _FROM_BACKUP)
    for sha256 in sorted(have - listed):
        why = "a run was stopped before it was filed, or the records were put back from a backup"
        said = f"The original {sha256} has no record: {why}."
        yield Finding("original_unfiled", sha256, said, "Run `counterfoil ingest` once more: it files what was left.")


def _standing(message: MessageRecord) -> Iterator[Finding]:
    """Check that a message's standing, questions and profiles agree."""
    step = f"Look at it with `counterfoil triage show {message.id}` and settle it."
    match message.standing:
        case Standing.OPEN if not message.questions:
            said = f"{message.id} is open but has no question."
            yield Finding("question_missing", message.id, said, step)
        case Standing.FILED if message.customer is None or message.machine is None:
            lacks = "customer" if message.customer is None else "machine"
            said = f"{message.id} is filed, but to no {lacks}."
            yield Finding("filed_nowhere", message.id, said, step)
        case Standing.FILED if message.questions:
            said = f"{message.id} is filed, yet a question stands: {message.questions[0].code}."
            yield Finding("question_left", message.id, said, step)
        case _:
            pass


def _machines(store: Store) -> Iterator[Finding]:
    """Check that no machine has two holders at once."""
    for machine in store.machines():
        now = [holding.customer for holding in machine.holders if holding.until is None]
        if len(now) > 1:
            said = f"{machine.id} has {len(now)} holders at once: {', '.join(now)}."
            step = "Settle who has it with `counterfoil triage settle` on the message that is wrong."
            yield Finding("holders_twice", machine.id, said, step)


def _journal(store: Store) -> Iterator[Finding]:
    """Check the chain of the journal; the first broken line is named, those after it rest on it."""
    broken = store.journal_break()
    if broken is not None:
        said = f"The journal was changed: {broken.sentence}"
        yield Finding("journal_broken", broken.line, said, _JOURNAL)


def _index(store: Store, index: IndexLike) -> Iterator[Finding]:
    """Check the index itself, and compare how far it got, and how much it holds, with the records."""
    damages = index.check()
    for line in damages:
        yield Finding("index_damaged", "index", f"The full-text index is damaged: {line}", _INDEX)
    if damages:
        return
    at, revision, held, messages = index.position(), store.revision(), index.count(), store.message_count()
    if at < revision:
        said = f"The full-text index stands at revision {at}, the records at {revision}."
        yield Finding("index_behind", "index", said, "It catches up at the next `counterfoil ingest`.")
    elif at > revision:
        said = f"The full-text index stands at revision {at}, ahead of the records at {revision}."
        yield Finding("index_ahead", "index", said, _INDEX)
    elif held != messages:
        said = f"The full-text index holds {held} messages, the records {messages}."
        yield Finding("index_incomplete", "index", said, _INDEX)
