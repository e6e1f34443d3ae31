"""Plain text: bytes to characters, characters to rows, rows to a document with lines and cells."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from counterfoil.model import Cell, Document, Line, Problem

#: Encodings that Python knows and that no mail is written in; some of them are slow or decode into anything.
_NO_CHARSETS = frozenset({"idna", "punycode", "undefined", "unicode_escape", "raw_unicode_escape", "mbcs", "oem"})
#: Names in use for which Python has another one. A set whose name programs write over texts in its superset is read as
#: that superset, as browsers do: latin-1 as windows-1252, gb2312 as gb18030 (WHATWG Encoding Standard, section 4.2).
_CHARSET_NAMES = {
    "iso-8859-1": "cp1252",
    "iso8859-1": "cp1252",
    "iso_8859-1": "cp1252",
    "latin1": "cp1252",
    "latin-1": "cp1252",
    "us-ascii": "ascii",
    "ansi_x3.4-1968": "ascii",
    "iso-8859-8-i": "iso-8859-8",
    "iso-8859-9": "cp1254",
    "iso-8859-11": "cp874",
    "tis-620": "cp874",
    "gb2312": "gb18030",
    "gbk": "gb18030",
    "big5": "big5hkscs",
    "euc-kr": "cp949",
    "ks_c_5601-1987": "cp949",
    "iso-2022-jp": "iso2022_jp_ext",
    "shift_jis": "cp932",
    "shift-jis": "cp932",
    "sjis": "cp932",
    "x-sjis": "cp932",
    "unicode-1-1-utf-7": "utf-7",
}


def words(text: str) -> frozenset[str]:
    """Return the words of a string as a set: how lists of names stand in this package."""
    return frozenset(text.split())


#: Every space is a space, every line end a line end, and characters that show nothing are left out: codes
#: would not match with them inside. Letters, digits and hyphens as wide as Japanese signs are the plain ones.
_PLAIN = {
    **{
        wide: chr(wide - 0xFEE0)
        for wide in (0xFF0D, *range(0xFF10, 0xFF1A), *range(0xFF21, 0xFF3B), *range(0xFF41, 0xFF5B))
    },
    **dict.fromkeys((0xA0, 0x1680, *range(0x2000, 0x200B), 0x202F, 0x205F, 0x3000), " "),
    **dict.fromkeys((0x0B, 0x0C, 0x1C, 0x1D, 0x1E, 0x85, 0x2028, 0x2029), "\n"),
    **dict.fromkeys((0xAD, *range(0x200B, 0x2010), *range(0x202A, 0x202F), *range(0x2060, 0x206A), 0xFEFF), None),
    **dict.fromkeys((*range(0x09), *range(0x0E, 0x1C), 0x1F, 0x7F), None),
}
_SURROGATES = re.compile("[\ud800-\udfff]")
_FIELDS = re.compile(r"[^\t ]+(?: {1,2}[^\t ]+)*")
_BLANKS = re.compile(r"\n{21,}")
"""More blank lines than say anything: a million of them cost seconds."""
_QUOTE = re.compile(r" ?>")


def decode(data: bytes, charset: str | None) -> tuple[str, str | None]:
    """Decode text.

    Args:
        data: the bytes.
        charset: the character set declared, None for none.

    Returns:
        The text, and a sentence where the declaration was of no use. UTF-8 is tried next; text that is no
        UTF-8 either is read as windows-1252.
    """
    name = (charset or "").strip().strip("\"'").lower()
    try:
        return data.decode(_codec(name)), None
    except (LookupError, UnicodeError, ValueError):
        pass
    text = data.decode("utf-8", "replace")
    bad = text.count("\ufffd")
    # Bytes beyond ASCII that do form UTF-8 tell a damaged UTF-8 text from one in an eight-bit set.
    if bad and not any(c > "\x7f" and c != "\ufffd" for c in text):
        text, used = data.decode("cp1252", "replace"), "windows-1252"
    else:
        used = "UTF-8"
    if not name and not bad:
        return text, None
    if used.lower() == name:
        return text, f"A text declared as {name} has bytes that are none; each is shown as \ufffd."
    return text, f"A text declared as {name or 'ASCII'} is not, and was read as {used}."


def _codec(name: str) -> str:
    name = _CHARSET_NAMES.get(name, name or "ascii")
    if codecs.lookup(name).name.replace("-", "_") in _NO_CHARSETS:
        raise LookupError(name)
    return name


def clean(text: str) -> str:
    """Return text with plain spaces and line ends, without characters that show nothing and broken ones."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if not text.isascii() or not text.isprintable():
        text = _SURROGATES.sub("\ufffd", text.translate(_PLAIN))
    return text


