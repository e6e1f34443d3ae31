"""Words looked for in the messages and their documents, through the full-text index."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from counterfoil.answers.masking import mask_in, secrets_of
from counterfoil.answers.search_dates import Period
from counterfoil.answers.search_found import Found
from counterfoil.answers.search_read import Read
from counterfoil.errors import ArchiveBusy, ArchiveDamaged, RecordUnknown, StorageFull
from counterfoil.patterns.normal import normal_code

if TYPE_CHECKING:
    from counterfoil.index import Hit, Index

#: Why a message found by its words was found.
WORDS = "words"


def by_words(
    read: Read,
    index: Index,
    text: str,
    found: Found,
    limit: int,
    *,
    loosely: bool = True,
    periods: Sequence[Period] = (),
) -> None:
    """Note the messages that have all of the words; where none has and nothing else was found, some of them.

    Args:
        read: the records.
        index: the full-text index.
        text: the words, or a query in the index's own language; may be empty where there are periods.
        found: takes the messages.
        limit: the most messages.
        loosely: whether messages that have only some of the words are an answer.
        periods: only messages received in one of these.
    """
    _freshen(read, index, found)
    if found.unsearched:
        return
    spans: list[tuple[date | None, date | None]] = [(p.first, p.last) for p in periods] or [(None, None)]
    hits = _full_text(read, index, text, found, limit, spans, any_word=False)
    said = "words in messages"
    if not hits and loosely and found.nothing and len(text.split()) > 1:
        hits = _full_text(read, index, text, found, limit, spans, any_word=True)
        said = "words in messages, of which no message has all"
    # It may have been deleted or built anew by another run while it was asked.
    found.behind |= index.position() != read.store.revision()
    for hit in hits:
        try:
            message = read.message(hit.message)
        except RecordUnknown:
            # Only where the index could not be brought up to records put back from a backup.
            continue
        hidden = secrets_of(message.facts)
        body = masked_text("\n".join(d.text for d in message.documents if d.text), hidden)
        found.snippets[hit.message] = index.snippets(body, text) if text else ""
        found.add(hit.message, WORDS if text else f"received {(message.received or '')[:10]}")
    if hits and text:
        found.said.append(said)


def _freshen(read: Read, index: Index, found: Found) -> None:
    """Bring an index that is not where the records are, or damaged, up to them; say so where it cannot be done now."""
    at = index.position()
    if at == read.store.revision():
        return
    try:
        # One that nothing can be found in is waited for: another run may be building it this very moment.
        index.catch_up(read.store.index_entries, wait_seconds=0.0 if at else None)
    except (ArchiveBusy, StorageFull) as error:
        found.behind = True
        if not index.position():
            found.unsearched = str(error)


def _full_text(
    read: Read,
    index: Index,
    text: str,
    found: Found,
    limit: int,
    spans: Sequence[tuple[date | None, date | None]],
    *,
    any_word: bool,
) -> list[Hit]:
    """Ask the index for each span of days; build it anew from the records where it turns out to be damaged."""
    best: dict[str, Hit] = {}
    for first, last in spans:
        asked = text or f"date:[{first:%Y%m%d} TO {last:%Y%m%d}]"
        try:
            hits = index.search(asked, limit, first, last, any_word=any_word)
        except ArchiveDamaged:
            try:
                index.rebuild(read.store.index_entries)
            except (ArchiveBusy, StorageFull) as error:
                found.unsearched = str(error)
                return []
            hits = index.search(asked, limit, first, last, any_word=any_word)
        for hit in hits:
            best.setdefault(hit.message, hit)
    return list(best.values())[:limit]


def masked_text(text: str, secrets: frozenset[str]) -> str:
    """Return a text with secrets hidden. The records hide them already; this is the second lock on the same door."""
    bare = normal_code(text)
    return mask_in(text, secrets) if any(normal_code(secret) in bare for secret in secrets) else text
