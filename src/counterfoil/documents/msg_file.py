"""Outlook message files (.msg): turned into a message of the common kind, which is then read like any other.

The format is [MS-OXMSG] in a compound file ([MS-CFB]); python-oxmsg takes the file apart, the properties are looked up
here, leniently: a text in a wrong code page is read as far as it goes. Call this in a reading process only.
"""

from __future__ import annotations

import base64
import email
import re
import struct
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.message import Message as Part
from email.utils import format_datetime, formataddr

from compressed_rtf import decompress
from olefile import OleFileIO
from oxmsg.domain.encodings import encoding_from_codepage
from oxmsg.domain.model import UnrecognizedCodePageError, UnsupportedEncodingError
from oxmsg.storage import Storage
from striprtf.striprtf import rtf_to_text

from counterfoil.documents import parts
from counterfoil.documents.outlook import MARK, SIGNATURE
from counterfoil.settings import Limits

# Property ids, [MS-OXPROPS] section 2.
_SUBJECT, _SUBMITTED, _DELIVERED, _HEADERS, _MESSAGE_ID = 0x0037, 0x0039, 0x0E06, 0x007D, 0x1035
_SENDER_NAME, _SENDER_ADDRESS, _SENDER_SMTP, _SENT_FOR_SMTP = 0x0C1A, 0x0C1F, 0x5D01, 0x5D02
_NAME, _ADDRESS, _SMTP, _RECIPIENT_TYPE = 0x3001, 0x3003, 0x39FE, 0x0C15
_BODY, _HTML, _RTF, _CODE_PAGE, _BODY_CODE_PAGE = 0x1000, 0x1013, 0x1009, 0x3FFD, 0x3FDE
_DATA, _METHOD, _LONG_NAME, _SHORT_NAME, _TYPE, _CONTENT_ID = 0x3701, 0x3705, 0x3707, 0x3704, 0x370E, 0x3712
_TEXT, _TEXT8, _BINARY = 0x001F, 0x001E, 0x0102
_BY_VALUE, _EMBEDDED = 1, 5
_FIELDS = {1: "To", 2: "Cc"}
#: Bytes before the properties: of a file, a message inside it, a recipient or attachment ([MS-OXMSG] section 2.4).
_TOP, _INNER, _ROW = 32, 24, 8
_PROPERTY = struct.Struct("<HHI8s")
_EPOCH = datetime(1601, 1, 1, tzinfo=UTC)
#: Fields that describe parts which the file no longer has.
_OLD_PARTS = re.compile(r"(?:content-[a-z-]+|mime-version)$", re.IGNORECASE)
#: RTF made from HTML ([MS-OXRTFEX]): what is for RTF readers only, and the tags.
_RTF_ONLY = re.compile(r"\\htmlrtf1? ?(?![a-z0-9]).*?\\htmlrtf0 ?", re.DOTALL)
_TAG = re.compile(r"\{\\\*\\htmltag\d* ?")
_CELL = re.compile(r"\\(?:nest)?cell(?![a-z]) ?")


class MsgBroken(Exception):
    """The file is no message, or a damaged one."""


@dataclass(slots=True)
class Opened:
    """A message made from a file, and what could not be opened in it: names and reasons."""

    message: Part
    unread: list[tuple[str, str]] = field(default_factory=list)


def open_msg(data: bytes, limits: Limits) -> Opened:
    """Open a message file.

    Args:
        data: its bytes.
        limits: how much of headers and texts is taken, and how deep messages inside messages go.

    Raises:
        MsgBroken: it cannot be opened.
        MemoryError: it takes more memory than there is.
    """
    if not data.startswith(SIGNATURE) or MARK not in data:
        raise MsgBroken("it is none")
    try:
        with OleFileIO(data) as file:
            root = Storage.from_ole(file)
        return _Builder(limits).message(root, _TOP, 0)
    except MemoryError:
        raise
    # A damaged file makes the libraries raise whatever its bytes lead to, struct errors and endless recursion too.
    except Exception as error:
        raise MsgBroken(type(error).__name__) from error


