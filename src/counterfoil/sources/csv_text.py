"""CSV as shops have it: which encoding and delimiter a file has, and its records one by one, broken ones included.

RFC 4180 describes the format; files differ from it in encoding, delimiter and care. A quote that is never closed would
swallow all that follows: such a line is given up alone, and reading goes on with the next.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from counterfoil.errors import UsageProblem

DELIMITERS = (",", ";", "\t", "|")
#: A field may run over this many lines (an address often has four or five).
_MOST_LINES = 20
_SAMPLE_LINES = 50
#: The mark of UTF-32 begins as that of UTF-16 does, so it comes first.
_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
#: Bytes that no encoding of a text has, kept by surrogateescape; and the stand-in of a decoder.
_BROKEN = re.compile("[\udc80-\udcff\ufffd]")
_LINE_END = re.compile(r"\r\n|\n|\r")
#: Codecs for names in the net and inside programs.
_FOR_NAMES = frozenset({"idna", "punycode", "undefined", "unicode-escape", "raw-unicode-escape"})


@dataclass(frozen=True, slots=True)
class Record:
    """One record: the line it begins on, from 1, and its fields; or, without fields, what is wrong with it."""

    line: int
    fields: tuple[str, ...]
    fault: str = ""


def decode(data: bytes, encoding: str | None = None) -> tuple[str, str]:
    """Return a file's text and the name of its encoding; bytes that do not fit stay as lone surrogates.

    A byte order mark decides; else zero bytes tell UTF-16, and UTF-8 is taken where nearly all that is not ASCII is
    valid UTF-8; the rest is Windows-1252, the encoding in which spreadsheets of the West save CSV.

    Args:
        data: the bytes of the file.
        encoding: its name, where it is known.

    Raises:
        UsageProblem: there is no encoding of that name, or none that a file can have.
    """
    name = encoding or _encoding(data)
    # The last is the sign with which older systems end a file.
    text = _decoded(data, name).removeprefix("\ufeff").removesuffix("\x1a")
    return text, {"utf-8-sig": "utf-8", "cp1252": "windows-1252"}.get(name, name)


def _decoded(data: bytes, name: str) -> str:
    known = "Known ones: utf-8, utf-16, windows-1252."
    try:
        # Some Pythons decode these without a word.
        if codecs.lookup(name).name in _FOR_NAMES:
            raise UnicodeError(name)
        try:
            return data.decode(name, errors="surrogateescape")
        except UnicodeError:
            # A file cut off in the middle of a character, or a named encoding that knows no stand-in for its bytes.
            return data.decode(name, errors="replace")
    except UnicodeError:
        raise UsageProblem(f"No file is written in the encoding {name!r}.", known) from None
    except (LookupError, ValueError):
        raise UsageProblem(f"There is no encoding {name!r}.", known) from None


def _encoding(data: bytes) -> str:
    for mark, name in _BOMS:
        if data.startswith(mark):
            return name
    head = data[:4096]
    if head.count(0) * 4 > len(head):
        return "utf-16-le" if head[1::2].count(0) >= head[::2].count(0) else "utf-16-be"
    text = data.decode("utf-8", errors="surrogateescape")
    broken = len(_BROKEN.findall(text))
    letters = sum(1 for c in text if c > "\x7f") - broken if broken else 1
    # What another encoding writes is hardly ever valid UTF-8 by chance: more valid letters than broken ones are UTF-8.
    return "utf-8" if letters > broken else "cp1252"


def guess_delimiter(text: str) -> str:
    """Return the delimiter that divides the first lines into the same number of fields, the most of them."""
    lines = _LINE_END.split(text[:100_000])[:_SAMPLE_LINES]
    best, most = ",", (0.0, 0)
    for delimiter in DELIMITERS:
        counts = [len(r.fields) for r in _records(lines, delimiter, 0) if r.fields]
        width = counts[0] if counts else 0
        if width > 1:
            even = sum(count == width for count in counts) / len(counts)
            best, most = max((best, most), (delimiter, (even * (width > 1), width)), key=lambda pair: pair[1])
    return best


def records(text: str, delimiter: str) -> Iterator[Record]:
    """Yield the records of a file, the header first; empty lines are passed over.

    Args:
        text: the file.
        delimiter: between its fields.
    """
    lines = _LINE_END.split(text)
    yield from _records(lines, delimiter, 1 if lines[0].startswith("sep=") else 0)


def _records(lines: Sequence[str], delimiter: str, start: int) -> Iterator[Record]:
    width, at = 0, start
    while at < len(lines):
        line = lines[at]
        if not line.strip(delimiter + " \t"):
            at += 1
            continue
        record, used = _record(lines, at, delimiter, width)
        at += used
        if record.fields:
            width = width or len(record.fields)
            if len(record.fields) != width:
                has = "one field" if len(record.fields) == 1 else f"{len(record.fields)} fields"
                record = Record(record.line, (), f"It has {has}, the header has {width}.")
        yield record


def _record(lines: Sequence[str], at: int, delimiter: str, width: int) -> tuple[Record, int]:
    """Return the record that begins at a line, and how many lines it takes."""
    number = at + 1
    if _BROKEN.search(lines[at]):
        return Record(number, (), "It holds bytes that are no text in the encoding of the file."), 1
    if "\x00" in lines[at]:
        return Record(number, (), "It holds zero bytes."), 1
    if '"' not in lines[at]:
        return Record(number, tuple(lines[at].split(delimiter))), 1
    for used in range(1, min(_MOST_LINES, len(lines) - at) + 1):
        piece = "\n".join(lines[at : at + used])
        try:
            (fields,) = csv.reader([piece], delimiter=delimiter, strict=True, skipinitialspace=True)
        except csv.Error as error:
            if "field limit" in str(error):
                return Record(number, (), "It has a field that is too long."), used
            if "unexpected end of data" not in str(error):
                return Record(number, (), "A quote stands where none may be."), 1
            continue
        if used > 1 and (_BROKEN.search(piece) or (width and len(fields) != width)):
            break
        return Record(number, tuple(fields)), used
    return Record(number, (), "A quote is opened and never closed."), 1
