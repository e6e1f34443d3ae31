"""What passes between the run and its reading processes."""

from __future__ import annotations

import io
import json
import struct
from dataclasses import replace
from pathlib import Path

import pytest

from counterfoil.documents.message import read_message
from counterfoil.patterns import Patterns
from counterfoil.sandbox.wire import (
    FrameBroken,
    message_json,
    message_of,
    read_frame,
    settings_json,
    settings_of,
    write_frame,
)
from counterfoil.settings import Limits, Settings

SAMPLES = Path(__file__).parent.parent.parent / "samples"
PATTERNS = Patterns.load(SAMPLES / "patterns")


@pytest.mark.parametrize("path", sorted((SAMPLES / "mailbox").glob("*.eml"))[::4], ids=lambda path: path.stem[:20])
def test_a_message_comes_out_as_it_went_in(path: Path) -> None:
    """Message and reading pass unchanged, but for lines and marks, and the text has its codes masked."""
    message = read_message(path.read_bytes(), Limits(), sha256="ab" * 32)
    reading = PATTERNS.read(message, Settings())
    stream = io.BytesIO()
    write_frame(stream, message_json(message, reading))
    stream.seek(0)
    frame = read_frame(stream, 10_000_000)
    assert frame is not None
    documents = tuple(
        replace(d, lines=(), marks=(), text=reading.redacted.get(d.name, d.text)) for d in message.documents
    )
    assert message_of(frame[0]) == (replace(message, documents=documents), reading)


def test_settings_come_out_as_they_went_in() -> None:
    """A shop's settings and limits pass unchanged."""
    settings = Settings(shop_addresses=("a@b.example",), region="DE", limits=Limits(parts=7))
    assert settings_of(json.loads(json.dumps(settings_json(settings)))) == settings


def test_bytes_go_beside_the_words() -> None:
    """The bytes of a frame come out as they are; then the stream ends."""
    stream = io.BytesIO()
    write_frame(stream, {"a": "\ud800ü"}, bytes(range(256)))
    stream.seek(0)
    assert read_frame(stream, 1_000) == ({"a": "\ud800ü"}, bytes(range(256)))
    assert read_frame(stream, 1_000) is None


@pytest.mark.parametrize(
    "data",
    [
        b"\0\0",
        struct.pack(">II", 10, 0) + b"{}",
        struct.pack(">II", 2, 5) + b"{}x",
        struct.pack(">II", 2_000, 0) + b"{" * 2_000,
        struct.pack(">II", 2, 0) + b"[]",
        struct.pack(">II", 2, 0) + b"\xff\xfe",
        struct.pack(">II", 900, 0) + b"[" * 900,
    ],
)
def test_broken_frames_are_told(data: bytes) -> None:
    """A frame that is cut off, too large or no JSON object is told, whatever is in it."""
    with pytest.raises(FrameBroken):
        read_frame(io.BytesIO(data), 1_000)


@pytest.mark.parametrize("name", ["layers", "documents", "reading", "sha256", "size"])
@pytest.mark.parametrize("value", [None, [], [[]], {}, "x", 5, float("inf"), [{"name": 1}]])
def test_an_answer_that_is_no_message_is_told(name: str, value: object) -> None:
    """An answer with a value of a wrong kind is told or is a message of the right shape; nothing else is raised."""
    message = read_message(b"From: a@b.example\n\nhello", Limits(), sha256="ab" * 32)
    answer = json.loads(json.dumps(message_json(message, PATTERNS.read(message, Settings()))))
    answer[name] = value
    if (
        (name == "size" and value == 5)
        or (name == "documents" and value in ([], {}))
        or (name == "sha256" and value == "x")
    ):
        assert message_of(answer)[0].layers == message.layers
        return
    with pytest.raises(FrameBroken):
        message_of(answer)
