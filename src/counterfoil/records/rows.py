"""Values to rows and back. All that writes or reads the value of a fact goes through :func:`fact_row` and
:func:`fact_of`: once codes are sealed, this is where they are.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, cast

import sqlalchemy as sa

from counterfoil.model import (
    CODE_KINDS,
    SECRET_KINDS,
    Box,
    Candidate,
    Check,
    Document,
    DocumentRecord,
    Fact,
    JournalEntry,
    Kind,
    Layer,
    Mailbox,
    Message,
    Noted,
    Place,
    Problem,
    Question,
    Reading,
)
from counterfoil.patterns.normal import fold_code, normal_code
from counterfoil.records import linkage, refs
from counterfoil.records.codes import stored_pieces
from counterfoil.records.sounds import search_keys

Row = dict[str, Any]
#: The unit separator of ASCII.
_BETWEEN = "\x1f"
_ENCODER = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), default=str)


def now() -> str:
    """Return the time in UTC, ISO 8601, to the microsecond, so that entries of one second keep their order."""
    return instant(datetime.now(UTC))


def instant(when: datetime) -> str:
    """Return a time in UTC as ISO 8601 text that sorts as time does; without an offset it is taken as UTC."""
    if when.tzinfo is None:
        when = when.replace(tzinfo=UTC)
    try:
        when = when.astimezone(UTC)
    except OverflowError:
        when = when.replace(tzinfo=UTC)
    return when.isoformat(timespec="microseconds" if when.microsecond else "seconds")


def packed(value: object) -> str:
    """Return a value as compact JSON text."""
    return _ENCODER.encode(value)


def lookup_key(kind: Kind, normal: str) -> str:
    """Return what a value is looked up by: its normal form, folded further where people write the same differently."""
    match kind:
        case Kind.POSTAL_ADDRESS:
            return "".join(c for c in normal.casefold() if c.isalnum())
        case Kind.CUSTOMER_NAME:
            return " ".join(sorted(linkage.parts(normal)))
        case Kind.MAKER | Kind.MODEL | Kind.UPGRADE_NAME:
            return normal.casefold()
        case _:
            return normal


def fact_row(number: int, fact: Fact, at: str, *, chosen: bool, once: bool = True) -> Row:
    """Return the row of a fact that nobody owns yet.

    Args:
        number: its id.
        fact: the fact.
        at: when it was so, ISO 8601 in UTC.
        chosen: whether it is the likeliest of its kind in its message.
        once: False for a further place of a value that has its row already: it is not found by its ending twice.
    """
    box = fact.place.box
    span = fact.place.span or (None, None)
    return {
        "id": number,
        "message_id": None,
        "journal_id": None,
        "kind": fact.kind.value,
        "value": fact.value,
        "normal": fact.normal,
        "key": lookup_key(fact.kind, fact.normal),
        "reversed": fact.normal[::-1] if once and fact.kind in CODE_KINDS else None,
        "document": fact.place.document,
        "page": fact.place.page,
        "x0": box.x0 if box else None,
        "y0": box.y0 if box else None,
        "x1": box.x1 if box else None,
        "y1": box.y1 if box else None,
        "span_start": span[0],
        "span_end": span[1],
        "pattern": fact.pattern,
        "check_result": fact.check.value,
        "odds": fact.odds,
        "readings": _joined(fact.readings),
        "evidence": _joined(fact.evidence),
        "stage": None,
        "chosen": chosen,
        "confirmed": False,
        "dropped": False,
        "customer_id": None,
        "machine_id": None,
        "at": at,
    }


def derived_rows(rows: Iterable[Row]) -> tuple[list[Row], list[Row]]:
    """Return the rows of the piece table and of the name key table that belong to rows of facts."""
    pieces: list[Row] = []
    names: list[Row] = []
    for row in rows:
        if row["reversed"] is not None:
            folded = fold_code(row["normal"])
            keys = stored_pieces(row["normal"])
            pieces += [{"piece": key, "fact_id": row["id"], "folded": folded} for key in keys]
        elif row["kind"] == Kind.CUSTOMER_NAME and row["chosen"]:
            found = linkage.stored_keys(row["value"]) | search_keys(row["value"])
            names += [{"name_key": key, "fact_id": row["id"]} for key in sorted(found)]
    return pieces, names


def fact_of(row: sa.Row[Any]) -> Fact:
    """Return the fact in a row."""
    box = None if row.x0 is None else Box(row.x0, row.y0, row.x1, row.y1)
    span = None if row.span_start is None else (row.span_start, row.span_end)
    return Fact(
        kind=Kind(row.kind),
        value=row.value,
        normal=row.normal,
        place=Place(row.document, row.page, box, span),
        pattern=row.pattern,
        check=Check(row.check_result),
        odds=row.odds,
        readings=_texts(row.readings),
        evidence=_texts(row.evidence),
    )


def noted_of(row: sa.Row[Any]) -> Noted:
    """Return the fact in a row with its source: the journal entry where a person gave it, else the message."""
    return Noted(fact_of(row), source_of(row), row.at, row.id, bool(row.chosen), bool(row.confirmed))


def source_of(row: sa.Row[Any]) -> str:
    """Return the id of what a fact came from."""
    if row.journal_id is not None:
        return f"{refs.JOURNAL}{row.journal_id}"
    return f"{refs.MESSAGE}{row.message_id}"


def _joined(texts: tuple[str, ...]) -> str | None:
    """Return short texts in one, parted by a character that no text holds: read back much faster than JSON."""
    return _BETWEEN.join(text.replace(_BETWEEN, " ") for text in texts) if texts else None


def _texts(joined: str | None) -> tuple[str, ...]:
    return tuple(joined.split(_BETWEEN)) if joined is not None else ()


# --- messages -------------------------------------------------------------------------------------


def message_row(message: Message, reading: Reading, source: str) -> Row:
    """Return what a message's row holds of the message and its reading; ids, standing and revision are not set."""
    head = message.head
    sender = head.sender
    hide = _hider(reading)
    return {
        "sha256": message.sha256,
        "source": source,
        "kept": now(),
        "message_id": hide(head.message_id),
        "received": instant(head.date) if head.date else None,
        "dated": dated(message, reading),
        "subject": reading.redacted.get("headers:0", hide(head.subject)),
        "sender_name": hide(sender.name) if sender else None,
        "sender_address": sender.address if sender else None,
        "size": message.size,
        "language": reading.language,
        "confirmation": reading.confirmation,
        "mentions_attachment": reading.mentions_attachment,
        "signs": packed(reading.signs),
        "defects": packed(message.defects),
        "layers": packed([_layer(layer, n, reading, hide) for n, layer in enumerate(message.layers)]),
        "conflicts": packed({k.value: [f.normal for f in v] for k, v in reading.conflicts.items()}),
    }


