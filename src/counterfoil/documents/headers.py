"""Header fields of a message: encoded words, addresses, dates, and the signs of automatic and bulk mail.

Addresses and dates are read by mail-parser, which is given the few fields needed, decoded to characters; where it
finds nothing or fails the standard library reads them, and after that a plain search for what looks right.
"""

from __future__ import annotations

import binascii
import logging
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from email.errors import MessageError
from email.message import Message
from email.utils import getaddresses, parsedate_to_datetime

from mailparser import MailParser

from counterfoil.documents.addresses import mailboxes, without_comments
from counterfoil.documents.text import clean, decode
from counterfoil.documents.when import read_when
from counterfoil.model import Layer, Mailbox
from counterfoil.settings import Limits

# mail-parser logs header values, which may hold names and codes; what matters of it becomes a defect.
logging.getLogger("mailparser").addHandler(logging.NullHandler())
logging.getLogger("mailparser").propagate = False

#: RFC 2047, section 2; spaces in the encoded text are against the rules and common.
_ENCODED = re.compile(r"=\?([^?\s]{1,60})\?([bBqQ])\?([^?]*)\?=")
_FOLD = re.compile(r"\r?\n[ \t]*")
_HEX = re.compile(rb"=([0-9A-Fa-f]{2})")
#: White space and comments, which an obsolete form of message ids has inside (RFC 5322, section 4.5.4).
_COMMENT = re.compile(r"\([^()]*\)|\s+")
#: Characters of one address field that are read; beyond are far more addresses than ``Limits.addresses``.
_ADDRESS_CHARS = 64_000
_SINGLE = ("from", "date", "subject", "message-id", "content-type")


def raw_text(value: object) -> str:
    """Return a header value as characters: eight-bit bytes are UTF-8, else Latin-1; folds are opened.

    RFC 5322, section 2.2.3: opening a fold takes the line end away and leaves the white space. A tab that
    folded a line stands for a space.
    """
    text = str(value)
    if not text.isascii():
        data = text.encode("utf-8", "surrogateescape")
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            text = data.decode("latin-1")
    if "\n" in text or "\r" in text:
        text = _FOLD.sub(lambda m: " " if m.end() - m.start() <= 2 else m.group().lstrip("\r\n"), text)
    return text.replace("\t", " ").replace("\r", " ").replace("\n", " ")


def decode_words(text: str) -> str:
    """Decode the encoded words of RFC 2047 in a header value that has been unfolded.

    White space between two encoded words is dropped (section 6.2); neighbours in one character set are
    decoded together, because programs cut characters in two. What cannot be decoded stays as it is.
    """
    if "=?" not in text:
        return text
    pieces: list[str] = []
    pending: list[bytes] = []
    charset = ""
    at = 0
    for match in _ENCODED.finditer(text):
        between = text[at : match.start()]
        data = _word_bytes(match)
        if data is None:
            continue
        name = match[1].split("*", 1)[0].lower()
        adjacent = bool(pending) and not between.strip(" ")
        if not adjacent or name != charset:
            pieces.extend(_flush(pending, charset))
            pending = []
        if not adjacent:
            pieces.append(between)
        pending.append(data)
        charset = name
        at = match.end()
    pieces.extend(_flush(pending, charset))
    pieces.append(text[at:])
    return "".join(pieces)


def _flush(pending: list[bytes], charset: str) -> Iterator[str]:
    if pending:
        yield clean(decode(b"".join(pending), charset)[0]).replace("\n", " ")


def _word_bytes(match: re.Match[str]) -> bytes | None:
    try:
        text = match[3].encode("ascii")
    except UnicodeEncodeError:
        return None
    if match[2] in "qQ":
        return _HEX.sub(lambda m: bytes((int(m[1], 16),)), text.replace(b"_", b" "))
    text = text.replace(b" ", b"").rstrip(b"=")
    try:
        return binascii.a2b_base64(text + b"=" * (-len(text) % 4))
    except binascii.Error:
        return None


