"""Writes Outlook message files: the least of [MS-CFB] and [MS-OXMSG] that holds a message with its attachments."""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import TypeAlias

Tree: TypeAlias = "dict[str, bytes | Tree]"
#: A text, bytes, a number, a moment, or a text in an 8-bit encoding as (encoding, text).
Value = str | bytes | int | datetime | tuple[str, str]

SECTOR, SMALL, CUTOFF = 512, 64, 4096
FREE, END, FAT = 0xFFFFFFFF, 0xFFFFFFFE, 0xFFFFFFFD
NOBODY = 0xFFFFFFFF


def msg(
    properties: Mapping[int, Value],
    *,
    to: Sequence[tuple[str, str]] = (),
    attachments: Sequence[Tree] = (),
) -> bytes:
    """Return a message file; ``to`` are names and addresses."""
    return compound(tree(properties, to=to, attachments=attachments))


def tree(
    properties: Mapping[int, Value],
    *,
    to: Sequence[tuple[str, str]] = (),
    attachments: Sequence[Tree] = (),
    header: int = 32,
) -> Tree:
    """Return the storage of a message; one inside another has a ``header`` of 24 bytes."""
    made = _properties(properties, header)
    for number, (name, address) in enumerate(to):
        made[f"__recip_version1.0_#{number:08X}"] = _properties({0x0C15: 1, 0x3001: name, 0x39FE: address}, 8)
    for number, attached in enumerate(attachments):
        made[f"__attach_version1.0_#{number:08X}"] = attached
    return made


def file_inside(name: str, data: bytes, kind: str = "") -> Tree:
    """Return the storage of an attached file."""
    more: dict[int, Value] = {0x370E: kind} if kind else {}
    return _properties({0x3705: 1, 0x3707: name, 0x3701: data, **more}, 8)


def message_inside(inner: Tree) -> Tree:
    """Return the storage of an attached message, whose own storage has a header of 24 bytes."""
    made = _properties({0x3705: 5, 0x3001: "A message"}, 8)
    made["__substg1.0_3701000D"] = inner
    return made


def linked(path: str) -> Tree:
    """Return the storage of an attachment that is only named, not held."""
    return _properties({0x3705: 2, 0x3707: path}, 8)


def _properties(properties: Mapping[int, Value], header: int) -> Tree:
    made: Tree = {}
    block = b"\0" * header
    for pid, value in properties.items():
        match value:
            case int():
                kind, fixed, stream = 0x0003, struct.pack("<Q", value), None
            case datetime():
                ticks = (value - datetime(1601, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1) * 10
                kind, fixed, stream = 0x0040, struct.pack("<Q", ticks), None
            case bytes():
                kind, fixed, stream = 0x0102, struct.pack("<II", len(value), 0), value
            case str():
                wide = value.encode("utf-16-le")
                kind, fixed, stream = 0x001F, struct.pack("<II", len(wide) + 2, 0), wide
            case (encoding, text):
                narrow = text.encode(encoding)
                kind, fixed, stream = 0x001E, struct.pack("<II", len(narrow) + 1, 0), narrow
        block += struct.pack("<HHI", kind, pid, 6) + fixed
        if stream is not None:
            made[f"__substg1.0_{pid:04X}{kind:04X}"] = stream
    made["__properties_version1.0"] = block
    return made


# --- compound files -----------------------------------------------------------------------------------


class _Writer:
    """Sectors and their chains."""

    def __init__(self) -> None:
        self.sectors: list[bytes] = []
        self.fat: list[int] = []
        self.small = bytearray()
        self.small_fat: list[int] = []
        self.entries: list[bytes] = []

    def chain(self, data: bytes) -> int:
        """Put bytes into sectors; return the first."""
        pieces = [data[at : at + SECTOR].ljust(SECTOR, b"\0") for at in range(0, len(data), SECTOR)]
        first = len(self.sectors)
        for number, piece in enumerate(pieces):
            self.sectors.append(piece)
            self.fat.append(END if number == len(pieces) - 1 else first + number + 1)
        return first if pieces else END

    def stream(self, data: bytes) -> int:
        """Put a stream where its size belongs; return its start."""
        if len(data) >= CUTOFF:
            return self.chain(data)
        first, count = len(self.small_fat), -(-len(data) // SMALL)
        for number in range(count):
            self.small_fat.append(END if number == count - 1 else first + number + 1)
        self.small += data.ljust(count * SMALL, b"\0")
        return first if count else END


def compound(root: Tree) -> bytes:
    """Return a compound file of version 3 with these streams and storages."""
    writer = _Writer()
    entries: list[list[object]] = [["Root Entry", 5, NOBODY, NOBODY, END, 0]]
    _children(writer, entries, 0, root)
    entries[0][4], entries[0][5] = writer.chain(bytes(writer.small)), len(writer.small)
    directory = b"".join(_entry(*entry) for entry in entries)  # type: ignore[arg-type]
    empty = _entry("", 0, NOBODY, NOBODY, 0, 0)
    directory_start = writer.chain(directory + empty * (-len(entries) % 4))
    small_fat = struct.pack(f"<{len(writer.small_fat)}I", *writer.small_fat)
    small_fat += struct.pack("<I", FREE) * (-len(writer.small_fat) % 128)
    small_start = writer.chain(small_fat)
    count = 1
    while count * 128 < len(writer.fat) + count:
        count += 1
    assert count <= 109, "more needs further sectors of the table"
    first = len(writer.fat)
    fat = writer.fat + [FAT] * count
    fat += [FREE] * (-len(fat) % 128)
    places = [*range(first, first + count), *[FREE] * (109 - count)]
    head = struct.pack(
        "<8s16xHHHHH6x9I109I", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", 0x3E, 3, 0xFFFE, 9, 6, 0, count,
        directory_start, 0, CUTOFF, small_start, len(small_fat) // SECTOR, END, 0, *places
    )  # fmt: skip
    return head + b"".join(writer.sectors) + struct.pack(f"<{len(fat)}I", *fat)


def _children(writer: _Writer, entries: list[list[object]], parent: int, storage: Tree) -> None:
    """Add what a storage holds; the tree of siblings leans to one side, which readers take as well."""
    before = None
    for name in sorted(storage, key=lambda n: (len(n), n.upper())):
        item, number = storage[name], len(entries)
        if isinstance(item, bytes):
            entries.append([name, 2, NOBODY, NOBODY, writer.stream(item), len(item)])
        else:
            entries.append([name, 1, NOBODY, NOBODY, 0, 0])
        entries[parent if before is None else before][3 if before is None else 2] = number
        before = number
        if not isinstance(item, bytes):
            _children(writer, entries, number, item)


def _entry(name: str, kind: int, right: int, child: int, start: int, size: int) -> bytes:
    wide = name.encode("utf-16-le")
    length = len(wide) + 2 if name else 0
    return struct.pack(
        "<64sHBBIII16xI8x8xIQ", wide, length, kind, 1, NOBODY, right, child, 0, start, size
    )  # fmt: skip