def dated(message: Message, reading: Reading) -> str:
    """Return the date of the confirmation itself: of its layer, else of the layers around it, else now."""
    number: int | None = min(reading.confirmation_layer, len(message.layers) - 1)
    while number is not None:
        layer = message.layers[number]
        if layer.date is not None:
            return instant(layer.date)
        number = layer.parent
    return now()


def document_row(document: Document, number: int, reading: Reading) -> Row:
    """Return the row of a document; its text with codes masked."""
    redacted = reading.redacted.get(document.name)
    return {
        "number": number,
        "name": document.name,
        "layer": document.layer,
        "media_type": document.media_type,
        "pages": document.pages,
        "text": redacted if redacted is not None else _hider(reading)(document.text),
        "problem": document.problem.value if document.problem else None,
        "reason": document.reason,
        "inline": document.inline,
        "size": document.size,
    }


def document_of(row: sa.Row[Any]) -> DocumentRecord:
    """Return the document in a row."""
    problem = Problem(row.problem) if row.problem else None
    return DocumentRecord(row.name, row.layer, row.media_type, row.pages, row.text, problem, row.reason)


def _layer(layer: Layer, number: int, reading: Reading, hide: Callable[[str], str]) -> Row:
    def mailbox(box: Mailbox | None) -> list[str] | None:
        return None if box is None else [hide(box.name), box.address]

    return {
        "how": layer.how,
        "parent": layer.parent,
        "sender": mailbox(layer.sender),
        "to": [mailbox(box) for box in layer.to],
        "cc": [mailbox(box) for box in layer.cc],
        "date": instant(layer.date) if layer.date else None,
        "subject": reading.redacted.get(f"headers:{number}", hide(layer.subject)),
        "message_id": hide(layer.message_id),
    }


def _hider(reading: Reading) -> Callable[[str], str]:
    """Return a function that covers every product key and activation code read from the message."""
    secrets = {f.value for f in reading.facts if f.kind in SECRET_KINDS} | {
        f.value for f in reading.chosen.values() if f.kind in SECRET_KINDS
    }
    bare = sorted({normal_code(s) for s in secrets} | secrets, key=len, reverse=True)

    def hide(text: str) -> str:
        for secret in bare:
            if secret and secret in text:
                text = text.replace(secret, "•" * len(secret))
        return text

    return hide


def questions_rows(questions: Sequence[Question], message: int, first: int) -> list[Row]:
    """Return the rows of a message's questions, numbered from ``first`` on."""
    return [
        {
            "id": first + n,
            "message_id": message,
            "code": q.code,
            "sentence": q.sentence,
            "candidates": packed([[c.ref, c.label, list(c.evidence)] for c in q.candidates]),
            "settled_by": None,
        }
        for n, q in enumerate(questions)
    ]


def question_of(row: sa.Row[Any]) -> Question:
    """Return the question in a row."""
    candidates = tuple(Candidate(ref, label, tuple(why)) for ref, label, why in json.loads(row.candidates))
    return Question(row.code, row.sentence, candidates)


def journal_of(row: sa.Row[Any]) -> JournalEntry:
    """Return the journal entry in a row."""
    detail = cast(Mapping[str, object], json.loads(row.detail))
    undone_by = refs.ref(refs.JOURNAL, row.undone_by)
    line = f"{refs.JOURNAL}{row.id}"
    return JournalEntry(line, row.at, row.who, row.action, row.subject, row.why, detail, undone_by, row.hash or "")