def header_text(value: object) -> str:
    """Return an unstructured header value (Subject) as people see it."""
    return clean(decode_words(raw_text(value))).replace("\n", " ").strip()


@dataclass(frozen=True, slots=True)
class Head:
    """The fields of one header section, first occurrence first, and what was wrong with them."""

    fields: dict[str, list[str]]
    defects: tuple[str, ...]

    def first(self, name: str) -> str:
        """Return the first value of a field (lower case name), empty when there is none."""
        values = self.fields.get(name)
        return values[0] if values else ""


def read_fields(message: Message, limits: Limits) -> Head:
    """Collect the header fields of a message or part within the limits.

    Args:
        message: the part as the standard library parsed it.
        limits: number and bytes of fields that are read.
    """
    fields: dict[str, list[str]] = {}
    defects: list[str] = []
    size = 0
    for number, (name, value) in enumerate(message.raw_items()):
        size += len(name) + len(str(value))
        if number >= limits.headers or size > limits.header_bytes:
            defects.append("The header is longer than is read; its last fields were left out.")
            break
        fields.setdefault(name.lower(), []).append(raw_text(value))
    for name in _SINGLE:
        if len(fields.get(name, ())) > 1:
            defects.append(f"The header field {name.title()} stands {len(fields[name])} times; the first was used.")
    return Head(fields, tuple(defects))


def read_layer(head: Head, limits: Limits, how: str, parent: int | None) -> tuple[Layer, tuple[str, ...]]:
    """Read the envelope of a message.

    Args:
        head: its header fields.
        limits: how many addresses are read.
        how: ``received`` or ``attached``.
        parent: index of the layer around it.

    Returns:
        The layer, and what was wrong, in sentences. Dates keep the sender's offset from UTC; a date without one is
        taken as UTC.
    """
    parsed, defects = _mail_parser(head)
    senders = _boxes(head, "from", parsed, limits, defects) or _boxes(head, "sender", None, limits, defects)
    subject = clean(decode_words(head.first("subject"))).strip()
    layer = Layer(
        how,
        parent,
        senders[0] if senders else None,
        _boxes(head, "to", parsed, limits, defects),
        _boxes(head, "cc", parsed, limits, defects),
        _date(head, parsed, defects),
        subject,
        _COMMENT.sub("", head.first("message-id")[:998]).strip(),
        _authors(head),
    )
    return layer, tuple(defects)


def _authors(head: Head) -> int:
    """Count the different addresses in From: RFC 5322, section 3.6.2 allows several, in one field."""
    values = [without_comments(_cut(value)) for value in head.fields.get("from", ())[:10]]
    return max(1, len({box.address.lower() for value in values for box in mailboxes(value)}))


def _mail_parser(head: Head) -> tuple[MailParser | None, list[str]]:
    view = Message()
    for name in ("from", "to", "cc"):
        values = head.fields.get(name)
        if values:
            # A doubled From is one too many: the first counts. Doubled To and Cc are put together.
            value = values[0] if name == "from" else ", ".join(v for v in values if v.strip())
            view[name] = without_comments(_cut(value))
    if date := head.first("date"):
        view["date"] = date
    try:
        return MailParser(view), []
    # The input is hostile and the library promises no exceptions of its own: whatever it raises, the standard
    # library reads the fields instead.
    except Exception as error:  # noqa: BLE001
        return None, [
            f"The header could not be read in one piece ({type(error).__name__}) and was read field by field."
        ]


def _cut(value: str) -> str:
    if len(value) <= _ADDRESS_CHARS:
        return value
    return value[: value.rfind(",", 0, _ADDRESS_CHARS) if "," in value[:_ADDRESS_CHARS] else _ADDRESS_CHARS]


