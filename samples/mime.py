"""Messages as bytes, written by hand: header fields, encoded words, parts and their encodings.

Own lines instead of a library's generator, so that the bytes stay the same under every version of Python,
and so that the mail can be as uneven as mail is.
"""

from __future__ import annotations

import base64
import quopri
from collections.abc import Sequence
from datetime import datetime

_DAYS = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
_MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def mail_date(when: datetime, zone: str = "+0100") -> str:
    """Return a date as RFC 5322, section 3.3 has it."""
    return f"{_DAYS[when.weekday()]}, {when.day} {_MONTHS[when.month - 1]} {when:%Y %H:%M:%S} {zone}"


def encoded(text: str, charset: str = "utf-8", how: str = "Q") -> str:
    """Return the text as encoded words (RFC 2047), folded between them; ASCII text as it is."""
    if text.isascii():
        return text
    words, rest = [], text
    while rest:
        size = len(rest)
        while len(word := _word(rest[:size], charset, how)) > 75:
            size -= 1
        words.append(word)
        rest = rest[size:]
    return "\n ".join(words)


def _word(text: str, charset: str, how: str) -> str:
    data = text.encode(charset)
    if how == "B":
        return f"=?{charset}?B?{base64.b64encode(data).decode()}?="
    inner = "".join(chr(b) if chr(b).isalnum() and b < 128 else "_" if b == 32 else f"={b:02X}" for b in data)
    return f"=?{charset}?Q?{inner}?="


def mailbox(name: str, address: str, charset: str = "utf-8", how: str = "Q") -> str:
    """Return a mailbox as RFC 5322, section 3.4 has it, the name encoded or quoted where need be."""
    if not name:
        return address
    if not name.isascii():
        return f"{encoded(name, charset, how)} <{address}>"
    quoted = f'"{name}"' if set(name) & set(".,'()@:;") else name
    return f"{quoted} <{address}>"


def text_part(text: str, kind: str = "plain", charset: str = "utf-8", how: str = "8bit", more: str = "") -> bytes:
    """Return a text part: Content fields, an empty line, the encoded text."""
    data = text.encode(charset)
    if how == "base64":
        data = base64.encodebytes(data)
    elif how == "quoted-printable":
        data = quopri.encodestring(data)
    head = f"Content-Type: text/{kind}; charset={charset}{more}\nContent-Transfer-Encoding: {how}\n\n"
    return head.encode() + data


def file_part(data: bytes, media_type: str, name: str = "", disposition: str = "attachment", more: str = "") -> bytes:
    """Return a part that holds a file; without a name neither field names one."""
    named = f'; name="{name}"' if name else ""
    placed = f'; filename="{name}"' if name else ""
    head = f"Content-Type: {media_type}{named}\nContent-Transfer-Encoding: base64\n"
    if disposition:
        head += f"Content-Disposition: {disposition}{placed}\n"
    return (head + more + "\n").encode() + base64.encodebytes(data)


def message_part(data: bytes, how: str = "7bit", name: str = "") -> bytes:
    """Return a message as an attached part; ``how`` base64 is against RFC 2046 and met all the same."""
    head = f"Content-Type: message/rfc822\nContent-Transfer-Encoding: {how}\n"
    head += f'Content-Disposition: attachment; filename="{name}"\n\n' if name else "Content-Disposition: inline\n\n"
    return head.encode() + (base64.encodebytes(data) if how == "base64" else data)


def multipart(subtype: str, parts: Sequence[bytes], boundary: str) -> bytes:
    """Return a multipart entity."""
    out = f'Content-Type: multipart/{subtype}; boundary="{boundary}"\n\n'.encode()
    for part in parts:
        out += f"--{boundary}\n".encode() + part.rstrip(b"\n") + b"\n\n"
    return out + f"--{boundary}--\n".encode()


def message(fields: Sequence[tuple[str, str]], entity: bytes, crlf: bool = False) -> bytes:
    """Return a whole message: header fields as given, then an entity with its own Content fields."""
    head = "".join(f"{name}: {value}\n" for name, value in fields) + "MIME-Version: 1.0\n"
    data = head.encode() + entity
    return data.replace(b"\n", b"\r\n") if crlf else data
