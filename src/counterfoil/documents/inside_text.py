"""Files that stand in a text itself: written into it the way mail did before it had parts, or put there by mistake.

Looked for are uuencoded files (POSIX.1-2017, uuencode), base64 of a file or a text that no header announces, and what
is encrypted line by line (RFC 9580, section 6.2). Every line is looked at once.
"""

from __future__ import annotations

import base64
import binascii
import re
from dataclasses import dataclass, field

from counterfoil.documents.outlook import SIGNATURE
from counterfoil.documents.picture import recognise

#: What one of the three shows by; a text without it is not looked through.
_SIGN = re.compile(
    rb"^(?:> ?)*(?:begin(?:-base64)? [0-7]{3,4} |-----BEGIN PGP MESSAGE|[A-Za-z0-9+/]{60,76}[ \t\r]*$)", re.MULTILINE
)
_QUOTE = re.compile(rb"(?:> ?)*")
_BEGIN = re.compile(rb"begin(-base64)? [0-7]{3,4} (\S[^\r\n]{0,200})$")
_BASE64 = re.compile(rb"[A-Za-z0-9+/]{60,76}")
_LAST = re.compile(rb"[A-Za-z0-9+/]{1,76}={0,2}")
_ARMOUR, _ARMOUR_END = b"-----BEGIN PGP MESSAGE-----", b"-----END PGP MESSAGE-----"
#: Fewer full lines of base64 than these are a signature or a token.
_LINES = 3
#: Length of a full line of a uuencoded file, whose first character is "M" for its 45 bytes.
_FULL = 61
#: Control characters that no text has.
_NO_TEXT = re.compile(r"[\0-\x08\x0e-\x1f\x7f]")


@dataclass(slots=True)
class Taken:
    """A text without what stood in it, the files that did (name, bytes), whether some of it was encrypted."""

    text: bytes
    files: list[tuple[str, bytes]] = field(default_factory=list)
    encrypted: bool = False


def take_out(text: bytes) -> Taken:
    """Take the files out of a text.

    Args:
        text: the text, in a character set that has ASCII in its lower half.

    Returns:
        The rest, and the files. A text in base64 takes the place of its lines; base64 of anything else stays.
    """
    taken = Taken(text)
    if not _SIGN.search(text):
        return taken
    kept: list[bytes] = []
    lines = text.splitlines(keepends=True)
    at = 0
    while at < len(lines):
        found = _QUOTE.match(lines[at])
        block = _Block(lines, found[0] if found else b"")
        line = block.line(at)
        end, rest = at + 1, lines[at : at + 1]
        if begin := _BEGIN.match(line):
            end, data = _base64(block, at + 1, b"====") if begin[1] else _uuencoded(block, at + 1)
            rest = [] if data else lines[at:end]
            if data:
                taken.files.append((begin[2].decode("utf-8", "replace"), data))
        elif line == _ARMOUR:
            end = next((n + 1 for n in range(at, len(lines)) if block.line(n) == _ARMOUR_END), len(lines))
            rest, taken.encrypted = [], True
        elif _BASE64.fullmatch(line):
            end, data = _base64(block, at)
            instead = _instead(data, block.quote, taken.files) if end - at >= _LINES else None
            rest = lines[at:end] if instead is None else instead
        kept += rest
        at = end
    taken.text = b"".join(kept)
    return taken


@dataclass(frozen=True, slots=True)
class _Block:
    """Lines of a text as they stand behind one and the same quote mark, which may be none."""

    lines: list[bytes]
    quote: bytes

    def line(self, at: int) -> bytes:
        """Return a line without its mark and the white space at its end; nothing beyond the last, out of the quote."""
        line = self.lines[at].rstrip() if at < len(self.lines) else b""
        return line[len(self.quote) :] if line.startswith(self.quote) else b""


def _uuencoded(block: _Block, at: int) -> tuple[int, bytes]:
    """Return where the lines of a uuencoded file end, and its bytes; none where the lines are something else."""
    data = bytearray()
    whole = full = False
    # The last line but one says that nothing follows, with a space in old files.
    while line := block.line(at) or (b"`" if block.line(at + 1) == b"end" else b""):
        if line == b"end":
            whole, at = True, at + 1
            break
        length = (line[0] - 32) & 63
        # Spaces at the end of a line may be gone, a check sum may stand behind it.
        if len(line) > 2 + (length + 2) // 3 * 4:
            break
        try:
            data += binascii.a2b_uu(line)
        except binascii.Error:
            break
        full = full or (line[:1] == b"M" and len(line) >= _FULL)
        at += 1
    return at, bytes(data) if whole or full else b""


def _base64(block: _Block, at: int, mark: bytes = b"") -> tuple[int, bytes]:
    """Return where lines of base64 end, the mark behind them included, and their bytes."""
    found: list[bytes] = []
    length = len(block.line(at))
    while len(line := block.line(at)) == length and _BASE64.fullmatch(line):
        found.append(line)
        at += 1
    # Four characters are three bytes: a word that happens to stand under the lines seldom makes them whole.
    if len(line) <= length and _LAST.fullmatch(line) and not (length * len(found) + len(line)) % 4:
        found.append(line)
        at += 1
    if mark and block.line(at) == mark:
        at += 1
    joined = b"".join(found).rstrip(b"=")
    try:
        return at, base64.b64decode(joined + b"=" * (-len(joined) % 4))
    except binascii.Error:
        return at, b""


def _instead(data: bytes, quote: bytes, files: list[tuple[str, bytes]]) -> list[bytes] | None:
    """Return what takes the place of lines of base64: nothing for a file, which is added, the text for a text."""
    start = data[:1024].lstrip()
    if start.startswith((b"%PDF-", b"PK\x03\x04", SIGNATURE)) or recognise(data[:4096]):
        files.append(("", data))
        return []
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return None
    return None if _NO_TEXT.search(text) or not text.strip() else [quote + line + b"\n" for line in data.splitlines()]