def _boxes(head: Head, name: str, parsed: MailParser | None, limits: Limits, defects: list[str]) -> tuple[Mailbox, ...]:
    value = _cut(", ".join(head.fields.get(name, ())))
    if "@" not in value:
        return ()
    found = _strict_boxes(name, value, parsed)
    # Where mail-parser has doubts it keeps what is certain. The lenient reader sees "Family, Given <a@b>" and lists
    # parted by semicolons as people do; it is asked, and followed if it finds no address less.
    if not found or _has_defect(name, parsed):
        lenient = [(box.name, box.address) for box in mailboxes(value)]
        if lenient and len(lenient) >= len(found):
            found = lenient
            defects.append(f"The addresses in the field {name.title()} break the rules and were read all the same.")
    if len(found) > limits.addresses:
        defects.append(f"The field {name.title()} has more than {limits.addresses:,} addresses; the first were read.")
    boxes = (Mailbox(_display(n, a), clean(a).strip()) for n, a in found[: limits.addresses] if "@" in a)
    return tuple(dict.fromkeys(boxes))


def _strict_boxes(name: str, value: str, parsed: MailParser | None) -> list[tuple[str, str]]:
    if parsed is not None:
        return list({"from": parsed.from_, "to": parsed.to, "cc": parsed.cc}[name] or ())
    try:
        return [(n, a) for n, a in getaddresses([value]) if "@" in a]
    except (MessageError, ValueError, AttributeError, IndexError):
        return []


def _has_defect(name: str, parsed: MailParser | None) -> bool:
    return parsed is not None and any(defect.get("header") == name for defect in parsed.address_header_defects)


def _display(name: str, address: str) -> str:
    name = " ".join(clean(decode_words(name)).split()).strip("'\" ")
    return "" if name.lower() == address.lower() else name


def _date(head: Head, parsed: MailParser | None, defects: list[str]) -> datetime | None:
    value = head.first("date").strip()
    if not value:
        return None
    if parsed is not None and isinstance(parsed.date, datetime):
        found: datetime = parsed.date
        return _with_offset(found, str(parsed.timezone))
    try:
        read: datetime | None = parsedate_to_datetime(value[:200])
    except (ValueError, TypeError, IndexError, OverflowError):
        read = read_when(value[:200])
    if read is None:
        defects.append("The date of the message cannot be read.")
        return None
    return read if read.tzinfo else read.replace(tzinfo=UTC)


def _with_offset(moment: datetime, hours: str) -> datetime:
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    try:
        return moment.astimezone(timezone(timedelta(hours=float(hours))))
    except (ValueError, OverflowError):
        return moment


def is_automatic(head: Head, content_type: str) -> bool:
    """Say whether a message is an automatic reply or a bounce.

    Args:
        head: the header fields as received.
        content_type: the type of the whole message.

    A message that a program made without being asked by another one (``auto-generated``) is none: confirmations
    are made that way. It counts where it answers a message. Sources: RFC 3834 section 5, RFC 3464 section 2,
    RFC 5321 section 6.1 (empty return path); Precedence and X- fields are common practice.
    """
    submitted = head.first("auto-submitted").split(";")[0].split("(")[0].strip().lower()
    if submitted.startswith(("auto-replied", "auto-notified")) or content_type == "multipart/report":
        return True
    if head.first("return-path").strip() == "<>" or head.first("precedence").strip().lower() == "auto_reply":
        return True
    if any(name in head.fields for name in ("x-autoreply", "x-autorespond", "x-autoreply-from")):
        return True
    if head.first("from").lower().lstrip("\"' <").startswith(("mailer-daemon", "mail delivery s")):
        return True
    suppress = head.first("x-auto-response-suppress").strip().lower() not in ("", "none")
    return (submitted == "auto-generated" or suppress) and "in-reply-to" in head.fields


def is_bulk(head: Head) -> bool:
    """Say whether a message went to a list: RFC 2369 and RFC 2919 List- fields, or Precedence (common practice)."""
    if any(name.startswith("list-") for name in head.fields):
        return True
    return head.first("precedence").strip().lower() in ("bulk", "list", "junk")
