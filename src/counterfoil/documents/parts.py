"""Parts of a message: mending, decoding, and telling by the bytes what they are."""

from __future__ import annotations

import base64
import binascii
import contextlib
import email
import quopri
import re
from dataclasses import dataclass
from email.errors import HeaderParseError
from email.message import Message as Part
from itertools import islice

from counterfoil.documents import outlook
from counterfoil.documents.headers import header_text, raw_text
from counterfoil.documents.picture import recognise
from counterfoil.documents.text import decode, words
from counterfoil.model import Problem
from counterfoil.settings import Limits

_PASSED_OVER = words(
    "text/x-amp-html text/watch-html text/calendar text/vcard text/x-vcard text/directory application/ics"
    " application/pgp-signature application/pgp-keys"
    " application/pkcs7-signature application/x-pkcs7-signature message/delivery-status"
    " text/rfc822-headers message/disposition-notification message/feedback-report application/pgp-encrypted"
    " application/applefile"
)
#: Parts that are messages (RFC 2046 section 5.2.1, RFC 6532 section 3.7; the last is obsolete and in use).
MESSAGE_TYPES = frozenset({"message/rfc822", "message/global", "message/news"})
#: A pointer to content elsewhere, or a piece of a message (RFC 2046, sections 5.2.2 and 5.2.3).
ELSEWHERE = frozenset({"message/external-body", "message/partial"})
#: How files begin that hold others as they are (zip), and a signature of a text (RFC 9580, section 6.2).
_PACKED, _SIGNATURE = b"PK\x03\x04", b"-----BEGIN PGP SIGNATURE-----"
_ZIP = words("application/zip application/x-zip application/x-zip-compressed")
_TEXT_SUFFIXES = (".txt", ".csv", ".html", ".htm", ".md", ".log", ".tsv")
#: Fields without which a message cannot be read; they are kept whatever the header's size.
_NEEDED = re.compile(
    rb"(?:Content-[A-Za-z-]+|MIME-Version|From|Sender|To|Cc|Date|Subject|Message-ID|Return-Path|Auto-Submitted|Precedence"
    rb"|In-Reply-To|List-Id|List-Unsubscribe)[ \t]*:",
    re.IGNORECASE,
)
_FIELD_BYTES = 64_000
#: White space before the colon of a field: obsolete (RFC 5322, section 4.5), unknown to the standard library.
_SPACED_FIELD = re.compile(rb"^([!-9;-~]+)[ \t]+:", re.MULTILINE)
#: A sentence of :func:`prepare`: the message was cut off there.
CUT = "The message has more lines and parts than are read; its end was left out."
#: Lines that are read; a message of 50 MB in base64 has half of it.
_LINES = 1_500_000
#: Below this number of lines nothing is counted.
_FEW_LINES = 20_000
#: Lines times boundaries: the standard library compares every line with every boundary that is open.
_LINE_CHECKS = 8_000_000
#: Lines that begin with "--" and may part parts.
_DELIMITERS = 20_000
_BOUNDARY = re.compile(rb"boundary[ \t]*=", re.IGNORECASE)
#: Characters of Content-Type and Content-Disposition that are read.
_DESCRIPTION = 4_000
_HEAD_END = re.compile(rb"\r?\n\r?\n|\r\r")
_DELIMITER = re.compile(rb"^--([^\s-][^\r\n]{0,68}?)[ \t]*\r?\n(?:[A-Za-z-]+:[^\n]*\n)", re.MULTILINE)
_DEFECTS = {
    "StartBoundaryNotFoundDefect": "A part has no beginning; what stands there was read as text.",
    "CloseBoundaryNotFoundDefect": "The message is cut off: its last part has no end.",
    "NoBoundaryInMultipartDefect": "A part says it has parts and not where they are parted.",
    "MultipartInvariantViolationDefect": "A part says it has parts and has none.",
    "InvalidBase64PaddingDefect": "A part in base64 is cut off.",
    "InvalidBase64CharactersDefect": "A part in base64 has characters that do not belong there.",
    "InvalidBase64LengthDefect": "A part in base64 is cut off.",
    "MissingHeaderBodySeparatorDefect": "A header is not parted from the text by an empty line.",
    "FirstHeaderLineIsContinuationDefect": "A header begins in the middle of a field.",
    "MisplacedEnvelopeHeaderDefect": "An mbox separator stands inside a header.",
}
#: White space that was added behind a soft line break (RFC 2045, section 6.7, rule 3); the standard library keeps it.
_PADDED_BREAK = re.compile(r"=[ \t]+(?=\r?\n)")
#: What the standard library raises on parameters of hostile header fields.
_BAD_PARAMETER = (ValueError, LookupError, AttributeError, TypeError, HeaderParseError, AssertionError)


