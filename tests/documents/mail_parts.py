"""Messages for tests, put together from parts as bytes."""

from __future__ import annotations

import base64
import zlib

from counterfoil.documents.message import read_message
from counterfoil.model import Document, Message
from counterfoil.settings import Limits

LIMITS = Limits()
HEAD = (
    "From: Marit Solvang <marit@solvang.example>\n"
    "To: support@thread.example\n"
    "Date: Tue, 4 Mar 2025 10:12:00 +0100\n"
    "Subject: Confirmation\n"
    "Message-ID: <1@solvang.example>\n"
    "MIME-Version: 1.0\n"
)


def mail(body: str, kind: str = "text/plain; charset=utf-8", head: str = HEAD, more: str = "") -> bytes:
    """Return a message with one part."""
    return f"{head}{more}Content-Type: {kind}\n\n{body}".encode()


def part(data: bytes | str, kind: str, more: str = "", encoding: str = "base64") -> bytes:
    """Return a part: header and body, encoded."""
    raw = data.encode() if isinstance(data, str) else data
    if encoding == "base64":
        raw = base64.encodebytes(raw)
    return f"Content-Type: {kind}\nContent-Transfer-Encoding: {encoding}\n{more}\n".encode() + raw


def multipart(*parts: bytes, kind: str = "mixed", head: str = HEAD, end: bool = True) -> bytes:
    """Return a multipart message."""
    boundary = f"=_{kind}_{zlib.crc32(b''.join(parts)):08x}"
    top = f'{head}Content-Type: multipart/{kind}; boundary="{boundary}"\n\n'.encode()
    body = b"".join(f"--{boundary}\n".encode() + p + b"\n" for p in parts)
    return top + body + (f"--{boundary}--\n".encode() if end else b"")


def nested(*parts: bytes, kind: str) -> bytes:
    """Return a multipart part to stand inside a message."""
    return multipart(*parts, kind=kind, head="")


def read(data: bytes, limits: Limits = LIMITS) -> Message:
    """Read a message."""
    return read_message(data, limits, sha256="0" * 64)


def names(message: Message) -> list[str]:
    """Return the names of its documents."""
    return [d.name for d in message.documents]


def doc(message: Message, name: str) -> Document:
    """Return the document of a name."""
    return next(d for d in message.documents if d.name == name)
