"""Tables and lists that stay readable on a narrow terminal and in a pipe: wrapped at words, no blanks at line ends.

A table that is wider than the terminal gives up its widest columns, one after the other: their values then stand
below the row, each on a line of its own.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterable, Sequence

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from counterfoil.faces.cli.harmless import clean

Cell = str | Text

#: Width of what is not printed on a terminal, unless COLUMNS says another: fits paper and most windows.
PIPE_WIDTH_CHARS = 120
_GAP = 2
_NARROWEST_CHARS = 20


def console(*, stderr: bool = False) -> Console:
    """Return a console that reads no markup out of data and has a fixed width when piped."""
    stream = sys.stderr if stderr else sys.stdout
    width = None if stream.isatty() or os.environ.get("COLUMNS") else PIPE_WIDTH_CHARS
    return Console(file=stream, width=width, markup=False, emoji=False, highlight=False)


def say(text: str = "", style: str | None = None) -> None:
    """Print one line of text as it is, not wrapped: what somebody may copy out."""
    _put(console(), Text(text, style=style or ""))


def prose(text: Cell, style: str | None = None, *, first: str = "", rest: str | None = None) -> None:
    """Print text wrapped at words.

    Args:
        text: a string (cleaned here) or styled text (taken as it is).
        style: of the whole.
        first: stands before the first line.
        rest: stands before the others; as many blanks as ``first`` is long, when left out.
    """
    out = console()
    styled = _text(text)
    if style:
        styled.stylize(style)
    for line in _wrapped(out, styled, first, " " * len(first) if rest is None else rest):
        _put(out, line)


def table(title: str | None, columns: Sequence[str], rows: Iterable[Sequence[Cell]], below: Sequence[str] = ()) -> None:
    """Print a table.

    Args:
        title: above it, None for none.
        columns: the names of the columns; may be empty.
        rows: a cell for each column; strings are cleaned, :class:`Text` is taken as it is.
        below: names of columns that always stand below their row, without their name.
    """
    out = console()
    cells = [[_text(cell) for cell in row] for row in rows]
    beside = [n for n, name in enumerate(columns) if name not in below or not name]
    widths = {n: max([len(columns[n]), *(row[n].cell_len for row in cells)]) for n in beside}
    while sum(widths.values()) + _GAP * (len(widths) - 1) > out.width and len(widths) > 1:
        # The first two say what the row is: they go last.
        del widths[max(list(widths)[2:] or list(widths)[1:], key=lambda n: widths[n])]
    if title:
        _put(out, Text(title, style="bold"))
    if any(columns[n] for n in widths):
        _put(out, _row({n: Text(columns[n], style="bold") for n in widths}, widths))
    indent = " " * min(widths[0] + _GAP, 8)
    for row in cells:
        _put(out, _row({n: row[n] for n in widths}, widths))
        for n, name in enumerate(columns):
            if n not in widths and row[n].plain.strip():
                label = f"{name}: " if n in beside and name else ""
                for line in _wrapped(out, row[n], indent + label, indent + "  " * bool(label)):
                    _put(out, line)


def pairs(rows: Iterable[tuple[str, Cell]]) -> None:
    """Print label and value on a line each, values in one column; empty values are left out."""
    out = console()
    kept = [(label, _text(value)) for label, value in rows if str(value).strip()]
    width = max((len(label) for label, _ in kept), default=0) + _GAP
    for label, value in kept:
        for number, line in enumerate(_wrapped(out, value, " " * width, " " * width)):
            if number == 0:
                line = Text.assemble((label.ljust(width), "bold"), line[width:])
            _put(out, line)


def marked(snippet: str) -> Text:
    """Turn a snippet with hits between U+0002 and U+0003 into styled text."""
    out = Text()
    for piece in snippet.split("\x02"):
        hit, closed, rest = piece.partition("\x03")
        if closed:
            out.append(clean(hit), style="bold underline")
            out.append(clean(rest))
        else:
            out.append(clean(piece))
    return out


def _text(cell: Cell) -> Text:
    return cell.copy() if isinstance(cell, Text) else Text(clean(cell))


def _row(cells: dict[int, Text], widths: dict[int, int]) -> Text:
    line = Text()
    for n, cell in cells.items():
        line.append_text(cell)
        line.append(" " * (widths[n] - cell.cell_len + _GAP))
    return line


def _wrapped(out: Console, text: Text, first: str, rest: str) -> list[Text]:
    room = max(out.width - max(len(first), len(rest)), _NARROWEST_CHARS)
    lines = text.divide(_breaks(text.plain, room))
    return [Text.assemble(first if n == 0 else rest, line) for n, line in enumerate(lines)]


def _breaks(text: str, room: int) -> list[int]:
    """Return where lines begin anew. A word wider than the room stays whole: a path or a code is copied, not read."""
    breaks, used = [], 0
    for word in re.finditer(r"\S+\s*|\s+", text):
        if used and used + cell_len(word.group().rstrip()) > room:
            breaks.append(word.start())
            used = 0
        used += cell_len(word.group())
    return breaks


def _put(out: Console, line: Text) -> None:
    line.rstrip()
    out.print(line, soft_wrap=True)