@dataclass(frozen=True, slots=True)
class File:
    """A part without parts, decoded: its bytes and what its header says of them. Types are lower case."""

    data: bytes
    media_type: str
    name: str
    attachment: bool
    charset: str | None
    content_id: str
    related: bool
    flowed: bool = False
    delsp: bool = False

    @property
    def suffix(self) -> str:
        """The end of the name from its last dot, lower case."""
        return self.name[self.name.rfind(".") :].lower() if "." in self.name else ""

    @property
    def is_pdf(self) -> bool:
        """True by the bytes; a damaged PDF also by type or name. A zip with one in it, or a text about one, is none."""
        at = self.data.find(b"%PDF-", 0, 1024)
        if at >= 0 and not self.data.startswith(_PACKED):
            return not self.media_type.startswith("text/") or not self.data[:at].strip() or self.suffix == ".pdf"
        return self.media_type in ("application/pdf", "application/x-pdf") or self.suffix == ".pdf"

    @property
    def is_html(self) -> bool:
        """True for HTML by type or name."""
        if self.media_type == "text/html":
            return True
        return self.suffix in (".html", ".htm") and not self.media_type.startswith("image/")

    @property
    def is_text(self) -> bool:
        """True for parts that are read as text."""
        known = self.media_type.startswith("text/") and self.media_type not in ("text/rtf", "text/enriched")
        return (known or self.suffix in _TEXT_SUFFIXES) and b"\0" not in self.data[:1024]

    @property
    def is_body(self) -> bool:
        """True for text that the sender wrote into the message, not beside it."""
        return (
            self.media_type in ("text/plain", "text/html") and not self.attachment and not self.name and not self.is_pdf
        )

    @property
    def is_message(self) -> bool:
        """True for a message that was attached as a file."""
        return (
            self.suffix == ".eml"
            and not self.media_type.startswith(("image/", "multipart/"))
            and b":" in self.data[:2000]
        )

    @property
    def is_outlook(self) -> bool:
        """True for an Outlook message file by the bytes; a damaged one also by type or name."""
        if outlook.is_msg(self.data):
            return True
        return self.suffix == ".msg" or self.media_type == "application/vnd.ms-outlook"

    @property
    def is_zip(self) -> bool:
        """True for a zip file by type or name; office files, which are packed like one, are none."""
        return self.media_type in _ZIP or (self.suffix == ".zip" and not self.media_type.startswith("image/"))

    @property
    def passed_over(self) -> bool:
        """True for parts in which nothing is looked for: signatures, calendar entries, cards, and empty texts."""
        if self.media_type in _PASSED_OVER or self.suffix == ".p7s" or self.data.startswith(_SIGNATURE):
            return True
        return not self.data.strip() and not self.is_missing

    @property
    def is_missing(self) -> bool:
        """True for a file of which nothing arrived. Empty texts are put behind attachments by some servers."""
        return not self.data.strip() and bool(self.name) and not (self.media_type.startswith("text/") and self.is_text)


def prepare(data: bytes, limits: Limits) -> tuple[bytes, tuple[str, ...]]:
    """Return a message that can be parsed at bounded cost, and what was changed, in sentences.

    Args:
        data: the bytes as received.
        limits: number and bytes of header fields.
    """
    data, cut = _bounded(data)
    start = data[:64].lstrip(b"\xef\xbb\xbf\r\n\t ")
    data = data[min(len(data), 64) - len(start) :]
    end = _HEAD_END.search(data, 0, limits.header_bytes * 8)
    head = data[: end.start()] if end else data[: limits.header_bytes * 8]
    if _SPACED_FIELD.search(head):
        mended = _SPACED_FIELD.sub(rb"\1:", head)
        data = mended + data[len(head) :]
        end = _HEAD_END.search(data, max(0, len(mended) - 4))
        head = mended
    if len(head) <= limits.header_bytes and head.count(b"\n") < limits.headers:
        return data, cut
    fields = re.split(rb"\r?\n(?![ \t])", head)
    if len(fields) <= limits.headers and len(head) <= limits.header_bytes:
        return data, cut
    needed = [f[:_FIELD_BYTES] for f in fields if _NEEDED.match(f)][: limits.headers]
    body = data[end.end() :] if end else b""
    return b"\n".join(needed) + b"\n\n" + body, (
        *cut,
        f"The header has {len(fields):,} fields in {len(head):,} bytes, more than are read; the needed ones were kept.",
    )