class _Properties:
    """The properties of a message, a recipient or an attachment."""

    def __init__(self, storage: Storage, header: int, encoding: str) -> None:
        self._streams = {stream.name.upper(): stream.bytes_ for stream in storage.streams}
        self.encoding = encoding
        self._fixed: dict[int, int] = {}
        block = self._streams.get("__PROPERTIES_VERSION1.0", b"")[header:]
        for at in range(0, len(block) - 15, 16):
            _, pid, _, value = _PROPERTY.unpack_from(block, at)
            self._fixed.setdefault(pid, int.from_bytes(value, "little"))
        if (page := self.number(_CODE_PAGE)) is not None:
            self.encoding = _encoding(page, encoding)

    def number(self, pid: int) -> int | None:
        """Return an integer of 32 bits."""
        value = self._fixed.get(pid)
        return None if value is None else value & 0xFFFFFFFF

    def date(self, pid: int) -> datetime | None:
        """Return a moment; None for one that no calendar has."""
        try:
            return _EPOCH + timedelta(microseconds=self._fixed[pid] // 10)
        except (KeyError, OverflowError):
            return None

    def binary(self, pid: int) -> bytes | None:
        """Return bytes."""
        return self._streams.get(f"__SUBSTG1.0_{pid:04X}{_BINARY:04X}")

    def text(self, pid: int, encoding: str | None = None) -> str:
        """Return a text, empty where there is none; what does not fit its encoding shows as U+FFFD."""
        wide = self._streams.get(f"__SUBSTG1.0_{pid:04X}{_TEXT:04X}")
        if wide is not None:
            return wide.decode("utf-16-le", "replace").rstrip("\0")
        narrow = self._streams.get(f"__SUBSTG1.0_{pid:04X}{_TEXT8:04X}", b"")
        return narrow.decode(encoding or self.encoding, "replace").rstrip("\0")


def _encoding(page: int, default: str) -> str:
    try:
        return encoding_from_codepage(page)
    except (UnrecognizedCodePageError, UnsupportedEncodingError):
        return default


class _Builder:
    def __init__(self, limits: Limits) -> None:
        self.limits = limits

    def message(self, storage: Storage, header: int, depth: int, encoding: str = "cp1252") -> Opened:
        """Make a message of a storage."""
        properties = _Properties(storage, header, encoding)
        whole = self._head(storage, properties)
        whole["MIME-Version"] = "1.0"
        whole["Content-Type"] = "multipart/mixed"
        opened = Opened(whole)
        children: list[Part | str] = []
        body = self._body(properties, opened)
        if body is not None:
            children.append(body)
        for number, attached in enumerate(storage.iter_attachment_storages()):
            if number >= self.limits.parts:
                opened.unread.append(("file:rest", "The message has too many attachments."))
                break
            part = self._attachment(attached, properties.encoding, opened, depth)
            if part is not None:
                children.append(part)
        whole.set_payload(children or [_text("", "plain")])
        return opened

    # --- header -----------------------------------------------------------------------------------

    def _head(self, storage: Storage, properties: _Properties) -> Part:
        """Return the header: the one the message came with, completed by what the properties say."""
        came = properties.text(_HEADERS).replace("\r\n", "\n").lstrip("\n")
        data, _ = parts.prepare(came.encode("utf-8", "replace") + b"\n\n", self.limits)
        head = email.message_from_bytes(data)
        whole = Part()
        for name, value in head.raw_items():
            if not _OLD_PARTS.match(name):
                whole[name] = value
        for name, value in self._known(storage, properties):
            if value and name not in whole:
                whole[name] = value
        return whole

    def _known(self, storage: Storage, properties: _Properties) -> list[tuple[str, str]]:
        sender = _mailbox(
            properties.text(_SENDER_NAME),
            (properties.text(_SENDER_SMTP), properties.text(_SENT_FOR_SMTP), properties.text(_SENDER_ADDRESS)),
        )
        fields = [("From", sender)]
        named: dict[str, list[str]] = {"To": [], "Cc": []}
        for number, row in enumerate(storage.iter_recipient_storages()):
            if number >= self.limits.addresses:
                break
            of = _Properties(row, _ROW, properties.encoding)
            name = _FIELDS.get((of.number(_RECIPIENT_TYPE) or 1) & 0xF)
            if name is not None:
                named[name].append(_mailbox(of.text(_NAME), (of.text(_SMTP), of.text(_ADDRESS))))
        fields += [(name, ", ".join(filter(None, found))) for name, found in named.items()]
        date = properties.date(_SUBMITTED) or properties.date(_DELIVERED)
        fields.append(("Date", format_datetime(date) if date else ""))
        fields.append(("Subject", properties.text(_SUBJECT)))
        fields.append(("Message-ID", properties.text(_MESSAGE_ID)))
        return [(name, _one_line(value)) for name, value in fields]

    # --- text -------------------------------------------------------------------------------------

    def _body(self, properties: _Properties, opened: Opened) -> Part | None:
        page = properties.number(_BODY_CODE_PAGE)
        encoding = properties.encoding if page is None else _encoding(page, properties.encoding)
        plain, html = properties.text(_BODY, encoding), properties.text(_HTML, encoding)
        raw = properties.binary(_HTML)
        if not html and raw:
            html = raw.decode(encoding, "replace")
        packed = properties.binary(_RTF)
        if not plain.strip() and not html.strip() and packed:
            plain, html = self._rich(packed, opened)
        made: list[Part | str] = [
            _text(text, kind) for text, kind in ((plain, "plain"), (html, "html")) if text.strip()
        ]
        if len(made) < 2:
            return next((part for part in made if isinstance(part, Part)), None)
        both = Part()
        both["Content-Type"] = "multipart/alternative"
        both.set_payload(made)
        return both

    def _rich(self, packed: bytes, opened: Opened) -> tuple[str, str]:
        """Return the text of a body that is RTF only: plain, or the HTML it was made from."""
        try:
            rtf = decompress(packed)[: self.limits.text_chars * 4].decode("latin-1")
            if "\\fromhtml" in rtf[:2_000]:
                return "", _rich_text(_TAG.sub("{", _RTF_ONLY.sub("", rtf)))
            # A cell becomes a column, as in tables of the other kinds of text.
            return _rich_text(_CELL.sub(r"\\tab ", rtf)), ""
        except MemoryError:
            raise
        # The two libraries raise whatever broken RTF leads to.
        except Exception:  # noqa: BLE001
            opened.unread.append(("file:body.rtf", "The text is formatted (RTF) and damaged; it cannot be read."))
            return "", ""

    # --- attachments ------------------------------------------------------------------------------

    def _attachment(self, storage: Storage, encoding: str, opened: Opened, depth: int) -> Part | None:
        of = _Properties(storage, _ROW, encoding)
        name = _one_line(of.text(_LONG_NAME) or of.text(_SHORT_NAME) or of.text(_NAME))
        inner = next((s for s in storage.storages if s.name.upper() == f"__SUBSTG1.0_{_DATA:04X}000D"), None)
        method, data = of.number(_METHOD), of.binary(_DATA)
        if method == _EMBEDDED and inner is not None:
            if depth >= self.limits.mime_depth:
                opened.unread.append((f"file:{name or 'message'}", "The message has too many messages inside."))
                return None
            found = self.message(inner, _INNER, depth + 1, encoding)
            opened.unread += found.unread
            part = Part()
            part["Content-Type"] = "message/rfc822"
            part.set_payload([found.message])
            return part
        if data is None or method not in (None, _BY_VALUE):
            reason = "The attachment is not in the message, or in a form that only its own program opens."
            opened.unread.append((f"file:{name or 'unnamed'}", reason))
            return None
        part = Part()
        kind = of.text(_TYPE).strip().lower()
        part["Content-Type"] = kind if re.fullmatch(r"[\w.+-]+/[\w.+-]+", kind) else "application/octet-stream"
        part.add_header("Content-Disposition", "attachment", filename=("utf-8", "", name))
        if content_id := _one_line(of.text(_CONTENT_ID)):
            part["Content-ID"] = f"<{content_id.strip('<>')}>"
        return _filled(part, data)


def _rich_text(rtf: str) -> str:
    return str(rtf_to_text(rtf, errors="replace"))  # type: ignore[no-untyped-call]


def _text(text: str, kind: str) -> Part:
    part = Part()
    part["Content-Type"] = f'text/{kind}; charset="utf-8"'
    return _filled(part, text.encode("utf-8", "replace"))


def _filled(part: Part, data: bytes) -> Part:
    part["Content-Transfer-Encoding"] = "base64"
    part.set_payload(base64.encodebytes(data).decode("ascii"))
    return part


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _mailbox(name: str, addresses: tuple[str, ...]) -> str:
    """Return a name with the first of its addresses that is one: mail inside a house may have others."""
    address = next((_one_line(a) for a in addresses if "@" in a), "")
    name = _one_line(name).strip("'\"")
    if not address:
        return f'"{name}"' if name and '"' not in name else ""
    return _addressed("" if name == address else name, address)


def _addressed(name: str, address: str) -> str:
    if name.isascii():
        return formataddr((name, address))
    # As raw UTF-8 (RFC 6532), which the reader takes as well as encoded words.
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{quoted}" <{address}>'
