"""What passes between the run and its reading processes: frames of JSON, with bytes beside them where needed.

A frame is two big-endian 32-bit lengths, then that much JSON in UTF-8, then that many bytes. Nothing is unpickled: a
process taken over by a hostile file can send wrong values, never code. Lines and the boxes of single characters stay
behind: facts carry the boxes they need, and the text goes with its codes masked. Only where a person teaches a pattern
do text and lines go whole, and where pages are drawn the boxes as well.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import IO, Any

from counterfoil.model import (
    Box,
    Cell,
    Check,
    Document,
    Fact,
    Kind,
    Layer,
    Line,
    Mailbox,
    Message,
    Place,
    Problem,
    Reading,
)
from counterfoil.settings import Limits, Settings

Json = dict[str, Any]
_LENGTHS = struct.Struct(">II")


class FrameBroken(Exception):
    """What came is no frame, or larger than is taken."""


def write_frame(stream: IO[bytes], value: Json, data: bytes = b"") -> None:
    """Write a frame.

    Args:
        stream: a pipe.
        value: what is said.
        data: bytes that go with it.
    """
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "surrogatepass")
    stream.write(_LENGTHS.pack(len(text), len(data)) + text)
    stream.write(data)
    stream.flush()


def read_frame(stream: IO[bytes], most: int) -> tuple[Json, bytes] | None:
    """Read a frame.

    Args:
        stream: a pipe.
        most: bytes that are taken.

    Returns:
        What was said and the bytes with it; None at the end of the stream.

    Raises:
        FrameBroken: the frame is cut off, larger, or no JSON object.
    """
    head = stream.read(_LENGTHS.size)
    if not head:
        return None
    if len(head) < _LENGTHS.size:
        raise FrameBroken("cut off")
    length, size = _LENGTHS.unpack(head)
    if length + size > most:
        raise FrameBroken("too large")
    text, data = stream.read(length), stream.read(size)
    if len(text) < length or len(data) < size:
        raise FrameBroken("cut off")
    try:
        value = json.loads(text.decode("utf-8", "surrogatepass"))
    except (ValueError, RecursionError) as error:
        raise FrameBroken("no JSON") from error
    if not isinstance(value, dict):
        raise FrameBroken("no JSON object")
    return value, data


# --- settings -------------------------------------------------------------------------------------------------------


def settings_json(settings: Settings) -> Json:
    """Return settings as JSON."""
    return asdict(settings)


def settings_of(value: Json) -> Settings:
    """Return the settings in JSON."""
    limits = Limits(**value.pop("limits"))
    lists = {name: tuple(item) for name, item in value.items() if isinstance(item, list)}
    return Settings(**{**value, **lists}, limits=limits)


# --- messages -------------------------------------------------------------------------------------------------------


def message_json(message: Message, reading: Reading, *, whole: bool = False, boxes: bool = False) -> Json:
    """Return a message and its reading as JSON.

    Args:
        message: the message.
        reading: what was read from it.
        whole: let the documents keep their lines, and their texts their codes.
        boxes: let them keep the boxes of their characters.
    """
    sent = frozenset() if whole else frozenset(d.name for d in message.documents)
    return {
        "sha256": message.sha256,
        "size": message.size,
        "layers": [_layer_json(layer) for layer in message.layers],
        "documents": [
            _document_json(d, reading.redacted.get(d.name) if d.name in sent else None, whole=whole, boxes=boxes)
            for d in message.documents
        ],
        "defects": message.defects,
        "automatic": message.automatic,
        "bulk": message.bulk,
        "reading": _reading_json(reading, sent),
    }


def message_of(value: Json) -> tuple[Message, Reading]:
    """Return the message and the reading in JSON.

    Raises:
        FrameBroken: it is none.
    """
    try:
        message = Message(
            _text(value["sha256"]),
            int(value["size"]),
            tuple(_layer_of(item) for item in value["layers"]),
            tuple(_document_of(item) for item in value["documents"]),
            _texts(value["defects"]),
            bool(value["automatic"]),
            bool(value["bulk"]),
        )
        if not message.layers:
            raise FrameBroken("no layers")
        masked = {_text(d["name"]): _text(d["text"]) for d in value["documents"] if d["masked"]}
        return message, _reading_of(value["reading"], masked)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, OverflowError) as error:
        raise FrameBroken("no message") from error


def _layer_json(layer: Layer) -> list[object]:
    date = layer.date.isoformat() if layer.date else None
    boxes = [[box.name, box.address] for box in layer.to], [[box.name, box.address] for box in layer.cc]
    sender = None if layer.sender is None else [layer.sender.name, layer.sender.address]
    return [layer.how, layer.parent, sender, *boxes, date, layer.subject, layer.message_id, layer.authors]


def _layer_of(value: Sequence[Any]) -> Layer:
    how, parent, sender, to, cc, date, subject, message_id, authors = value
    return Layer(
        _text(how),
        None if parent is None else int(parent),
        None if sender is None else _mailbox(sender),
        tuple(map(_mailbox, to)),
        tuple(map(_mailbox, cc)),
        None if date is None else datetime.fromisoformat(date),
        _text(subject),
        _text(message_id),
        int(authors),
    )


def _mailbox(value: Sequence[Any]) -> Mailbox:
    name, address = value
    return Mailbox(_text(name), _text(address))


def _document_json(document: Document, masked: str | None, *, whole: bool, boxes: bool) -> Json:
    return {
        "name": document.name,
        "layer": document.layer,
        "text": document.text if masked is None else masked,
        "masked": masked is not None,
        "lines": [_line_json(line) for line in document.lines] if whole else [],
        "marks": list(document.marks) if boxes else [],
        "media_type": document.media_type,
        "pages": document.pages,
        "problem": document.problem,
        "reason": document.reason,
        "inline": document.inline,
        "turns": document.turns,
        "size": document.size,
    }


def _document_of(value: Json) -> Document:
    problem = value["problem"]
    return Document(
        _text(value["name"]),
        int(value["layer"]),
        _text(value["text"]),
        tuple(_line_of(item) for item in value["lines"]),
        media_type=_text(value["media_type"]),
        pages=int(value["pages"]),
        problem=None if problem is None else Problem(problem),
        reason=_text(value["reason"]),
        inline=bool(value["inline"]),
        size=int(value["size"]),
        marks=tuple((float(a), float(b), float(c), float(d)) for a, b, c, d in value["marks"]),
        turns=tuple(map(int, value["turns"])),
    )


def _line_json(line: Line) -> list[object]:
    box = None if line.box is None else [line.box.x0, line.box.y0, line.box.x1, line.box.y1]
    return [line.start, line.end, [[c.start, c.end, c.x0, c.x1] for c in line.cells], line.page, box, line.quoted]


def _line_of(value: Sequence[Any]) -> Line:
    start, end, cells, page, box, quoted = value
    return Line(
        int(start),
        int(end),
        tuple(Cell(int(s), int(e), float(x0), float(x1)) for s, e, x0, x1 in cells),
        None if page is None else int(page),
        None if box is None else Box(*map(float, box)),
        int(quoted),
    )


def _reading_json(reading: Reading, sent: frozenset[str]) -> Json:
    numbers = {id(fact): n for n, fact in enumerate(reading.facts)}

    def reference(fact: Fact) -> object:
        return numbers.get(id(fact)) if id(fact) in numbers else fact_json(fact)

    return {
        "facts": [fact_json(fact) for fact in reading.facts],
        "chosen": {kind.value: reference(fact) for kind, fact in reading.chosen.items()},
        "conflicts": {kind.value: [reference(fact) for fact in facts] for kind, facts in reading.conflicts.items()},
        "confirmation": reading.confirmation,
        "signs": reading.signs,
        "confirmation_layer": reading.confirmation_layer,
        "mentions_attachment": reading.mentions_attachment,
        "language": reading.language,
        # The texts of documents went with the documents.
        "redacted": {name: text for name, text in reading.redacted.items() if name not in sent},
    }


def _reading_of(value: Json, masked: Mapping[str, str]) -> Reading:
    facts = tuple(fact_of(item) for item in value["facts"])

    def fact(item: Any) -> Fact:
        return facts[item] if isinstance(item, int) else fact_of(item)

    language = value["language"]
    return Reading(
        facts,
        {Kind(kind): fact(item) for kind, item in value["chosen"].items()},
        {Kind(kind): tuple(map(fact, items)) for kind, items in value["conflicts"].items()},
        float(value["confirmation"]),
        _texts(value["signs"]),
        int(value["confirmation_layer"]),
        bool(value["mentions_attachment"]),
        None if language is None else _text(language),
        {**masked, **{_text(name): _text(text) for name, text in value["redacted"].items()}},
    )


def fact_json(fact: Fact) -> list[object]:
    """Return a fact as JSON."""
    place, box = fact.place, fact.place.box
    corners = None if box is None else [box.x0, box.y0, box.x1, box.y1]
    where = [place.document, place.page, corners, place.span]
    return [
        fact.kind, fact.value, fact.normal, where, fact.pattern, fact.check, fact.odds, fact.readings, fact.evidence
    ]  # fmt: skip


def fact_of(value: Sequence[Any]) -> Fact:
    """Return the fact in JSON; raises what a value of another kind leads to."""
    kind, text, normal, (document, page, box, span), pattern, check, odds, readings, evidence = value
    return Fact(
        Kind(kind),
        _text(text),
        _text(normal),
        Place(
            _text(document),
            None if page is None else int(page),
            None if box is None else Box(*map(float, box)),
            None if span is None else (int(span[0]), int(span[1])),
        ),
        _text(pattern),
        Check(check),
        float(odds),
        _texts(readings),
        _texts(evidence),
    )


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError("not a text")
    return value


def _texts(value: Sequence[object] | Mapping[str, object]) -> tuple[str, ...]:
    return tuple(map(_text, value))