def _bounded(data: bytes) -> tuple[bytes, tuple[str, ...]]:
    """Return a message cut where parsing it would take too long: the time goes with its lines times its nesting."""
    lines = data.count(b"\n") + data.count(b"\r")
    most = _LINES
    if lines > _FEW_LINES:
        most = min(most, _LINE_CHECKS // (1 + sum(1 for _ in _BOUNDARY.finditer(data))))
    parts = data.count(b"\n--")
    if lines <= most and parts <= _DELIMITERS:
        return data, ()
    ends = [found.start() for found in islice(re.finditer(rb"\r\n|\r|\n", data), most, most + 1)]
    ends += [found.start() for found in islice(re.finditer(rb"\n--", data), _DELIMITERS, _DELIMITERS + 1)]
    return (data[: min(ends)], (CUT,)) if ends else (data, ())


def shorten(part: Part) -> None:
    """Cut the fields that describe a part to a bearable length: reading their parameters goes with its square."""
    for name in ("content-type", "content-disposition"):
        value = part.get(name)
        if value is not None and len(str(value)) > _DESCRIPTION:
            part.replace_header(name, str(value)[:_DESCRIPTION])


def defects_of(part: Part) -> list[str]:
    """Return what the standard library found wrong with a part, in sentences."""
    return [_DEFECTS[type(d).__name__] for d in part.defects if type(d).__name__ in _DEFECTS]


def mend_multipart(part: Part) -> Part | None:
    """Return a part parsed anew by the boundary it really uses, None when none is found.

    Args:
        part: a multipart part that was not taken apart, because it names no boundary or another one.
    """
    payload = part.get_payload(decode=True)
    if not isinstance(payload, bytes) or part.get_param("mended") is not None:
        return None
    found = _DELIMITER.search(payload)
    if found is None:
        return None
    kind = part.get_content_type()
    if kind not in ("multipart/alternative", "multipart/related"):
        # Nothing of the broken header goes into the new one: it could break that as well, again and again.
        kind = "multipart/mixed"
    boundary = found[1].replace(b"\\", b"\\\\").replace(b'"', b'\\"')
    return email.message_from_bytes(
        b'Content-Type: %b; mended=1; boundary="%b"\n\n%b' % (kind.encode(), boundary, payload)
    )


def parts_behind(part: Part) -> Part | None:
    """Return what stands behind the end of a multipart and is divided by the same boundary; None where nothing is.

    A multipart inside another that uses its boundary ends both (RFC 2046, section 5.1.2 forbids it).

    Args:
        part: a multipart that was taken apart.
    """
    behind, boundary = part.epilogue, part.get_boundary()
    # White space may follow a boundary (RFC 2046, section 5.1.1).
    if not behind or not boundary or not any(line.rstrip() == f"--{boundary}" for line in behind.splitlines()):
        return None
    safe = boundary.replace("\\", "\\\\").replace('"', '\\"')
    text = f'Content-Type: multipart/mixed; boundary="{safe}"\n\n{behind}'
    return email.message_from_bytes(text.encode("utf-8", "surrogateescape"))


def inner_message(part: Part) -> tuple[Part | None, str]:
    """Return the message in a message/rfc822 part, and a sentence where it had to be decoded first.

    RFC 2046, section 5.2.1 forbids base64 and quoted-printable there; programs do it all the same.
    """
    payload = part.get_payload()
    inner = payload[0] if isinstance(payload, list) and payload else None
    encoding = raw_text(part.get("content-transfer-encoding", "")).strip().lower()
    if encoding not in ("base64", "quoted-printable"):
        if isinstance(inner, Part):
            return inner, ""
        return (email.message_from_string(payload), "") if isinstance(payload, str) and payload.strip() else (None, "")
    raw = inner.as_bytes() if isinstance(inner, Part) else str(payload).encode("utf-8", "surrogateescape")
    defect = f"An attached message was encoded in {encoding}, which the standard forbids, and was decoded."
    if encoding == "quoted-printable":
        return email.message_from_bytes(quopri.decodestring(raw.lstrip(b"\r\n"))), defect
    try:
        data = base64.b64decode(raw)
    except binascii.Error:
        data = b""
    if b":" in data[:2000]:
        return email.message_from_bytes(data.lstrip(b"\r\n")), defect
    # The encoding was claimed and not used.
    return (inner, "") if isinstance(inner, Part) else (None, "")


def open_part(part: Part, *, related: bool) -> tuple[File, str]:
    """Decode a part without parts.

    Args:
        part: the part.
        related: whether it stands in a multipart/related, as pictures of an HTML text do.

    Returns:
        The file, and a sentence on what was wrong, empty when nothing was.
    """
    data, defect = _payload(part)
    kind = part.get_content_type().lower()
    if kind.startswith("multipart/"):
        # A multipart that could not be taken apart: what is in it is text of some kind.
        kind = "text/plain"
    disposition = raw_text(part.get("content-disposition", "")).split(";")[0].strip().lower()
    if kind in ("application/octet-stream", "application/x-unknown", "text/plain"):
        if b"%PDF-" in data[:1024] and data.lstrip()[:5] == b"%PDF-":
            kind = "application/pdf"
        elif picture := recognise(data[:4096]):
            kind = picture.media_type
    # Each parameter asked for costs another look through the field.
    is_plain = kind == "text/plain"
    return (
        File(
            data,
            kind,
            _file_name(part),
            disposition == "attachment",
            _setting(part, "charset") or None if kind.startswith("text/") else None,
            raw_text(part.get("content-id", "")).strip().strip("<>"),
            related,
            is_plain and _setting(part, "format") == "flowed",
            is_plain and _setting(part, "delsp") == "yes",
        ),
        defect,
    )


def named_file(name: str, data: bytes) -> File:
    """Return a file that came in no part of its own: inside a text, or inside another file."""
    return File(data, "application/octet-stream", clean_name(name), True, None, "", False)


def elsewhere(kind: str) -> tuple[Problem, str]:
    """Return the problem and the sentence for a part of a type of :data:`ELSEWHERE`."""
    return why_unread(File(b"", kind, "", False, None, "", False))


def _payload(part: Part) -> tuple[bytes, str]:
    try:
        encoding = str(part.get("content-transfer-encoding", "")).strip().lower()
        text = part.get_payload() if encoding == "quoted-printable" else None
        # Beyond ASCII the standard library does not give the bytes back as they were.
        if isinstance(text, str) and text.isascii() and _PADDED_BREAK.search(text):
            part.set_payload(_PADDED_BREAK.sub("=", text))
        data = part.get_payload(decode=True)
    except (ValueError, LookupError, AttributeError, binascii.Error):
        data = None
    if isinstance(data, bytes):
        return data, ""
    raw = part.get_payload()
    if not isinstance(raw, str):
        return b"", "A part cannot be decoded."
    return raw.encode("utf-8", "surrogateescape"), "A part cannot be decoded and was read as it stands."


def _parameter(part: Part, name: str, field: str = "content-type") -> str | None:
    """Return a parameter of a field; bytes that are no ASCII as :func:`raw_text` reads them, RFC 2231 decoded."""
    try:
        value = part.get_param(name, None, field)
        if isinstance(value, str) and not value.isascii():
            described = Part()
            described[field] = raw_text(next(text for key, text in part.raw_items() if key.lower() == field))
            value = described.get_param(name, None, field)
    except _BAD_PARAMETER:
        return None
    if isinstance(value, tuple):
        charset, _, value = value
        # Where the value has characters beyond Latin-1 no bytes stood behind its escapes.
        with contextlib.suppress(UnicodeEncodeError):
            value, _ = decode(value.encode("latin-1"), charset)
    return str(value).strip() if value else None


def _setting(part: Part, name: str) -> str:
    """Return a parameter that is one word, lower case, without a comment behind it (RFC 2045, section 5.1)."""
    return (_parameter(part, name) or "").partition("(")[0].strip().lower()


def _file_name(part: Part) -> str:
    name = _parameter(part, "filename", "content-disposition") or _parameter(part, "name")
    if not name:
        return ""
    return clean_name(header_text(name))


def clean_name(name: str) -> str:
    """Return the last part of a file name that a sender wrote, without characters that do not print."""
    text = name.replace("\\", "/").rpartition("/")[2]
    return "".join(c if c.isprintable() else "_" for c in text).strip(". ")[:120]


def why_unread(file: File) -> tuple[Problem, str]:
    """Return the problem and the sentence for a file that is none of the kinds that are read."""
    if file.media_type in ("application/pkcs7-mime", "application/x-pkcs7-mime", "multipart/encrypted"):
        return Problem.ENCRYPTED, "The part is encrypted or sealed for a mail program."
    if file.is_missing:
        return Problem.DAMAGED, "The file is empty: nothing of it arrived."
    if file.is_zip:
        return Problem.UNKNOWN_TYPE, "A zip file inside another file is not opened; unpack it first."
    if outlook.is_tnef(file.data) or file.media_type in ("application/ms-tnef", "application/vnd.ms-tnef"):
        return Problem.UNKNOWN_TYPE, "The attachments are packed in a format of one mail program (TNEF)."
    if file.media_type in ("message/external-body", "message/partial"):
        return Problem.UNKNOWN_TYPE, "The content is not in the message; nothing is fetched from elsewhere."
    kind = file.media_type if file.media_type != "application/octet-stream" else (file.suffix or "unknown type")
    return Problem.UNKNOWN_TYPE, f"Files of this kind ({kind}) are not read."