@dataclass(frozen=True, slots=True)
class Row:
    """One line of text on its way to a document.

    ``depth`` counts quote marks in plain text and block quotes in HTML. ``columns`` has, for a row of an HTML
    table, the column and the column span of each of its fields, which are joined by tabs; None elsewhere.
    """

    text: str
    depth: int = 0
    columns: tuple[tuple[int, int], ...] | None = None
    html: bool = False

    @property
    def bare(self) -> str:
        """The text without quote marks and white space around it."""
        return self.text.strip() if self.html or not self.depth else unquote(self.text, self.depth).strip()

    def lifted(self, depth: int) -> Row:
        """Return the row with ``depth`` quote marks taken off."""
        if not depth:
            return self
        text = self.text if self.html else unquote(self.text, depth)
        return replace(self, text=text, depth=max(0, self.depth - depth))


def unquote(text: str, depth: int) -> str:
    """Return a line without its first ``depth`` quote marks and the space after the last."""
    at = 0
    for _ in range(depth):
        mark = _QUOTE.match(text, at)
        if mark is None:
            break
        at = mark.end()
    return text[at + 1 :] if at and text[at : at + 1] == " " else text[at:]


def quote_depth(text: str) -> int:
    """Return how many quote marks (">") a line begins with."""
    at = depth = 0
    while mark := _QUOTE.match(text, at):
        at, depth = mark.end(), depth + 1
    return depth


def plain_rows(text: str, *, flowed: bool = False, delsp: bool = False) -> list[Row]:
    """Split plain text into rows.

    Args:
        text: the text as decoded.
        flowed: whether it is format=flowed (RFC 3676): a space at a line end continues the line.
        delsp: the DelSp parameter: that space itself is no part of the text.
    """
    lines = _BLANKS.sub("\n" * 20, clean(text)).split("\n")
    return _flowed(lines, delsp) if flowed else [Row(line.rstrip(), quote_depth(line)) for line in lines]


def _flowed(lines: Iterable[str], delsp: bool) -> list[Row]:
    """Join soft line breaks as RFC 3676 section 4 says.

    A line that begins with a space is stuffed, and a ">" after it is text. By the letter so is the second mark of
    "> > x"; programs that write it for two quotes are many, and it is read as they mean it. A line of another depth,
    and the line "-- " over a signature, end a paragraph that was left open.
    """
    joined: list[Row] = []
    run: list[str] = []
    before = -1
    for line in lines:
        depth = 0 if line.startswith(" ") else quote_depth(line)
        piece = unquote(line, depth) if depth else line.removeprefix(" ")
        signature = piece in ("-- ", "--")
        if run and (depth != before or signature):
            joined.append(_quoted(run, before))
            run = []
        before = depth
        soft = piece.endswith(" ") and not signature
        run.append(piece[:-1] if soft and delsp else piece)
        if not soft:
            joined.append(_quoted(run, depth))
            run = []
    if run:
        joined.append(_quoted(run, before))
    return joined


def _quoted(run: list[str], depth: int) -> Row:
    mark = ">" * depth + " " if depth else ""
    return Row((mark + "".join(run)).rstrip(), depth)


def document(
    name: str,
    layer: int,
    rows: Sequence[Row],
    *,
    limit: int,
    media_type: str = "text/plain",
    size: int = 0,
    problem: Problem | None = None,
    reason: str = "",
) -> Document:
    """Make a document of rows; empty rows at both ends are left out.

    Args:
        name: the document's name.
        layer: the layer it came with.
        rows: its rows.
        limit: characters beyond which rows are cut off; the document then has the problem TOO_LARGE.
        media_type: what it was before.
        size: bytes of the part.
        problem: why text is missing, where the caller knows.
        reason: the sentence to it.
    """
    first, last = 0, len(rows)
    while first < last and not rows[first].text.strip():
        first += 1
    while last > first and not rows[last - 1].text.strip():
        last -= 1
    lines: list[Line] = []
    texts: list[str] = []
    at = 0
    for row in rows[first:last]:
        text = row.text
        if at + len(text) > limit:
            text = text[: max(0, limit - at)]
            problem, reason = Problem.TOO_LARGE, f"The text is longer than the {limit:,} characters that are read."
        texts.append(text)
        cells = _cells(replace(row, text=text) if text is not row.text else row, at)
        lines.append(Line(at, at + len(text), tuple(cells), quoted=row.depth))
        at += len(text) + 1
        if problem is Problem.TOO_LARGE and at > limit:
            break
    return Document(
        name, layer, "\n".join(texts), tuple(lines), media_type=media_type, size=size, problem=problem, reason=reason
    )


def _cells(row: Row, at: int) -> Iterable[Cell]:
    if row.columns is not None:
        start = 0
        for field, (column, span) in zip(row.text.split("\t"), row.columns, strict=False):
            end = start + len(field)
            if field.strip():
                yield Cell(at + start, at + end, float(column), float(column + span))
            start = end + 1
        return
    # Columns go on from cell to cell: a tab leads to the next multiple of eight.
    tabs = "\t" in row.text
    seen = column = 0
    for found in _FIELDS.finditer(row.text):
        start, end = found.span()
        for char in row.text[seen:start] if tabs else ():
            column = column // 8 * 8 + 8 if char == "\t" else column + 1
        column = column if tabs else start
        yield Cell(at + start, at + end, float(column), float(column + end - start))
        seen, column = end, column + end - start
